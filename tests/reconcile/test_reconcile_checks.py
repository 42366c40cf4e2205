"""The stated numbers compared with each other."""

from __future__ import annotations

import duckdb
import pandas as pd
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.reconcile import internal_checks
from pipeline.tables import STATED

DB = duckdb.connect()


def codes(numbers, weight=400.0, basis="per_serving", step=1.0):
    said = pd.DataFrame(
        [("r", t, float(v), basis, step, "") for t, v in numbers.items()], columns=STATED
    )
    recipe = pd.DataFrame([("r", 1.0, weight)], columns=["recipe_id", "servings", "weight_g"])
    found = internal_checks(DB, said, recipe)
    return found.set_index("code")["message"].to_dict()


BASE = {"PROCNT": 30, "CHOCDF": 40, "FAT": 10}  # 370 kcal by 4-4-9


@pytest.mark.parametrize("kcal", [350, 370, 400])
def test_energy_that_follows_is_not_questioned(kcal):
    assert codes({**BASE, "ENERC_KCAL": kcal}) == {}


def test_energy_that_does_not_is_said_with_the_conventions():
    found = codes({**BASE, "ENERC_KCAL": 520, "FIBTG": 10})
    assert "4-4-9, fibre at 2 kcal (European Union)" in found["energy-off-macros"]
    assert "520 kcal is stated" in found["energy-off-macros"]


def test_every_convention_for_fibre_is_accepted():
    """40 g carbohydrate with 20 g fibre: 370, 330, 290, or 410 kcal when stated without it."""
    for kcal in (370, 330, 290, 410):
        assert codes({**BASE, "FIBTG": 20, "ENERC_KCAL": kcal}) == {}
    assert "energy-off-macros" in codes({**BASE, "FIBTG": 20, "ENERC_KCAL": 230})


def test_tiny_portions_are_left_to_rounding():
    assert codes({"PROCNT": 1, "CHOCDF": 3, "FAT": 1, "ENERC_KCAL": 35}) == {}


@pytest.mark.parametrize(
    ("numbers", "code"),
    [
        ({"CHOCDF": 10, "FIBTG": 15}, "fibre-over-carbohydrate"),
        ({"CHOCDF": 10, "SUGAR": 15}, "sugars-over-carbohydrate"),
        ({"FAT": 5, "FASAT": 9}, "saturates-over-fat"),
        ({"PROCNT": 300, "CHOCDF": 90, "FAT": 50}, "macros-over-weight"),
        ({"FAT": -2}, "negative-number"),
    ],
)
def test_sums_that_cannot_be(numbers, code):
    assert list(codes(numbers)) == [code]


def test_fibre_may_exceed_carbohydrate_stated_without_it():
    assert codes({"CHOAVLDF": 10, "FIBTG": 15}) == {}


@settings(max_examples=examples(40))
@given(st.integers(0, 80), st.integers(0, 120), st.integers(0, 60), st.floats(-0.05, 0.05))
def test_honest_labels_pass(protein, carbs, fat, off):
    kcal = round((4 * protein + 4 * carbs + 9 * fat) * (1 + off))
    numbers = {"PROCNT": protein, "CHOCDF": carbs, "FAT": fat, "ENERC_KCAL": kcal}
    assert codes(numbers, weight=500.0) == {}


def test_an_empty_table_keeps_its_columns():
    assert codes({}) == {}
