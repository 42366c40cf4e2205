"""What the weigh stage says of one (line, food) pair: the contract with compute and report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Basis = Literal[
    "mass",  # a weight stands on the line
    "household_measure",  # the table's own weight of that measure of that food
    "density",  # a volume times the food's density
    "count_weight",  # a piece of that food weighs so much
    "trade_measure",  # pinch, knob, handful: common practice
    "package",  # what the tin or packet holds, drained where said
    "pantry",  # the creator's own label says what a scoop weighs
    "decision",  # a person said so
    "recipe",  # a portion of another recipe of the collection
    "parts",  # several foods on one line, each weighed by itself; this is their sum
    "open",  # no amount is meant to be counted ("to taste"): 0 g, with a small range
    "none",  # could not be weighed; grams are missing and the reason says why
]


@dataclass(slots=True, unsafe_hash=True)
class Weight:
    """Edible grams meant by a line, in total (not per serving); never changed once made.

    Attributes:
        grams: best estimate, None when it cannot be known (never 0 for unknown).
        low, high: what an expert would still accept: a 90 % range.
        basis: how it was found.
        reason: one plain sentence with the figures used ("2 x large egg, 50 g each [SR28 seq 1]").
        unit: the canonical unit that carried the amount ("tbsp", "g", "piece"), "" when none.
        amount: the amount in that unit, None when none.
        problems: codes worth a row in the run's problems ("dual-measure-disagrees").
    """

    grams: float | None
    low: float | None
    high: float | None
    basis: Basis
    reason: str
    unit: str = ""
    amount: float | None = None
    problems: tuple[str, ...] = ()
