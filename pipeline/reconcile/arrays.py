"""Small steps over arrays that several modules of the stage take."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence


Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]


def ranges(start: Ints, size: Ints) -> Ints:
    """``start, start + 1 ... start + size - 1`` of each pair, one after the other."""
    before = np.repeat(np.cumsum(size) - size, size)
    return np.asarray(np.repeat(start, size) + np.arange(len(before)) - before, dtype=np.int64)


def codes_of(values: pd.Series | Sequence[Any]) -> Ints:
    """A number for each value, equal for equal values; -1 where missing."""
    return np.asarray(pd.factorize(pd.Series(values, dtype=object))[0], dtype=np.int64)


def rows_with(table: pd.Series, wanted: Sequence[str]) -> tuple[Ints, Ints]:
    """Every pair of a wanted text and a row of ``table`` that has it.

    Returns:
        Place in ``wanted`` and row of ``table``, by place and then by row.
    """
    known = pd.Index(table.unique())
    code = known.get_indexer(table)
    order = np.argsort(code, kind="stable")
    start = np.searchsorted(code[order], np.arange(len(known) + 1))
    at = known.get_indexer(pd.Index(pd.Series(wanted, dtype=object)))
    size = np.where(at >= 0, start[at + 1] - start[at], 0)  # -1 takes 0 rows
    return np.repeat(np.arange(len(at)), size), order[ranges(start[at], size)]


def placed(row: Ints, column: Ints, value: Vector, shape: tuple[int, int]) -> Matrix:
    """An array of values at their places, NaN elsewhere; the first where several have one place.

    Missing values are passed over, and those whose row or column is -1.
    """
    seen = np.flatnonzero((row >= 0) & (column >= 0) & ~np.isnan(value))[::-1]
    out = np.full(shape, np.nan)
    out[row[seen], column[seen]] = value[seen]
    return out
