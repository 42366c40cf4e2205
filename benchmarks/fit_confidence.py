"""Fits the confidence model again: ``python benchmarks/fit_confidence.py LINES.csv ... [--write]``.

Labelled lines give one example each: the features of the table's best food, and whether that food
is in the accepted set (false for lines whose food the table lacks). A logistic model with an L2
penalty is judged on folds it was not fitted on, over repeated splits; the strength of the penalty
is chosen by log loss there. The acceptance threshold is the lowest confidence at which, over the
held-out answers, at most ``--wrong`` of the accepted foods are wrong. ``--write`` puts weights,
threshold and how they came about into ``shared/match_confidence.json``.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
from lines import code, read_labels
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import RepeatedStratifiedKFold

from pipeline.lines import parse_many
from pipeline.match import load_index
from pipeline.match.confidence import FEATURES, confidence_features
from pipeline.match.matcher import Matcher
from pipeline.resources import shared_path
from pipeline.snapshot import open_snapshot

Array = npt.NDArray[np.float64]


def examples(paths: Sequence[Path], which: str) -> tuple[Array, npt.NDArray[np.bool_], int]:
    """Features (lines, features), whether right, and lines with a food of the table in all."""
    labels = [
        x
        for path in paths
        for x in read_labels(path)
        if which == "all" or x.odd == (which == "odd")
    ]
    with open_snapshot().connect() as con:
        matcher = Matcher(load_index(con))
    rows, right = [], []
    real = sum(not lab.lacking for lab in labels)
    for label, parsed in zip(labels, parse_many([x.text for x in labels]), strict=True):
        if parsed.kind != "food" or not parsed.name:
            continue
        chosen = matcher.match_one(parsed)
        if chosen.food_id is None:
            continue
        name = next(
            (n for n in (None, *parsed.alternatives)
             if (f := matcher.find(matcher.query(parsed, n))) is not None
             and f.food >= 0 and f.description == chosen.description),
            None,
        )  # fmt: skip
        query = matcher.query(parsed, name)
        found = matcher.find(query)
        if found is None or found.food < 0:
            continue
        values = confidence_features(query, found.ranking, matcher.index)
        rows.append([values[f] for f in FEATURES])
        right.append(not label.lacking and code(chosen.food_id) in label.accept)
    return np.array(rows), np.array(right), real


#: Sign each weight has to have: evidence for a food never lowers confidence, doubt never raises it.
SIGNS = {
    "right_mass": 1, "margin": 1, "name_cover": 1, "word_cover": 1, "whole_name": 1, "head": 1,
    "leftover": -1, "leftover_food": -1, "mended": -1, "unread": -1, "state_no": -1,
    "by_description": -1, "extra": -1, "fat_off": -1, "single_word": 0, "own_words": 1,
    "stand_in": -1, "varies": -1, "state_open": -1,
}  # fmt: skip


def fit(x: Array, y: npt.NDArray[np.bool_], strength: float) -> tuple[Array, float]:
    """Weights and intercept of a logistic model whose weights keep the signs of ``SIGNS``."""
    keep = np.ones(x.shape[1], dtype=bool)
    while True:
        model = LogisticRegression(C=strength, max_iter=2000).fit(x[:, keep], y)
        weights = np.zeros(x.shape[1])
        weights[keep] = model.coef_[0]
        wrong = np.array([SIGNS[f] * w < 0 for f, w in zip(FEATURES, weights, strict=True)])
        if not wrong.any():
            return weights, float(model.intercept_[0])
        keep &= ~wrong


def held_out(x: Array, y: npt.NDArray[np.bool_], strength: float, repeats: int = 8) -> Array:
    """Confidence of each example by models that did not see it; shape (repeats, examples)."""
    out = np.zeros((repeats, len(y)))
    folds = RepeatedStratifiedKFold(n_splits=5, n_repeats=repeats, random_state=20)
    for at, (train, test) in enumerate(folds.split(x, y)):
        weights, intercept = fit(x[train], y[train], strength)
        out[at // 5, test] = 1 / (1 + np.exp(-(x[test] @ weights + intercept)))
    return out


def calibration(p: Array, y: npt.NDArray[np.bool_]) -> float:
    """Expected calibration error, 10 equal-width bins."""
    bins = np.minimum(9, (p * 10).astype(int))
    return float(sum(abs(p[bins == b].sum() - y[bins == b].sum()) for b in range(10)) / len(y))


def threshold(p: Array, y: npt.NDArray[np.bool_], wrong: float) -> float:
    """Lowest confidence from which at most ``wrong`` of the accepted are wrong, all repeats pooled."""
    flat, truth = p.ravel(), np.tile(y, len(p))
    order = np.argsort(-flat, kind="stable")
    bad = np.cumsum(~truth[order]) / np.arange(1, len(flat) + 1)
    ok = np.flatnonzero(bad <= wrong)
    return float(flat[order][ok[-1]]) if len(ok) else 1.0


def main(argv: Sequence[str] | None = None) -> None:
    """Fit, judge, and perhaps write."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("lines", type=Path, nargs="+")
    ask.add_argument("--which", choices=["all", "odd", "even"], default="all")
    ask.add_argument("--wrong", type=float, default=0.01)
    ask.add_argument("--strength", type=float, help="take this penalty instead of the best one")
    ask.add_argument(
        "--threshold", type=float, default=0.0,
        help="accept from here at the lowest: stricter than the pooled lines ask, because some of "
        "them were looked at while the tables grew",
    )  # fmt: skip
    ask.add_argument("--write", action="store_true")
    args = ask.parse_args(argv)
    x, y, real = examples(args.lines, args.which)
    print(
        f"{len(y)} answers, {int((~y).sum())} of them wrong; {real} lines with a food in the table"
    )
    best = None
    for strength in (0.03, 0.1, 0.3, 1.0, 3.0):
        p = held_out(x, y, strength)
        loss = float(-np.mean(np.where(y, np.log(p), np.log(1 - p))))
        at = threshold(p, y, args.wrong)
        taken = p >= at
        ece = float(np.mean([calibration(row, y) for row in p]))
        print(
            f"  C {strength:<5} log loss {loss:.4f}  ECE {ece:.3f}  accept from {at:.3f}: "
            f"{(taken & y).sum() / len(p) / real:.1%} accepted, {(taken & ~y).sum() / taken.sum():.2%} wrong"
        )
        if args.strength == strength or (
            args.strength is None and (best is None or loss < best[0])
        ):
            best = loss, strength, at, ece
    assert best is not None
    _, strength, at, ece = best
    at = max(at, args.threshold)
    weights, intercept = fit(x, y, strength)
    rounded = {f: round(float(w), 3) for f, w in zip(FEATURES, weights, strict=True)}
    print(json.dumps(rounded, indent=1), "intercept", round(intercept, 3))
    if args.write:
        text = {
            "how": f"benchmarks/fit_confidence.py on {len(y)} labelled lines ({args.which}), logistic with "
            f"L2 penalty C={strength}, signs held; 5 folds x 8: ECE {ece:.3f}; threshold for "
            f"{args.wrong:.1%} wrong among the accepted on held-out folds, at least {args.threshold:g}",
            "intercept": round(intercept, 3),
            "accept_from": round(at, 3),
            "weights": rounded,
        }
        path = shared_path("match_confidence.json")
        path.write_text(json.dumps(text, indent=2) + "\n", encoding="utf-8")
        print("written to", path.name)


if __name__ == "__main__":
    main()
