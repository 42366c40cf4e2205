"""Refit what speaks for the beginning of a spoken recipe: ``python benchmarks/fit_cuts.py FOLDER...``.

Structured perceptron with margin over the cuts of scripts with truth, averaged, drawn back to the
weights in force. Every script is read twice, once without the phrases that announce and name recipes,
as of a speaker whose phrases nobody listed. Prints, held out by speaker, the share of ingredients that
the cut gives to their recipe, and ``shared/spoken_cuts.csv`` fitted on all; writes nothing.
"""

from __future__ import annotations

import argparse
import json
import random
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from spoken import NUTRIENTS, amounts_of, names, same_amount, scripts_of, stated_of

from pipeline.intake.spoken import segments
from pipeline.intake.spoken.captions import pieces
from pipeline.intake.spoken.grammar import Talk
from pipeline.intake.spoken.lexicon import lexicon
from pipeline.intake.spoken.script import Script
from pipeline.intake.spoken.segments import Cutter, Features, Place
from pipeline.intake.spoken.totals import Total
from pipeline.intake.spoken.words import words_of
from pipeline.intake.spoken.written import written
from pipeline.resources import shared_rows

#: Phrases that a stranger's script does without.
LISTED = ("announced", "mentioned")
KINDS = {".vtt": "webvtt", ".srt": "srt", ".txt": "script"}
_NEVER = re.compile(r"(?!)")
_ROUNDS, _STEP, _BACK = 8, 0.04, 0.1
_SPLIT = 1.5  # mentions that a cut too many costs
_MARGIN = 0.5  # by which a cut has to be worse for a mention that it gets wrong


class Taught(Cutter):
    """A cutter that knows the truth: what it does right is a feature, ``right``."""

    label: dict[int, tuple[int, bool]]
    energy: list[float | None]
    seen: dict[tuple[int, int, int], list[tuple[str, int | None, Features]]]

    def _ways(
        self, place: Place, start: int, end: int, row: list[Total]
    ) -> Iterator[tuple[str, int | None, Features]]:
        key = start, end, len(row)
        if key not in self.seen:
            self.seen[key] = list(self._taught(place, start, end, row))
        yield from self.seen[key]

    def _taught(
        self, place: Place, start: int, end: int, row: list[Total]
    ) -> Iterator[tuple[str, int | None, Features]]:
        mine = [
            self.label[c.start]
            for c in self.both
            if start <= c.start < end and c.start in self.label
        ]
        counts: dict[int, int] = {}
        for which, shared in mine:
            if not shared:
                counts[which] = counts.get(which, 0) + 1
        best = max(counts, key=lambda k: counts[k], default=None)
        most = counts.get(best, 0) if best is not None else 0
        for kind, total, features in super()._ways(place, start, end, row):
            if kind == "recipe":
                right = most - 2.0 * (sum(counts.values()) - most) - _SPLIT
                right -= 0.5 * (len(mine) - sum(counts.values()))  # better read as a base
                right += self._numbers_right(
                    best, start, end, None if total is None else row[total]
                )
            elif kind == "base":
                right = 1.0 * (len(mine) - sum(counts.values())) - 1.0 * sum(counts.values())
            else:
                right = -1.0 * len(mine)
            features["right"] = right
            yield kind, total, features

    def _numbers_right(self, best: int | None, start: int, end: int, taken: Total | None) -> float:
        """The totals of a stretch are those of its recipe."""
        own = [t for t in self.complete if start <= t.start < end and id(t) not in self._row]
        stated = self.energy[best] if best is not None else None
        if stated is None:
            return 0.0
        said = {
            p.value for t in ([taken] if taken else own) for p in t.parts if p.tag == "ENERC_KCAL"
        }
        others = {e for e in self.energy if e is not None and e != stated}
        return 2.0 * (stated in said) - 1.0 * len(said & others)


@dataclass
class Example:
    """A script, read in one way."""

    speaker: str
    listed: bool
    cutter: Taught
    n: int


@contextmanager
def without_phrases() -> Iterator[None]:
    """Nothing announces or names a recipe."""
    real = segments.phrases  # type: ignore[attr-defined]
    segments.phrases = lambda name, **fill: _NEVER if name in LISTED else real(name, **fill)  # type: ignore[assignment,attr-defined]
    series, Cutter._series = Cutter._series, lambda self: {}  # type: ignore[method-assign]
    try:
        yield
    finally:
        segments.phrases, Cutter._series = real, series  # type: ignore[method-assign,attr-defined]


def labels(cutter: Cutter, truth: list[dict[str, Any]]) -> dict[int, tuple[int, bool]]:
    """Start of a mention → the recipe it belongs to, in the order of the script, and whether it is
    said once for several."""
    options: list[list[tuple[int, float, bool]]] = []
    for chunk in cutter.both:
        text, amount = written(chunk.of, 1.0), chunk.amount
        assert amount is not None
        got = (amount.value, amount.unit.name if amount.unit else "")
        ways = []
        for at, recipe in enumerate(truth):
            fits = [x for x in recipe["lines"] if names(text, x["food_words"])]
            if fits:
                exact = any(same_amount(amounts_of(x), got, text) for x in fits)
                ways.append(
                    (at, 1.0 if exact else 0.3, any(bool(x.get("from_base")) for x in fits))
                )
        options.append(ways)
    n = len(truth)
    score = [0.0] * n
    choices: list[list[tuple[int, tuple[int, bool] | None]]] = []
    for ways in options:
        best: list[tuple[int, tuple[int, bool] | None]] = []
        at = 0
        for k in range(n):  # the best recipe at or before k for what came before
            if score[k] > score[at]:
                at = k
            best.append((at, None))
        new, chosen = [score[b] for b, _ in best], list(best)
        for k, worth, shared in ways:
            if new[k] + worth > new[k]:
                new[k] += worth
                chosen[k] = (chosen[k][0], (k, shared))
        score = new
        choices.append(chosen)
    at = max(range(n), key=lambda k: score[k])
    out: dict[int, tuple[int, bool]] = {}
    for chunk, chosen in zip(cutter.both[::-1], choices[::-1], strict=True):
        at, label = chosen[at]
        if label is not None:
            out[chunk.start] = label
    return out


def examples(folders: list[Path]) -> list[Example]:
    """Every script, with the listed phrases and without."""
    out = []
    for folder in folders:
        for path in scripts_of(folder):
            truth = json.loads(path.with_name(f"{path.stem}.truth.json").read_text())["recipes"]
            said = path.read_text(encoding="utf-8")
            words = words_of(pieces(said, KINDS[path.suffix]))
            script = Script(Talk(words, lexicon(), path.name))
            for listed in (True, False):
                if listed:
                    cutter = Taught(script.talk, script.totals.found, script.chunks)
                else:
                    with without_phrases():
                        cutter = Taught(script.talk, script.totals.found, script.chunks)
                cutter.seen = {}
                cutter.label = labels(cutter, truth)
                cutter.energy = [stated_of(r).get(next(iter(NUTRIENTS))) for r in truth]
                out.append(Example(path.stem.split("_")[0], listed, cutter, len(truth)))
    return out


def features_of(cutter: Taught, weights: dict[str, float]) -> Features:
    """The features of the best cut."""
    cutter.weights = weights
    out: Features = {}
    for step in cutter.best_steps():
        for name, x in step.features.items():
            out[name] = out.get(name, 0.0) + x
    return out


def fit(given: list[Example], start: dict[str, float], seed: int = 1) -> dict[str, float]:
    """Weights under which the cuts of scripts are those of their truth."""
    draw = random.Random(seed)
    weights, total, seen = dict(start), dict.fromkeys(start, 0.0), 0
    for _ in range(_ROUNDS):
        order = list(given)
        draw.shuffle(order)
        for one in order:
            wanted = features_of(one.cutter, {**weights, "right": 5.0})
            found = features_of(one.cutter, {**weights, "right": -_MARGIN})
            if wanted["right"] > found["right"] + 1e-9:
                for name in weights:
                    change = wanted.get(name, 0.0) - found.get(name, 0.0)
                    weights[name] += _STEP * max(-3.0, min(3.0, change))
            for name in weights:
                weights[name] -= _STEP * _BACK * (weights[name] - start[name])
                total[name] += weights[name]
            seen += 1
    return {name: total[name] / seen for name in weights}


def shares(given: list[Example], weights: dict[str, float]) -> tuple[float, float]:
    """Shares of the ingredients that the cut gives to a recipe of their own, and of cuts right."""
    right = mentions = cuts = truth = 0
    for one in given:
        one.cutter.weights = {**weights, "right": 0.0}
        found = one.cutter.cut()
        taken: set[int] = set()
        for segment in found:
            counts: dict[int, int] = {}
            for chunk in segment.chunks:
                if chunk.start in one.cutter.label:
                    which = one.cutter.label[chunk.start][0]
                    counts[which] = counts.get(which, 0) + 1
            free = {k: n for k, n in counts.items() if k not in taken}
            if free and segment.kind == "recipe":
                best = max(free, key=lambda k: free[k])
                taken.add(best)
                right += free[best]
                cuts += sum(counts.values()) == free[best]
        mentions += sum(not shared for _, shared in one.cutter.label.values())
        truth += one.n
    return right / mentions, cuts / truth


def table(weights: dict[str, float]) -> Iterator[str]:
    """The rows of the table with other weights."""
    yield "feature,weight,fitted,note"
    for row in shared_rows("spoken_cuts.csv"):
        note = row["note"] or ""
        quoted = '"' + note.replace('"', '""') + '"' if {",", '"'} & set(note) else note
        yield f"{row['feature']},{row['weight']},{weights[row['feature']]:.2f},{quoted}"


def main() -> None:
    """Fit, and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--folds", type=int, default=4, help="0: no figures held out")
    given = parser.parse_args()
    made = examples(given.folders)
    start = dict(segments.weights())
    speakers = sorted({one.speaker for one in made})
    for fold in range(given.folds):
        out = set(speakers[fold :: given.folds])
        fitted = fit([one for one in made if one.speaker not in out], start)
        for listed in (True, False):
            held = [one for one in made if one.speaker in out and one.listed is listed]
            print(
                f"# fold {fold} {'listed' if listed else 'bare':6} "
                "in force {:.3f} {:.3f}, fitted {:.3f} {:.3f}".format(
                    *shares(held, start), *shares(held, fitted)
                )
            )
    print(*table(fit(made, start)), sep="\n")


if __name__ == "__main__":
    main()
