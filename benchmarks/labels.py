"""Labelled lines: what an expert would accept for each, and how many grams it means."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Label:
    """One labelled line.

    Attributes:
        line_id: a letter and a number; odd numbers of the outside set may be looked at.
        text: the line.
        accept: numbers of the SR28 foods that are right; empty when ``lacking``.
        lacking: SR28 holds no such food, or the line names none.
        grams: best estimate, None where the amount is open; right between ``low`` and ``high``.
        tags: what is hard about the line.
    """

    line_id: str
    text: str
    accept: frozenset[str]
    lacking: bool
    grams: float | None
    low: float
    high: float
    tags: frozenset[str]
    note: str

    @property
    def odd(self) -> bool:
        return int("".join(filter(str.isdigit, self.line_id)) or 0) % 2 == 1


def read_labels(path: Path) -> list[Label]:
    """The labelled lines of a file with the columns line_id, line, accept, grams, grams_lo,
    grams_hi, tags and note."""
    out = []
    with path.open(encoding="utf-8", newline="") as handle:
        for row in csv.DictReader(handle):
            accept = frozenset(row["accept"].split(";")) - {"NONE"}
            grams = float(row["grams"]) if row["grams"] else None
            out.append(
                Label(
                    row["line_id"], row["line"], accept, not accept, grams,
                    float(row["grams_lo"] or "nan"), float(row["grams_hi"] or "nan"),
                    frozenset(row["tags"].split(";")) - {""}, row["note"],
                )
            )  # fmt: skip
    return out
