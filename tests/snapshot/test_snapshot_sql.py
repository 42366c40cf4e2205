"""What the SQL of the gate and of loading makes of small tables."""

from __future__ import annotations

import duckdb
import pytest
from small_tables import given, rows_of

from pipeline.resources import sql

FOOD = (
    "food_id varchar, description varchar, reference_id varchar, reference boolean,"
    " complete boolean, preference int"
)
MACROS = "food_id varchar, kcal double, protein_g double, fat_g double, carbs_g double"


@pytest.fixture
def con():
    with duckdb.connect() as made:
        yield made


def test_what_a_food_loses_that_takes_anothers_place(con) -> None:
    given(
        con, "food", FOOD,
        ("old:1", "Oats", None, False, True, 2), ("old:2", "Salt", None, False, True, 2),
        ("new:1", "Oats, rolled", "old:1", False, False, 1),
        ("new:2", "Salt, table", "old:2", False, True, 1),
        ("new:3", "Rye", None, False, True, 1), ("ref:1", "Oats", "old:2", True, True, 3),
    )  # fmt: skip
    given(
        con, "food_macros", MACROS,
        ("old:1", 370.0, 13.0, 7.0, 60.0), ("old:2", 0.0, 0.0, 0.0, 0.0),
        ("new:1", None, 13.0, None, 60.0), ("new:2", 5.0, 0.0, 0.0, 1.0),
        ("new:3", 300.0, 1.0, 1.0, 1.0), ("ref:1", 1.0, 1.0, 1.0, 1.0),
    )  # fmt: skip
    given(con, "measure", "food_id varchar", ("old:2",), ("old:2",), ("new:1",))
    columns = (
        "food_id",
        "displaces",
        "energy_lost",
        "macros_lost",
        "kcal_moved_pct",
        "measures_lost",
    )
    assert rows_of(con, "snapshot_gate_displaced", *columns) == [
        ("new:2", "old:2", 0, 0, 25.0, 2)  # of 20 kcal at least; new:1 lacks energy, so stays out
    ]
    con.execute("update food set complete = false where food_id = 'old:1'")
    assert rows_of(con, "snapshot_gate_displaced", *columns)[0] == ("new:1", "old:1", 1, 1, None, 0)


def test_measures_are_counted_for_sources_that_give_some(con) -> None:
    given(
        con, "source", "source varchar, preference int, measures boolean",
        ("a", 1, True), ("b", 2, True), ("c", 3, False), ("empty", 4, True),
    )  # fmt: skip
    given(
        con,
        "food",
        "food_id varchar, preference int",
        ("a:1", 1),
        ("a:2", 1),
        ("b:1", 2),
        ("c:1", 3),
    )
    given(con, "measure", "food_id varchar", ("a:1",), ("a:1",), ("a:2",), ("c:1",))
    assert rows_of(con, "snapshot_gate_source") == [("a", 3), ("b", 0)]


def test_amounts_by_text_get_numbers_and_new_derivations_follow_the_old(con) -> None:
    con.execute(sql("snapshot_schema"))
    con.execute("insert into food by name select unnest([7, 8]) as food_no, 'a:' || food_no as food_id,"
                " 'a' as source, '' as source_code, 'x' as description, '' as category, false as survey,"
                " '' as refuse, '' as common_name, '' as scientific_name, '' as manufacturer,"
                " '' as short_description, 1 as preference, '100 g' as per, '' as energy_from")  # fmt: skip
    con.execute("insert into nutrient by name select unnest(['FAT', 'WATER']) as nutrient, 'g' as unit,"
                " 'x' as label, '' as nutrient_nbr")  # fmt: skip
    con.execute("insert into derivation values (0, '')")
    con.execute("insert into loaded values ('a:8', 'FAT', 2.0, null, 'trace, taken as 0'),"
                " ('a:7', 'WATER', 3.0, 4, ''), ('a:7', 'FAT', 1.0, null, 'by difference')")  # fmt: skip
    con.execute(sql("snapshot_amounts"))
    assert con.sql("from derivation order by derivation_no").fetchall() == [
        (0, ""), (1, "by difference"), (2, "trace, taken as 0"),
    ]  # fmt: skip
    query = (
        "select food_id, nutrient, amount_per_100g, n, derivation from food_nutrient order by all"
    )
    assert con.sql(query).fetchall() == [
        ("a:7", "FAT", 1.0, None, "by difference"), ("a:7", "WATER", 3.0, 4, ""),
        ("a:8", "FAT", 2.0, None, "trace, taken as 0"),
    ]  # fmt: skip
    assert con.sql("from loaded").fetchall() == []
