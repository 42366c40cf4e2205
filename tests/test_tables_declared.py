"""The tables as declared in ``pipeline/tables.py`` are those that SQL and readers make."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from pipeline import tables
from pipeline.intake import read_collection
from pipeline.problems import Problem
from pipeline.tables import Table

SNAPSHOT = {
    "food": tables.FOOD,
    "food_nutrient": tables.FOOD_NUTRIENT,
    "measure": tables.MEASURE,
}


@pytest.mark.parametrize("name", SNAPSHOT)
def test_the_snapshot_has_the_columns_and_types_declared(snapshot, name: str) -> None:
    with snapshot.connect() as con:
        made = {row[0]: row[1].lower() for row in con.execute(f"describe {name}").fetchall()}
    declared = {n: t.removesuffix(" not null") for n, t in SNAPSHOT[name].types.items()}
    assert declared.items() <= made.items()


def test_the_collection_has_the_types_declared_also_when_empty(demo: Path, tmp_path: Path) -> None:
    scripts = Path(__file__).parent / "intake" / "scripts"
    full, empty = read_collection([demo, scripts]), read_collection(tmp_path)
    for table, name in (
        (tables.RECIPE, "recipe"), (tables.STATED, "stated"), (tables.LINE, "line"),
        (tables.READING, "reading"), (tables.SCRIPT_MARK, "script_marks"),
    ):  # fmt: skip
        frame, none = getattr(full, name), getattr(empty, name)
        assert list(frame) == list(none) == table
        assert none.empty
        assert name == "reading" or not frame.empty  # no recipe of these leaves its servings open
        for column, kind in table.types.items():
            if kind.split()[0] in ("double", "integer", "bigint"):
                assert frame[column].dtype == none[column].dtype, (name, column)
                if kind.endswith("not null"):
                    assert frame[column].notna().all(), (name, column)


def test_problems_hold_the_fields_of_a_problem() -> None:
    assert set(tables.PROBLEM) == {f.name for f in fields(Problem)}


def test_casts_give_each_column_its_type() -> None:
    table = Table(id="varchar", n="integer not null").plus(Table(id="bigint", share="double"))
    frame = pd.DataFrame({"id": ["a"], "n": [1.0], "share": [None]})
    con = duckdb.connect()
    con.register("frame", frame)
    made = con.execute(f"describe select {table.casts()} from frame").fetchall()
    assert [(row[0], row[1]) for row in made] == [
        ("id", "VARCHAR"), ("n", "INTEGER"), ("share", "DOUBLE")
    ]  # fmt: skip
    assert table.only("share").casts() == table.casts("share") == '"share"::double as "share"'


@pytest.mark.parametrize("first", [None, float("nan"), "g"])
@pytest.mark.parametrize("second", [None, "cup"])
def test_a_column_of_texts_keeps_its_type_wherever_its_first_value_stands(first, second) -> None:
    made = Table(unit="varchar", code="varchar")
    frame = pd.DataFrame({"unit": [first, second], "code": [None, None]}, dtype=object)
    with duckdb.connect() as con:
        made.register(con, "given", frame)
        rows = con.execute("select unit, code from given").fetchall()
        kinds = [row[1] for row in con.execute("describe given").fetchall()]
    assert kinds == ["VARCHAR", "VARCHAR"]
    assert rows == [(first if isinstance(first, str) else None, None), (second, None)]
