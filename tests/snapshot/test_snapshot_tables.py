"""What the snapshot holds, against counts and rows read in the source files by hand."""

from __future__ import annotations

import csv
import gzip
import hashlib
import sys
import tomllib
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.nutrients import NUTRIENTS
from pipeline.resources import data_path
from pipeline.snapshot import Snapshot
from pipeline.snapshot.sources import Sr28
from pipeline.tables import FOOD, FOOD_NUTRIENT, MEASURE

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from food_table import load_foods


def rows(con: duckdb.DuckDBPyConnection, query: str) -> list[tuple[Any, ...]]:
    return con.sql(query).fetchall()


def columns(con: duckdb.DuckDBPyConnection, table: str) -> list[str]:
    return [row[0] for row in con.sql(f"describe {table}").fetchall()]


def test_the_stored_files_are_the_published_bytes_in_utf8() -> None:
    told = tomllib.loads((data_path("sr28") / "PROVENANCE.toml").read_text(encoding="utf-8"))
    for file in told["file"]:
        stored = gzip.decompress((data_path("sr28") / file["name"]).read_bytes())
        original = stored.decode("utf-8").encode(file.get("original_encoding", "cp1252"))
        assert len(original) == file["original_bytes"]
        assert hashlib.sha256(original).hexdigest() == file["original_sha256"]
    Sr28().verify_files()


def test_tables_carry_the_agreed_columns(con: duckdb.DuckDBPyConnection) -> None:
    assert set(FOOD) <= set(columns(con, "food"))
    assert set(FOOD_NUTRIENT) <= set(columns(con, "food_nutrient"))
    assert set(MEASURE) <= set(columns(con, "measure"))
    assert columns(con, "food_macros") == ["food_id", *(n.column for n in NUTRIENTS)]


def test_every_food_is_there_with_its_group_and_flags(con: duckdb.DuckDBPyConnection) -> None:
    assert con.sql("select count(*), count(distinct food_id) from food").fetchall() == [
        (8789, 8789)
    ]
    assert con.sql("select count(distinct category) from food").fetchall() == [(25,)]
    assert con.sql("select count(*) from food where category = ''").fetchall() == [(0,)]
    row = rows(
        con,
        "select description, category, survey, refuse_pct, refuse, protein_factor, fat_factor, "
        "carb_factor, scientific_name from food where food_id = 'sr28:09040'",
    )
    assert row == [
        ("Bananas, raw", "Fruits and Fruit Juices", True, 36.0, "Skin", 3.36, 8.37, 3.6,
         "Musa acuminata Colla")
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("column", "empty"),
    [("sugar_g", 1832), ("fiber_g", 594), ("sodium_mg", 83), ("satfat_g", 349), ("kcal", 0)],
)
def test_an_empty_field_is_null_and_not_zero(
    con: duckdb.DuckDBPyConnection, column: str, empty: int
) -> None:
    found = rows(con, f"select count(*) from food_macros where {column} is null")
    assert found == [(empty,)]  # counted in ABBREV: reference dossier, section 5


def test_sodium_survives_its_tagname(con: duckdb.DuckDBPyConnection) -> None:
    found = rows(con, "select unit, label from nutrient where nutrient = 'NA'")
    assert found == [("mg", "Sodium, Na")]


def test_letters_beyond_ascii_survive(con: duckdb.DuckDBPyConnection) -> None:
    found = rows(
        con,
        "select scientific_name from food where source_code = '09520' union all "
        "select unit from measure where food_id = 'sr28:22996' and seq = 1",
    )
    assert found == [("Actinidia chinensis ‘Zesy002’ (Gold3)",), ("entrée",)]


#: Grams of alcohol per 100 g, SR28 NUT_DATA 221.
ALCOHOL = {"14096": 10.6, "14106": 10.3, "02050": 34.4, "14003": 3.9, "14037": 33.4}


@pytest.mark.parametrize(("code", "grams"), ALCOHOL.items())
def test_alcohol_is_derived_where_mass_and_energy_agree(
    con: duckdb.DuckDBPyConnection, code: str, grams: float
) -> None:
    found = rows(
        con,
        "select amount_per_100g, derivation from food_nutrient "
        f"where nutrient = 'ALC' and food_id = 'sr28:{code}'",
    )
    assert found[0][0] == pytest.approx(grams, abs=0.1)
    assert "difference" in found[0][1]


@pytest.mark.parametrize("code", ["02053", "02048", "28377", "15232", "09040"])
def test_a_gap_that_is_not_alcohol_stays_unknown(
    con: duckdb.DuckDBPyConnection, code: str
) -> None:  # vinegar, bread with a mistyped protein, an odd fish, a banana
    found = rows(con, f"select alcohol_g from food_macros where food_id = 'sr28:{code}'")
    assert found == [(None,)]


def test_measures_keep_source_number_and_spread(con: duckdb.DuckDBPyConnection) -> None:
    found = rows(
        con,
        "select seq, amount, unit, size, grams, n, sd_grams, source from measure "
        "where food_id = 'sr28:09003' and unit = 'piece' order by seq",
    )
    assert found[1] == (4, 1.0, "piece", "medium", 182.0, 113, 20.572, "SR28 WEIGHT seq 4")
    egg = rows(
        con,
        "select grams from measure where food_id = 'sr28:01123' and unit = 'piece' "
        "and size = 'large'",
    )
    assert egg == [(50.0,)]
    grapes = rows(
        con, "select amount, grams, sd_grams from measure where food_id = 'sr28:09132' and seq = 2"
    )
    assert grapes == [(10.0, 49.0, pytest.approx(0.5581))]  # deviation of one, not of ten


def test_every_published_weight_is_there(con: duckdb.DuckDBPyConnection) -> None:
    with gzip.open(data_path("sr28") / "WEIGHT.csv.gz", "rt", encoding="utf-8", newline="") as file:
        published = {(row["NDB_No"], int(row["Seq"])): row for row in csv.DictReader(file)}
    assert len(published) == 15_438
    held = rows(
        con,
        "select source_code, seq, grams, amount from measure join food using (food_id) "
        "where seq < 1000",
    )
    for code, seq, grams, _ in held:
        assert float(published[code, seq]["Gm_Wgt"]) == grams
    # Only repetitions of one measure, and rows of no weight, are left out.
    assert len(held) > 15_000
    once = rows(
        con,
        "select count(*) from (select distinct food_id, unit, qualifier, size, "
        "round(grams / amount, 3) from measure)",
    )
    assert once == con.sql("select count(*) from measure").fetchall()


def test_what_was_measured_after_cooking_a_pound_is_no_piece(
    con: duckdb.DuckDBPyConnection,
) -> None:
    found = rows(
        con, "select count(*) from measure where unit = 'piece' and qualifier ilike '%from 1 lb%'"
    )
    assert found == [(0,)]
    assert con.sql("select count(*) > 300 from measure where unit = 'lb_raw'").fetchall() == [
        (True,)
    ]


def test_food_table_is_the_same_data_without_pandas(published: Snapshot) -> None:
    with published.connect() as con:
        foods = load_foods(con)
        assert len(foods) == 8789
        place = foods.index["sr28:09040"]
        assert foods.kcal[place] == 89
        assert foods.description[place] == "Bananas, raw"
        missing = rows(con, "select count(*) from food_macros where sugar_g is null")
    assert int((foods.sugar_g != foods.sugar_g).sum()) == missing[0][0]
