"""What a run found out, as tables, and what follows from them for people."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pandas as pd

from pipeline.compute.convention import TABLE, Convention
from pipeline.habits import HABIT
from pipeline.settings import Settings
from pipeline.tables import VERDICTS

if TYPE_CHECKING:
    from pipeline.intake import Collection


def no_habits() -> pd.DataFrame:
    """An empty table of habits."""
    return pd.DataFrame(columns=HABIT)


@dataclass(slots=True)
class Result:
    """Everything a run found out, as pandas frames; see ``pipeline.tables`` for the columns.

    Attributes:
        recipes: one row a recipe: recipe_id, title, source, verdict, coverage, then
            ``NAME_stated`` and ``NAME_computed`` for the reported nutrients on its ``basis``, and
            ``accepted``: why its difference is accepted, "" when it is not.
        findings: one row per stated nutrient.
        lines: LINE_RESULT, the values of each line for the whole recipe, and ``food_source``: the
            table its food comes from.
        computed: totals of each whole recipe with their range.
        explanations: what most likely went wrong, ranked.
        to_review: lines worth a look, by the energy that depends on them.
        checks: what the stated numbers say against one another, ingredients apart.
        corrected: numbers to publish.
        claims: what titles and texts claim against the published conditions.
        doubt: which lines own the spread of each recipe.
        habits: causes that several recipes of a creator share, see ``habits.HABIT``.
        problems: one row per fault of the input.
        collection: what was read.
        snapshot: facts of the nutrient table, see ``snapshot.facts_of``; empty in a part of a run.
        convention: what energy and carbohydrate mean in every computed number.
    """

    recipes: pd.DataFrame
    findings: pd.DataFrame
    lines: pd.DataFrame
    computed: pd.DataFrame
    explanations: pd.DataFrame
    to_review: pd.DataFrame
    checks: pd.DataFrame
    corrected: pd.DataFrame
    claims: pd.DataFrame
    doubt: pd.DataFrame
    problems: pd.DataFrame
    collection: Collection
    settings: Settings
    snapshot: dict[str, Any]
    per_recipe: pd.DataFrame
    runners_up: pd.DataFrame
    convention: Convention = TABLE
    habits: pd.DataFrame = field(default_factory=lambda: no_habits())
    seconds: dict[str, float] = field(default_factory=dict)

    @property
    def scripts(self) -> pd.DataFrame:
        """Spoken scripts that were read, columns ``tables.SCRIPT``; empty when there are none."""
        return self.collection.scripts

    @property
    def script_marks(self) -> pd.DataFrame:
        """What was understood where in ``scripts``, columns ``tables.SCRIPT_MARK``."""
        return self.collection.script_marks

    def counts(self) -> dict[str, int]:
        """Recipes by verdict, every verdict named."""
        got = self.recipes["verdict"].value_counts()
        return {v: int(got.get(v, 0)) for v in VERDICTS}

    def accepted(self) -> dict[str, str]:
        """Recipes whose difference is accepted, each with the reason."""
        if "accepted" not in self.recipes:
            return {}
        rows = self.recipes[self.recipes["accepted"] != ""]
        return dict(zip(rows["recipe_id"], rows["accepted"], strict=True))

    def standing(self) -> dict[str, int]:
        """``counts``, the accepted differences taken out of their verdicts and counted separately."""
        known = self.accepted()
        got = self.recipes.loc[self.recipes["recipe_id"].isin(known), "verdict"].value_counts()
        open_ = {v: n - int(got.get(v, 0)) for v, n in self.counts().items()}
        return {**open_, "accepted": len(known)}

    def recipes_by_size(self) -> pd.DataFrame:
        """``recipes``, the largest discrepancy first: verdict, then the largest relative difference.

        Accepted differences come after those that wait for an answer.
        """
        order = {"disagrees": 0, "uncertain": 1, "accepted": 2, "agrees": 3, "not_judged": 4}
        frame = self.recipes
        known = frame["recipe_id"].isin(self.accepted())
        size = self.findings.assign(
            size=(self.findings["difference"].abs() / self.findings["stated"].abs().clip(lower=1))
        )
        largest = size.groupby("recipe_id")["size"].max()
        return (
            frame.assign(
                _order=frame["verdict"].mask(known, "accepted").map(order),
                _size=frame["recipe_id"].map(largest).fillna(-1.0),
            )
            .sort_values(
                ["_order", "_size", "title", "recipe_id"], ascending=[True, False, True, True]
            )
            .drop(columns=["_order", "_size"])
        )


def corrected_numbers(result: Result) -> pd.DataFrame:
    """Numbers to write in place of the stated ones that do not agree; see
    ``pipeline.reconcile.corrected``.
    """
    from pipeline.reconcile.corrected import corrected_numbers as numbers
    from pipeline.reconcile.corrected import without_agreeing, wrong_as_a_whole

    recipes = result.recipes
    wanted = set(recipes.loc[recipes["verdict"] == "disagrees", "recipe_id"])
    stated = result.collection.stated
    out = numbers(
        stated[stated["recipe_id"].isin(wanted)], result.corrected, result.computed,
        result.per_recipe, available=result.convention.available,
    )  # fmt: skip
    if result.settings.has_conventions and "net_carbs_g" in out:
        # the files say plain carbohydrate and mean it without fibre
        plain = out["carbs_g"] if "carbs_g" in out else float("nan")
        out["carbs_g"] = out["net_carbs_g"].where(out["net_carbs_g"].notna(), plain)
    whole = wrong_as_a_whole(result.explanations)
    return without_agreeing(out, result.findings, whole) if len(out) else out
