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
from pipeline.intake.tables.card_rows import Row, is_titled, spaced, table_lines, text_lines
from pipeline.intake.tables.card_rows import shown_cell as shown_cell
from pipeline.intake.tables.grid import better_reading, find_header
from pipeline.intake.tables.layout import lists_more, without_foot
from pipeline.intake.tables.number_parts import headed, named_above
from pipeline.intake.tables.number_rows import numbers_of
from pipeline.intake.tables.stacked import several_tables
from pipeline.intake.tables.table import names_titles, says_more, titled_rows
from pipeline.intake.text.card import read_cards
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.unread import columns_in, unread
from pipeline.problems import Problem, input_problem

MAX_UNPACKED = 300 * MIB
MAX_RATIO = 300
MAX_ENTRIES = 5_000
MAX_ROWS = 1_000_000
MAX_CELLS = 200
_EMPTY_ROWS = 500  # a sheet is over after so many empty rows


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
                    found = read_sheet_rows(rows, str(sheet.title), source)
                    found.problems += unread(columns_in(rows), found)
                    take(read, found)
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


def read_sheet_rows(rows: list[Row], name: str, source: str, format: str = "xlsx") -> Read:
    """Recipes of a sheet: of a table, of a card above a small table, of a card in cells, or as the
    grid that it is is read best."""
    read = Read()
    rows = named_above(headed(without_foot(rows)))
    if not rows:
        return read
    if (several := several_tables(rows, format)) is not None:
        return several
    found = find_header(rows)
    lines: list[CardLine] = []
    if found is None:
        lines = text_lines(spaced(rows))
        read = read_cards(lines, source, format=format)
    elif is_titled(found[1]):
        at, form = found
        read = titled_rows(rows[at + 1 :], form, format)
    else:
        at, form = found
        lines = table_lines(form, rows[at:], rows[:at])
        read = read_cards(lines, source, format=format)
    told = found is not None and (found[1].renamed or lists_more(found[1].names))
    titled = bool(read.recipes and read.recipes[0].title) and not (
        found is not None and is_titled(found[1]) and not names_titles(found[1])
    )
    if told and not any(says_more(recipe, titled=titled) for recipe in read.recipes):
        read.listed, read.recipes = read.recipes, []  # to shop by, or of what is in stock
    if (
        read.recipes
        and not (read.recipes[0].title or read.recipes[0].own_id)
        and (found is None or not is_titled(found[1]))
    ):
        title = CardLine(rows[0][0], name, begins=True, role="title")
        read = read_cards([title, *lines], source, format=format)
    for recipe in read.recipes[:1]:
        recipe.title = recipe.title or (name if not recipe.own_id else "")
    if best := better_reading(rows, format, read.recipes, as_text=found is None):
        read.recipes = best
    elif found is not None and read.recipes:
        read.problems.extend(starmap(read_by_content, found[1].renamed))
    read.apart = numbers_of(rows, format, read.recipes)
    return read
