"""Grams of one unit, or of a whole measure, with their range and why: what every way gives."""

from __future__ import annotations

from typing import NamedTuple

from pipeline.lines.model import Measure
from pipeline.weigh.tables import MeasureRow
from pipeline.weigh.weight import Basis


class Estimate(NamedTuple):
    """Grams of one unit (or of the whole measure) with the ends of a 90 % range, and why.

    Attributes:
        problem: code of what the estimate rests on and people should know, "" for nothing.
    """

    grams: float
    low: float
    high: float
    basis: Basis
    why: str
    problem: str = ""

    def times(self, row: MeasureRow, basis: Basis, why: str) -> Estimate:
        """So much of it as a row of a shared table says, the ranges of both together."""
        return Estimate(
            self.grams * row.value, self.low * row.low, self.high * row.high, basis, why
        )

    def left(self, row: MeasureRow, how: str) -> Estimate:
        """What is left of a package once drained."""
        why = f"{self.why}, {row.value * 100:.0f} % left once {how} [{row.cited}]"
        return self.times(row, "package", why)


def times(measure: Measure, one: Estimate) -> Estimate:
    """So many of one unit; the ends of a range on the line lie inside the result."""
    grams = measure.amount * one.grams
    low = min(measure.low * one.grams, measure.amount * one.low)
    high = max(measure.high * one.grams, measure.amount * one.high)
    why = f"{measure.amount:g} x {measure.size + ' ' if measure.size else ''}{measure.unit}, "
    why += f"{figure(one.grams)} g each: {one.why}"
    return Estimate(grams, low, high, one.basis, why, one.problem)


def figure(value: float) -> str:
    """Three figures as people write them: 0.125, 14.8, 236, 1,030."""
    return f"{value:,.0f}" if value >= 1000 else f"{value:.3g}"


def as_written(measure: Measure) -> str:
    """Amount and unit: "2 tbsp"."""
    return f"{measure.amount:g} {measure.unit}"
