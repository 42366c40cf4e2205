"""Tables of stated numbers in running text: a column for each of several bases, or for each nutrient."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence

from pipeline.intake.columns import (
    column_among,
    nutrient_column,
    nutrient_named,
    nutrient_pattern,
    nutrient_said,
)
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.card_line import CardLine

#: A number of a row and its unit.
_CELL = re.compile(r"(?<![\w.,])[~<≈]?\d[\d.,]*\s*(?:k?cal|kj|mg|µg|g)?(?![\w(])", re.IGNORECASE)
_NAMES = re.compile(
    rf"(?<![^\W\d_])({nutrient_pattern()})(?![^\W\d_])(?:\s*\((?:g|mg|kcal|kj)\))?", re.IGNORECASE
)
_MOST_CHARS = 120
_HEAD_CELLS = re.compile(r"\s*[|,;\t/·]\s*|\s{2,}")
_MOST_NUTRIENTS = 12
#: What may stand between names or values beside white space.
_BETWEEN = " \t,;|/·–—-:"


def parted_columns(lines: Sequence[CardLine]) -> list[CardLine]:
    """Rows of numbers below a line of two bases ("Per serving  Per 100 g"): a line for each basis."""
    out: list[CardLine] = []
    filled = [k for k, line in enumerate(lines) if line.text.strip(" -=|+")]
    following = dict(itertools.pairwise(filled))
    at = 0
    while at < len(lines):
        bases = _bases(lines[at].text)
        rows: list[tuple[str, ...]] = []
        below = at + 1
        while len(bases) > 1 and below < len(lines):
            cells = _cells_of(lines[below].text, len(bases))
            if cells and nutrient_column(cells[0]) is None:
                cells = ()
            if not cells and lines[below].text.strip():
                break
            rows.extend([cells] if cells else [])
            below += 1
        if rows:
            for column, basis in enumerate(bases, start=1):
                said = ", ".join(f"{row[0]} {row[column]}" for row in rows)
                out.append(CardLine(lines[at].no, f"{basis}: {said}"))
            at = below
            continue
        under = following.get(at, at)
        said = _named_values(lines[at].text, lines[under].text)
        more, end = _more_rows(lines, at, under) if said else ([], at + 1)
        no = lines[under if more else at].no
        out += [CardLine(no, said) if said else lines[at], *more]
        at = end
    return out


def _more_rows(lines: Sequence[CardLine], at: int, under: int) -> tuple[list[CardLine], int]:
    """The further rows of a table whose columns the line ``at`` names, each of a thing of its own, and
    where it ends: "Dish  kcal  protein", "Dal  310  17", "Pie  520  24"."""
    rows, end = [], under + 1
    for below in range(end, len(lines)):
        line = lines[below]
        if line.text.strip(" -=|+"):
            said = _named_values(lines[at].text, line.text)
            if not said or not line.text.strip()[0].isalpha():
                break
            rows.append(CardLine(line.no, said))
            end = below + 1
    return rows, end


def _named_values(names: str, values: str) -> str:
    """A line of nutrients and the line of their values below it as one; "" for any others.

    >>> _named_values("each slice  kcal  protein  fat", "  270  3.2g  12g")
    'each slice: kcal 270, protein 3.2g, fat 12g'
    """
    if len(names) > _MOST_CHARS or any(c.isdigit() for c in names.replace("100", "")):
        return ""
    found = list(_NAMES.finditer(names))
    lead, head = "", _letters_of(names)
    if not head and len(found) > 1 and all(nutrient_named(one[1]) for one in found):
        gaps = [names[a.end() : b.start()] for a, b in itertools.pairwise(found)]
        if not any(gap.strip(_BETWEEN) for gap in [*gaps, names[found[-1].end() :]]):
            lead, head = names[: found[0].start()].strip(_BETWEEN), [one[0] for one in found]
    cells = _cells_of(values, len(head)) if head else ()
    if not cells:
        return ""
    lead = cells[0] or lead
    said = ", ".join(f"{name} {cell}" for name, cell in zip(head, cells[1:], strict=True))
    return f"{lead}: {said}" if lead else said


def _letters_of(names: str) -> list[str]:
    """The nutrients of a head that gives macros by their letters, [] for any other: "kcal | P | C | F"."""
    cells = [cell for cell in _HEAD_CELLS.split(names.strip(" |")) if cell]
    if len(cells) > _MOST_NUTRIENTS or all(len(cell) > 1 for cell in cells):
        return []
    known = all(column_among(cell, cells) for cell in cells)
    return [nutrient_said(cell, cells) for cell in cells] if known else []


def _bases(text: str) -> list[str]:
    if len(text) > _MOST_CHARS or text.lower().count("per ") < 2:
        return []
    parts = [part.strip(" |/·-") for part in re.split(r"(?=\bper\s)", text, flags=re.IGNORECASE)]
    said = [part for part in parts if part.lower().startswith("per")]
    return said if all(read_stated_line(part).basis for part in said) else []


def _cells_of(text: str, count: int) -> tuple[str, ...]:
    """The name in front of a row and its ``count`` values; () for any other line."""
    if len(text) > _MOST_CHARS:
        return ()
    found = list(_CELL.finditer(text))
    gaps = [text[a.end() : b.start()] for a, b in itertools.pairwise(found)]
    if (
        len(found) != count
        or text[found[-1].end() :].strip(" |")
        or any(g.strip(_BETWEEN) for g in gaps)
    ):
        return ()
    return (text[: found[0].start()].strip(" :|"), *(one[0].strip().rstrip(",.") for one in found))
