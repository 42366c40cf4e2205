"""Rows of the shared tables speak of kinds of food in words, never of one table's codes."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from pipeline.resources import shared_path

TABLES = sorted([*shared_path("").glob("*.csv"), *shared_path("words").glob("*.csv")])
#: Columns whose text may cite where a figure comes from.
CITING = {"source", "note", "address", "why", "system"}
#: A food's number in SR, in the survey (FNDDS) or in FoodData Central, alone in a cell.
CODE = re.compile(r"\d{5,8}")


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.name)
def test_no_row_is_keyed_by_a_tables_code(path: Path) -> None:
    with path.open(encoding="utf-8", newline="") as handle:
        for row in csv.DictReader(handle):
            for column, cell in row.items():
                if column not in CITING and CODE.fullmatch(cell or ""):
                    pytest.fail(f"{path.name}: {column} is {cell}")
