"""Some hundreds of invented lines with all that is read of them, one row a line."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from pipeline.lines import ParsedLine, parse, render_measure

TABLE = Path(__file__).with_name("examples.csv")
with TABLE.open(encoding="utf-8", newline="") as handle:
    EXAMPLES = list(csv.DictReader(handle))
COLUMNS = [column for column in EXAMPLES[0] if column != "text"]


def as_row(line: ParsedLine) -> dict[str, str]:
    """A line in the columns of the table; sets sorted and joined by ``;``."""
    row: dict[str, object] = {
        "kind": line.kind,
        "measures": "; ".join(render_measure(m) for m in line.measures),
        "plus": "; ".join(render_measure(m) for m in line.plus),
        "name": line.name,
        "alternatives": ";".join(line.alternatives),
        "states": ";".join(sorted(line.states)),
        "part": line.part,
        "fat_pct": line.fat_pct,
        "lean_pct": line.lean_pct,
        "cocoa_pct": line.cocoa_pct,
        "flags": ";".join(sorted(line.flags)),
        "problems": ";".join(line.problems),
    }
    return {column: "" if value is None else str(value) for column, value in row.items()}


@pytest.mark.parametrize("row", EXAMPLES, ids=[row["text"] for row in EXAMPLES])
def test_line_is_read_as_written_down(row: dict[str, str]) -> None:
    assert as_row(parse(row["text"])) == {column: row[column] for column in COLUMNS}


def test_no_example_stands_twice() -> None:
    texts = [row["text"] for row in EXAMPLES]
    assert len(texts) == len(set(texts))


def test_notes_keep_what_the_name_leaves_out() -> None:
    line = parse("2 large carrots, peeled and finely diced (save the peel)")
    assert line.name == "carrots"
    assert line.notes == "peeled and finely diced, save the peel"
