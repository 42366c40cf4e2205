"""Numbers to publish: rounded by rule, energy in line with the macros beside it."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reconcile_cases import STEW, case, stated

from pipeline.reconcile import internal_checks, judge, publish
from pipeline.reconcile.publish import _row


def test_whole_numbers_by_hand(stew):
    row = publish(stew.computation).iloc[0]
    for column in ("protein_g", "carbs_g", "fat_g"):
        assert float(row[column]) == pytest.approx(stew.true[column], abs=0.5)
    assert float(row["kcal"]) == 4 * float(row["protein_g"]) + 4 * float(row["carbs_g"]) + 9 * float(row["fat_g"])  # fmt: skip
    assert row["caption"].startswith(f"Per serving: {row['kcal']} kcal, P {row['protein_g']} g, C ")


def test_schema_org_can_be_pasted(stew):
    found = json.loads(publish(stew.computation).iloc[0]["schema_org"])
    assert found["@type"] == "NutritionInformation"
    assert found["calories"].endswith(" kcal")
    assert set(found) >= {
        "proteinContent",
        "carbohydrateContent",
        "fatContent",
        "fiberContent",
        "sodiumContent",
    }


def test_the_eu_rule_states_carbohydrate_without_fibre_and_salt(stew):
    table = publish(stew.computation, rule="eu").set_index("basis")
    row = table.loc["per_serving"]
    assert float(row["carbs_g"]) == pytest.approx(
        stew.true["carbs_g"] - stew.true["fiber_g"], abs=0.51
    )
    assert "without fibre" in row["note"]
    assert row["salt_g"]
    assert row["sodium_mg"] == ""
    assert "per_100g" in table.index


def test_what_is_published_agrees_when_checked(con, foods, stew):
    """The tool's own numbers, stated again, are honest and fit one another."""
    for rule in ("whole", "us"):
        row = publish(stew.computation, rule=rule).iloc[0]
        numbers = {c: float(row[c]) for c in ("kcal", "protein_g", "carbs_g", "fat_g", "fiber_g")}
        said = stated(numbers)
        assert judge(con, stew.computation, said, foods=foods).verdict["verdict"].item() == "agrees"
        assert internal_checks(con, said, stew.computation.recipe).empty


def test_lines_that_are_not_counted_are_said(con):
    items = [*STEW, ("a handful of something", "99999", 30.0, "g")]
    row = publish(case(con, items).computation).iloc[0]
    assert row["lines_left_out"] == 1
    assert "true numbers are higher" in row["note"]


def test_without_servings_numbers_are_given_per_100_g(con):
    table = publish(case(con, servings=math.nan).computation)
    assert table["basis"].tolist() == ["per_100g"]


def test_energy_from_alcohol_comes_from_the_food_table():
    wine = {"ENERC_KCAL": 85.0, "PROCNT": 0.07, "CHOCDF": 2.6, "FAT": 0.0, "FIBTG": 0.0, "NA": 4.0}
    row = _row(wine, "per_serving", "whole", 0)
    assert (row["kcal"], row["energy_from"]) == ("85", "food table")
    known = _row({**wine, "ALC": 10.6}, "per_serving", "whole", 0)
    assert known["energy_from"] == "macros shown"


@settings(max_examples=60)
@given(
    st.floats(0, 90),
    st.floats(0, 150),
    st.floats(0, 80),
    st.floats(0, 20),
    st.sampled_from(["whole", "us", "eu"]),
)
def test_energy_shown_fits_the_macros_shown(protein, carbs, fat, fibre, rule):
    """Within what rounding the macros and the energy can do (13.5 kcal at most, fat over 5 g)."""
    fibre = min(fibre, carbs)
    kcal = 4 * protein + 4 * carbs + 9 * fat
    row = _row({"ENERC_KCAL": kcal, "PROCNT": protein, "CHOCDF": carbs, "FAT": fat, "FIBTG": fibre},
               "per_serving", rule, 0)  # fmt: skip

    def value(text):
        return 0.5 if "less" in text or "<" in text else float(text)

    shown = 4 * value(row["protein_g"]) + 4 * value(row["carbs_g"]) + 9 * value(row["fat_g"])
    if rule == "eu":
        shown += 2 * value(row["fiber_g"])
    if row["energy_from"] != "food table":
        assert abs(value(row["kcal"]) - shown) <= 14.6
