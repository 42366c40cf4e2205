"""Everything the reconcile stage says of stated numbers, in the order it has to be asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.nutrients import BY_COLUMN, REPORTED
from pipeline.reconcile.arrays import placed
from pipeline.reconcile.explain import Diagnosis, Foods, diagnose
from pipeline.reconcile.findings import OPEN_ABOVE, findings, settle, verdicts

if TYPE_CHECKING:
    from collections.abc import Sequence

    import duckdb
    import pandas as pd

    from pipeline.compute import Computation

#: Bases of numbers, the one that recipes are shown on first.
_BASES = {"per_serving": 0, "per_recipe": 1, "per_100g": 2}


@dataclass(frozen=True, slots=True)
class Judgement:
    """What is right, what is not, and why.

    Attributes:
        finding: see ``findings`` and ``settle``; one row a stated number.
        verdict: recipe_id, verdict, honest (belief that the numbers together are an honest sum of
            the lines; NaN for recipes that agree number by number).
        explanation: see ``explanations``; recipes that disagree or are uncertain, and one row of
            kind net_carbs_stated of those that agree as carbohydrate without fibre.
    """

    finding: pd.DataFrame
    verdict: pd.DataFrame
    explanation: pd.DataFrame


def judge(
    con: duckdb.DuckDBPyConnection,
    computation: Computation,
    stated: pd.DataFrame,
    runner_up: pd.DataFrame | None = None,
    *,
    profile: str = "eu",
    percent: float = 10.0,
    pantry_nutrient: pd.DataFrame | None = None,
    foods: Foods | None = None,
) -> Judgement:
    """Compare, search for slips where numbers do not agree, and decide with both.

    Args:
        con: a connection to the snapshot.
        computation: of the compute stage.
        stated: STATED.
        runner_up: RUNNER_UP, or None.
        profile: see ``findings``.
        percent: for the profile ``percent``.
        pantry_nutrient: FOOD_NUTRIENT rows of the creator's own foods.
        foods: of ``explain.load_foods``; read from ``con`` when needed and not given.

    Raises:
        ValueError: the profile is not known, or a table lacks a column.
    """
    finding = findings(
        con, computation.computed, stated, computation.recipe, profile=profile, percent=percent,
        available=computation.convention.available,
    )  # fmt: skip
    first = verdicts(finding, computation.recipe)
    found = diagnose(
        con, computation, first, stated, runner_up, pantry_nutrient=pantry_nutrient, foods=foods
    )
    finding = settle(finding, computation.recipe, found.honest)
    last = verdicts(finding, computation.recipe)
    open_ = set(last.loc[last["verdict"].isin(["disagrees", "uncertain"]), "recipe_id"].tolist())
    return Judgement(
        finding=finding,
        verdict=last.merge(found.honest[["recipe_id", "honest"]], on="recipe_id", how="left"),
        explanation=_of_these(found, open_),
    )


def _of_these(found: Diagnosis, open_: set[str]) -> pd.DataFrame:
    """The explanations of open recipes, and of those that agree as carbohydrate without fibre."""
    import pandas as pd

    explanation, honest = found.explanation, found.honest
    net = honest[(honest["as_net"] > OPEN_ABOVE) & (honest["honest"] <= OPEN_ABOVE)]
    agree = set(net["recipe_id"]) - open_
    remark = explanation[
        explanation["recipe_id"].isin(agree) & (explanation["kind"] == "net_carbs_stated")
    ]
    belief = net.set_index("recipe_id")["as_net"].reindex(remark["recipe_id"]).to_numpy()
    kept = explanation[explanation["recipe_id"].isin(open_)]
    if remark.empty:
        return kept.reset_index(drop=True)
    both = pd.concat([kept, remark.assign(rank=1, probability=belief)])
    return both.sort_index(kind="stable").reset_index(drop=True)


def recipe_table(
    recipe: pd.DataFrame,
    computation: Computation,
    stated: pd.DataFrame,
    verdict: pd.DataFrame,
    columns: Sequence[str] = REPORTED,
) -> pd.DataFrame:
    """One row a recipe: recipe_id, title, source, verdict, coverage, servings, basis, then numbers.

    ``basis``: per_serving; of a recipe without servings that of the numbers it states, per_recipe
    before per_100g.

    Args:
        recipe: RECIPE.
        computation: of the compute stage.
        stated: STATED; numbers on another basis are brought to that of the recipe where that can be
            done.
        verdict: recipe_id, verdict.
        columns: wide names of the nutrients wanted.

    Returns:
        ``NAME_stated`` and ``NAME_computed`` for each of ``columns`` on that basis, NaN where not
        known.
    """
    import numpy as np
    import pandas as pd

    out = recipe[["recipe_id", "title", "source"]].copy()
    ids = pd.Index(out["recipe_id"])
    judged = dict(zip(verdict["recipe_id"], verdict["verdict"], strict=True))
    out["verdict"] = pd.Series([judged.get(r, "not_judged") for r in ids], out.index, "str")
    at = pd.Index(computation.recipe["recipe_id"]).get_indexer(ids)
    coverage, servings, weight = (
        np.where(at >= 0, computation.recipe[name].to_numpy(dtype=float)[at], np.nan)
        for name in ("coverage", "servings", "weight_g")
    )
    out["coverage"], out["servings"] = coverage, servings
    whole = np.column_stack([servings, np.ones(len(ids)), weight / 100, np.full(len(ids), np.nan)])
    place = ids.get_indexer(stated["recipe_id"])
    basis = np.array([_BASES.get(b, len(_BASES)) for b in stated["basis"]], dtype=int)
    shown = np.zeros(len(ids), dtype=int)
    for n in (_BASES["per_100g"], _BASES["per_recipe"]):
        said = np.isin(np.arange(len(ids)), place[basis == n])
        shown[said & np.isnan(servings) & (whole[:, n] > 0)] = n
    out["basis"] = pd.Series([list(_BASES)[n] for n in shown], out.index, "str")
    same = basis == shown[place]
    factor = np.where(same, 1.0, whole[place, basis] / whole[place, shown[place]])
    known = stated["amount"].to_numpy(dtype=float) * factor
    own = np.argsort(~same, kind="stable")  # numbers on the recipe's own basis stand first
    tags = pd.Index([BY_COLUMN[column].tag for column in columns])
    tag, shape = tags.get_indexer(pd.Index(stated["nutrient"])), (len(ids), len(tags))
    first = placed(place[own], tag[own], known[own], shape)
    sums = computation.computed
    tag, amount = tags.get_indexer(pd.Index(sums["nutrient"])), sums["amount"].to_numpy(dtype=float)
    summed = placed(ids.get_indexer(sums["recipe_id"]), tag, amount, shape)
    summed /= whole[np.arange(len(ids)), shown][:, None]
    numbers = {"stated": first, "computed": summed}
    both = {
        f"{column}_{name}": values[:, n]
        for n, column in enumerate(columns) for name, values in numbers.items()
    }  # fmt: skip
    return out.assign(**both)
