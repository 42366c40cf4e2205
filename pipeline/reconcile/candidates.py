"""Every single slip of many recipes as one table of arrays: (recipe, slip, change of each nutrient).

A slip is either in the sums (a line left out, doubled, in another unit, looked up as another food;
all divided by another count or given for 100 g) or in the finished numbers (exchanged, mistyped, in
another unit). What cannot be seen in any stated number, or moves one away from what is stated, is
dropped before anything is built for it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from pipeline.reconcile.line_slips import food_slips, honest, line_slips
from pipeline.reconcile.model import DATABASE_SD, KCAL, PROTEIN, Matrix
from pipeline.reconcile.number_slips import (
    digit_slips,
    fibre_slips,
    kilojoule_slips,
    point_slips,
    scale_slips,
    sodium_slips,
    stale_slips,
    swap_slips,
)
from pipeline.reconcile.slips import CODE, HONEST, Slips, predicted

if TYPE_CHECKING:
    from pipeline.reconcile.arrays import Bools, Ints
    from pipeline.reconcile.cases import Cases
    from pipeline.reconcile.foods import Foods

#: A slip may take a stated number away from the sums by so many standard deviations between tables
#: and half a step, no more: what it predicts has to lie nearer to what is stated than the lines do.
_AWAY_SD = 2.0

#: Slips that explain one number and leave the others as they are.
_ONE_NUMBER = [
    CODE[k] for k in ("digits_transposed", "energy_not_following_macros", "macro_not_following")
]


def candidates(cases: Cases, foods: Foods) -> tuple[Slips, Ints]:
    """Every single slip of every recipe that can be seen, and the rows that point the right way.

    A slip that points away explains nothing by itself, and may be one of two. Honest readings (the
    lines as matched, or one of them meaning a runner-up) are rows of kind ``honest``: what they say
    is how likely it is that there is nothing to explain.
    """
    made = Slips.together([
        *line_slips(cases), food_slips(cases, foods), *scale_slips(cases), *swap_slips(cases),
        kilojoule_slips(cases), *stale_slips(cases), *fibre_slips(cases), digit_slips(cases),
        point_slips(cases),
        *sodium_slips(cases), *honest(cases, foods),
    ])  # fmt: skip
    right = towards(cases, predicted(cases, made), made.recipe, made.kind) | (made.kind == HONEST)
    return made, np.flatnonzero(right)


def towards(cases: Cases, mean: Matrix, recipe: Ints, kind: Ints) -> Bools:
    """Whether each prediction moves no stated number away from what is stated, noise apart.

    Typing slips and numbers that follow nothing explain one number and move none.
    """
    low, high = reach(cases)
    fits = np.isin(kind, _ONE_NUMBER)
    fits |= ((mean >= low.take(recipe, axis=0)) & (mean <= high.take(recipe, axis=0))).all(axis=1)
    return np.asarray(fits, dtype=np.bool_)


def reach(cases: Cases) -> tuple[Matrix, Matrix]:
    """Least and largest number that a slip may predict, (recipes, tags); any where none is stated."""
    stated, base = cases.stated, cases.mean
    share = _AWAY_SD * DATABASE_SD[: base.shape[1]]
    room = np.abs(stated - base) + cases.step
    room[:, KCAL] += _AWAY_SD * DATABASE_SD[PROTEIN] * base[:, KCAL]
    low = np.minimum(stated - room - share * base, (stated - room) / (1 + share))
    high = np.maximum(stated + room + share * base, (stated + room) / (1 - share))
    return np.where(cases.given, low, -math.inf), np.where(cases.given, high, math.inf)
