"""Refit the priors and the noise of the slip search on life-like recipes of the seeds kept for it.

Coordinate descent on the mean log loss of the belief given to a slip that was made, over life-like
recipes and tidy ones of ``invented.py`` (three in ten: cards that are worked out with
care exist too). Prints ``shared/slip_priors.csv`` and the constants; writes nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from recipes import Truth, from_invented, ranked_of
from slips import Read, is_right

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.compute import Computation
    from pipeline.reconcile import Foods

#: Constants fitted beside the priors: module, name.
CONSTANTS = (
    ("score", "TEMPER"), ("score", "SAME_TABLE"), ("score", "EXACT_SHARE"), ("model", "LINE_SCALE"),
    ("score", "_FREE_SCALE"), ("score", "_FITS"), ("number_slips", "_STALE_SCALE"),
)  # fmt: skip
#: Shares that leave room for others.
_MOST = {"SAME_TABLE": 0.55, "EXACT_SHARE": 0.3}
TIDY_WEIGHT = 0.3
STEPS = (0.7, 0.35)


@dataclass
class _Set:
    """Recipes that disagree, and what names their slips rightly."""

    weight: float
    computation: Computation
    stated: pd.DataFrame
    runner_up: pd.DataFrame
    wanted: pd.DataFrame
    right: Callable[[str, str, int | None], bool]


class Objective:
    """Mean log loss of what was said of the recipes that disagree."""

    def __init__(self, con: duckdb.DuckDBPyConnection, read: Read, foods: Foods) -> None:
        from pipeline.compute import compute
        from pipeline.reconcile import judge

        self.con, self.foods = con, foods
        frames, truths = from_invented("fit", foods, 1.0, 40, 14)
        lines, runners, recipe, stated = frames.tables()
        life = {one.recipe_id: one for one in read.made}
        tidy = {one.recipe_id: one for one in truths}
        self.sets = [
            _Set(1 - TIDY_WEIGHT, read.computation, read.stated, read.runner_up, read.stated,
                 lambda r, kind, line: is_right(life[r], kind, line)),
            _Set(TIDY_WEIGHT, compute(con, lines, runners, recipe), stated, runners, stated,
                 lambda r, kind, line: _is_right(tidy[r], kind, line)),
        ]  # fmt: skip
        for some in self.sets:
            found = judge(con, some.computation, some.stated, some.runner_up, foods=foods).verdict
            some.wanted = found[found["verdict"] == "disagrees"]

    def __call__(self) -> float:
        from pipeline.reconcile import diagnose

        total = 0.0
        for some in self.sets:
            found = diagnose(
                self.con, some.computation, some.wanted, some.stated, some.runner_up,
                foods=self.foods, top=20,
            )  # fmt: skip
            ranked = ranked_of(found.explanation)
            losses = [
                -math.log(max(
                    sum(p for k, n, p in ranked.get(r, []) if some.right(r, k, n)), 2e-3
                ))
                for r in some.wanted["recipe_id"]
            ]  # fmt: skip
            total += some.weight * sum(losses) / len(losses)
        return total


def _is_right(truth: Truth, kind: str, line: int | None) -> bool:
    if truth.fault == "none":
        return kind == "none_found"
    return (kind, line) == (truth.fault, truth.line_no)


class _Values:
    """Priors and constants, to be set where the search reads them."""

    def __init__(self) -> None:
        from pipeline.reconcile import line_slips, model, number_slips, score, shares

        self.modules: dict[str, Any] = {
            "model": model, "score": score, "number_slips": number_slips,
        }  # fmt: skip
        self.readers = (model, line_slips, number_slips, score, shares)
        self.prior = dict(model.priors())

    def every(self) -> list[Any]:
        return [*self.prior, *CONSTANTS]

    def get(self, key: Any) -> Any:
        if isinstance(key, str):
            return self.prior[key]
        return getattr(self.modules[key[0]], key[1])

    def set(self, key: Any, value: Any) -> None:
        if isinstance(key, str):
            self.prior[key] = value
            every = sum(self.prior.values())
            scaled = {k: v / every for k, v in self.prior.items()}
            for module in self.readers:
                module.priors = lambda: scaled  # type: ignore[attr-defined]
        else:
            setattr(self.modules[key[0]], key[1], min(value, _MOST.get(key[1], math.inf)))


def fit(con: duckdb.DuckDBPyConnection, read: Read, foods: Foods) -> None:
    """Search, and print what was found."""
    values, objective = _Values(), Objective(con, read, foods)
    best = objective()
    print(f"before: {best:.4f} ({[len(s.wanted) for s in objective.sets]} recipes)", flush=True)
    for step in STEPS:
        for key in values.every():
            best = _better(values, key, step * (1.0 if isinstance(key, str) else 0.4), best,
                           objective)  # fmt: skip
    every = sum(values.prior.values())
    print("\n".join(f"{k},{v / every:.3f}" for k, v in values.prior.items()))
    for key in CONSTANTS:
        print(key[1], values.get(key))


def _better(
    values: _Values, key: Any, step: float, best: float, objective: Callable[[], float]
) -> float:
    """Move one value up or down as long as that helps; the loss afterwards."""
    for factor in (math.exp(step), math.exp(-step)):
        while True:
            before = values.get(key)
            values.set(key, before * factor)
            now = objective()
            if now >= best - 2e-4:
                values.set(key, before)
                break
            best = now
            print(f"{best:.4f} {key} {before} -> {values.get(key)}", flush=True)
    return best
