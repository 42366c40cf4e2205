"""Corrected copies of spreadsheets: numbers in the cells they stood in."""

from __future__ import annotations

from pipeline.intake.tables.card_rows import is_titled
from pipeline.intake.tables.grid import find_header
from pipeline.intake.tables.number_parts import headed
from pipeline.intake.tables.sheet import read_sheet_rows, sheet_rows
from pipeline.publish.numbers import NotWritableError, Original, Wanted
from pipeline.publish.table_cells import placed_edits, table_edits


def edit_sheet(original: Original, wanted: Wanted) -> bytes:
    """The workbook with corrected numbers in its cells.

    Formats, formulas and other sheets stay; a cell that held the number by a formula holds the
    number. New nutrients go into new columns of a table, or rows under the last stated one.

    Raises:
        NotWritableError: its cells have no place for them.
    """
    import io

    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(original.data))
    values = openpyxl.load_workbook(io.BytesIO(original.data), data_only=True)
    first = 0
    done = False
    for sheet, shown_sheet in zip(book.worksheets, values.worksheets, strict=True):
        if getattr(sheet, "sheet_state", "visible") != "visible":
            continue
        rows = headed(list(sheet_rows(shown_sheet)))
        read = read_sheet_rows(rows, str(sheet.title), original.path.name)
        here = {
            at - first: v for at, v in wanted.items() if first <= at < first + len(read.recipes)
        }
        first += len(read.recipes)
        gridded = any(one.column is not None for recipe in read.recipes for one in recipe.stated)
        found = find_header(rows) if here and not gridded else None
        if found is None or not is_titled(found[1]):
            changed = list(placed_edits(read.recipes, dict(rows), here))
        else:
            head, form = found
            no, width = rows[head][0], len(form.names)
            body = [(c + [None] * width)[:width] for _, c in rows[head + 1 :]]
            numbers = [n for n, _ in rows[head + 1 :]]
            changed = [
                (numbers[row] if row >= 0 else no, at, value)
                for row, at, value in table_edits(form.names, body, here)
            ]
        for no, at, value in changed:
            sheet.cell(no, at + 1, value)
        done = done or bool(changed)
    if not done:
        raise NotWritableError("its numbers stand in cells that cannot be changed")
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
