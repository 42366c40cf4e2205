"""Cuts the sources of a bulk run into parts: which rows or files belong to which."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import csv_rows
from pipeline.bulk.files import table_at, write_problems, write_query
from pipeline.bulk.source import Source, key_query, repaired, rows_query, utf8_copy
from pipeline.bulk.store import Store
from pipeline.problems import Problem, input_problem
from pipeline.resources import sql

if TYPE_CHECKING:
    import duckdb

LINES_A_RECIPE = 20
#: Characters of a row that stand for one line, where rows are recipes.
CHARS_A_LINE = 60

#: Source, part, place of its first recipe in the source, rows.
Part = tuple[int, int, int, int]


def cut(
    con: duckdb.DuckDBPyConnection, work: Store, sources: Sequence[Source], part_recipes: int
) -> list[Part]:
    """Rows of every streamed source with the part they belong to; parts of all sources in order."""
    if work.exists("parts.json"):
        return [(a, b, c, d) for a, b, c, d in json.loads(work.read_text("parts.json"))]
    parts: list[Part] = []
    problems: list[Problem] = []
    for number, source in enumerate(sources):
        first = len(parts)
        if source.kind == "files":
            parts.append((number, first, 0, len(source.paths)))
            continue
        cut, found = _cut_source(con, work, source, number, first, part_recipes)
        parts += cut
        problems += found
    write_problems(con, work, "in/cut.parquet", problems)
    work.write_text("parts.json", json.dumps(parts))
    return parts


def _cut_source(
    con: duckdb.DuckDBPyConnection, work: Store, source: Source, number: int, first: int,
    part_recipes: int,
) -> tuple[list[Part], list[Problem]]:  # fmt: skip
    import tempfile

    import duckdb

    name = f"rows/{number:04d}.parquet"
    path = Path(source.paths[0])
    with contextlib.ExitStack() as stack:
        if source.encoding:
            made = stack.enter_context(
                tempfile.TemporaryDirectory(prefix=".utf8-", dir=_near(work))
            )
            path = Path(made) / "utf8.csv"
            utf8_copy(source, path)
        faults: list[csv_rows.Fault] = []
        if source.kind == "csv":
            folder = stack.enter_context(
                tempfile.TemporaryDirectory(prefix=".rows-", dir=_near(work))
            )
            path, faults = repaired(source, path, Path(folder) / "rows.csv")
        try:
            con.execute(
                f"create or replace temp table raw as {rows_query(source)}", {"path": str(path)}
            )
        except duckdb.Error as fault:
            if not isinstance(fault, (duckdb.InvalidInputException, duckdb.ConversionException)):
                raise
            return [], [_unreadable(source, fault)]
    found = [*csv_rows.problems_of(faults, source.source), *_rejected(con, source)]
    key = key_query(source)
    columns = ", ".join(f"raw.c{at}" for at in range(len(source.columns)))
    texts = " + ".join(f"coalesce(length(c{at}::varchar), 0)" for at in range(len(source.columns)))
    query = sql("bulk_cut_tidy" if key else "bulk_cut_rows") + sql("bulk_cut_parts")
    above = {"csv": source.lead + 2, "jsonl": 1}.get(source.kind, 0)
    lines_a_part = part_recipes * LINES_A_RECIPE
    values = {
        "$key": key, "$columns": columns, "$chars": texts, "$first": str(first),
        "$recipes_a_part": str(part_recipes),
        "$size_a_part": str(lines_a_part if key else lines_a_part * CHARS_A_LINE),
        "$source_line": source_line(above, _breaks(con, source)), "$filled": _filled(source),
    }  # fmt: skip
    for word in sorted(values, key=len, reverse=True):
        query = query.replace(word, values[word])
    write_query(con, work, name, query, ", row_group_size 20000")
    con.execute("drop table raw")
    rows = con.execute(
        f"select part, min(recipe_no), count(*) from {table_at(work, name)} group by part"
        " order by part"
    ).fetchall()
    if not rows:
        file = Path(source.source).name
        found.append(input_problem("no-recipe/rows", source=source.source, file=file))
    return [(number, int(p), int(r), int(n)) for p, r, n in rows], found


def _near(work: Store) -> str | None:
    return None if work.remote else work.root


def _filled(source: Source) -> str:
    """SQL for whether a row of a table holds anything; a line of JSON lines always counts."""
    if source.kind == "jsonl":
        return "true"
    cells = (f"trim(coalesce(c{at}::varchar, '')) <> ''" for at in range(len(source.columns)))
    return f"({' or '.join(cells)})"


def source_line(above: int, breaks: str) -> str:
    """SQL for the line of the file in which a row begins.

    Args:
        above: line of the first row; 0 for Parquet.
        breaks: SQL for the line breaks inside a row's cells.
    """
    before = "rows between unbounded preceding and 1 preceding"
    return (
        f"raw.row_no + {above}"
        f" + coalesce(sum({breaks}) over (order by raw.row_no {before}), 0)::bigint"
    )


def _breaks(con: duckdb.DuckDBPyConnection, source: Source) -> str:
    """SQL for the line breaks inside a row's cells; a constant where no cell has any."""
    if source.kind != "csv":
        return "0"
    cells = [f"c{at}" for at in range(len(source.columns))]
    any_break = " or ".join(f"contains({c}, chr(10))" for c in cells)
    row = con.execute(f"select bool_or({any_break}) from raw").fetchone()
    if not row or not row[0]:
        return "0"
    return " + ".join(
        f"coalesce(length({c}) - length(replace({c}, chr(10), '')), 0)" for c in cells
    )


def _rejected(con: duckdb.DuckDBPyConnection, source: Source) -> list[Problem]:
    """Rows of a CSV file that could not be read."""
    if source.kind != "csv":
        return []
    from pipeline.intake.tables.table import rejected_rows

    found = rejected_rows(con, source.source)
    for table in ("reject_errors", "reject_scans"):
        con.execute(f"drop table if exists {table}")
    return found


def _unreadable(source: Source, fault: Exception) -> Problem:
    codes = {"csv": "csv-invalid", "parquet": "parquet-invalid/large"}
    return input_problem(
        codes.get(source.kind, "json-invalid/large"), source=source.source,
        file=Path(source.source).name, why=str(fault).partition("\n")[0][:200],
    )  # fmt: skip
