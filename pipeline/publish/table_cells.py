"""Corrected numbers in the cells of tables: CSV, Parquet, and what sheets need."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.intake.model import cut
from pipeline.intake.tables import table
from pipeline.publish.numbers import (
    Left,
    NotWritableError,
    Original,
    Wanted,
    column_for,
    json_number,
    like,
)
from pipeline.publish.yaml_text import apply_edits


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


def table_edits(header: Sequence[object], rows: Sequence[Sequence[Any]], wanted: Wanted) -> Cells:
    """The cells that put the numbers into a table, tidy or wide.

    Raises:
        NotWritableError: the header is not that of a table of recipes.
    """
    layout = table.layout_of(header)
    if layout is None:
        raise NotWritableError("its header is no longer known")
    members = dict(enumerate(table.recipe_rows(layout, table.columns_of(rows, len(header)))))
    made = Cells()
    for position, values in wanted.items():
        mine = members.get(position, [])
        left = Left(values)
        for at, column in layout.nutrients.items():
            if column.tag not in values:
                continue
            for row_at in mine:
                old = rows[row_at][at] if at < len(rows[row_at]) else None
                if old in (None, "") and row_at != mine[0]:
                    continue
                made.set.append((row_at, at, like(old, column, values[column.tag])))
                left.done([column.tag])
        text_at = layout.roles.get("stated", -1)
        for row_at in mine if text_at >= 0 and left else ():
            old = rows[row_at][text_at] if text_at < len(rows[row_at]) else None
            if isinstance(old, str) and old.strip():
                here = Left(values)
                made.set.append((row_at, text_at, here.text(old)))
                left.done(values.keys() - here.keys())
        for tag, value in left.items():
            name = column_for(tag)
            if name not in made.names:
                made.names.append(name)
            if mine:
                made.new.append((mine[0], made.names.index(name), json_number(value)))
    return made


def edit_csv(original: Original, wanted: Wanted) -> bytes:
    text = original.text
    delimiter = table.sniff_delimiter(text[:65536])
    if delimiter is None:
        raise NotWritableError("its header is no longer known")
    every = [r for r in csv.reader(io.StringIO(text.lstrip("\n ")), delimiter=delimiter) if r]
    header, rows = every[0], every[1:]
    cells = table_edits(header, rows, wanted)
    for row in rows:
        row.extend([""] * (len(header) - len(row) + len(cells.names)))
    for row_at, column, value in cells.set:
        rows[row_at][column] = str(value)
    for row_at, column, value in cells.new:
        rows[row_at][len(header) + column] = str(value)
    out = io.StringIO()
    end = "\r\n" if b"\r\n" in original.data[:100_000] else "\n"
    writer = csv.writer(out, delimiter=delimiter, lineterminator=end)
    writer.writerow([*header, *cells.names])
    writer.writerows([[cell.replace("\n", end) for cell in row] for row in rows])
    bom = b"\xef\xbb\xbf" if original.data.startswith(b"\xef\xbb\xbf") else b""
    return bom + out.getvalue().encode("utf-8")


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
    delimiter = table.sniff_delimiter(text[:65536])
    if delimiter is None:
        return None
    places = list(_places(text, delimiter))
    cells = [[text[a:b].strip('"').replace('""', '"') for a, b in row] for row in places]
    layout = table.layout_of(cells[0]) if cells else None
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
