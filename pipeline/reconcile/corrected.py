"""Corrected numbers in the place and on the basis of the stated ones, for copies of recipe files."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from pipeline.nutrients import BY_TAG, NET_CARBS_TAG
from pipeline.reconcile.findings import column_name

if TYPE_CHECKING:
    import pandas as pd


def corrected_numbers(
    stated: pd.DataFrame,
    published: pd.DataFrame,
    computed: pd.DataFrame,
    per_recipe: pd.DataFrame,
    *,
    available: bool = False,
) -> pd.DataFrame:
    """One number for each that a recipe states.

    Args:
        stated: STATED of the recipes to correct.
        published: of ``publish``: what to print per serving, rounded by its rule.
        computed: COMPUTED, whole recipes.
        per_recipe: ``Computation.recipe``: servings and weight.
        available: carbohydrate in ``computed`` is without fibre.

    Returns:
        recipe_id and a column a nutrient, on the basis each recipe states: the published text per
        serving; else the total or the value per 100 g, energy and sodium to whole numbers, the
        rest to one decimal. NaN where the recipe states nothing or nothing is known.
    """
    import pandas as pd

    known = stated[stated["nutrient"].isin([*BY_TAG, NET_CARBS_TAG])]
    per_serving = published[published["basis"] == "per_serving"]
    shown, facts = (t.set_index("recipe_id").to_dict("index") for t in (per_serving, per_recipe))
    totals: dict[Any, float] = (
        computed.set_index(["recipe_id", "nutrient"])["amount"].astype(float).to_dict()
    )
    rows: dict[str, dict[str, float]] = {}
    for row in known.to_dict("records"):
        recipe_id, tag, basis = str(row["recipe_id"]), str(row["nutrient"]), str(row["basis"])
        column = column_name(tag)
        value = (
            _number(shown.get(recipe_id, {}).get(column)) if basis == "per_serving" else math.nan
        )
        if math.isnan(value):
            value = _on_basis(recipe_id, tag, basis, totals, facts.get(recipe_id, {}), available)
        rows.setdefault(recipe_id, {})[column] = value
    return pd.DataFrame([{"recipe_id": i, **values} for i, values in rows.items()])


def _on_basis(
    recipe_id: str, tag: str, basis: str, totals: dict[Any, float], facts: dict[Any, Any],
    available: bool,
) -> float:  # fmt: skip
    amount = totals.get((recipe_id, "CHOCDF" if tag == NET_CARBS_TAG else tag), math.nan)
    if tag == NET_CARBS_TAG and not available:
        amount -= totals.get((recipe_id, "FIBTG"), math.nan)
    divide = 1.0
    if basis == "per_serving":
        divide = float(facts.get("servings", math.nan))
    elif basis == "per_100g":
        divide = float(facts.get("weight_g", math.nan)) / 100
    value = amount / divide if divide else math.nan
    return value if math.isnan(value) else round(value, 0 if tag in {"ENERC_KCAL", "NA"} else 1)


def _number(text: object) -> float:
    """The number of a published text: "12" 12, "<0.5" 0, "" missing."""
    plain = str(text or "").replace(",", "").strip()
    if plain.startswith("<"):
        return 0.0
    try:
        return float(plain)
    except ValueError:
        return math.nan
