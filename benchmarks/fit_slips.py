"""Refit the priors and the noise of the slip search on the even half of the life-like recipes.

Coordinate descent on the mean log loss of the belief given to a slip that was made, over life-like
recipes (three quarters) and tidy ones of ``invented.py`` (a quarter: cards that are worked out with
care exist too). Prints ``shared/slip_priors.csv`` and the constants; writes nothing.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from recipes import from_invented, ranked_of
from slips import Half, is_right

if TYPE_CHECKING:
    import duckdb

    from pipeline.reconcile import Foods

#: Constants fitted beside the priors: module, name, and the step of their logarithm.
CONSTANTS = (("score", "TEMPER"), ("model", "TAIL_SHARE"), ("model", "TAIL_SCALE"),
             ("score", "SECOND_SLIP"), ("score", "_FREE_SCALE"), ("score", "_FITS"))  # fmt: skip
TIDY_WEIGHT = 0.25
STEPS = (0.7, 0.35)


class Objective:
    """Mean log loss of what was said of the recipes that disagree."""

    def __init__(self, con: duckdb.DuckDBPyConnection, even: Half, foods: Foods) -> None:
        from pipeline.compute import compute
        from pipeline.reconcile import judge

        self.con, self.foods = con, foods
        frames, truths = from_invented("fit", foods, 1.0, 40, 14)
        lines, runners, recipe, stated = frames.tables()
        life = {one.recipe_id: one for one in even.made}
        self.sets: list[tuple[float, Any, Any, Any, Any, Any]] = []
        for weight, sums, said, runner, right in (
            (1 - TIDY_WEIGHT, even.computation, even.stated, even.runner_up,
             lambda r, k, n: is_right(life[r], k, n)),
            (TIDY_WEIGHT, compute(con, lines, runners, recipe), stated, runners,
             self._tidy(truths)),
        ):  # fmt: skip
            verdict = judge(con, sums, said, runner, foods=foods).verdict
            wanted = verdict[verdict["verdict"] == "disagrees"]
            self.sets.append((weight, sums, wanted, said, runner, right))

    @staticmethod
    def _tidy(truths: list[Any]) -> Any:
        own = {t.recipe_id: t for t in truths}

        def right(recipe_id: str, kind: str, line: int | None) -> bool:
            truth = own[recipe_id]
            if truth.fault == "none":
                return kind == "none_found"
            return (kind, line) == (truth.fault, truth.line_no)

        return right

    def __call__(self) -> float:
        from pipeline.reconcile import diagnose

        total = 0.0
        for weight, sums, wanted, said, runner, right in self.sets:
            found = diagnose(self.con, sums, wanted, said, runner, foods=self.foods, top=20)
            ranked = ranked_of(found.explanation)
            losses = [
                -math.log(max(sum(p for k, n, p in ranked.get(r, []) if right(r, k, n)), 2e-3))
                for r in wanted["recipe_id"]
            ]
            total += weight * sum(losses) / len(losses)
        return total


def fit(con: duckdb.DuckDBPyConnection, even: Half, foods: Foods) -> None:
    """Search, and print what was found."""
    from pipeline.reconcile import line_slips, model, number_slips, score, shares

    modules = {"model": model, "score": score}
    prior = dict(model.priors())

    def set_priors() -> None:
        every = sum(prior.values())
        scaled = {k: v / every for k, v in prior.items()}
        for module in (model, line_slips, number_slips, score, shares):
            module.priors = lambda: scaled  # type: ignore[attr-defined]

    objective = Objective(con, even, foods)
    best = objective()
    print(f"before: {best:.4f} ({[len(s[2]) for s in objective.sets]} recipes)", flush=True)
    keys: list[Any] = [*prior, *CONSTANTS]
    for step in STEPS:
        for key in keys:
            for sign in (1, -1):
                factor = math.exp(sign * step * (0.4 if isinstance(key, tuple) else 1.0))
                if isinstance(key, tuple):
                    module, name = modules[key[0]], key[1]
                    before = getattr(module, name)
                    setattr(module, name, min(before * factor, 0.9) if name == "TAIL_SHARE"
                            else before * factor)  # fmt: skip
                else:
                    before = prior[key]
                    prior[key] = before * factor
                    set_priors()
                now = objective()
                if now < best - 2e-4:
                    best = now
                    print(f"{best:.4f} {key} {before:.4g} -> {before * factor:.4g}", flush=True)
                    break
                if isinstance(key, tuple):
                    setattr(module, name, before)
                else:
                    prior[key] = before
                    set_priors()
    every = sum(prior.values())
    print("\n".join(f"{k},{v / every:.3f}" for k, v in prior.items()))
    for key in CONSTANTS:
        print(key[1], round(getattr(modules[key[0]], key[1]), 3))
