"""The gate against tables poisoned one way each: it must name the check and the foods."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pytest

from pipeline.problems import SteelyardError
from pipeline.snapshot import Snapshot, check
from pipeline.snapshot.gate import check_connection, refuse_if_broken

REBUILD_WIDE = "delete from food_wide"


def poison(con: duckdb.DuckDBPyConnection, statement: str) -> None:
    from pipeline.resources import sql

    con.execute(statement)
    con.execute(REBUILD_WIDE)
    con.execute(sql("snapshot_views"))


def test_the_embedded_table_passes(published: Snapshot, tmp_path: Path) -> None:
    result = check(published.folder.parents[1], pages=tmp_path / "pages")
    assert result.passed
    page = (tmp_path / "pages" / "index.html").read_text(encoding="utf-8")
    assert all(table in page for table in ("food", "nutrient", "source", "measure"))
    assert len(result.checks) == 42
    refuse_if_broken(result)


def of(nutrient: str) -> str:
    return f"nutrient_no = (select nutrient_no from nutrient where nutrient = '{nutrient}')"


BANANA = "food_no = (select food_no from food where food_id = 'sr28:09040')"


#: A poison, the check that must see it, and the row it must name. Those of one group break checks of
#: their own, so that one look of the gate tells them apart.
POISONS = {
    "energy": [
        (f"update amount set amount_per_100g = amount_per_100g * 10 where {of('ENERC_KCAL')}",
         "kcal", "sr28:01001"),
        (f"insert into amount select * from amount where {BANANA}", "repeated", "ASH"),
        ("update measure set grams = 0 where food_id = 'sr28:09040' and seq = 1", "grams",
         "sr28:09040 #1"),
    ],
    "unit of energy": [
        (f"update amount set amount_per_100g = amount_per_100g * 4.184 where {of('ENERC_KCAL')}",
         "energy_gap_kcal", ""),
        ("insert into amount select food_no, nutrient_no, 0, null, 0 from food, nutrient "
         "where nutrient = 'SUGAR' and food_id in "
         "(select food_id from food_macros where sugar_g is null)", "off_expected", "SUGAR"),
        ("insert into measure select * from measure where food_id = 'sr28:09040'", "measure_id",
         "sr28:09040 #"),
    ],
    "single values": [
        (f"update amount set amount_per_100g = amount_per_100g * 1000 where {of('NA')}",
         "sodium_mg", ""),
        (f"update amount set amount_per_100g = -amount_per_100g where {BANANA} and {of('PROCNT')}",
         "negative", "PROCNT"),
        (f"update amount set amount_per_100g = 'nan' where {BANANA} and {of('FE')}",
         "not_finite", "FE"),
        (f"update amount set food_no = 999999 where {BANANA} and {of('ZN')}", "of_no_food", "ZN"),
        (f"update amount set nutrient_no = 99 where {BANANA} and {of('CU')}", "unit", "number 99"),
        ("update food set description = '' where food_id = 'sr28:09040'", "description",
         "sr28:09040"),
        ("insert into measure select 'sr28:99999', seq, amount, unit, qualifier, size, grams, n, "
         "sd_grams, source from measure limit 1", "of_no_food", "sr28:99999"),
    ],
    "a food twice": [
        ("insert into food select * from food where food_id = 'sr28:09040'", "food_id",
         "sr28:09040"),
    ],
    "foods gone": [
        ("delete from food where category = 'Vegetables and Vegetable Products'", "rows", ""),
    ],
}  # fmt: skip


@pytest.mark.parametrize("group", POISONS)
def test_a_poisoned_table_is_refused_by_name(
    scratch: duckdb.DuckDBPyConnection, group: str
) -> None:
    poison(scratch, ";".join(statement for statement, _, _ in POISONS[group]))
    result = check_connection(scratch)
    assert not result.passed
    failed = [c for c in result.broken if c.severity == "critical"]
    for _, broken, row in POISONS[group]:
        assert any(broken in c.check and row in " ".join(c.rows) for c in failed), (broken, failed)
    with pytest.raises(SteelyardError) as fault:
        refuse_if_broken(result)
    assert fault.value.problem.code == "snapshot-gate-failed"
    assert "Nothing was published" in fault.value.problem.why


def test_a_missing_column_is_an_error_that_is_seen(scratch: duckdb.DuckDBPyConnection) -> None:
    from pipeline.snapshot.gate import run_suite, suite

    frame = scratch.sql("select food_id, description from food").df()
    checks = run_suite(frame, suite("food", least=8789, most=8789), "food_id")
    failed = {c.check: c.found for c in checks if not c.success}
    assert "kcal" in failed["expect_column_values_to_not_be_null kcal"]


def test_an_empty_table_does_not_pass(scratch: duckdb.DuckDBPyConnection) -> None:
    poison(scratch, "delete from food; delete from amount; delete from measure;")
    assert not check_connection(scratch).passed
