"""Where the files that travel with the code are: ``sql/``, ``shared/`` and ``data/``.

In a checkout they stand beside ``pipeline/``; in an installed wheel inside it, under
``pipeline/_bundled/``. Nothing else in the code knows which of the two it is.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_BUNDLED = _PACKAGE / "_bundled"
ROOT = _BUNDLED if _BUNDLED.is_dir() else _PACKAGE.parent


def sql_path(name: str) -> Path:
    """Path of ``sql/NAME.sql``."""
    return ROOT / "sql" / f"{name}.sql"


@cache
def sql(name: str) -> str:
    """Text of ``sql/NAME.sql``; the header comment states in, out, grain and params."""
    return sql_path(name).read_text(encoding="utf-8")


def shared_path(name: str) -> Path:
    """Path of a table or schema people may edit, e.g. ``tolerances.csv``."""
    return ROOT / "shared" / name


def data_path(name: str) -> Path:
    """Path below ``data/``, e.g. ``sr28`` or ``demo``."""
    return ROOT / "data" / name


def shared_rows(name: str) -> Iterator[dict[str, str]]:
    """Rows of a ``shared/*.csv`` as text; an empty cell is ``""``, never a number or NaN."""
    with shared_path(name).open(encoding="utf-8", newline="") as handle:
        rows = csv.reader(handle)  # a DictReader takes three times as long, at every start
        columns = next(rows)
        for row in filter(None, rows):
            yield dict(zip(columns, row, strict=True))


@cache
def column_of(name: str, key: str, value: str) -> dict[str, str]:
    """One column of a ``shared/*.csv`` by another one."""
    return {row[key]: row[value] for row in shared_rows(name)}


@cache
def word_lists(name: str) -> dict[str, tuple[str, ...]]:
    """Lists of words of a ``shared/*.csv`` with columns ``list`` and ``words``, by name.

    Args:
        name: of the file; words stand between semicolons.
    """
    return {row["list"]: tuple(row["words"].split(";")) for row in shared_rows(name)}
