"""Frames to plain rows."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]


def records(frame: pd.DataFrame, *missing: Any) -> list[Row]:
    """Rows as dicts of plain values.

    Args:
        missing: what stands for a missing value; by default NaN among numbers and "" among texts.
    """
    columns: dict[str, list[Any]] = {}
    for name in frame.columns:
        column = frame[name]
        values = column.to_numpy(dtype=object, copy=True)
        gap = missing or (math.nan if column.dtype.kind in "iufb" else "",)
        values[column.isna().to_numpy()] = gap[0]
        columns[str(name)] = values.tolist()
    names = list(columns)
    return [dict(zip(names, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def by_recipe(frame: pd.DataFrame) -> dict[str, list[Row]]:
    """Rows by recipe_id, in their order; rows of no recipe are left out."""
    out: dict[str, list[Row]] = {}
    for row in records(frame):
        if row.get("recipe_id"):
            out.setdefault(row["recipe_id"], []).append(row)
    return out


def text_of(value: Any) -> str:
    """A cell as text; "" for a missing one."""
    return "" if value is None or value != value else str(value)
