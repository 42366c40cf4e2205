"""Tables of stated numbers in running text, with a column for each of several bases."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.intake.columns import nutrient_column
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.card_line import CardLine

#: A number of a row and its unit.
_CELL = re.compile(r"(?<![\w.,])[~<≈]?\d[\d.,]*\s*(?:k?cal|kj|mg|µg|g)?(?![\w(])", re.IGNORECASE)


def parted_columns(lines: Sequence[CardLine]) -> list[CardLine]:
    """Rows of numbers below a line of two bases ("Per serving  Per 100 g"): a line for each basis."""
    out: list[CardLine] = []
    at = 0
    while at < len(lines):
        bases = _bases(lines[at].text)
        rows: list[tuple[str, ...]] = []
        below = at + 1
        while len(bases) > 1 and below < len(lines):
            cells = _cells_of(lines[below].text, len(bases))
            if not cells and lines[below].text.strip():
                break
            rows.extend([cells] if cells else [])
            below += 1
        if not rows:
            out.append(lines[at])
            at += 1
            continue
        for column, basis in enumerate(bases, start=1):
            said = ", ".join(f"{row[0]} {row[column]}" for row in rows)
            out.append(CardLine(lines[at].no, f"{basis}: {said}"))
        at = below
    return out


def _bases(text: str) -> list[str]:
    if len(text) > 120 or text.lower().count("per ") < 2:
        return []
    parts = [part.strip(" |/·-") for part in re.split(r"(?=\bper\s)", text, flags=re.IGNORECASE)]
    said = [part for part in parts if part.lower().startswith("per")]
    return said if all(read_stated_line(part).basis for part in said) else []


def _cells_of(text: str, count: int) -> tuple[str, ...]:
    """The name of a nutrient and its ``count`` values; () for any other line."""
    if len(text) > 120:
        return ()
    found = list(_CELL.finditer(text))
    if len(found) != count or found[-1].end() != len(text.rstrip()):
        return ()
    name = text[: found[0].start()].strip(" :|")
    if nutrient_column(name) is None:
        return ()
    return (name, *(one[0].strip() for one in found))
