"""Refit what parts a spoken script into recipes: ``python benchmarks/fit_cuts.py FOLDER...``.

The cut of a script with the best sum of weighted features wins (``shared/spoken_cuts.csv``). For each
script with truth the cuts that weights near the present ones would choose are read and counted; the
weights are then those under which the expected count is best (minimum risk: Smith and Eisner,
"Minimum risk annealing for training log-linear models", 2006), drawn back to the present ones. Prints
what the scripts give with the weights as they are and fitted, with ``--left-out`` also what each
speaker's give with weights fitted without that speaker, and with ``--test`` what other folders give;
``--write`` writes the weights.
"""

from __future__ import annotations

import argparse
import csv
import json
import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from spoken import NUTRIENTS, Amount, Counts, Recipe, print_shares, score, scripts_of

from pipeline.intake.model import RawRecipe
from pipeline.intake.spoken import script as scripts
from pipeline.intake.spoken.captions import pieces
from pipeline.intake.spoken.places import weights
from pipeline.intake.spoken.segments import Cutter, best_path
from pipeline.intake.spoken.stated import Total
from pipeline.intake.spoken.talk import Talk
from pipeline.resources import shared_rows

TABLE = Path(__file__).parent.parent / "shared" / "spoken_cuts.csv"
_KINDS = {".srt": "srt", ".vtt": "webvtt", ".txt": "script"}
NAMES = [row["feature"] for row in shared_rows("spoken_cuts.csv")]
_AT = {name: at for at, name in enumerate(NAMES)}
_LEAST = 0.05  # a smaller weight of a word says nothing
_AUTHORS = 4  # speakers that a word has to be of
Array = NDArray[np.float64]
#: start, end, kind and the place of the total taken, of each stretch of a cut.
Cut = tuple[tuple[int, int, str, int], ...]
#: The order of the words, whether a row of totals is taken apart, whether numbers stand amid lines.
Key = tuple[int, bool, bool, Cut]

_SPREAD, _DRAWN, _FOLDS = 0.8, 40, 8  # of the weights tried, how many, and parts of the speakers
_ROUNDS = 3


@dataclass(slots=True)
class Way:
    """One order of a script's words, with its totals where they are said or in a row."""

    order: int
    row: list[Total]
    cutter: Cutter
    ends: list[tuple[int, int, str, int | None]]
    features: Array
    turns: int
    amid: bool

    def best(self, weight: Array) -> tuple[float, Cut, Array]:
        """The best cut under some weights, its score and its features."""
        scores = (self.features @ weight).tolist()
        stretches = self.cutter.stretches
        _, left, path = best_path(
            len(stretches.places), len(self.row), weight[_AT["talk_numbers"]],
            ((i, j, total, scores[at], at) for at, (i, j, _, total) in enumerate(self.ends)),
        )  # fmt: skip
        features = self.features[path].sum(axis=0)
        features[_AT["talk_numbers"]] += left
        features[_AT["put_in_order"]] += self.turns
        features[_AT["told_amid"]] += self.amid
        cut = tuple(
            (stretches.places[i].at, stretches.end_of(j), kind, -1 if total is None else total)
            for i, j, kind, total in (self.ends[at] for at in path)
        )
        return float(features @ weight), cut, features


@dataclass(slots=True)
class Told:
    """A script with its truth, its ways to be cut, and what was counted of the cuts tried."""

    speaker: str
    text: str
    kind: str
    truth: list[dict[str, Any]]
    ways: list[Way] = field(default_factory=list)
    tried: dict[Key, tuple[Array, float, Counts]] = field(default_factory=dict)

    def prepare(self) -> None:
        """Work out what its stretches may be."""
        first = self.first()
        for order, one in enumerate([first, *first.in_order()]):
            for row, amid in product(one.cutter.rows(), one.cutter.habits()):
                found = list(one.cutter.stretches.ways(row, amid))
                matrix = np.zeros((len(found), len(NAMES)))
                for at, (*_, features) in enumerate(found):
                    for name, value in features.items():
                        if name in _AT:
                            matrix[at, _AT[name]] = value
                ends = [(i, j, kind, total) for i, j, kind, total, _ in found]
                turns = len(one.talk.turns)
                self.ways.append(Way(order, row, one.cutter, ends, matrix, turns, amid))

    def first(self) -> scripts.Script:
        """It, read as it stands."""
        return scripts.Script(self.talk())

    def talk(self) -> Talk:
        """Its words, read anew."""
        return Talk.of(pieces(self.text, self.kind))

    def chosen(self, weight: Array) -> Key:
        """The cut that some weights choose, read and counted when it is met for the first time."""
        found = [(*way.best(weight), at) for at, way in enumerate(self.ways)]
        _, cut, features, at = max(found, key=lambda way: way[0])
        way = self.ways[at]
        key = (way.order, bool(way.row), way.amid, cut)
        if key not in self.tried:
            counts = score(self.truth, [_recipe(r) for r in self._read(way, cut)], [])
            self.tried[key] = (features, _gain(counts), counts)
        return key

    def _read(self, way: Way, cut: Cut) -> list[RawRecipe]:
        """Its recipes when it is cut so."""
        first = scripts.Script(self.talk())
        one = [first, *first.in_order()][way.order]
        row = one.cutter.rows()[-1] if way.row else []
        places = {place.at: place for place in one.cutter.stretches.places}
        one.cut_into([
            one.cutter.segment(places[start], start, end, kind, None if took < 0 else row[took])
            for start, end, kind, took in cut
        ], way.amid)  # fmt: skip
        return one.recipes()


_amounts: dict[str, Amount] = {}


def _recipe(raw: RawRecipe) -> Recipe:
    """A recipe as the count wants it."""
    texts = [line.text for line in raw.lines]
    _amounts.update(_read_amounts([t for t in texts if t not in _amounts]))
    out = Recipe(raw.title, [(t, _amounts[t]) for t in texts], servings=raw.servings)
    for name, tag in NUTRIENTS.items():
        hit = next((s for s in raw.stated if s.nutrient == tag), None)
        if hit is not None:
            out.stated[name] = hit.amount / (raw.servings if hit.basis == "per_recipe" else 1.0)
    return out


def _read_amounts(texts: list[str]) -> dict[str, Amount]:
    from pipeline.reading import load_tools, read_lines, weighed_frame
    from pipeline.snapshot import open_snapshot

    if not texts:
        return {}
    if not _TOOLS:
        _TOOLS.append(load_tools(open_snapshot()))
    frame = weighed_frame(read_lines(list(dict.fromkeys(texts)), _TOOLS[0]))
    return dict(zip(frame["text"], zip(frame["amount"], frame["unit"], strict=True), strict=True))


_TOOLS: list[Any] = []


def _gain(counts: Counts) -> float:
    """What a reading is worth, in lines."""
    return (
        counts.lines_right - 0.7 * counts.not_said + counts.stated_right + counts.servings_right + counts.whole
        - counts.too_many
    )  # fmt: skip


def fitted(told: Sequence[Told], start: Array, back: Array) -> Array:
    """The weights under which the cuts tried give the best expected count."""
    sets = []
    for one in told:
        features, gains, _ = zip(*one.tried.values(), strict=True)
        if len(set(gains)) > 1:
            sets.append((np.array(features), np.array(gains)))

    def risk(weight: Array) -> tuple[float, Array]:
        value, slope = 0.0, np.zeros_like(weight)
        for features, gains in sets:
            scores = features @ weight
            share = np.exp(scores - scores.max())
            share /= share.sum()
            expected = float(share @ gains)
            value -= expected
            slope -= (share * gains) @ features - expected * (share @ features)
        moved = (weight - start) / back
        return value + float(moved @ moved), slope + 2 * moved / back

    return np.asarray(minimize(risk, start, jac=True, method="L-BFGS-B").x)


def counted(told: Sequence[Told], weight: Array) -> Counts:
    """What scripts give with some weights."""
    out = Counts()
    for one in told:
        out.add(one.tried[one.chosen(weight)][2])
    return out


def told_in(folders: Sequence[Path]) -> list[Told]:
    """The scripts of folders."""
    out = []
    for path in (path for folder in folders for path in scripts_of(folder)):
        truth = json.loads(path.with_name(f"{path.stem}.truth.json").read_text())["recipes"]
        name = path.stem.split("_")[0].split("-")[0]
        text = path.read_text(encoding="utf-8")
        out.append(Told(name, text, _KINDS[path.suffix], truth))
    return out


def drawn(start: Array, seed: int) -> Iterator[Array]:
    """Weights near others."""
    rng = np.random.default_rng(seed)
    for spread in np.linspace(_SPREAD / 4, _SPREAD, _DRAWN):
        yield start + rng.normal(size=len(start)) * spread


def with_words(told: Sequence[Told]) -> None:
    """Take the words that recipes begin with up among the features, those of several speakers."""
    speakers = defaultdict[str, set[str]](set)
    for one in told:
        stretches = one.first().cutter.stretches
        for place in stretches.places:
            for name in stretches.wording(place):
                speakers[name].add(one.speaker)
    for name in sorted(speakers):
        if len(speakers[name]) >= _AUTHORS and name not in _AT:
            _AT[name] = len(NAMES)
            NAMES.append(name)


def tried(told: Sequence[Told], start: Array, back: Array) -> Array:
    """Weights fitted to the cuts that they themselves lead to, in a few rounds."""
    weight = start
    for _ in range(_ROUNDS):
        weight = fitted(told, start, back)
        for one in told:
            one.chosen(weight)
    return weight


def left_out(told: Sequence[Told], start: Array, back: Array) -> Counts:
    """What scripts give with the weights that were fitted without their speakers."""
    speakers = sorted({one.speaker for one in told})
    random.Random(1).shuffle(speakers)
    out = Counts()
    for part in range(_FOLDS):
        without = set(speakers[part::_FOLDS])
        weight = tried([one for one in told if one.speaker not in without], start, back)
        out.add(counted([one for one in told if one.speaker in without], weight))
    return out


def written(weight: Array) -> None:
    """Write the weights with the notes that the table has."""
    notes = {row["feature"]: row["note"] for row in shared_rows("spoken_cuts.csv")}
    kept = [
        (name, f"{value:.3g}", notes.get(name, ""))
        for name, value in zip(NAMES, weight, strict=True)
        if ": " not in name or abs(value) >= _LEAST
    ]
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(("feature", "weight", "note"))
        out.writerows(kept)


def main() -> None:
    """Fit, print, write if asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--test", nargs="*", type=Path, default=[], help="folders to count apart")
    parser.add_argument("--back", type=float, default=1.0, help="how far a weight may move")
    parser.add_argument("--words", type=float, default=0.3, help="the same for those of words")
    parser.add_argument("--left-out", action="store_true", help="also without each speaker")
    parser.add_argument("--write", action="store_true")
    given = parser.parse_args()
    told, apart = told_in(given.folders), told_in(given.test)
    with_words(told)
    start = np.array([weights().get(name, 0.0) for name in NAMES])
    back = np.array([given.words if ": " in name else given.back for name in NAMES])
    for at, one in enumerate([*told, *apart]):
        one.prepare()
        for weight in [start, *drawn(start, at)]:
            one.chosen(weight)
    shown = {"present": counted(told, start)}
    if given.left_out:
        shown["left out"] = left_out(told, start, back)
    weight = tried(told, start, back)
    shown["fitted"] = counted(told, weight)
    if apart:
        shown |= {"apart": counted(apart, start), "apart, fit": counted(apart, weight)}
    print_shares(shown)
    if given.write:
        written(weight)


if __name__ == "__main__":
    main()
