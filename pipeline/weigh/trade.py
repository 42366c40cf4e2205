"""Pinches, knobs, handfuls: measures of common practice without a fixed size."""

from __future__ import annotations

from pipeline.weigh.case import Case
from pipeline.weigh.estimate import Estimate, figure
from pipeline.weigh.pieces import piece
from pipeline.weigh.volume import density
from pipeline.weigh.words import size_factor

#: A powder's g/ml when nothing is known of it but that a pinch or a drop is meant.
_TINY = frozenset(("pinch", "dash", "smidgen", "drop", "sprinkle"))
_POWDER = Estimate(0.55, 0.25, 1.2, "density", "a powder of unknown density")
#: Of these the food's own piece goes before the row for any food.
_PIECE_FIRST = frozenset(("knob", "scoop"))


def trade(case: Case, unit: str, size: str) -> Estimate | None:
    """Grams of one pinch, knob, handful; None when the table holds none for such a food."""
    table = case.kitchen.tables.trade[unit]
    row = table.best(case.bag) or next(iter(table.anything), None)
    if row is None:
        return None
    if unit in _PIECE_FIRST and not row.food:
        own = piece(case, unit, size)
        if own is not None:
            return own
    factor = size_factor(size)
    value, low, high = row.value * factor, row.low * factor, row.high * factor
    kind = f" of {row.kind}" if row.food else ""
    if row.of == "g":
        return Estimate(value, low, high, "trade_measure", f"{unit}{kind} [{row.cited}]")
    found = density(case, "tsp", "")
    if found is None and unit not in _TINY:
        return None
    per_ml = found.per_ml if found is not None else _POWDER
    return Estimate(
        value * per_ml.grams, low * per_ml.low, high * per_ml.high, "trade_measure",
        f"{figure(value)} ml a {unit}{kind} [{row.cited}], {per_ml.why}",
    )  # fmt: skip
