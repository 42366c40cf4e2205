"""Parsed lines as a table, for people and for the outputs of a run."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pipeline.lines.model import ParsedLine
from pipeline.lines.render import render_measure

if TYPE_CHECKING:
    import pandas as pd

PARSED_COLUMNS = [
    "text", "kind", "amount", "low", "high", "unit", "unit_kind", "size", "measures", "plus",
    "name", "alternatives", "states", "notes", "part", "fat_pct", "lean_pct", "cocoa_pct",
    "flags", "problems", "rest", "parts",
]  # fmt: skip


def parsed_frame(lines: Sequence[ParsedLine]) -> pd.DataFrame:
    """One row a line, columns ``PARSED_COLUMNS``; sets are sorted and joined by ``;``.

    ``amount`` to ``size`` are those of the first measure, NaN or "" when none was said;
    ``measures`` shows all of them as text.
    """
    import pandas as pd

    rows = [_row(line) for line in lines]
    frame = pd.DataFrame(rows, columns=PARSED_COLUMNS)
    numbers = ["amount", "low", "high", "fat_pct", "lean_pct", "cocoa_pct"]
    return frame.astype(dict.fromkeys(numbers, "float64"))


def _row(line: ParsedLine) -> tuple[object, ...]:
    first = line.measures[0] if line.measures else None
    return (
        line.text, line.kind,
        first.amount if first else None, first.low if first else None,
        first.high if first else None, first.unit if first else "",
        first.kind if first else "", first.size if first else "",
        "; ".join(render_measure(m) for m in line.measures),
        "; ".join(render_measure(m) for m in line.plus),
        line.name, ";".join(line.alternatives), ";".join(sorted(line.states)), line.notes,
        line.part, line.fat_pct, line.lean_pct, line.cocoa_pct,
        ";".join(sorted(line.flags)), ";".join(line.problems), line.rest,
        " | ".join(line.parts),
    )  # fmt: skip
