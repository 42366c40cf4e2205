"""The collection's convention of energy and carbohydrate, from the table's values to the totals."""

from __future__ import annotations

import duckdb
import pandas as pd
import pytest
from conftest_compute import lines_frame, recipes_frame
from hypothesis import given
from hypothesis import strategies as st

from pipeline.compute import Convention, compute
from pipeline.compute.convention import factors
from pipeline.resources import sql

R = {"recipe_id": "r", "title": "r", "servings": 1.0, "yield_g": float("nan")}


CON = duckdb.connect()  # opening one takes longer than all that is asked of it


def converted(values, energy, carbohydrate, own=False):
    """The values of one food after the SQL step, by tag."""
    con = CON.cursor()
    con.execute("create or replace temp table nutrient_value as select * from (values "
                + ", ".join(f"('f', '{t}', {v}::double, 0.0)" for t, v in values.items())
                + ") as v(food_id, nutrient, amount_per_100g, relative_se)")  # fmt: skip
    con.register("pantry", pd.DataFrame({"food_id": ["f" if own else "other"]}))
    con.execute(
        sql("compute_convention"),
        {"energy": energy, "available": carbohydrate == "available", **factors()},
    )
    return dict(con.execute("select nutrient, amount_per_100g from nutrient_value").fetchall())


BEANS = {"ENERC_KCAL": 143.0, "PROCNT": 9.0, "CHOCDF": 26.2, "FAT": 0.65, "FIBTG": 9.0}


def test_worked_by_hand():
    eu = converted(BEANS, "eu", "available")
    assert eu["CHOCDF"] == pytest.approx(17.2)
    assert eu["ENERC_KCAL"] == pytest.approx(4 * 9 + 4 * 17.2 + 9 * 0.65 + 2 * 9)
    assert converted(BEANS, "atwater", "total")["ENERC_KCAL"] == pytest.approx(36 + 104.8 + 5.85)
    assert converted(BEANS, "atwater", "available")["ENERC_KCAL"] == pytest.approx(36 + 68.8 + 5.85)
    assert converted(BEANS, "table", "available") == {**BEANS, "CHOCDF": pytest.approx(17.2)}


def test_alcohol_counts_seven():
    wine = {"ENERC_KCAL": 85.0, "PROCNT": 0.07, "CHOCDF": 2.6, "FAT": 0.0, "ALC": 10.6}
    assert converted(wine, "eu", "total")["ENERC_KCAL"] == pytest.approx(0.28 + 10.4 + 74.2)


def test_a_label_keeps_its_own_numbers():
    assert converted(BEANS, "eu", "available", own=True) == BEANS


def test_what_the_table_lacks_takes_nothing_away():
    bare = {"ENERC_KCAL": 100.0, "CHOCDF": 20.0}
    assert converted(bare, "eu", "available") == bare  # no macros, no fibre


@given(st.floats(0, 40), st.floats(0, 60), st.floats(0, 40), st.floats(0, 30))
def test_eu_energy_lies_below_4_4_9_by_twice_the_fibre(protein, carbs, fat, fibre):
    fibre = min(fibre, carbs)
    food = {"ENERC_KCAL": 1.0, "PROCNT": protein, "CHOCDF": carbs, "FAT": fat, "FIBTG": fibre}
    eu, us = (
        converted(food, "eu", "available"),
        converted(food, "atwater", "total"),
    )
    assert us["ENERC_KCAL"] - eu["ENERC_KCAL"] == pytest.approx(2 * fibre, abs=1e-9)
    assert 0 <= eu["CHOCDF"] <= carbs


def test_totals_and_lines_are_in_the_convention(con, line):
    rows = [line("r", 1, "beans", 200.0), line("r", 2, "oil", 10.0)]
    plain = compute(con, lines_frame(rows), None, recipes_frame(R))
    eu = compute(con, lines_frame(rows), None, recipes_frame(R),
                 convention=Convention("eu", "available"))  # fmt: skip
    one = plain.computed.set_index("nutrient")["amount"]
    two = eu.computed.set_index("nutrient")["amount"]
    assert two["CHOCDF"] == pytest.approx(one["CHOCDF"] - one["FIBTG"])
    assert eu.line_value["carbs_g"].sum() == pytest.approx(two["CHOCDF"])
    assert eu.line_value["kcal"].sum() == pytest.approx(two["ENERC_KCAL"])
    assert (one["PROCNT"], one["FIBTG"]) == (two["PROCNT"], two["FIBTG"])
    assert (plain.convention.plain, eu.convention.energy) == (True, "eu")
