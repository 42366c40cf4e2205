"""Corrected numbers in the cells of tables: CSV, Parquet, and what sheets need."""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from itertools import groupby
from pathlib import Path
from typing import Any

from pipeline.intake.amounts import Amount, read_amount
from pipeline.intake.columns import NutrientColumn
from pipeline.intake.model import RawRecipe, RawStated, cut
from pipeline.intake.numbers import is_kj
from pipeline.intake.reading import read_text
from pipeline.intake.stated_line import all_found
from pipeline.intake.tables import table
from pipeline.intake.tables.card_rows import shown_cell
from pipeline.intake.tables.layout import delimiters, form_of
from pipeline.publish.numbers import (
    Left,
    NotWritableError,
    Original,
    Wanted,
    as_saved,
    bare,
    column_for,
    json_number,
    like,
)
from pipeline.publish.restate import restate_line
from pipeline.publish.yaml_text import Edit, apply_edits

#: A cell of a table and what to put there: row from 0 (-1 is the header), column, value.
CellEdit = tuple[int, int, Any]


def row_edits(
    cells: Sequence[Any], stated: Sequence[RawStated], left: Left
) -> Iterator[tuple[int, Any]]:
    """The cells of a row that state numbers, with others in their place, which then leave ``left``.

    A number stands in the cell where its column begins, or behind, where the text of the row says
    what it is: each energy once, and the first of any other nutrient.
    """
    first = min(one.column or 0 for one in stated)
    for one in stated:
        at = one.column or 0
        alone = one.column is not None and at < len(cells) and len(all_found(str(cells[at]))) < 2
        for salt in (False, True) if alone and one.nutrient in left else ():
            read = read_amount(cells[at], one.nutrient, salt=salt)
            if isinstance(read, Amount) and abs(read.amount - one.amount) < _SAME:
                column = NutrientColumn(one.nutrient, "", salt and one.nutrient == "NA", None)
                yield at, like(cells[at], column, left.pop(one.nutrient))
                break
    texts = [shown_cell(c) if c is not None and str(c).strip() else "" for c in cells[first:]]
    starts = [sum(len(text) + 1 for text in texts[:at] if text) for at in range(len(texts))]
    seen: set[tuple[str, bool]] = set()
    values = dict(left)
    for found in all_found(" ".join(filter(None, texts))):
        key = (found.tag, is_kj(found.unit))
        if found.tag not in values or key in seen:
            continue
        seen.add(key)
        at = max(n for n, at in enumerate(starts) if at <= found.number_span[0] and texts[n])
        column = NutrientColumn(found.tag, found.unit.lower(), found.salt, None)
        several = not bare(texts[at]) and len(all_found(texts[at])) > 1
        old, value = cells[first + at], values[found.tag]
        yield (
            first + at,
            restate_line(texts[at], values)[0] if several else like(old, column, value),
        )
        left.done([found.tag])


#: By how much two readings of one number may differ.
_SAME = 1e-6


def placed_edits(
    recipes: Sequence[RawRecipe], rows: Mapping[int, Sequence[Any]], wanted: Wanted
) -> Iterator[tuple[int, int, Any]]:
    """Number of a row, column and value of the cells that state the numbers of recipes of a grid."""
    for recipe in recipes:
        left = Left(wanted.get(recipe.position, {}))
        for no, stated in groupby(recipe.stated, key=lambda one: one.source_line):
            if no in rows and left:
                yield from ((no, at, new) for at, new in row_edits(rows[no], list(stated), left))


def table_edits(
    header: Sequence[object], rows: Sequence[Sequence[Any]], wanted: Wanted
) -> list[CellEdit]:
    """The cells that put the numbers into a table, tidy or wide; new columns stand after the others.

    Raises:
        NotWritableError: the header is not that of a table of recipes.
    """
    layout = table.layout_of(header)
    if layout is None:
        raise NotWritableError("its header is no longer known")
    columns = table.columns_of(rows, len(header))
    members = dict(enumerate(table.recipe_rows(layout, columns)))
    read = table.read_columns(header, columns, range(len(rows)), format="").recipes
    made: list[CellEdit] = []
    new: dict[str, int] = {}
    for position, values in wanted.items():
        mine, left = members.get(position, []), Left(values)
        if not mine:
            continue
        stated = [one for one in read[position].stated if one.source_line is not None]
        stating = {one.source_line for one in stated}
        for at, column in layout.nutrients.items():
            if column.tag in values:
                for row_at in _stating_rows(columns[at], mine, stating):
                    made.append((row_at, at, like(columns[at][row_at], column, values[column.tag])))
                    left.done([column.tag])
        if (text_at := layout.roles.get("stated")) is not None:
            for row_at in mine if left else ():
                if isinstance(old := columns[text_at][row_at], str) and old.strip():
                    here = Left(values)
                    made.append((row_at, text_at, here.text(old)))
                    left.done(values.keys() - here.keys())
        elif layout.kind == "tidy":  # rows that state facts in place of foods
            told = {row_at for row_at, *_ in made}
            for row, of_row in groupby(stated, key=lambda one: one.source_line):
                if row is not None and row not in told:
                    here = Left(values)
                    made += [(row, *edit) for edit in row_edits(rows[row], list(of_row), here)]
                    left.done(values.keys() - here.keys())
        for tag, value in left.items():
            at = new.setdefault(column_for(tag), len(header) + len(new))
            made.append((mine[0], at, json_number(value)))
    return [*((-1, at, name) for name, at in new.items()), *made]


def _stating_rows(
    cells: Sequence[Any], mine: Sequence[int], stating: Container[int | None]
) -> list[int]:
    """The rows of a recipe whose cells hold its number; the first where none holds any."""
    filled = [at for at in mine if cells[at] not in (None, "")]
    if len({cells[at] for at in filled}) > 1:  # the other rows tell of ingredients
        return [at for at in filled if at in stating]
    return filled or list(mine[:1])


def edit_csv(original: Original, wanted: Wanted) -> bytes:
    """The text with the numbers in its cells; every other character stays as it was."""
    text = original.text
    recipes = read_text(text, original.source).recipes
    form = form_of(text)
    gridded = any(one.column is not None for recipe in recipes for one in recipe.stated)
    mark = form.delimiter if form is not None else delimiters(text[:65536])[0]
    places = dict(_places(text, mark))
    cells = {no: [_inside(text[a:b]) for a, b in row] for no, row in places.items()}
    if form is None or form.blocks or gridded:
        numbers: list[int] = []
        changed = list(placed_edits(recipes, cells, wanted))
    else:
        numbers = [no for no in cells if no > form.lead]
        made = table_edits(form.names, [cells[no] for no in numbers[1:]], wanted)
        changed = [(numbers[row + 1], at, value) for row, at, value in made]
    if not changed:
        raise NotWritableError("its numbers stand in cells that cannot be changed")
    by_row: dict[int, dict[int, str]] = {}
    for no, at, value in changed:
        by_row.setdefault(no, {})[at] = str(value)
    width = max(by_row.get(numbers[0], {}), default=-1) + 1 if numbers else 0
    edits: list[Edit] = []
    for no, row in places.items():
        new = by_row.get(no, {})
        to = max(width if numbers and no >= numbers[0] else 0, max(new, default=-1) + 1)
        more = [_quoted(new.get(at, ""), mark, "") for at in range(len(row), to)]
        edits.append(
            (row[-1][1], row[-1][1], "".join(mark + cell for cell in more))
        )  # before its last cell
        edits += [
            (*row[at], _quoted(value, mark, text[row[at][0] :][:1]))
            for at, value in new.items() if at < len(row)
        ]  # fmt: skip
    return as_saved(apply_edits(text, edits), original.data).encode("utf-8")


def _inside(cell: str) -> str:
    """What a cell of a CSV holds."""
    return cell[1:-1].replace('""', '"') if cell.startswith('"') else cell


def _quoted(cell: str, delimiter: str, first: str) -> str:
    """A cell as a CSV holds it, in quotes where it was or has to be."""
    needed = first == '"' or any(mark in cell for mark in (delimiter, '"', "\n"))
    return '"' + cell.replace('"', '""') + '"' if needed else cell


def with_cells(
    text: str, position: int, role: str, value: str | Callable[[str], str]
) -> str | None:
    """A CSV text with the cells of one column changed in a recipe's rows, all else as it stands.

    Args:
        position: of the recipe in the file.
        role: what the column holds, as ``tables.table.layout_of`` names it: ``servings``, ``yield_g``.
        value: of the cells that are not empty; of the first row when all are. Or what makes it of
            the cell as it is written, quotes in.

    Returns:
        None when the text is no table of recipes or has no such column.
    """
    form = form_of(text)
    if form is None or form.blocks or form.lead:
        return None
    places = list(dict(_places(text, form.delimiter)).values())
    cells = [[_inside(text[a:b]) for a, b in row] for row in places]
    layout = table.layout_of(form.names) if cells else None
    at = layout.roles.get(role) if layout is not None else None
    if layout is None or at is None:
        return None
    rows = table.recipe_rows(layout, table.columns_of(cells[1:], len(cells[0])))
    mine = [n + 1 for n in dict(enumerate(rows)).get(position, []) if at < len(cells[n + 1])]
    filled = [n for n in mine if cells[n][at].strip()] or mine[:1]
    spans = [places[n][at] for n in filled]
    new = [value if isinstance(value, str) else value(text[a:b]) for a, b in spans]
    return apply_edits(text, [(*span, cell) for span, cell in zip(spans, new, strict=True)])


def _places(text: str, delimiter: str) -> Iterator[tuple[int, list[tuple[int, int]]]]:
    """Line of each row that is not blank, and start and end of each of its cells, quotes in."""
    cell = re.compile(
        rf'("(?:[^"]|"")*+"|[^{re.escape(delimiter)}\r\n]*+)({re.escape(delimiter)}|\r?\n|\Z)'
    )
    row: list[tuple[int, int]] = []
    line, counted = 1, 0
    for found in cell.finditer(text):
        row.append(found.span(1))
        if found[2] == delimiter:
            continue
        if len(row) > 1 or row[0][0] < row[0][1]:
            line += text.count("\n", counted, row[0][0])
            counted = row[0][0]
            yield line, row
        row = []
        if not found[2]:
            return


def edit_parquet(original: Original, wanted: Wanted) -> bytes:
    import tempfile

    import duckdb
    import pandas as pd

    plain = "select * exclude (file_row_number) from now order by file_row_number"
    try:
        with duckdb.connect() as con, tempfile.TemporaryDirectory() as folder:
            con.execute(
                "create temp table now as select * from read_parquet($path, file_row_number = true)",
                {"path": str(original.path)},
            )
            result = con.execute(plain)
            header = [str(d[0]) for d in result.description or ()]
            edits = table_edits(header, result.fetchall(), wanted)
            names = [name for row, _, name in edits if row < 0]
            by_column: dict[str, list[tuple[int, Any]]] = {}
            for row_at, at, value in edits[len(names) :]:
                by_column.setdefault([*header, *names][at], []).append((row_at, value))
            for name, values in by_column.items():
                con.register("edit", pd.DataFrame(values, columns=["row_at", "value"]))
                quoted = '"' + name.replace('"', '""') + '"'
                changed = f"now.* replace (coalesce(edit.value, now.{quoted}) as {quoted})"
                put = f"now.*, edit.value as {quoted}" if name in names else changed
                con.execute(
                    f"create or replace temp table now as select {put} from now"
                    " left join edit on edit.row_at = now.file_row_number"
                )
            target = Path(folder) / "copy.parquet"
            con.sql(plain).write_parquet(str(target))
            return target.read_bytes()
    except duckdb.Error as fault:
        raise NotWritableError(cut(str(fault), 160)) from fault
