"""Refit what tells ingredients of talk from food that is talked of: ``python benchmarks/fit_asides.py``.

Logistic regression over the features of ``pipeline/intake/spoken/asides.py``. Examples: scripts of
the open half of ``spoken_layouts.py``, each sentence with the same weight, and scripts with truth.
Prints how well the sentences, and the speakers, that were left out are told apart, and writes
``shared/spoken_asides.csv`` with ``--write``.
"""

from __future__ import annotations

import argparse
import csv
import json
import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize
from scipy.sparse import csr_matrix
from spoken import amounts_of, names, same_amount, scripts_of
from spoken_layouts import Told, compose

from pipeline.intake.spoken.asides import Asides, Numbers
from pipeline.intake.spoken.captions import pieces, speech
from pipeline.intake.spoken.composition import Composition
from pipeline.intake.spoken.rows import add_rows
from pipeline.intake.spoken.script import chunks_of
from pipeline.intake.spoken.stated import ENERGY
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.totals import Totals

ROOT = Path(__file__).parent.parent
TABLE = ROOT / "shared" / "spoken_asides.csv"
_LINES = {"item", "behind", "list", "split", "twice", "correct", "plus", "but", "or"}
_FOODS = {*_LINES, "other", "same"}
_MOST = 10.0  # of what one sentence may weigh
_SPEAKER = 3.0  # what an example of a speaker weighs
_LEAST = 0.1  # a smaller weight says nothing
_ROUNDED = 0.6  # by which a number said may miss the one that is true
_AUTHORS = 3  # sentences or speakers that a feature has to hold in


@dataclass(slots=True)
class Example:
    """A food with an amount: what holds of it, whether it is an ingredient, and whose it is."""

    features: list[str]
    right: bool
    author: str


def _talk(text: str, kind: str) -> tuple[Talk, str]:
    spoken = pieces(text, {"vtt": "webvtt", "txt": "script"}.get(kind, kind))
    return Talk.of(spoken), speech(spoken)[0]


def _read(talk: Talk) -> Asides:
    return Asides(talk, chunks_of(talk, Totals(talk)))


def _letters(text: str) -> str:
    return re.sub(r"[\W_]", "", text.lower())


def composed(told: Told) -> Iterator[Example]:
    """Examples of a composed script, by the sentence they stand in."""
    talk, said = _talk(told.text, told.kind)
    places = [0]
    for letter in said:
        places.append(places[-1] + bool(_letters(letter)))
    ends: list[int] = []
    for _, _, text in told.said:
        ends.append((ends[-1] if ends else 0) + len(_letters(text)))
    asides = _read(talk)
    for at, chunk in enumerate(asides.both):
        place = places[talk.words[chunk.start].start]
        index = int(np.searchsorted(ends, place, side="right"))
        if index >= len(told.said):
            continue
        kind, template, _ = told.said[index]
        if kind in ("recap", "option"):  # neither one nor the other
            continue
        food = " ".join(chunk.of.food.name)
        own = [f for f, slot in told.foods[index] if names(food, f.split()) and slot != "z"]
        other = [f for f, slot in told.foods[index] if names(food, f.split()) and slot == "z"]
        if not own and not other and kind in _FOODS:
            continue  # misread
        right = kind in _LINES and (bool(own) or kind in ("plus", "but"))
        yield Example([*asides.features(at)], right, f"{template} {right}")


def told(path: Path) -> Iterator[Example]:
    """Examples of a script with truth: foods of no true line, and true lines."""
    truth = json.loads(path.with_name(f"{path.stem}.truth.json").read_text())["recipes"]
    lines: list[dict[str, Any]] = [line for recipe in truth for line in recipe["lines"]]
    asides = _read(_talk(path.read_text(encoding="utf-8"), path.suffix[1:])[0])
    aside = False
    for at, chunk in enumerate(asides.both):
        food, amount = " ".join(chunk.of.food.name), chunk.amount
        assert amount is not None
        mine = [x for x in lines if names(food, x["food_words"])
                or any(names(food, [o]) for o in x.get("food_words_alt") or [])]  # fmt: skip
        unit = amount.unit.name if amount.unit is not None else ""
        right = any(same_amount(amounts_of(x), (amount.value, unit)) for x in mine)
        named = [*asides.features(at), *asides.after(at, aside)]
        aside = not right and not mine
        if right or not mine:
            yield Example(named, right, re.split("[-_]", path.stem)[0])


def numbers(path: Path) -> Iterator[Example]:
    """Numbers of a script with truth: those of its recipes, of a portion or all, and others."""
    truth = json.loads(path.with_name(f"{path.stem}.truth.json").read_text())["recipes"]
    stated: set[float] = set()
    for recipe in truth:
        servings = recipe.get("servings") or 1
        for value in (recipe.get("stated") or {}).values():
            if isinstance(value, int | float):
                stated |= {value, value * servings, value / servings}
    talk = _talk(path.read_text(encoding="utf-8"), path.suffix[1:])[0]
    totals = Totals(talk)
    add_rows(totals)
    said = Numbers(talk, totals.found)
    for at, total in enumerate(said.totals):
        energy = [p.value for p in total.parts if p.tag == ENERGY] or [p.value for p in total.parts]
        right = any(abs(value - one) < _ROUNDED for value in energy for one in stated)
        yield Example([*said.features(at)], right, re.split("[-_]", path.stem)[0])


class Fit:
    """Weights of some examples."""

    def __init__(self, examples: Sequence[Example], back: float) -> None:
        held: dict[str, set[str]] = defaultdict(set)
        for one in examples:
            for name in one.features:
                held[name].add(one.author)
        self.names = sorted(name for name, authors in held.items() if len(authors) >= _AUTHORS)
        self.place = {name: at for at, name in enumerate(self.names)}
        matrix, right = self.matrix(examples), np.array([e.right for e in examples]) * 2.0 - 1.0
        times = Counter(e.author for e in examples)
        share = np.array(
            [min(1.0, _MOST / times[e.author]) if " " in e.author else _SPEAKER for e in examples]
        )

        def loss(w: np.ndarray) -> tuple[float, np.ndarray]:
            margin = right * (matrix @ w)
            value = float(share @ np.logaddexp(0, -margin)) + back * float(w @ w)
            slope = -share * right / (1 + np.exp(margin))
            return value, matrix.T @ slope + 2 * back * w

        self.weights = minimize(loss, np.zeros(len(self.names)), jac=True, method="L-BFGS-B").x

    def matrix(self, examples: Sequence[Example]) -> csr_matrix:
        """Examples by features."""
        cells = [
            (row, self.place[name])
            for row, one in enumerate(examples)
            for name in set(one.features)
            if name in self.place
        ]
        rows, columns = zip(*cells, strict=True)
        return csr_matrix((np.ones(len(cells)), (rows, columns)), (len(examples), len(self.names)))

    def says(self, examples: Sequence[Example]) -> np.ndarray:
        """How much speaks for each being an ingredient."""
        return np.asarray(self.matrix(examples) @ self.weights)


def left_out(examples: Sequence[Example], back: float, parts: int = 8) -> str:
    """How many are told right whose authors were left out, by what they are."""
    authors = sorted({e.author for e in examples})
    part = {author: at % parts for at, author in enumerate(authors)}
    right: Counter[tuple[str, bool]] = Counter()
    count: Counter[tuple[str, bool]] = Counter()
    for at in range(parts):
        fit = Fit([e for e in examples if part[e.author] != at], back)
        out = [e for e in examples if part[e.author] == at]
        for one, score in zip(out, fit.says(out), strict=True):
            key = "sentences" if " " in one.author else "speakers", one.right
            count[key] += 1
            right[key] += bool((score > 0) == one.right)
    shares = {key: right[key] / n for key, n in sorted(count.items())}
    named = {(w, r): f"{w} {'lines' if r else 'asides'}" for w, r in shares}
    return ", ".join(f"{named[k]} {share:.3f} of {count[k]}" for k, share in shares.items())


def main() -> None:
    """Fit and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="*", type=Path)
    parser.add_argument("--scripts", type=int, default=400)
    parser.add_argument("--back", type=float, nargs="*", default=[0.3])
    parser.add_argument("--write", action="store_true")
    given = parser.parse_args()
    composition = Composition.of_the_table_in_force()
    examples = [e for folder in given.folders for path in scripts_of(folder) for e in told(path)]
    for seed in range(1000, 1000 + given.scripts):
        examples += composed(compose("open", seed, composition))
    said = [e for folder in given.folders for path in scripts_of(folder) for e in numbers(path)]
    for back in given.back:
        print(back, left_out(examples, back))
        print(back, "numbers:", left_out(said, back))
    rows = []
    for kind, of in (("food", examples), ("number", said)):
        fit = Fit(of, given.back[0])
        weights = zip(fit.names, fit.weights, strict=True)
        rows += [(kind, name, f"{w:.2f}") for name, w in weights if abs(w) >= _LEAST]
    print(len(rows), "weights")
    if given.write:
        with open(TABLE, "w", newline="", encoding="utf-8") as handle:
            out = csv.writer(handle, lineterminator="\n")
            out.writerow(("of", "feature", "weight"))
            out.writerows(rows)


if __name__ == "__main__":
    main()
