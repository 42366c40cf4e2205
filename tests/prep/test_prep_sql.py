"""What the SQL of a plan makes of small tables."""

from __future__ import annotations

import duckdb
import pytest
from small_tables import given, rows_of

LINE = (
    "recipe_id varchar, line_no int, text varchar, name varchar, food_id varchar,"
    " description varchar, grams double, unit varchar, amount double, basis varchar"
)
BOUGHT = ("food_id", "name", "grams", "lines", "unweighed", "recipes", "unit", "each_g")


@pytest.fixture
def con():
    with duckdb.connect() as made:
        yield made


def test_a_base_is_made_for_all_that_use_it_and_comes_first(con) -> None:
    given(con, "wanted", "recipe_id varchar, factor double", ("pie", 2.0), ("soup", 1.0))
    given(
        con, "part", "recipe_id varchar, line_no int, sub_recipe_id varchar, share double",
        ("pie", 1, "sauce", 0.5), ("soup", 1, "sauce", 0.25), ("sauce", 1, "stock", 0.1),
        ("soup", 2, "pie", None),
    )  # fmt: skip
    assert rows_of(con, "prep_make") == [
        ("stock", pytest.approx(0.125), 2), ("sauce", 1.25, 1), ("pie", 2.0, 0), ("soup", 1.0, 0),
    ]  # fmt: skip


def test_a_recipe_chosen_and_used_is_made_for_both(con) -> None:
    given(con, "wanted", "recipe_id varchar, factor double", ("pie", 1.0), ("sauce", 1.0))
    given(
        con, "part", "recipe_id varchar, line_no int, sub_recipe_id varchar, share double",
        ("pie", 1, "sauce", 0.5),
    )  # fmt: skip
    assert rows_of(con, "prep_make") == [("sauce", 1.5, 1), ("pie", 1.0, 0)]


def test_what_is_counted_is_bought_by_the_piece_and_scaled(con) -> None:
    given(con, "make", "recipe_id varchar, factor double", ("a", 2.0), ("b", 1.0))
    given(
        con, "line", LINE,
        ("a", 1, "2 eggs", "eggs", "t:egg", "Egg", 100.0, "piece", 2.0, "count_weight"),
        ("b", 1, "3 tbsp egg", "egg", "t:egg", "Egg", 45.0, "tbsp", 3.0, "density"),
        ("b", 2, "1 egg", "eggs", "t:egg", "Egg", None, "piece", 1.0, "none"),
        ("b", 3, "a thing", "", None, "", None, "", None, "none"),
        ("b", 4, "1 portion of a", "a", "recipe:a", "a", 50.0, "portion", 1.0, "recipe"),
        ("other", 1, "1 egg", "eggs", "t:egg", "Egg", 50.0, "piece", 1.0, "count_weight"),
    )  # fmt: skip
    assert rows_of(con, "prep_shopping", *BOUGHT) == [
        ("t:egg", "eggs", 245.0, 3, 1, ["a", "b"], "piece", 50.0),
        (None, "", None, 1, 1, ["b"], None, None),
    ]
    assert rows_of(con, "prep_shopping", "text") == [(None,), ("a thing",)]


def test_weight_alone_is_no_unit_to_buy_in(con) -> None:
    given(con, "make", "recipe_id varchar, factor double", ("a", 1.0))
    given(
        con, "line", LINE,
        ("a", 1, "200 g rice", "rice", "t:rice", "Rice", 200.0, "g", 200.0, "mass"),
    )  # fmt: skip
    assert rows_of(con, "prep_shopping", "grams", "unit", "each_g") == [(200.0, None, None)]
