"""Spreadsheets (.xlsx): a table a sheet (tidy or wide), or a recipe card laid out in cells."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pipeline.intake.columns import nutrient_column
from pipeline.intake.files import MIB
from pipeline.intake.model import Read, cut
from pipeline.intake.tables.table import layout_of, read_rows
from pipeline.intake.text.card import CardLine, read_cards
from pipeline.intake.text.line_kinds import names_a_fact
from pipeline.problems import Problem, input_problem

MAX_UNPACKED = 300 * MIB
MAX_RATIO = 300
MAX_ENTRIES = 5_000
MAX_ROWS = 1_000_000
MAX_CELLS = 200
_EMPTY_ROWS = 500  # a sheet is over after so many empty rows
_HEADER_ROWS = 12

Row = tuple[int, list[Any]]


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
                    read_sheet_rows(rows, str(sheet.title), source, read)
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
    if not rows:
        return
    for at, (no, cells) in enumerate(rows[:_HEADER_ROWS]):
        layout = layout_of(["" if c is None else c for c in cells])
        if layout is None or (len(cells) < 2 and layout.kind == "tidy") or len(cells) < 2:
            continue
        if "title" in layout.roles or "id" in layout.roles:
            width = len(cells)
            body = [(c + [None] * width)[:width] for _, c in rows[at + 1 :]]
            found = read_rows(cells, body, format="xlsx", first_line=no + 1)
            _add(read, found)
            return
        _add(read, read_cards(_card_with_table(rows, at, name), source, format="xlsx"))
        return
    lines = [CardLine(no, joined(cells)) for no, cells in _spaced(rows)]
    _add(read, read_cards(lines, source, format="xlsx"))


def _spaced(rows: list[Row]) -> Iterator[Row]:
    """Rows with the empty ones between them, which part the blocks of a card."""
    last = 0
    for no, cells in rows:
        if last and no > last + 1:
            yield no - 1, []
        last = no
        yield no, cells


def _card_with_table(rows: list[Row], at: int, name: str) -> list[CardLine]:
    """A card whose ingredients stand in a small table under a header of their own."""
    head_no, header = rows[at]
    above = [CardLine(no, joined(cells)) for no, cells in _spaced(rows[:at])]
    if not above:
        above = [CardLine(1, name)]
    out = [*above, CardLine(head_no, "Ingredients")]
    width, last, inside = len(header), head_no, True
    for no, cells in rows[at + 1 :]:
        if no > last + 1 or not inside:
            if inside:
                out.append(CardLine(no - 1, ""))
            inside = False
        last = no
        if not inside:
            out.append(CardLine(no, joined(cells)))
            continue
        padded = (cells + [None] * width)[:width]
        made = read_rows(header, [padded], format="xlsx", first_line=no).recipes
        text = made[0].lines[0].text if made and made[0].lines else joined(cells)
        out.append(CardLine(no, text if len(cells) == 1 else f"- {text}"))
    return out


def joined(cells: list[Any]) -> str:
    """Cells of a row as one line: "Serves | 4" is "Serves 4", "Oats | 40 | g" is "40 g Oats"."""
    texts = [shown_cell(c) for c in cells if c is not None and str(c).strip()]
    if len(texts) == 2 and names_a_fact(texts[0]):
        return f"{texts[0].rstrip(': ')}: {texts[1]}"
    if len(texts) in (2, 3) and _AMOUNT.match(texts[1]) and not re.search(r"\d", texts[0]):
        unit = texts[2] if len(texts) == 3 else ""
        column = nutrient_column(texts[0])
        food = column is None or (column.tag in _ALSO_FOOD and bool(unit))
        if food and len(unit) <= 12 and not _NO_FOOD.search(texts[0]):
            return " ".join(part for part in (texts[1], unit, texts[0]) if part)
    return " ".join(texts)


_AMOUNT = re.compile(r"[\d½¼¾⅓⅔⅛.,/ -]+$")
_ALSO_FOOD = frozenset({"SUGAR", "NA", "WATER", "ALC"})
_NO_FOOD = re.compile(
    r"\b(?:serv\w*|portions?|makes?|yields?|time|minutes?|total|weight|recipe|date|page|id|source|by|"
    r"author|creator|temperature|oven|difficulty|calories|kcal|kj)\b",
    re.IGNORECASE,
)


def shown_cell(cell: Any) -> str:
    if isinstance(cell, float):
        return f"{cell:.10g}"
    return " ".join(str(cell).split()) if "\n" not in str(cell) else str(cell).replace("\n", "; ")


def _add(read: Read, found: Read) -> None:
    for recipe in found.recipes:
        recipe.position = len(read.recipes)
        read.recipes.append(recipe)
    read.problems.extend(found.problems)


def table_head(rows: list[Row]) -> int | None:
    """Index of the header row of a sheet that is a table of recipes."""
    for at, (_, cells) in enumerate(rows[:_HEADER_ROWS]):
        layout = layout_of(["" if c is None else c for c in cells])
        if layout is not None and len(cells) > 1:
            return at if "title" in layout.roles or "id" in layout.roles else None
    return None
