"""Fits ranking and confidence: ``python benchmarks/fit_match.py [--outside LINES.csv] [--write]``.

Ranking: a conditional logit over the candidates of each question (``regimes.py``), L2 penalty; the
right foods of a question share its likelihood. Confidence: a logistic model of the evidence about
the best food. Both are judged on folds they were not fitted on: questions of one food group, or of
one labelled line with and without its name, stay together, and the confidence of a fold is fitted
on rankings by weights that did not see it. Even-numbered outside lines are never fitted on.
``--write`` puts the weights into ``shared/match_model.json``.
"""

from __future__ import annotations

import argparse
import json
import random
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
from regimes import WAYS, Question, labelled_sets, of_labels, of_names, of_table, of_unknown
from scipy.optimize import minimize
from sklearn.linear_model import LogisticRegression

from pipeline.match import load_index
from pipeline.match.confidence import STOOD_IN, Evidence, best_of, evidence
from pipeline.match.features import Features
from pipeline.match.index import Index
from pipeline.match.rank import AT_ONCE, Rankings, leftovers, rank_all
from pipeline.resources import shared_path
from pipeline.snapshot import open_snapshot

Floats = npt.NDArray[np.float64]
FOLDS = 5
#: What one question of a kind counts for: few labelled lines stand for most of what is asked.
WEIGHT = {
    "everyday": 1.0,
    "held out": 1.0,
    "names": 0.25,
    "self": 0.3,
    "unknown": 0.0,
    "made-up": 0.1,
}
#: The same for the confidence, which has to hold for what people ask, and how often.
ASKED = {
    "everyday": 2.0,
    "held out": 1.0,
    "names": 0.1,
    "self": 0.2,
    "unknown": 0.2,
    "made-up": 0.2,
}
#: Share of wrong answers among the accepted that each kind may have, on held-out folds.
WRONG = {"held out": 0.015, "self": 0.005}
#: The same where a known name is the whole line.
WRONG_KNOWN = {"everyday": 0.003}

#: Ways of writing that leave the food open; they are fitted on, but set no threshold.
LEFT_OUT = ("self: maker left out", "self: one part left out")


@dataclass(frozen=True)
class Example:
    """A question with all candidates gathered for it: one line of the rankings of a batch."""

    question: Question
    batch: int
    line: int
    x: Floats  # (candidates, features)
    right: npt.NDArray[np.bool_]
    fold: int
    settled: bool

    @property
    def kind(self) -> str:
        return self.question.kind.partition(":")[0]


def gather(
    questions: list[Question], index: Index, seed: int
) -> tuple[list[Example], list[Rankings]]:
    """Rank every question, in batches; questions without a candidate are dropped."""
    rnd = random.Random(seed)
    groups = sorted({q.group for q in questions})
    fold = {g: rnd.randrange(FOLDS) for g in groups}
    examples: list[Example] = []
    batches: list[Rankings] = []
    for first in range(0, len(questions), AT_ONCE):
        asked = questions[first : first + AT_ONCE]
        found = rank_all([q.query for q in asked], index, [q.without for q in asked])
        for line, q in enumerate(asked):
            own = slice(found.start[line], found.start[line + 1])
            if own.start < own.stop:
                right = np.array([q.right(int(food)) for food in found.food[own]])
                x = found.features[:, own].T.copy()
                examples.append(
                    Example(q, len(batches), line, x, right, fold[q.group], found.settled[line])
                )
        batches.append(found)
    return examples, batches


def fit_rank(examples: Sequence[Example], penalty: float) -> Floats:
    """Weights of the conditional logit."""
    telling = [e for e in examples if e.right.any() and not e.right.all()]
    x = np.concatenate([e.x for e in telling])
    right = np.concatenate([e.right for e in telling])
    size = [len(e.right) for e in telling]
    start = np.r_[0, np.cumsum(size)[:-1]]
    of = np.repeat(np.arange(len(telling)), size)
    weight = np.array([WEIGHT[e.kind] for e in telling])

    def loss(b: Floats) -> tuple[float, Floats]:
        z = x @ b
        e = np.exp(z - np.maximum.reduceat(z, start)[of])
        whole = np.add.reduceat(e, start)
        good = e * right
        part = np.add.reduceat(good, start) + 1e-300
        value = float(weight @ (np.log(whole) - np.log(part)) + penalty * b @ b)
        slope = weight[of] * (e / whole[of] - good / part[of])
        return value, x.T @ slope + 2 * penalty * b

    found = minimize(loss, np.zeros(x.shape[1]), jac=True, method="L-BFGS-B")
    return np.asarray(found.x)


def rescored(found: Rankings, weights: Floats) -> Rankings:
    """The same candidates by other weights of their features."""
    score = weights @ found.features
    order = np.lexsort((-score, found.line))
    food, name = found.food[order], found.name[order]
    return replace(
        found, score=score[order], food=food, name=name, sense=found.sense[order],
        features=found.features[:, order],
        leftover=leftovers(found.asked, found.index, food, name, found.start),
    )  # fmt: skip


def answers(
    examples: Sequence[Example], weights: Floats, batches: Sequence[Rankings]
) -> tuple[Floats, npt.NDArray[np.bool_], list[int]]:
    """Evidence (examples, features) about the best food by ``weights``, whether it is right, and
    which examples have a food at all (a lacking one has no evidence)."""
    told: dict[tuple[int, int], tuple[int, Floats]] = {}
    for number, found in enumerate(batches):
        again = rescored(found, weights)
        best = best_of(again, np.arange(len(again.line)))
        for at, row in zip(best.top, evidence(again, best), strict=True):
            told[number, int(again.line[at])] = int(again.food[at]), row
    rows, right, which = [], [], []
    for at, example in enumerate(examples):
        food, row = told[example.batch, example.line]
        if food < 0:
            continue
        rows.append(row)
        right.append(example.question.right(food))
        which.append(at)
    return np.array(rows), np.array(right), which


def fit_confidence(
    x: Floats, y: npt.NDArray[np.bool_], weight: Floats, strength: float
) -> tuple[Floats, float]:
    """Weights and intercept of the logistic model."""
    model = LogisticRegression(C=strength, max_iter=5000).fit(x, y, sample_weight=weight)
    return model.coef_[0], float(model.intercept_[0])


def sigmoid(z: Floats) -> Floats:
    """1 / (1 + e^-z)."""
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(z, -30, 30))))


def sure(x: Floats, coefficients: Floats, intercept: float) -> Floats:
    """Probability of each row of evidence, stand-ins never surer than they are."""
    p = sigmoid(x @ coefficients + intercept)
    stand_in = x[:, Evidence._fields.index("stand_in")] > 0
    return np.where(stand_in, np.minimum(p, STOOD_IN), p)


def threshold(p: Floats, y: npt.NDArray[np.bool_], wrong: float) -> float:
    """Lowest confidence from which at most ``wrong`` of the accepted are wrong."""
    order = np.argsort(-p, kind="stable")
    bad = np.cumsum(~y[order]) / np.arange(1, len(p) + 1)
    ok = np.flatnonzero(bad <= wrong)
    return float(p[order][ok[-1]]) if len(ok) else 1.0


def calibration(p: Floats, y: npt.NDArray[np.bool_]) -> float:
    """Expected calibration error, 10 equal-width bins."""
    bins = np.minimum(9, (p * 10).astype(int))
    return float(sum(abs(p[bins == b].sum() - y[bins == b].sum()) for b in range(10)) / len(y))


def report(
    title: str, examples: Sequence[Example], which: Sequence[int], p: Floats,
    y: npt.NDArray[np.bool_], accept: float, known: npt.NDArray[np.bool_], accept_known: float,
) -> None:  # fmt: skip
    """Print top-1, accepted and wrong among the accepted by kind."""
    print(f"\n{title} (accepted from {accept:.3f}, known names from {accept_known:.3f})")
    print(f"  {'kind':<24} {'asked':>6} {'top-1':>7} {'accepted':>9} {'wrong':>7} {'ECE':>6}")
    kinds: defaultdict[str, list[int]] = defaultdict(list)
    asked: defaultdict[str, int] = defaultdict(int)
    for e in examples:
        asked[e.question.kind] += not e.question.lacking or e.kind == "unknown"
    for row, at in enumerate(which):
        kinds[examples[at].question.kind].append(row)
    for kind, rows in sorted(kinds.items()):
        pk, yk = p[rows], y[rows]
        taken = pk >= np.where(known[rows], accept_known, accept)
        print(
            f"  {kind:<24} {asked[kind]:>6} {yk.sum() / asked[kind]:7.1%} "
            f"{(taken & yk).sum() / asked[kind]:9.1%} "
            f"{(taken & ~yk).sum() / max(1, taken.sum()):7.2%} {calibration(pk, yk):6.3f}"
        )


def main(argv: Sequence[str] | None = None) -> None:
    """Fit, judge out of fold, and perhaps write."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--outside", type=Path, help="outside labelled lines")
    ask.add_argument("--names", type=int, default=5000, help="names held out")
    ask.add_argument("--table", type=int, default=900, help="descriptions a way of writing")
    ask.add_argument("--penalty", type=float, default=0.3)
    ask.add_argument("--strength", type=float, default=3.0)
    ask.add_argument("--seed", type=int, default=7)
    ask.add_argument("--write", action="store_true")
    args = ask.parse_args(argv)
    with open_snapshot().connect() as con:
        index = load_index(con)
    rnd = random.Random(args.seed)
    questions: list[Question] = []
    for name, labels, kept_even in labelled_sets(args.outside):
        questions += of_labels(labels, index, name, kept_even=kept_even)
    questions += of_names(index, args.names, rnd)
    questions += of_unknown(index, args.names // 5, rnd)
    questions += of_table(index, WAYS, rnd, args.table)
    examples, batches = gather(questions, index, args.seed)
    fitted = [e for e in examples if not e.question.kept]
    kept = [e for e in examples if e.question.kept]

    # -- out of fold ------------------------------------------------------------------------
    p = np.full(len(fitted), np.nan)
    y = np.zeros(len(fitted), dtype=bool)
    for fold in range(FOLDS):
        seen = [e for e in fitted if e.fold != fold]
        unseen = [at for at, e in enumerate(fitted) if e.fold == fold]
        weights = fit_rank(seen, args.penalty)
        xs, ys, ws = answers(seen, weights, batches)
        model = fit_confidence(xs, ys, np.array([ASKED[seen[at].kind] for at in ws]), args.strength)
        xu, yu, wu = answers([fitted[at] for at in unseen], weights, batches)
        places = [unseen[at] for at in wu]
        p[places] = sure(xu, *model)
        y[places] = yu
    which = [int(at) for at in np.flatnonzero(~np.isnan(p))]
    p, y = p[which], y[which]
    limits = {}
    for kind, wrong in WRONG.items():
        rows = [
            row
            for row, at in enumerate(which)
            if fitted[at].kind == kind and fitted[at].question.kind not in LEFT_OUT
        ]
        limits[kind] = threshold(p[rows], y[rows], wrong)
    accept = max(limits.values())
    known = np.array([fitted[at].settled for at in which])
    asked = np.array([fitted[at].kind in WRONG_KNOWN for at in which])
    # stand-ins are always asked
    accept_known = max(
        STOOD_IN + 0.01, threshold(p[known & asked], y[known & asked], *WRONG_KNOWN.values())
    )
    print(
        "lowest confidence that keeps each kind's limit:",
        {k: round(v, 3) for k, v in limits.items()},
    )
    report("out of fold", fitted, which, p, y, accept, known, accept_known)

    # -- all of it --------------------------------------------------------------------------
    weights = fit_rank(fitted, args.penalty)
    x, y, ws = answers(fitted, weights, batches)
    coefficients, intercept = fit_confidence(
        x, y, np.array([ASKED[fitted[at].kind] for at in ws]), args.strength
    )
    if kept:
        xk, yk, wk = answers(kept, weights, batches)
        report(
            "outside lines with even numbers, never fitted on", kept, wk,
            sure(xk, coefficients, intercept), yk, accept,
            np.array([kept[at].settled for at in wk]), accept_known,
        )  # fmt: skip
    told = {
        "how": f"benchmarks/fit_match.py: {len(fitted)} questions, ranking L2 {args.penalty:g}, "
        f"confidence C {args.strength:g}; the threshold keeps "
        + ", ".join(f"{k} {w:.1%}" for k, w in WRONG.items())
        + " wrong among the accepted out of fold, "
        + ", ".join(f"{k} {w:.1%}" for k, w in WRONG_KNOWN.items())
        + " where a known name is the whole line",
        "rank": dict(zip(Features._fields, (round(float(w), 3) for w in weights), strict=True)),
        "temperature": 1.0,
        "confidence": dict(
            zip(Evidence._fields, (round(float(w), 3) for w in coefficients), strict=True)
        ),
        "intercept": round(intercept, 3),
        "accept_from": round(accept, 3),
        "accept_known": round(accept_known, 3),
    }
    print(json.dumps({k: told[k] for k in ("rank", "confidence", "intercept")}, indent=1))
    if args.write:
        path = shared_path("match_model.json")
        path.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
        print("written to", path.name)


if __name__ == "__main__":
    main()
