"""What stands side by side on a sheet: recipes beside one another, and numbers beside a list.

An empty column parts a sheet into strips. A strip of names and numbers of nutrients belongs to what
stands left of it; any other strip is read by itself.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from pipeline.foods.words import singular
from pipeline.intake.columns import nutrient_column
from pipeline.intake.tables.card_rows import Row

#: What numbers are for: "kcal / box", "protein per bar".
_PER = re.compile(r"(?:/|\bper\b)\s*([^\W\d]+)\s*$")
#: Rows that a strip has at least.
_LEAST_ROWS = 2


def strips(rows: Sequence[Row]) -> list[list[Row]]:
    """The parts of a sheet between empty columns, from the left; one where nothing parts it.

    Rows of a single cell at the top are headings over them all: they part nothing, and stay with
    the first strip where the others are panels beside it.
    """
    filled = [
        (no, cells, [at for at, c in enumerate(cells) if not _empty(c)]) for no, cells in rows
    ]
    body = [at for _, _, where in filled if len(where) > 1 for at in where]
    width = max(body, default=0) + 1
    gaps = sorted(set(range(min(body, default=0), width)) - set(body))
    starts = [0, *(at + 1 for at in gaps if at + 1 not in gaps)]
    ends = [*(at for at in gaps if at - 1 not in gaps), width]
    above: list[Row] = []
    while len(starts) > 1 and filled and len(filled[0][2]) < 2:
        above.append(filled.pop(0)[:2])
    found = [
        [
            (no, trimmed)
            for no, cells, _ in filled
            if (trimmed := _trimmed(cells[start:end]))
        ]
        for start, end in zip(starts, ends, strict=True)
    ]  # fmt: skip
    if len(found) < 2 or any(len(strip) < _LEAST_ROWS for strip in found):
        return [list(rows)]
    if all(is_panel(strip) for strip in found[1:]):
        found[0] = [*above, *found[0]]
    return [_with_yield(strip) for strip in found]


def _with_yield(strip: list[Row]) -> list[Row]:
    """A strip whose row of a word and a count says what numbers further down are for: "kcal / box".

    That row then says what the recipe makes.
    """
    counted = {
        word
        for _, cells in strip
        if len(cells) > 1 and isinstance(cells[0], str)
        for word in _PER.findall(cells[0].lower())
    }
    return [
        (no, [f"makes {cells[1]} {cells[0]}"] if _counts(cells, counted) else cells)
        for no, cells in strip
    ]


def _counts(cells: Sequence[Any], counted: set[str]) -> bool:
    return (
        len(cells) == 2
        and isinstance(cells[0], str)
        and isinstance(cells[1], int)
        and singular(cells[0].strip().lower()) in counted
    )


def is_panel(strip: Sequence[Row]) -> bool:
    """Whether a strip holds names and numbers of nutrients, under headings, and nothing else."""
    pairs = 0
    for _, cells in strip:
        texts = [c for c in cells if not _empty(c)]
        if len(texts) == 2 and isinstance(texts[0], str) and nutrient_column(texts[0]):
            pairs += 1
        elif len(texts) > 1:
            return False
    return pairs >= _LEAST_ROWS


def beside_blocks(rows: Sequence[Row], at: int, title: int, strip: Sequence[Row]) -> list[Row]:
    """A table with the numbers that stand beside it as columns of their own.

    Args:
        rows: of the table.
        at: index of its header.
        title: column that a recipe's first row alone fills.
        strip: the panel; each number goes to the recipe in whose rows it stands.
    """
    pairs = [(no, [c for c in cells if not _empty(c)]) for no, cells in strip]
    facts = [(no, str(texts[0]).strip(), texts[1]) for no, texts in pairs if len(texts) == 2]
    names = list(dict.fromkeys(name for _, name, _ in facts))
    width = max(len(cells) for _, cells in rows)
    out = [(no, list(cells)) for no, cells in rows]
    first: dict[int, int] = {}  # number of a row to the index of its recipe's first
    begin = at + 1
    for index in range(at + 1, len(out)):
        no, cells = out[index]
        if len(cells) > title and not _empty(cells[title]):
            begin = index
        first[no] = begin
    out[at] = (out[at][0], _padded(out[at][1], width) + names)
    for no, name, value in facts:
        if no not in first:
            continue
        cells = _padded(out[first[no]][1], width + len(names))
        cells[width + names.index(name)] = value
        out[first[no]] = (out[first[no]][0], cells)
    return out


def _padded(cells: list[Any], width: int) -> list[Any]:
    return cells + [None] * (width - len(cells))


def _trimmed(cells: Sequence[Any]) -> list[Any]:
    out = list(cells)
    while out and _empty(out[-1]):
        out.pop()
    return out


def _empty(cell: Any) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())
