"""Corrected numbers in the cells of tables: CSV, Parquet, and what sheets need."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
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


@dataclass(slots=True)
class Cells:
    """What to put into the body of a table.

    Attributes:
        set: (row, column, value) of columns there are.
        names: of new columns.
        new: (row, index into ``names``, value).
    """

    set: list[tuple[int, int, Any]] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    new: list[tuple[int, int, Any]] = field(default_factory=list)


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


def table_edits(header: Sequence[object], rows: Sequence[Sequence[Any]], wanted: Wanted) -> Cells:
    """The cells that put the numbers into a table, tidy or wide.

    Raises:
        NotWritableError: the header is not that of a table of recipes.
    """
    layout = table.layout_of(header)
    if layout is None:
        raise NotWritableError("its header is no longer known")
    columns = table.columns_of(rows, len(header))
    members = dict(enumerate(table.recipe_rows(layout, columns)))
    read = table.read_columns(header, columns, range(len(rows)), format="").recipes
    made = Cells()
    for position, values in wanted.items():
        mine = members.get(position, [])
        left = Left(values)
        for at, column in layout.nutrients.items():
            if column.tag not in values:
                continue
            filled = {
                row_at: old for row_at in mine if (old := _cell(rows, row_at, at)) not in _NONE
            }
            stating = {one.source_line for one in read[position].stated}
            once = len(set(filled.values())) == 1  # else the other rows tell of ingredients
            for row_at, old in filled.items() or [(mine[0], "")] if mine else ():
                if once or not filled or row_at in stating:
                    made.set.append((row_at, at, like(old, column, values[column.tag])))
                    left.done([column.tag])
        set_rows = {row_at for row_at, at, _ in made.set if at in layout.nutrients}
        text_at = layout.roles.get("stated", -1)
        for row_at in mine if text_at >= 0 and left else ():
            old = rows[row_at][text_at] if text_at < len(rows[row_at]) else None
            if isinstance(old, str) and old.strip():
                here = Left(values)
                made.set.append((row_at, text_at, here.text(old)))
                left.done(values.keys() - here.keys())
        facts = layout.kind == "tidy" and text_at < 0
        beside = [one for one in read[position].stated if one.source_line not in set_rows]
        for row_at, stated in groupby(beside, key=lambda one: one.source_line) if facts else ():
            if row_at is not None:
                here = Left(values)
                edits = list(row_edits(rows[row_at], list(stated), here))
                made.set += [(row_at, at, new) for at, new in edits]
                left.done(values.keys() - here.keys())
        for tag, value in left.items() if mine else ():
            name = column_for(tag)
            if name not in made.names:
                made.names.append(name)
            made.new.append((mine[0], made.names.index(name), json_number(value)))
    return made


_NONE = (None, "")


def _cell(rows: Sequence[Sequence[Any]], row: int | None, at: int) -> Any:
    return rows[row][at] if row is not None and at < len(rows[row]) else None


def edit_csv(original: Original, wanted: Wanted) -> bytes:
    """The text with the numbers in its cells; every other character stays as it was."""
    text = original.text
    recipes = read_text(text, original.source).recipes
    form = form_of(text)
    gridded = any(one.column is not None for recipe in recipes for one in recipe.stated)
    mark = form.delimiter if form is not None else delimiters(text[:65536])[0]
    places = {text.count("\n", 0, row[0][0]) + 1: row for row in _places(text, mark)}
    cells = {no: [_inside(text[a:b]) for a, b in row] for no, row in places.items()}
    edits: list[Edit] = []
    if form is None or form.blocks or gridded:
        made = Cells(list(placed_edits(recipes, cells, wanted)))
        numbers: Sequence[int] = range(max(cells, default=0) + 1)
    else:
        first, *numbers = (no for no in cells if no > form.lead)
        made = table_edits(form.names, [cells[no] for no in numbers], wanted)
        values = {(row, at): str(new) for row, at, new in made.new}
        for row_at, no in enumerate([first, *numbers] if made.names else (), start=-1):
            new = [values.get((row_at, at), "") for at in range(len(made.names))]
            more = [
                *[""] * (len(cells[first]) - len(cells[no])),
                *(made.names if row_at < 0 else new),
            ]
            end = places[no][-1][1]
            edits.append((end, end, "".join(mark + cell for cell in more)))
    if not made.set and not edits:
        raise NotWritableError("its numbers stand in cells that cannot be changed")
    for row_at, at, value in made.set:
        start, end = places[numbers[row_at]][at]
        edits.append((start, end, _quoted(str(value), mark, text[start : start + 1])))
    return as_saved(apply_edits(text, edits), original.data).encode("utf-8")


def _inside(cell: str) -> str:
    """What a cell of a CSV holds."""
    return cell[1:-1].replace('""', '"') if cell.startswith('"') else cell


def _quoted(cell: str, delimiter: str, first: str) -> str:
    """A cell as a CSV holds it, in quotes where it was or has to be."""
    needed = first == '"' or any(mark in cell for mark in (delimiter, '"', "\n"))
    return '"' + cell.replace('"', '""') + '"' if needed else cell


def with_cells(text: str, position: int, role: str, value: str) -> str | None:
    """A CSV text with the cells of one column changed in a recipe's rows, all else as it stands.

    Args:
        text: the file's.
        position: of the recipe in the file.
        role: what the column holds, as ``tables.table.layout_of`` names it: ``servings``, ``yield_g``.
        value: of the cells that are not empty; of the first row when all are.

    Returns:
        None when the text is no table of recipes or has no such column.
    """
    form = form_of(text)
    if form is None or form.blocks or form.lead:
        return None
    places = list(_places(text, form.delimiter))
    cells = [[_inside(text[a:b]) for a, b in row] for row in places]
    layout = table.layout_of(form.names) if cells else None
    at = layout.roles.get(role) if layout is not None else None
    if layout is None or at is None:
        return None
    rows = table.recipe_rows(layout, table.columns_of(cells[1:], len(cells[0])))
    mine = [n + 1 for n in dict(enumerate(rows)).get(position, []) if at < len(cells[n + 1])]
    filled = [n for n in mine if cells[n][at].strip()] or mine[:1]
    return apply_edits(text, [(*places[n][at], value) for n in filled])


def _places(text: str, delimiter: str) -> Iterator[list[tuple[int, int]]]:
    """Start and end of each cell of each row that is not blank, quotes in."""
    cell = re.compile(
        rf'("(?:[^"]|"")*+"|[^{re.escape(delimiter)}\r\n]*+)({re.escape(delimiter)}|\r?\n|\Z)'
    )
    row: list[tuple[int, int]] = []
    at = 0
    while at <= len(text):
        found = cell.match(text, at)
        if found is None:  # a quote that does not close: no table to edit
            return
        row.append(found.span(1))
        if found[2] != delimiter:
            if len(row) > 1 or row[0][0] < row[0][1]:
                yield row
            row = []
            if not found[2]:
                return
        at = found.end()


def edit_parquet(original: Original, wanted: Wanted) -> bytes:
    import tempfile

    import duckdb
    import pandas as pd

    con = duckdb.connect()
    try:
        con.execute(
            "create temp table now as select * from read_parquet($path, file_row_number = true)",
            {"path": str(original.path)},
        )
        result = con.execute("select * exclude (file_row_number) from now order by file_row_number")
        header = [str(d[0]) for d in result.description or ()]
        cells = table_edits(header, result.fetchall(), wanted)
        by_column: dict[str, list[tuple[int, Any]]] = {}
        for row_at, at, value in cells.set:
            by_column.setdefault(header[at], []).append((row_at, value))
        for row_at, at, value in cells.new:
            by_column.setdefault(cells.names[at], []).append((row_at, value))
        for name, values in by_column.items():
            con.register("edit", pd.DataFrame(values, columns=["row_at", "value"]))
            quoted = '"' + name.replace('"', '""') + '"'
            changed = f"now.* replace (coalesce(edit.value, now.{quoted}) as {quoted})"
            put = f"now.*, edit.value as {quoted}" if name in cells.names else changed
            con.execute(
                f"create or replace temp table now as select {put} from now"
                " left join edit on edit.row_at = now.file_row_number"
            )
        with tempfile.TemporaryDirectory() as folder:
            target = Path(folder) / "copy.parquet"
            quoted_target = str(target).replace("'", "''")
            con.execute(
                "copy (select * exclude (file_row_number) from now order by file_row_number)"
                f" to '{quoted_target}' (format parquet)"
            )
            return target.read_bytes()
    except duckdb.Error as fault:
        raise NotWritableError(cut(str(fault), 160)) from fault
    finally:
        con.close()
