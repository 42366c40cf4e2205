"""National tables by mapping: the worked example, and mappings and cells that are wrong."""

from __future__ import annotations

import shutil
from pathlib import Path

import duckdb
import pytest
from cases import cases

from pipeline.problems import SteelyardError
from pipeline.refresh.national import read_mapping
from pipeline.resources import shared_path
from pipeline.snapshot.builder import load_tables


@pytest.fixture
def mapping(tmp_path: Path) -> Path:
    """The worked example, to edit."""
    shutil.copytree(shared_path("national"), tmp_path / "national")
    return tmp_path / "national" / "example.toml"


def loaded(mapping: Path) -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    load_tables(con, [read_mapping(mapping)])
    return con


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_the_worked_example(mapping: Path) -> None:
    con = loaded(mapping)
    rows = con.sql(
        "select food_id, description, round(kcal, 1), protein_g, carbs_g, fat_g, fiber_g, sodium_mg, "
        "alcohol_g from food join food_macros using (food_id) order by food_id"
    ).fetchall()
    assert rows[0] == ("example:A-0001", "Haferflocken", 367.1, 13.2, pytest.approx(68.7), 6.7, 10.0,
                       5.0, 0.0)  # fmt: skip
    assert rows[2][5] == 0  # a trace, and marked as one
    assert rows[4][6] == 0.05  # half of "<0,1"
    assert rows[5][2] is None  # blank is unknown
    assert rows[5][4] is None
    marks = con.sql(
        "select nutrient, derivation from food_nutrient where food_id in "
        "('example:A-0003', 'example:A-0005') and nutrient in ('FAT', 'FIBTG') "
        "and derivation <> '' order by 1"
    ).fetchall()
    assert marks == [("FAT", "trace, taken as 0"), ("FIBTG", "below 0,1, half of it taken")]


def test_portions_become_measures(mapping: Path) -> None:
    (mapping.parent / "portions.csv").write_text(
        "code;text;grams\nA-0002;1 cup;244\nA-0002;1 tbsp;15,5\nZ-9;1 cup;1\n", encoding="utf-8"
    )
    with mapping.open("a", encoding="utf-8") as handle:
        handle.write('\n[portions]\nfile = "portions.csv"\n')
    found = (
        loaded(mapping).sql("select food_id, unit, grams from measure order by grams").fetchall()
    )
    assert found == [("example:A-0002", "tbsp", 15.5), ("example:A-0002", "cup", 244.0)]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("code;text\nA-0002;1 cup\n", 'no column "grams"'),
        ("code;text;grams\nA-0002;1 cup;a few\n", '"a few" in column "grams"'),
        (None, "no such file"),
    ],
)
def test_wrong_portions_are_told_in_words(mapping: Path, content: str | None, says: str) -> None:
    if content is not None:
        (mapping.parent / "portions.csv").write_text(content, encoding="utf-8")
    with mapping.open("a", encoding="utf-8") as handle:
        handle.write('\n[portions]\nfile = "portions.csv"\n')
    with pytest.raises(SteelyardError) as fault:
        loaded(mapping)
    assert says in fault.value.problem.what + fault.value.problem.why


def test_carbohydrate_by_difference_and_its_energy(mapping: Path) -> None:
    table = mapping.with_name("example.csv")
    rows = table.read_text(encoding="utf-8").splitlines()
    rows = [
        f"{row};{ash}" for row, ash in zip(rows, ["Asche (g)", "", "0,7", *[""] * 4], strict=True)
    ]
    milk = rows[2].split(";")
    milk[3] = milk[6] = ""  # no energy, no carbohydrate
    table.write_text("\n".join([*rows[:2], ";".join(milk), *rows[3:]]), encoding="utf-8")
    with mapping.open("a", encoding="utf-8") as handle:
        handle.write('ASH = { column = "Asche (g)", unit = "g" }\n')
    found = (
        loaded(mapping)
        .sql(
            "select carbs_g, kcal, energy_from, complete from food join food_macros "
            "using (food_id) where food_id = 'example:A-0002'"
        )
        .fetchall()
    )
    # INFOODS, CHOCDF: 100 - 87.5 water - 3.4 protein - 3.6 fat - 0.7 ash = 4.8 g
    assert found == [
        (pytest.approx(4.8), pytest.approx(4 * 3.4 + 9 * 3.6 + 4 * 4.8),
         "energy computed from 4-9-4 and 7", True)
    ]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "says"), cases(__file__, "wrong_mappings"))
def test_a_wrong_mapping_is_told_in_words(mapping: Path, old: str, new: str, says: str) -> None:
    edit(mapping, old, new)
    with pytest.raises(SteelyardError) as fault:
        loaded(mapping)
    assert says in fault.value.problem.what + fault.value.problem.why
    assert fault.value.problem.fix


@pytest.mark.parametrize(
    ("old", "new", "code", "line"),
    [
        ("A-0002;", "A-0001;", "national-code-twice", 3),
        (";44;0", ";44 mg;0", "national-cell-unreadable", 3),
    ],
)
def test_a_wrong_row_is_named_by_its_line(
    mapping: Path, old: str, new: str, code: str, line: int
) -> None:
    edit(mapping.with_name("example.csv"), old, new)
    with pytest.raises(SteelyardError) as fault:
        loaded(mapping)
    assert fault.value.problem.code == code
    assert fault.value.problem.source_line == line


def test_an_encoding_that_is_not_the_one_said(mapping: Path) -> None:
    table = mapping.with_name("example.csv")
    table.write_bytes(table.read_text(encoding="utf-8").encode("latin-1"))
    with pytest.raises(SteelyardError) as fault:
        loaded(mapping)
    assert fault.value.problem.code == "national-file-unreadable"
    edit(mapping, 'encoding = "utf-8"', 'encoding = "latin-1"')
    assert loaded(mapping).sql("select count(*) from food").fetchall() == [(6,)]
