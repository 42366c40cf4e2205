"""CSV, Parquet and JSON of the result tables.

CSV is UTF-8 without a byte order mark, comma-separated, one header row. Missing is blank; numbers
are rounded to four decimals and never quoted. A spreadsheet takes a cell that starts with ``=``,
``+``, ``-`` or ``@`` for a formula, so a *text* cell that does (or that starts with a tab or a
carriage return) gets one apostrophe in front; a cell that starts with apostrophes before such a
character gets one more, so taking one apostrophe off always gives the text back. Number columns
keep their minus signs. Parquet and JSON hold the text as it is and numbers unrounded.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from pipeline.report.tables import SQL_TYPE

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.report.tables import Kind, Table

#: What a spreadsheet may run, full-width forms included; a lone sign is no formula.
_FORMULA = r"^'*[=+\-@\t\r＝＋－＠](.|\n)"
_DECIMALS = 4
_CHUNK = 20_000


def neutral(text: str) -> str:
    """The text as a CSV cell holds it."""
    return "'" + text if re.match(_FORMULA, text) else text


def csv_query(kinds: dict[str, Kind], source: str) -> str:
    """SQL for the rows of ``source`` as a CSV file holds them.

    Args:
        kinds: column to kind.
        source: a table, or a table function, of SQL.
    """
    formula = "'" + _FORMULA.replace("'", "''") + "'"
    cells = []
    for column, kind in kinds.items():
        name = _quoted(column)
        if kind == "text":
            text = f"nullif(cast({name} as varchar), '')"
            cells.append(
                f"case when regexp_matches({text}, {formula}) then '''' || {text} else {text} end"
                f" as {name}"
            )
        elif kind == "float":
            cells.append(f"round(cast({name} as double), {_DECIMALS}) as {name}")
        else:
            cells.append(f"cast({name} as {SQL_TYPE[kind]}) as {name}")
    return f"select {', '.join(cells)} from {source}"


def write_csv(con: duckdb.DuckDBPyConnection, table: Table, path: Path) -> None:
    """Write one table; the module says how cells are written.

    Raises:
        OSError, duckdb.Error: the file cannot be written.
    """
    query = csv_query(table.kinds, "result_table")
    how = "format csv, header true, delimiter ',', quote '\"'"
    _copy(con, table.frame, query, path, how)


def write_parquet(
    con: duckdb.DuckDBPyConnection, table: Table, path: Path, packed: str = "zstd"
) -> None:
    """Write one table with its types; text is never altered. ``packed``: DuckDB's compression.

    Raises:
        OSError, duckdb.Error: the file cannot be written.
    """
    cells = ", ".join(
        f"cast({_quoted(c)} as {SQL_TYPE[kind]}) as {_quoted(c)}" for c, kind in table.kinds.items()
    )
    query = f"select {cells} from result_table"
    _copy(con, table.frame, query, path, f"format parquet, compression {packed}")


def _copy(
    con: duckdb.DuckDBPyConnection, result_table: pd.DataFrame, query: str, path: Path, how: str
) -> None:
    """Write what a query gives; DuckDB finds ``result_table`` by its name here."""
    target = str(path).replace("'", "''")
    con.execute(f"copy ({query}) to '{target}' ({how}, use_tmp_file false)")


def _quoted(column: str) -> str:
    return '"' + column.replace('"', '""') + '"'


def write_json(tables: list[Table], head: dict[str, Any], path: Path) -> None:
    """One object: ``head``, then every table as an array of objects under its name.

    Missing is null, and so is an infinite number (an ``allowed`` without limit): JSON has none.

    Raises:
        OSError: the file cannot be written.
    """
    with path.open("w", encoding="utf-8", newline="\n") as out:
        start = json.dumps(head, ensure_ascii=False, indent=1, allow_nan=False, default=str)
        out.write(start.rstrip().removesuffix("}").rstrip())
        for table in tables:
            out.write(f",\n {json.dumps(table.name)}: [")
            _rows(table, out)
            out.write("]")
        out.write("\n}\n")


def _rows(table: Table, out: TextIO) -> None:
    for start in range(0, len(table.frame), _CHUNK):
        part = table.frame.iloc[start : start + _CHUNK]
        text = part.to_json(orient="records", force_ascii=False, double_precision=10)
        out.write(",\n" if start else "\n")
        out.write(text[1:-1].replace("\\/", "/"))
