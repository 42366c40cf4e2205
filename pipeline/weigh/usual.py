"""What a line of its kind usually weighs in a recipe, and when a weight is asked about.

A count of something of which the table knows only a large piece, a package read as a piece, or a
figure without its unit gives a weight that no recipe holds. ``shared/usual_amounts.csv`` has the
middle and the spread of ln grams and ln kcal of lines, by food group and way of measuring, counted
by ``benchmarks/fit_usual.py`` over recipes; no line of them is kept. A weight far outside is not
taken for granted. A mass that the line states is never doubted.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from functools import cache
from typing import NamedTuple

from pipeline.lines.vocabulary import UNITS
from pipeline.resources import shared_rows
from pipeline.units import stem_of

FIELDS = ("kind", "measure", "n", "grams", "sd_ln_grams", "kcal", "sd_ln_kcal")
#: Kind of the rows that speak of every food measured so.
ANY = "any"
#: Standard deviations from the middle from which on a line is asked about. Recipes make one
#: portion or thirty, so the tails are long.
FAR = 4.0
#: A line of fewer kcal changes no verdict: it is not asked about for being small or large.
LEAST_KCAL = 50.0
#: Parts of a food that weigh nothing like the food.
PARTS = frozenset(("zest", "juice", "white", "yolk"))
_SPOONS = frozenset(("tsp", "tbsp", "dessertspoon"))


class Unusual(NamedTuple):
    """What lines of the kind usually come to, where this one is far from it.

    Attributes:
        what: ``grams`` or ``kcal``.
        low, high: the middle nine tenths of such lines.
        n: how many lines were counted.
    """

    what: str
    low: float
    high: float
    n: int


class _Row(NamedTuple):
    n: int
    grams: float
    sd_grams: float
    kcal: float
    sd_kcal: float


def measure_class(unit: str) -> str:
    """The way of measuring that a canonical unit belongs to; "" for masses and no unit."""
    stem = stem_of(unit)
    if stem in _SPOONS:
        return "spoon"
    row = UNITS.get(stem) or UNITS.get(unit)
    kind = row.kind if row is not None else ("count" if unit == "piece" else "")
    return {"volume": "cup", "count": "count", "package": "package", "trade": "trade"}.get(kind, "")


def usual_kind(group: str, part: str) -> str:
    """The kind a line is held against: its food's group, or the part of a food it takes."""
    return part if part in PARTS else group


class Usual:
    """The usual amounts, by kind and measure."""

    def __init__(self, rows: Iterable[Mapping[str, str]]) -> None:
        self._rows = {
            (row["kind"], row["measure"]): _Row(
                int(row["n"]), *(float(row[f] or "nan") for f in FIELDS[3:])
            )
            for row in rows
        }

    def unusual(
        self, kind: str, measure: str, grams: float, kcal: float | None = None
    ) -> Unusual | None:
        """What is usual, when a line of these grams or this energy is far from it.

        Args:
            kind: as ``usual_kind`` gives it.
            measure: as ``measure_class`` gives it; "" is never unusual.
            grams: of the line, edible.
            kcal: of the line, None when not known.
        """
        row = self._rows.get((kind, measure)) or self._rows.get((ANY, measure))
        if row is None or not grams > 0:
            return None
        matters = kcal is None or not kcal < LEAST_KCAL
        if _far(grams, row.grams, row.sd_grams) and (matters or kind in PARTS):
            return _told("grams", row.grams, row.sd_grams, row.n)
        if kcal is not None and kcal > row.kcal and _far(kcal, row.kcal, row.sd_kcal):
            return _told("kcal", row.kcal, row.sd_kcal, row.n)
        return None

    def nearer(self, kind: str, measure: str, grams: float, other: float) -> bool:
        """Whether such lines usually weigh more like ``grams`` than like ``other``."""
        row = self._rows.get((kind, measure)) or self._rows[ANY, measure]
        return abs(math.log(grams / row.grams)) < abs(math.log(other / row.grams))


def _far(value: float, middle: float, sd: float) -> bool:
    return middle > 0 and sd > 0 and abs(math.log(value) - math.log(middle)) > FAR * sd


def _told(what: str, middle: float, sd: float, n: int) -> Unusual:
    spread = math.exp(1.645 * sd)
    return Unusual(what, middle / spread, middle * spread, n)


@cache
def usual_amounts() -> Usual:
    """The shared table, read once."""
    return Usual(shared_rows("usual_amounts.csv"))
