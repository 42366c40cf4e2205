"""The convention a collection states its numbers in: detected, said, and ruled by the setting."""

from __future__ import annotations

import json
import random

import pandas as pd
import pytest
from reconcile_cases import lines, recipes, stated

import pipeline
from pipeline.compute import Convention, compute
from pipeline.reconcile import convention_of, judge, publish

#: Dishes with enough fibre to tell: code -> grams, of invented recipes for two.
DISHES = [
    [("16043", 300.0), ("04053", 20.0), ("11282", 110.0)],
    [("20038", 120.0), ("01079", 400.0), ("09050", 150.0)],
    [("11352", 500.0), ("11090", 300.0), ("01019", 80.0)],
    [("18075", 140.0), ("09037", 136.0), ("01123", 100.0)],
    [("20050", 150.0), ("16145", 240.0), ("11821", 119.0), ("04582", 14.0)],
    [("20120", 180.0), ("11693", 300.0), ("05096", 200.0), ("04053", 13.5)],
]


def collection(con, convention, noise=0.02, seed=1):
    """Sums in the table's own convention, and what a creator of that convention states."""
    rng = random.Random(seed)
    line = pd.concat(
        [lines([(c, c, g, "g") for c, g in dish], f"d{n}") for n, dish in enumerate(DISHES)]
    )
    recipe = pd.concat([recipes(2.0, f"d{n}") for n in range(len(DISHES))])
    own = compute(con, line, None, recipe, convention=convention)
    said = []
    for recipe_id, rows in own.computed.groupby("recipe_id"):
        sums = rows.set_index("nutrient")["amount"] / 2 * rng.uniform(1 - noise, 1 + noise)
        said.append(stated({c: sums[c] for c in ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT", "FIBTG")},
                           recipe_id=recipe_id))  # fmt: skip
    return compute(con, line, None, recipe), pd.concat(said), (line, recipe)


@pytest.mark.parametrize("energy", ["table", "eu", "atwater"])
@pytest.mark.parametrize("carbohydrate", ["total", "available"])
def test_carbohydrate_is_detected_from_the_numbers(con, energy, carbohydrate):
    sums, said, _ = collection(con, Convention(energy, carbohydrate))
    found = convention_of(sums, said)
    assert found.carbohydrate == carbohydrate
    assert "6 of the 6 recipes that show it" in found.reason


def test_european_labels_are_told_from_tables(con):
    found = convention_of(*collection(con, Convention("eu", "available"))[:2])
    assert (found.energy, found.carbohydrate) == ("eu", "available")
    assert "1169/2011" in found.reason
    found = convention_of(*collection(con, Convention("table", "total"))[:2])
    assert found.plain


def test_a_correct_european_collection_agrees(con, foods):
    sums, said, (line, recipe) = collection(con, Convention("eu", "available"))
    blind = judge(con, sums, said, foods=foods).verdict["verdict"]
    assert (blind == "agrees").sum() < len(blind)  # by difference, fibre-rich dishes would not
    found = convention_of(sums, said)
    own = compute(con, line, None, recipe, convention=found)
    assert set(judge(con, own, said, foods=foods).verdict["verdict"]) == {"agrees"}


def test_the_setting_rules(con):
    sums, said, _ = collection(con, Convention("eu", "available"))
    found = convention_of(sums, said, energy="table", carbohydrate="total")
    assert found.plain
    assert "(both set)" in found.reason
    half = convention_of(sums, said, carbohydrate="total")
    assert half.carbohydrate == "total"
    assert "(set)" in half.reason


def test_a_collection_that_says_nothing_keeps_the_table(con):
    sums, said, _ = collection(con, Convention("eu", "available"))
    assert convention_of(sums, said.iloc[:0]).plain
    only_energy = said[said["nutrient"] == "ENERC_KCAL"]
    assert convention_of(sums, only_energy).plain


def test_one_recipe_without_fibre_does_not_turn_a_collection(con):
    sums, said, _ = collection(con, Convention("table", "total"))
    one = (said["recipe_id"] == "d0") & (said["nutrient"] == "CHOCDF")
    fibre = said[(said["recipe_id"] == "d0") & (said["nutrient"] == "FIBTG")]["amount"].item()
    said.loc[one, "amount"] -= fibre
    assert convention_of(sums, said).carbohydrate == "total"


def test_sums_in_another_convention_are_refused(con):
    _, said, (line, recipe) = collection(con, Convention("eu", "available"))
    with pytest.raises(ValueError, match="table's own convention"):
        convention_of(compute(con, line, None, recipe, convention=Convention("eu")), said)


@pytest.mark.soak
def test_numbers_to_publish_are_in_the_convention(con):
    _, _, (line, recipe) = collection(con, Convention())
    for convention in (Convention(), Convention("eu", "available"), Convention("atwater")):
        own = compute(con, line, None, recipe, convention=convention)
        sums = own.computed.pivot(index="recipe_id", columns="nutrient", values="amount") / 2
        for row in publish(own).to_dict("records"):
            mine = sums.loc[row["recipe_id"]]
            assert float(row["kcal"]) == pytest.approx(mine["ENERC_KCAL"], abs=0.5)
            assert float(row["carbs_g"]) == pytest.approx(mine["CHOCDF"], abs=0.5)
            assert row["energy_from"] == convention.energy
            assert ("without fibre" in row["note"]) == convention.available


def test_a_european_recipe_file_agrees_and_says_why(tmp_path, snapshot):
    """The whole way: one invented page, carbohydrate without fibre, energy by the EU's factors."""
    page = {"@context": "https://schema.org", "@type": "Recipe", "name": "Breakwater bean pot",
            "recipeYield": "2 servings",
            "recipeIngredient": ["300 g cooked pinto beans", "20 g olive oil", "110 g onion"],
            "nutrition": {"@type": "NutritionInformation", "calories": "325 kcal", "proteinContent": "14.1 g",
                          "carbohydrateContent": "30.2 g", "fatContent": "11.0 g",
                          "fiberContent": "14.4 g"}}  # fmt: skip
    (tmp_path / "pot.json").write_text(json.dumps(page), encoding="utf-8")
    found = pipeline.verify([tmp_path], snapshot=snapshot)
    assert found.recipes["verdict"].item() == "agrees", found.findings
    assert found.convention.available
    carbs = found.computed.set_index("nutrient")["amount"]["CHOCDF"] / 2
    assert found.corrected["carbs_g"].item() == f"{carbs:.1f}"  # a decimal, as the creator writes
    assert found.corrected["kcal"].item() == f"{found.recipes['kcal_computed'].item():.0f}"
    (tmp_path / "steelyard.toml").write_text('carbohydrate = "total"\n', encoding="utf-8")
    ruled = pipeline.verify([tmp_path], snapshot=snapshot)
    assert ruled.recipes["verdict"].item() != "agrees"
