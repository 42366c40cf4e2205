"""Numbers to publish: rounded by rule, energy in line with the macros beside it."""

from __future__ import annotations

import json
import math

import numpy as np
import pandas as pd
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from reconcile_cases import STEW, case, stated

from pipeline.compute import Convention
from pipeline.compute.convention import TABLE
from pipeline.reconcile import internal_checks, judge, publish
from pipeline.reconcile.publish import numbers


def _row(values, rule, convention=TABLE, step=1.0):
    """What is published of one recipe's amounts per serving."""
    made = numbers(
        {tag: np.array([v]) for tag, v in values.items()}, rule,
        np.array(["per_serving"], dtype=object), np.array([0]), convention,
        {unit: np.array([step]) for unit in ("kcal", "g")},
    )  # fmt: skip
    return pd.DataFrame(made).iloc[0].to_dict()


def test_whole_numbers_by_hand(stew):
    row = publish(stew.computation).iloc[0]
    for column in ("protein_g", "carbs_g", "fat_g"):
        assert float(row[column]) == pytest.approx(stew.true[column], abs=0.5)
    assert float(row["kcal"]) == pytest.approx(stew.true["kcal"], abs=0.5)
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


def test_a_decimal_is_kept_where_the_creator_uses_one(stew):
    said = stated({"kcal": 412.0, "protein_g": 31.5}, step=0.1)
    said.loc[said["nutrient"] == "ENERC_KCAL", "step"] = 1.0
    row = publish(stew.computation, stated=said).iloc[0]
    assert row["kcal"] == f"{stew.true['kcal']:.0f}"
    for column in ("protein_g", "carbs_g", "fat_g"):
        assert float(row[column]) == pytest.approx(stew.true[column], abs=0.05)
        assert row[column].partition(".")[2] != ""
    whole = publish(stew.computation, stated=stated({"protein_g": 31.0})).iloc[0]
    assert whole["protein_g"] == f"{stew.true['protein_g']:.0f}"


def test_energy_from_alcohol_comes_from_the_food_table():
    wine = {"ENERC_KCAL": 85.0, "PROCNT": 0.07, "CHOCDF": 2.6, "FAT": 0.0, "FIBTG": 0.0, "NA": 4.0}
    for rule in ("whole", "eu"):
        row = _row(wine, rule)
        assert (row["kcal"], row["energy_from"]) == ("85", "table")
    assert _row({**wine, "ALC": 10.6}, "eu")["energy_from"] == "eu"


@settings(max_examples=examples(60))
@given(
    st.floats(0, 900), st.floats(0, 90), st.floats(0, 150), st.floats(0, 80), st.floats(0, 20),
    st.sampled_from([0.1, 1.0]), st.booleans(),
)  # fmt: skip
def test_energy_shown_is_the_computed_energy_rounded(kcal, protein, carbs, fat, fibre, step, net):
    """Never worked out again from rounded macros, whatever these come to."""
    values = {"ENERC_KCAL": kcal, "PROCNT": protein, "CHOCDF": carbs, "FAT": fat, "FIBTG": fibre}
    convention = Convention("table", "available" if net else "total")
    row = _row(values, "whole", convention, step)
    assert float(row["kcal"]) == pytest.approx(kcal, abs=step / 2 + 1e-6)
    assert float(row["carbs_g"]) == pytest.approx(carbs, abs=step / 2 + 1e-6)


@settings(max_examples=examples(60))
@given(
    st.floats(0, 90), st.floats(0, 150), st.floats(0, 80), st.floats(0, 20), st.booleans(),
)  # fmt: skip
def test_a_label_of_the_eu_is_the_same_from_either_convention(protein, carbs, fat, fibre, net):
    fibre = min(fibre, carbs)
    kcal = 4 * protein + 4 * (carbs - fibre) + 9 * fat + 2 * fibre
    total = {"ENERC_KCAL": kcal, "PROCNT": protein, "CHOCDF": carbs, "FAT": fat, "FIBTG": fibre}
    mine = {**total, "CHOCDF": carbs - fibre} if net else total
    convention = Convention("eu", "available" if net else "total")
    row = _row(mine, "eu", convention)
    assert {**row, "note": ""} == {**_row(total, "eu"), "note": ""}
    assert float(row["kcal"]) == pytest.approx(kcal, abs=0.51)
