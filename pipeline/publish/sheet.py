"""Corrected copies of spreadsheets: numbers in the cells they stood in."""

from __future__ import annotations

from typing import Any

from pipeline.intake.model import Read
from pipeline.intake.stated_line import all_found
from pipeline.intake.tables.sheet import read_sheet_rows, sheet_rows, shown_cell, table_head
from pipeline.publish.numbers import NotWritableError, Original, Wanted
from pipeline.publish.restate import restate_amount, restate_line, written_value
from pipeline.publish.table_cells import table_edits


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
        rows = list(sheet_rows(shown_sheet))
        read = Read()
        read_sheet_rows(rows, str(sheet.title), original.path.name, read)
        here = {
            at - first: v for at, v in wanted.items() if first <= at < first + len(read.recipes)
        }
        first += len(read.recipes)
        if not here:
            continue
        head = table_head(rows)
        if head is not None:
            no, cells = rows[head]
            width = len(cells)
            body = [(c + [None] * width)[:width] for _, c in rows[head + 1 :]]
            numbers = [n for n, _ in rows[head + 1 :]]
            edits = table_edits(cells, body, here)
            for row_at, column, value in edits.set:
                sheet.cell(numbers[row_at], column + 1, value)
            for at, name in enumerate(edits.names):
                sheet.cell(no, width + 1 + at, name)
            for row_at, column, value in edits.new:
                sheet.cell(numbers[row_at], width + 1 + column, value)
            done = True
            continue
        by_no = dict(rows)
        for recipe in read.recipes:
            left = dict(here.get(recipe.position, {}))
            for no in sorted({s.source_line for s in recipe.stated if s.source_line}):
                done = _edit_row(sheet, no, by_no.get(no, []), left) or done
    if not done:
        raise NotWritableError("its numbers stand in cells that cannot be changed")
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _edit_row(sheet: Any, no: int, cells: list[Any], left: dict[str, float]) -> bool:
    """Set the numbers of one row of a card: in their own cell, or within a text."""
    texts = [shown_cell(c) if c is not None and str(c).strip() else "" for c in cells]
    joined, starts = "", []
    for text in texts:
        joined += " " if joined and text else ""
        starts.append(len(joined))
        joined += text
    done = False
    for found in all_found(joined):
        if found.tag not in left:
            continue
        at = max(i for i, start in enumerate(starts) if start <= found.number_span[0] and texts[i])
        if isinstance(cells[at], (int, float)):
            number = written_value(left[found.tag], found.tag, found.unit, salt=found.salt)
            sheet.cell(no, at + 1, round(number, 2))
        else:
            sheet.cell(no, at + 1, restate_line(texts[at], left)[0] if len(texts[at]) > 12
                       else restate_amount(texts[at], found.tag, left[found.tag], salt=found.salt))  # fmt: skip
        done = True
    return done
