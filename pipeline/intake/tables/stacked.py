"""Tables one below the other: what the recipes of a sheet hold, and below an empty row their numbers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import starmap

from pipeline.intake.by_content import read_by_content
from pipeline.intake.model import Read
from pipeline.intake.tables.card_rows import Row, is_titled
from pipeline.intake.tables.grid import find_header
from pipeline.intake.tables.number_rows import numbers_of
from pipeline.intake.tables.table import titled_rows

_LEAST_ROWS = 2  # of a table, its names among them


def several_tables(rows: Sequence[Row], format: str) -> Read | None:
    """Recipes of a sheet whose ingredients and numbers stand in tables of their own; None for others.

    Args:
        rows: number and cells of each row that holds anything; numbers left out part the tables.
        format: name of the format for ``tables.RECIPE``.
    """
    parts = list(_parts(rows))
    if len(parts) < 2:
        return None
    read = Read()
    for part in parts:
        found = find_header(part)
        if found is None:
            numbers = numbers_of(part, format, [])
            if not any(row.stated for one in numbers for row in one.rows):
                return None
            read.apart += numbers
        elif is_titled(found[1]):
            at, form = found
            one = titled_rows(part[at + 1 :], form, format)
            if any(recipe.stated for recipe in one.recipes):
                return None
            read.recipes += one.recipes
            read.problems += [*one.problems, *starmap(read_by_content, form.renamed)]
        else:
            return None
    for position, recipe in enumerate(read.recipes):
        recipe.position = position
    return read if read.recipes and read.apart else None


def _parts(rows: Sequence[Row]) -> Iterator[list[Row]]:
    """The rows between two empty ones, a single one with those below it."""
    part: list[Row] = []
    for no, cells in rows:
        if len(part) >= _LEAST_ROWS and no > part[-1][0] + 1:
            yield part
            part = []
        part.append((no, cells))
    if part:
        yield part
