"""What stands side by side on a sheet: recipes beside one another, and numbers beside a list.

An empty column parts a sheet into strips. A strip of names and numbers of nutrients belongs to what
stands left of it; any other strip is read by itself.
"""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.intake.columns import nutrient_column
from pipeline.intake.tables.card_rows import Row, is_empty, trimmed

#: Rows that a strip has at least.
_LEAST_ROWS = 2


def strips(rows: Sequence[Row]) -> list[tuple[int, list[Row]]]:
    """The parts of a sheet between empty columns with their first columns; one where nothing parts it.

    Rows of a single cell at the top are headings over them all: they part nothing, and stay with
    the first strip where the others are panels beside it.
    """
    filled = [
        (no, cells, [at for at, c in enumerate(cells) if not is_empty(c)]) for no, cells in rows
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
            (no, part)
            for no, cells, _ in filled
            if (part := trimmed(cells[start:end]))
        ]
        for start, end in zip(starts, ends, strict=True)
    ]  # fmt: skip
    if len(found) < 2 or any(len(strip) < _LEAST_ROWS for strip in found):
        return [(0, list(rows))]
    if all(is_panel(strip) for strip in found[1:]):
        found[0] = [*above, *found[0]]
    return list(zip(starts, found, strict=True))


def is_panel(strip: Sequence[Row]) -> bool:
    """Whether a strip holds names and numbers of nutrients, under headings, and nothing else."""
    pairs = 0
    for _, cells in strip:
        texts = [c for c in cells if not is_empty(c)]
        if len(texts) == 2 and isinstance(texts[0], str) and nutrient_column(texts[0]):
            pairs += 1
        elif len(texts) > 1:
            return False
    return pairs >= _LEAST_ROWS
