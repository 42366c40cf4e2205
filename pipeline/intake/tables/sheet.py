"""Spreadsheets (.xlsx): a table a sheet (tidy or wide), or a recipe card laid out in cells."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from itertools import starmap
from pathlib import Path
from typing import Any

from pipeline.intake.by_content import read_by_content
from pipeline.intake.documents.places import take
from pipeline.intake.files import MIB
from pipeline.intake.model import Read, cut
from pipeline.intake.tables.card_rows import Row, block_lines, joined, list_lines, spaced
from pipeline.intake.tables.card_rows import shown_cell as shown_cell
from pipeline.intake.tables.grid import better_reading
from pipeline.intake.tables.layout import Form, layout_of, table_form
from pipeline.intake.tables.panels import beside_blocks, is_panel, strips
from pipeline.intake.tables.table import columns_of, read_columns
from pipeline.intake.text.card import CardLine, read_cards
from pipeline.problems import Problem, input_problem

MAX_UNPACKED = 300 * MIB
MAX_RATIO = 300
MAX_ENTRIES = 5_000
MAX_ROWS = 1_000_000
MAX_CELLS = 200
_EMPTY_ROWS = 500  # a sheet is over after so many empty rows
_HEADER_ROWS = 12


def read_sheet(path: Path, source: str) -> Read:
    """Recipes of a workbook; never raises. Formulas give the value stored beside them."""
    read = Read(found="a spreadsheet")
    refused = _refused(path, source)
    if refused is not None:
        read.problems.append(refused)
        return read
    import openpyxl

    try:
        book = openpyxl.load_workbook(path, read_only=True, data_only=True, keep_links=False)
        try:
            for sheet in book.worksheets:
                if getattr(sheet, "sheet_state", "visible") == "visible":
                    rows = list(sheet_rows(sheet))
                    first = len(read.recipes)
                    read_sheet_rows(rows, str(sheet.title), source, read)
                    better = better_reading(rows, "xlsx", read.recipes[first:])
                    if better:
                        del read.recipes[first:]
                        take(read, Read(better))
        finally:
            book.close()
    except Exception as fault:  # openpyxl raises whatever a broken part makes it trip over
        read.problems.append(
            input_problem(
                "xlsx-invalid", source=source, why=cut(f"{type(fault).__name__}: {fault}", 160)
            )
        )
    return read


def _refused(path: Path, source: str) -> Problem | None:
    """A workbook is a zip archive: refuse one that unpacks to more than it should."""
    try:
        with zipfile.ZipFile(path) as archive:
            entries = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError) as fault:
        return input_problem("xlsx-invalid/zip", source=source, why=cut(str(fault), 160))
    unpacked = sum(e.file_size for e in entries)
    packed = sum(e.compress_size for e in entries) or 1
    if (
        unpacked > MAX_UNPACKED
        or len(entries) > MAX_ENTRIES
        or (unpacked > 20 * MIB and unpacked / packed > MAX_RATIO)
    ):
        return input_problem(
            "xlsx-bomb", source=source, unpacked=unpacked / MIB, packed=packed / MIB
        )
    return None


def sheet_rows(sheet: Any) -> Iterator[Row]:
    empty = 0
    for no, row in enumerate(sheet.iter_rows(values_only=True, max_col=MAX_CELLS), start=1):
        cells = list(row)
        while cells and (cells[-1] is None or cells[-1] == ""):
            cells.pop()
        if not cells:
            empty += 1
            if empty > _EMPTY_ROWS:
                return
            continue
        empty = 0
        yield no, cells
        if no >= MAX_ROWS:
            return


def read_sheet_rows(rows: list[Row], name: str, source: str, read: Read) -> None:
    """Add the recipes of a sheet: those of its strips, and numbers beside them to their own.

    Where it has several strips, the numbers get no row, as no row is one recipe's: they are not
    corrected in a copy.
    """
    parts, first = strips(rows), len(read.recipes)
    alone = len(parts) == 1
    while parts:
        strip = parts.pop(0)
        beside = []
        while parts and is_panel(parts[0]):
            beside.append(parts.pop(0))
        _read_strip(strip, beside, name, source, read)
    for one in (s for recipe in read.recipes[first:] if not alone for s in recipe.stated):
        one.source_line = None


def _read_strip(
    rows: list[Row], panels: list[list[Row]], name: str, source: str, read: Read
) -> None:
    """Add the recipes of a table, of a card above a small table, or of a card in cells."""
    found = _header(rows)
    if panels:
        rows = _with_panels(rows, panels, found)
        found = _header(rows)
    if found is None:
        lines = [CardLine(no, joined(cells)) for no, cells in spaced(rows)]
        take(read, read_cards(lines, source, format="xlsx"))
        return
    at, form = found
    layout = layout_of(form.names)
    if not form.blocks and layout is not None and layout.roles.keys() & {"title", "id"}:
        columns = columns_of([cells for _, cells in rows[at + 1 :]], len(form.names))
        numbers = [no for no, _ in rows[at + 1 :]]
        take(
            read,
            read_columns(
                form.names, form.lined(columns[: len(form.names)]), numbers, format="xlsx"
            ),
        )
    else:
        head = [CardLine(no, joined(cells)) for no, cells in spaced(rows[:at])]
        below = list(spaced(rows[at:]))[1:]
        if form.blocks:
            lines = [*head, *block_lines(form.names, below)]
        else:
            head = head or [CardLine(1, name)]
            lines = [*head, *list_lines(form.names, rows[at][0], below)]
        take(read, read_cards(lines, source, format="xlsx"))
    read.problems.extend(starmap(read_by_content, form.renamed))


def _with_panels(
    rows: list[Row], panels: list[list[Row]], found: tuple[int, Form] | None
) -> list[Row]:
    """A strip with the numbers that stand beside it: as columns of a table, else below the card."""
    layout = layout_of(found[1].names) if found is not None and not found[1].blocks else None
    for panel in panels:
        if found is not None and layout is not None and "title" in layout.roles:
            rows = beside_blocks(rows, found[0], layout.roles["title"], panel)
        else:
            below = rows[-1][0] + 2 if rows else 0
            rows = [*rows, *((no + below, cells) for no, cells in panel)]
    return rows


def _header(rows: list[Row]) -> tuple[int, Form] | None:
    """Index of the row that names the columns, and how the rows below it are read."""
    for at, (_, cells) in enumerate(rows[:_HEADER_ROWS]):
        if len(cells) > 1 and layout_of(["" if c is None else c for c in cells]) is not None:
            form = table_form(cells, [below for _, below in spaced(rows[at + 1 :])])
            if form is not None:
                return at, form
    return None


def table_head(rows: list[Row]) -> int | None:
    """Index of the header row of a sheet that is a table of recipes, known by its names alone."""
    found = _header(rows)
    if (
        found is None
        or found[1].blocks
        or found[1].names != [str(c or "") for c in rows[found[0]][1]]
    ):
        return None
    layout = layout_of(found[1].names)
    return found[0] if layout is not None and layout.roles.keys() & {"title", "id"} else None
