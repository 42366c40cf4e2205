"""What the SQL of drift makes of small tables."""

from __future__ import annotations

import duckdb
import pytest
from small_tables import given, rows_of

FOOD = "food_id varchar, source varchar, description varchar, reference boolean"
LINE = (
    "recipe_id varchar, line_no int, text varchar, food_id varchar, description varchar,"
    " grams double"
)
AMOUNT = "food_id varchar, nutrient varchar, amount_per_100g double, derivation varchar"


@pytest.fixture
def con():
    with duckdb.connect() as made:
        made.execute("attach ':memory:' as before; attach ':memory:' as after")
        yield made


def test_sources_are_compared_by_their_own_foods_and_new_ones_left_out(con) -> None:
    given(
        con, "before.food", FOOD,
        *((f"a:{n}", "a", "", False) for n in range(4)), ("gone:1", "gone", "", False),
        ("b:1", "b", "", True),
    )  # fmt: skip
    given(
        con, "food", FOOD, ("a:0", "a", "", False), ("a:9", "a", "", False), ("b:1", "b", "", False)
    )
    assert rows_of(con, "drift_sources") == [("a", 4, 2, 0.5, 0.25)]


def test_amounts_are_compared_for_foods_of_both_and_as_published_only(con) -> None:
    names = [f"a:{n:02}" for n in range(20)]
    for place in ("before.food", "food"):
        given(con, place, FOOD, *((name, "a", "", False) for name in names))
    given(con, "before.food_nutrient", AMOUNT, *((name, "FAT", 10.0, "") for name in names),
          *((name, "FIBTG", 10.0, "") for name in names[:19]))  # fmt: skip
    given(con, "food_nutrient", AMOUNT, *((name, "FAT", 11.0, "") for name in names[:15]),
          *((name, "FAT", 20.0, "") for name in names[15:18]), (names[19], "FAT", 1.0, "computed"),
          ("new:1", "FAT", 90.0, ""))  # fmt: skip
    [(nutrient, before, now, ratio, median, moved)] = rows_of(con, "drift_nutrients", one_in=1)
    assert (nutrient, before, now, ratio) == ("FAT", 20, 18, 0.9)
    assert median == pytest.approx(1.1)
    assert moved == pytest.approx(3 / 18)


def test_answers_to_foods_that_are_gone_are_listed(con) -> None:
    given(con, "before.food", FOOD, ("a:1", "a", "Oats", False), ("a:2", "a", "Rye", False),
          ("a:3", "a", "Bran", False))  # fmt: skip
    given(con, "after.food", FOOD, ("a:1", "a", "Oats", False), ("a:3", "a", "Bran", True))
    given(
        con, "decided", "text varchar, food_id varchar, applies_to varchar",
        ("oats", "a:1", "all"), ("rye", "a:2", "all"), ("bran", "a:3", "all"),
        ("mine", "pantry:bar", "all"), ("base", "recipe:x", "all"), ("salt", "none", "all"),
        ("older", "a:0", "all"),
    )  # fmt: skip
    assert rows_of(con, "drift_decisions") == [
        ("bran", "all", "a:3", "Bran"), ("older", "all", "a:0", ""), ("rye", "all", "a:2", "Rye"),
    ]  # fmt: skip


def test_lines_of_another_food_or_weight_are_listed(con) -> None:
    given(con, "line_before", LINE, ("r", 1, "oats", "a:1", "Oats", 50.0),
          ("r", 2, "rye", "a:2", "Rye", 50.0), ("r", 3, "bran", "a:3", "Bran", 50.0),
          ("r", 4, "salt", None, "", None), ("r", 5, "gone", "a:5", "Gone", 1.0))  # fmt: skip
    given(con, "line_after", LINE, ("r", 1, "oats", "a:1", "Oats", 50.001),
          ("r", 2, "rye", "a:2", "Rye", 55.0), ("r", 3, "bran", None, "", 50.0),
          ("r", 4, "salt", None, "", None))  # fmt: skip
    columns = ("line_no", "food_before", "food_after", "grams_before", "grams_after")
    assert rows_of(con, "drift_lines", *columns) == [
        (2, "a:2", "a:2", 50.0, 55.0), (3, "a:3", None, 50.0, 50.0),
    ]  # fmt: skip


def test_a_food_changes_appears_vanishes_or_replaces_another(con) -> None:
    wide = "food_id varchar, kcal double, fat_g double"
    given(con, "before.food", FOOD, ("a:1", "a", "Oats", False), ("a:2", "a", "Rye", False),
          ("a:3", "a", "Bran", False))  # fmt: skip
    given(con, "before.food_wide", wide, ("a:1", 100.0, 5.0), ("a:2", 200.0, None),
          ("a:3", 300.0, None))  # fmt: skip
    given(con, "after.food", FOOD, ("a:1", "a", "Oats", False), ("b:2", "b", "Rye flour", False),
          ("b:4", "b", "Spelt", False))  # fmt: skip
    given(con, "after.food_wide", wide, ("a:1", 110.0, 5.0001), ("b:2", 210.0, None),
          ("b:4", 340.0, None))  # fmt: skip
    given(con, "used", "food_id varchar, lines int, recipes int", ("a:1", 9, 1), ("b:2", 5, 1),
          ("a:3", 3, 1), ("b:4", 1, 1))  # fmt: skip
    given(con, "line_before", LINE, ("r", 1, "rye", "a:2", "Rye", 1.0))
    given(con, "line_after", LINE, ("r", 1, "rye", "b:2", "Rye flour", 1.0))
    columns = ("food_id", "state", "replaces", "nutrient", "before", "after", "change_pct")
    assert rows_of(con, "drift_foods", *columns, least=0.0005) == [
        ("a:1", "changed", "", "kcal", 100.0, 110.0, pytest.approx(10.0)),
        ("b:2", "replaces", "a:2", "kcal", 200.0, 210.0, pytest.approx(5.0)),
        ("a:3", "vanished", "", "kcal", 300.0, None, None),
        ("b:4", "appeared", "", "kcal", None, 340.0, None),
    ]
