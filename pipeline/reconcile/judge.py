"""Everything the reconcile stage says of stated numbers, in the order it has to be asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.nutrients import BY_TAG, REPORTED
from pipeline.reconcile.explain import Diagnosis, Foods, diagnose
from pipeline.reconcile.findings import OPEN_ABOVE, findings, settle, verdicts

if TYPE_CHECKING:
    from collections.abc import Sequence

    import duckdb
    import pandas as pd

    from pipeline.compute import Computation


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

    base = computation.recipe.set_index("recipe_id")
    out = recipe[["recipe_id", "title", "source"]].copy()
    out = out.merge(verdict[["recipe_id", "verdict"]], on="recipe_id", how="left")
    out["verdict"] = out["verdict"].fillna("not_judged")
    ids = out["recipe_id"]
    facts = base[["servings", "coverage", "weight_g"]].reindex(ids)
    out["coverage"] = facts["coverage"].to_numpy(dtype=float)
    out["servings"] = facts["servings"].to_numpy(dtype=float)
    in_whole = pd.DataFrame({  # how many of each basis the whole recipe is
        "per_serving": out["servings"], "per_recipe": 1.0,
        "per_100g": facts["weight_g"].to_numpy(dtype=float) / 100,
    }).set_axis(ids)  # fmt: skip
    out["basis"] = "per_serving"
    for basis in ("per_100g", "per_recipe"):
        said = ids.isin(stated.loc[stated["basis"] == basis, "recipe_id"])
        can = out["servings"].isna() & (in_whole[basis].to_numpy() > 0)
        out.loc[said & can, "basis"] = basis
    place = pd.MultiIndex.from_arrays([ids, out["basis"]])
    units = in_whole.stack(future_stack=True)
    basis_of = out.set_index("recipe_id")["basis"].reindex(stated["recipe_id"]).to_numpy()
    here, there = (
        units.reindex(pd.MultiIndex.from_arrays([stated["recipe_id"], of])).to_numpy(dtype=float)
        for of in (stated["basis"], basis_of)
    )
    same = (stated["basis"] == basis_of).to_numpy()
    known = stated.assign(shown=stated["amount"].astype(float) * np.where(same, 1.0, here / there))
    known = known.assign(other=~same).dropna(subset=["shown"])
    known = known.sort_values("other", kind="stable").drop_duplicates(["recipe_id", "nutrient"])
    tag_of = {n.column: n.tag for n in BY_TAG.values()}
    tags = [tag_of[column] for column in columns]
    for name, table, values, divide in (
        ("stated", known, "shown", 1.0),
        ("computed", computation.computed, "amount", units.reindex(place).to_numpy(dtype=float)),
    ):
        wide = table[table["nutrient"].isin(tags)].pivot(
            index="recipe_id", columns="nutrient", values=values
        )
        wide = wide.reindex(index=ids, columns=tags)
        for column, tag in zip(columns, tags, strict=True):
            out[f"{column}_{name}"] = wide[tag].to_numpy(dtype=float) / divide
    order = [f"{column}_{name}" for column in columns for name in ("stated", "computed")]
    return out[[*out.columns[: -len(order)], *order]]
