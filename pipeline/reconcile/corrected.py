"""Corrected numbers in the place and on the basis of the stated ones, for copies of recipe files."""

from __future__ import annotations

import math
from collections.abc import Collection
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


#: Numbers that are a part of another one.
_PART_OF = {
    "fiber_g": "carbs_g", "sugar_g": "carbs_g", "net_carbs_g": "carbs_g", "satfat_g": "fat_g",
}  # fmt: skip
_KCAL_PER_G = {"protein_g": 4.0, "carbs_g": 4.0, "fat_g": 9.0}


#: Slips that put every number of a recipe wrong at once, and the belief from which one is taken for it.
_SCALES_ALL, _BELIEVED = frozenset({"servings_slip", "per_100g_stated_as_serving"}), 0.5


def wrong_as_a_whole(explanations: pd.DataFrame) -> set[str]:
    """Recipes whose numbers were all divided wrongly, most likely: those that agree do so by chance."""
    if explanations.empty:
        return set()
    first = explanations[explanations["rank"] == 1]
    scaled = first["kind"].isin(_SCALES_ALL) & (first["probability"] >= _BELIEVED)
    return set(first.loc[scaled, "recipe_id"].astype(str))


def without_agreeing(
    corrected: pd.DataFrame, findings: pd.DataFrame, whole: Collection[str] = ()
) -> pd.DataFrame:
    """The same without the numbers that agree as stated: a correction is of what is wrong.

    One that agrees is corrected all the same where it would no longer go with those that are
    corrected: the energy, and the macros with it, where it would stand further from 4/4/9 of the
    macros than the corrected numbers themselves do, by more than energy may be off; a part
    (fibre, sugars, net carbohydrate, saturates) where its whole is corrected to less.

    Args:
        corrected: recipe_id and a column a nutrient, as ``corrected_numbers`` gives it.
        findings: FINDING, on the basis stated.
        whole: recipes of which every number is corrected.

    Returns:
        The same table, NaN where a number stays as it is.
    """
    out = corrected.copy()
    agree = findings[(findings["verdict"] == "agrees") & ~findings["recipe_id"].isin(whole)]
    stays: dict[Any, dict[str, float]] = {}
    for recipe_id, column, stated in zip(
        agree["recipe_id"], agree["nutrient"], agree["stated"].astype(float), strict=True
    ):
        stays.setdefault(recipe_id, {})[str(column)] = stated
    energy = findings[findings["nutrient"] == "kcal"].set_index("recipe_id")["allowed"]
    for at, row in enumerate(out.to_dict("records")):
        new = {str(c): float(v) for c, v in row.items() if c != "recipe_id" and v == v}
        kept = {c: v for c, v in stays.get(row["recipe_id"], {}).items() if c in new}
        for column in _going_with(new, kept, float(energy.get(row["recipe_id"], math.nan))):
            out.loc[out.index[at], column] = math.nan
    return out


def _going_with(new: dict[str, float], kept: dict[str, float], allowed: float) -> set[str]:
    """Of the numbers that agree, those that still go with the corrected ones."""
    mixed, stay = {**new, **kept}, set(kept)
    macros = _KCAL_PER_G.keys() & new.keys()
    if "kcal" in new and len(macros) == len(_KCAL_PER_G) and allowed == allowed:
        apart, before = (
            values["kcal"] - sum(_KCAL_PER_G[c] * values[c] for c in macros)
            for values in (mixed, new)
        )
        if abs(apart - before) > allowed:
            stay -= {"kcal", *macros}
    return {
        c for c in stay
        if (whole := _PART_OF.get(c)) is None or whole not in new
        or kept[c] <= (kept[whole] if whole in stay else new[whole])
    }  # fmt: skip


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
