"""What stands side by side on a sheet: recipes beside one another, and numbers beside a list.

Names and numbers of nutrients one below the other, beside other cells, are a panel, which belongs to
what stands beside it. An empty column parts the rest of a sheet into strips, each read by itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from pipeline.intake.columns import column_among
from pipeline.intake.facts_line import yield_line
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.tables.card_rows import Row, is_empty, trimmed
from pipeline.intake.text.line_kinds import NUTRITION

_PARTED = re.compile(r"\s*[/(|:,–—-]\s*")
#: Rows that a strip has at least.
_LEAST_ROWS = 2


def strips(rows: Sequence[Row]) -> list[tuple[int, list[Row]]]:
    """The parts of a sheet with their first columns, panels among them; one where nothing parts it.

    Rows of a single cell at the top are headings over them all: they part nothing, and stay with
    the first strip where the others are panels beside it.
    """
    panels = list(_panels(rows))
    taken = {
        (no, at) for first, panel in panels for no, cells in panel for at in (first, first + 1)
    }
    rest = [
        (no, trimmed([None if (no, at) in taken else c for at, c in enumerate(cells)]))
        for no, cells in rows
    ]
    found = _between_gaps(
        [row for row in rest if row[1]] if panels else rows, cut={no for no, _ in taken}
    )
    return sorted([*found, *panels], key=lambda part: part[0])


def _panels(rows: Sequence[Row]) -> Iterator[tuple[int, list[Row]]]:
    """The pairs of columns in which nutrients and their numbers stand beside other cells."""
    width = max((len(cells) for _, cells in rows), default=0)
    for at in range(width - 1):
        run: list[Row] = []
        alone, gap = True, False
        names = {str(cells[at]) for _, cells in rows if at < len(cells) and _names(cells[at])}
        for no, cells in [*rows, (0, [])]:
            *pair, beside = [*cells[at : at + 3], None, None, None][:3]
            if _is_number(beside):  # the names of rows, of several columns
                pair = [None, None]
            if run and not gap and no and all(map(is_empty, pair)):
                gap = True  # what the recipe makes may stand a row below
                continue
            if gap and not _is_yield(pair):
                if is_panel(run) and not alone:
                    yield at, run
                run, alone = [], True
            gap = False
            if _is_pair(pair, names) or (
                run and not is_empty(pair[0]) and is_panel([*run, (no, pair)])
            ):
                run.append((no, pair))
                alone = alone and all(map(is_empty, [*cells[:at], *cells[at + 2 :]]))
            else:
                if is_panel(run) and not alone:
                    yield at, run
                text = isinstance(pair[0], str) and not is_empty(pair[0]) and is_empty(pair[1])
                run, alone = [(no, pair)] if text and _announces(pair[0]) else [], True


def _is_number(cell: Any) -> bool:
    return not is_empty(cell) and not any(c.isalpha() for c in str(cell))


def _announces(text: str) -> bool:
    """Whether a text says what the numbers below it are for."""
    first = _PARTED.split(text, maxsplit=1)[0]  # "NUTRITION / 1 wrap"
    return (
        any(map(NUTRITION.match, (text, first)))
        or read_stated_line(f"{text}: 1 kcal").basis is not None
    )


def _names(cell: Any) -> bool:
    return isinstance(cell, str) and not any(map(str.isdigit, cell))


def _is_pair(cells: Sequence[Any], names: Iterable[str] = ()) -> bool:
    """Whether two cells are the name of a nutrient, beside others, or of a yield, and its number."""
    if not isinstance(cells[0], str) or not any(c.isdigit() for c in str(cells[1])):
        return False
    return column_among(cells[0], names) is not None or _is_yield(cells)


def _is_yield(cells: Sequence[Any]) -> bool:
    """Whether two cells are the name of a yield and its number: "makes", 5."""
    return not any(map(is_empty, cells)) and bool(yield_line(f"{cells[0]}: {cells[1]}"))


def _between_gaps(rows: Sequence[Row], *, cut: set[int]) -> list[tuple[int, list[Row]]]:
    """The parts of a sheet between empty columns, without a heading above them all; ``cut``: rows
    that had more cells, so that one left alone is no heading."""
    filled = [
        (no, cells, [at for at, c in enumerate(cells) if not is_empty(c)]) for no, cells in rows
    ]
    body = [at for no, _, where in filled if len(where) > 1 or no in cut for at in where]
    width = max(body, default=0) + 1
    gaps = sorted(set(range(min(body, default=0), width)) - set(body))
    starts = [0, *(at + 1 for at in gaps if at + 1 not in gaps)]
    ends = [*(at for at in gaps if at - 1 not in gaps), width]
    above: list[Row] = []
    while len(starts) > 1 and filled and len(filled[0][2]) < 2:
        above.append(filled.pop(0)[:2])
    found = [
        [
            (no, part)
            for no, cells, _ in filled
            if (part := trimmed(cells[start:end]))
        ]
        for start, end in zip(starts, ends, strict=True)
    ]  # fmt: skip
    if len(found) < 2 or any(len(strip) < _LEAST_ROWS for strip in found):
        return [(0, list(rows))]
    panels = all(is_panel(strip) for strip in found[1:])
    found[0] = [*(row for row in above if panels or row[0] in cut), *found[0]]
    return list(zip(starts, found, strict=True))


def is_panel(strip: Sequence[Row]) -> bool:
    """Whether a strip holds names and numbers of nutrients, a yield, headings, and nothing else."""
    pairs = 0
    told = [[c for c in cells if not is_empty(c)] for _, cells in strip]
    names = [texts[0] for texts in told if len(texts) == 2 and _names(texts[0])]
    for texts in told:
        if len(texts) == 2 and isinstance(texts[0], str) and column_among(texts[0], names):
            pairs += 1
        elif len(texts) > 1 and not (len(texts) == 2 and _is_pair(texts)):
            return False
    return pairs >= _LEAST_ROWS
