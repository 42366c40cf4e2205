"""Tables that state numbers of recipes and hold no ingredients: a ledger, a sheet of totals."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import zip_longest

from pipeline.intake.by_content import may_be_title
from pipeline.intake.columns import column_among, field_of, plain, resembles
from pipeline.intake.model import Apart, Basis, RawRecipe, cut
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.tables.card_rows import Row
from pipeline.intake.tables.layout import (
    MAX_COLUMNS,
    Layout,
    counted_column,
    mostly,
    named_columns,
    with_ids,
)
from pipeline.intake.tables.number_parts import pivoted
from pipeline.intake.tables.table import Table, columns_of

#: A cell that numbers its row as the title of a recipe may be numbered.
_NUMBER = re.compile(r"\s*([A-Za-z]|\d{1,3})\s*")
#: Numbers that a row of a ledger states, more than.
_LEAST_NUMBERS = 2
#: Rows above the names of the columns, at most.
_MAX_LEAD = 6
#: Rows that are looked at to learn what the columns hold.
_ROWS = 200


def numbers_of(rows: Sequence[Row], format: str, instead: Sequence[RawRecipe]) -> list[Apart]:
    """The recipes' numbers that a table holds, beside what else was made of it; [] for others.

    The names of its columns stand in one of its first rows, or in its first column.
    """
    found = _rows(rows, format) or _rows(pivoted(rows), format)
    if not found and len(turned := _rows(_turned(rows), format)) > 1:  # one is a card in cells
        found = turned
    at = {row.source_line for row in found}
    listed = any(line.source_line not in at for one in instead for line in one.lines)
    return [Apart(found, list(instead))] if found and not listed else []


def is_ledger(apart: Sequence[Apart]) -> bool:
    """Whether each of several rows states energy and macros of a recipe that its id names."""
    rows = [row for one in apart for row in one.rows]
    return len(rows) > 1 and all(row.own_id and len(row.stated) > _LEAST_NUMBERS for row in rows)


def _rows(rows: Sequence[Row], format: str) -> list[RawRecipe]:
    for at, (_, names) in enumerate(rows[: _MAX_LEAD + 1]):
        below = rows[at + 1 :]
        columns = (
            columns_of([cells for _, cells in below], len(names))[: len(names)] if below else []
        )
        layout = _layout(names, columns) if columns else None
        if layout is None:
            continue
        told = [read_stated_line(cut(str(cell))).basis for _, above in rows[:at] for cell in above]
        told += [read_stated_line(f"{cut(str(names[0] or ''))}:").basis]
        basis: Basis | None = next(filter(None, told), None)
        table = Table(layout, columns, [no for no, _ in below], format)
        made = []
        for place in range(len(below)):
            row = table.recipe(place, place)
            table.state(row, place, basis)
            row.problems.clear()  # cells that are no numbers say nothing
            said = row.stated or not math.isnan(row.servings) or (row.title and row.own_id)
            if (row.title or row.own_id) and said:
                made.append(row)
        return made
    return []


def _layout(names: Sequence[object], columns: Sequence[Sequence[object]]) -> Layout | None:
    """What the columns hold where each row may be of one recipe; None for any other table."""
    names = with_ids(["" if name is None else str(name).strip() for name in names])
    layout = named_columns(names)
    roles = layout.roles
    if layout.kind or layout.measures or "grams" in roles:
        return None
    columns = [column[:_ROWS] for column in columns]
    texts = [["" if cell is None else str(cell) for cell in column] for column in columns]
    free = [
        at for at, name in enumerate(names[:MAX_COLUMNS])
        if name and at not in layout.nutrients and at not in roles.values()
    ]  # fmt: skip
    if (
        "servings" not in roles
        and (counted := counted_column(names, texts, free, None)) is not None
    ):
        roles["servings"] = counted
    tells = bool(layout.nutrients) or not roles.keys().isdisjoint(("stated", "servings", "id"))
    if not tells:
        return None
    if "title" not in roles:
        free = [
            at for at, name in enumerate(names[:MAX_COLUMNS])
            if at not in layout.nutrients and field_of(plain(name or ""), "column") is None
            and column_among(str(name), names) is None and mostly(texts[at], may_be_title)
            and len(set(filter(None, texts[at]))) == len(list(filter(None, texts[at])))
        ]  # fmt: skip
        numbered = (
            at for at, column in enumerate(texts)
            if at not in layout.nutrients and all(map(_NUMBER.fullmatch, column))
            and len(set(column)) == len(column)
        )  # fmt: skip
        if free:
            roles["title"] = max(free, key=lambda at: resembles(names[at], "title"))
        elif "id" not in roles:
            if (at := next(numbered, None)) is None:
                return None
            roles["id"] = at
    return layout


def _turned(rows: Sequence[Row]) -> list[Row]:
    """The columns of a narrow table as rows, all of them where its header stands."""
    if not 1 < len(rows) <= MAX_COLUMNS:
        return []
    columns = zip_longest(*(cells for _, cells in rows))
    return [(rows[0][0], list(cells)) for cells in columns]
