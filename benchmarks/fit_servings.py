"""Refit what tells the servings of a spoken recipe: ``python benchmarks/fit_servings.py FOLDER...``.

Conditional logit over the candidates of ``pipeline/intake/spoken/servings.py``, of which one is that
nobody says. Examples are the recipes of scripts with truth that are read, lined up with the true ones.
Prints how many are right by the weights as they are, and by weights fitted without the speaker;
``--test`` counts other folders with the fitted weights, ``--write`` writes
``shared/spoken_servings.csv``.
"""

from __future__ import annotations

import argparse
import csv
import json
import math
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.sparse import csr_matrix
from spoken import Reader, lined_up, scripts_of

from pipeline.intake.spoken import script as scripts
from pipeline.intake.spoken.servings import Servings, candidates, servings_of, weights

TABLE = Path(__file__).parent.parent / "shared" / "spoken_servings.csv"
_LEAST = 0.05  # a smaller weight says nothing
_SPEAKERS = 3  # that a word has to be of
_FOLDS = 8
#: What is too rare in scripts to be fitted, and what it speaks for a number where nothing is known.
_RARE = {"of all recipes": 2.0, "by what each has": 1.5, "or that": 0.5}
Array = NDArray[np.float64]


@dataclass(slots=True)
class Example:
    """The candidates of a recipe, which of them is right, and who speaks."""

    found: list[Servings]
    right: int
    speaker: str


def examples_of(folders: Sequence[Path]) -> Iterator[Example]:
    """The recipes of some folders whose servings stand among their candidates."""
    reader = Reader()
    seen: list[list[Servings]] = []

    def noted(*args: Any, **more: Any) -> tuple[float, str]:
        seen.append(candidates(*args, **more))
        return servings_of(*args, **more)

    with patch.object(scripts, "servings_of", noted):
        for path in (path for folder in folders for path in scripts_of(folder)):
            seen.clear()
            read = reader.read(path)[0]
            truth = json.loads(path.with_name(f"{path.stem}.truth.json").read_text())["recipes"]
            for at, place in lined_up(truth, read).items():
                if place >= len(seen):
                    continue
                wanted = float(truth[at].get("servings") or math.nan)
                found = seen[place]
                right = [k for k, one in enumerate(found) if _same(one.number, wanted)]
                if right:
                    yield Example(found, right[0], re.split("[-_]", path.stem)[0])


def _same(one: float, other: float) -> bool:
    return one == other or (math.isnan(one) and math.isnan(other))


class Fit:
    """Weights of some examples, drawn to nought, or to what is known of the rare ones."""

    def __init__(self, examples: Sequence[Example], back: float) -> None:
        held: dict[str, set[str]] = defaultdict(set)
        for one in examples:
            for name in {name for s in one.found for name in s.told}:
                held[name].add(one.speaker)
        known = {name for name, of in held.items() if len(of) >= _SPEAKERS}
        self.names = sorted(known | _RARE.keys())
        prior = np.array([_RARE.get(name, 0.0) for name in self.names])
        place = {name: at for at, name in enumerate(self.names)}
        cells = [
            (row, place[name], value)
            for row, candidate in enumerate(s for one in examples for s in one.found)
            for name, value in candidate.told.items()
            if name in place and value
        ]
        rows, columns, values = zip(*cells, strict=True)
        sizes = np.array([len(one.found) for one in examples])
        begin = np.cumsum(sizes) - sizes
        matrix = csr_matrix((values, (rows, columns)), (int(sizes.sum()), len(self.names)))
        right = np.array([
            _same(s.number, one.found[one.right].number) for one in examples for s in one.found
        ])  # fmt: skip

        def loss(w: Array) -> tuple[float, Array]:
            score = matrix @ w
            chance = np.exp(score - np.repeat(np.maximum.reduceat(score, begin), sizes))
            chance /= np.repeat(np.add.reduceat(chance, begin), sizes)
            told = np.add.reduceat(chance * right, begin)
            slope = matrix.T @ (chance - chance * right / np.repeat(told, sizes))
            moved = w - prior
            return back * float(moved @ moved) - float(np.log(told).sum()), 2 * back * moved + slope

        found = minimize(loss, prior, jac=True, method="L-BFGS-B").x
        self.weights = dict(zip(self.names, found.tolist(), strict=True))


def right(examples: Sequence[Example], table: Mapping[str, float]) -> int:
    """How many of some recipes get their servings."""
    count = 0
    for one in examples:
        best = max(one.found, key=lambda s: s.score(table))
        count += _same(best.number, one.found[one.right].number)
    return count


def main() -> None:
    """Fit, print, write if asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--test", nargs="*", type=Path, default=[], help="folders to count apart")
    parser.add_argument("--back", type=float, nargs="*", default=[1.0])
    parser.add_argument("--write", action="store_true")
    given = parser.parse_args()
    told, apart = list(examples_of(given.folders)), list(examples_of(given.test))
    print("as they are:", right(told, weights()), "of", len(told))
    speakers = sorted({one.speaker for one in told})
    fold = {speaker: at % _FOLDS for at, speaker in enumerate(speakers)}
    for back in given.back:
        out = 0
        for at in range(_FOLDS):
            fit = Fit([one for one in told if fold[one.speaker] != at], back)
            out += right([one for one in told if fold[one.speaker] == at], fit.weights)
        print(back, "speaker left out:", out, "of", len(told))
    fit = Fit(told, given.back[0])
    print("fitted:", right(told, fit.weights), "of", len(told))
    if apart:
        print(
            "apart:",
            right(apart, weights()),
            "fitted:",
            right(apart, fit.weights),
            "of",
            len(apart),
        )
    rows = [(name, f"{w:.2f}") for name, w in fit.weights.items() if abs(w) >= _LEAST]
    print(len(rows), "weights")
    if given.write:
        with TABLE.open("w", newline="", encoding="utf-8") as handle:
            csv.writer(handle, lineterminator="\n").writerows([("feature", "weight"), *rows])


if __name__ == "__main__":
    main()
