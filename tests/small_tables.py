"""Small tables for tests of single SQL files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import duckdb

from pipeline.resources import sql


def given(con: duckdb.DuckDBPyConnection, name: str, columns: str, *rows: Sequence[Any]) -> None:
    """Make a table ``name`` with columns as in ``create table`` and fill it."""
    con.execute(f"create or replace table {name} ({columns})")
    for row in rows:
        con.execute(f"insert into {name} values ({', '.join('?' * len(row))})", list(row))


def rows_of(
    con: duckdb.DuckDBPyConnection, name: str, *columns: str, **params: Any
) -> list[tuple[Any, ...]]:
    """Rows of the query ``sql/NAME.sql``, some of its columns, in its order."""
    found = con.execute(sql(name), params) if params else con.execute(sql(name))
    names = [column[0] for column in found.description or []]
    places = [names.index(column) for column in columns or names]
    return [tuple(row[place] for place in places) for row in found.fetchall()]
