"""Some hundreds of invented lines with all that is read of them, one row a line."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from pipeline.lines import parse, parsed_frame

TABLE = Path(__file__).with_name("examples.csv")
with TABLE.open(encoding="utf-8", newline="") as handle:
    EXAMPLES = list(csv.DictReader(handle))
COLUMNS = [column for column in EXAMPLES[0] if column != "text"]


def as_text(value: object) -> str:
    return "" if value != value else str(value)  # NaN: not said


@pytest.fixture(scope="module")
def found() -> dict[str, dict[str, str]]:
    frame = parsed_frame([parse(row["text"]) for row in EXAMPLES])
    return {row["text"]: {c: as_text(row[c]) for c in COLUMNS} for row in frame.to_dict("records")}


@pytest.mark.parametrize("row", EXAMPLES, ids=[row["text"] for row in EXAMPLES])
def test_line_is_read_as_written_down(
    row: dict[str, str], found: dict[str, dict[str, str]]
) -> None:
    assert found[row["text"]] == {column: row[column] for column in COLUMNS}


def test_no_example_stands_twice() -> None:
    texts = [row["text"] for row in EXAMPLES]
    assert len(texts) == len(set(texts))


def test_notes_keep_what_the_name_leaves_out() -> None:
    line = parse("2 large carrots, peeled and finely diced (save the peel)")
    assert line.name == "carrots"
    assert line.notes == "peeled and finely diced, save the peel"
