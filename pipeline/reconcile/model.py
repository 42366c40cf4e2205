"""Names, priors and noise that the search for explanations uses."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from pipeline.reconcile.arrays import Ints
from pipeline.reconcile.arrays import Matrix as Matrix
from pipeline.reconcile.arrays import Vector as Vector
from pipeline.resources import shared_rows

#: The order of the numbers in every vector of the search. Energy first: it follows the macros.
TAGS = ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT", "FIBTG", "SUGAR", "FASAT", "NA")
KCAL, PROTEIN, CARBS, FAT, FIBRE, SUGAR, SATFAT, SODIUM = range(len(TAGS))
MACROS = (PROTEIN, CARBS, FAT)
WORDS = (
    "kcal",
    "g protein",
    "g carbohydrate",
    "g fat",
    "g fibre",
    "g sugars",
    "g saturates",
    "mg sodium",
)

#: kcal per kJ and back (thermochemical calorie, Agriculture Handbook 74).
KJ_PER_KCAL = 4.184

#: How an error of a macro moves the energy: general Atwater factors.
ATWATER = np.array([0.0, 4.0, 4.0, 9.0, 0.0, 0.0, 0.0, 0.0])

#: Relative standard deviation between two honest sums of the same lines with two food tables.
#: Energy beyond what the macros explain: the specific factors of a table against 4-4-9 differ by
#: a few per cent on mixed dishes (SR28: 4.5 % and 4.0 % on the two worked recipes of the tests).
#: Fibre, sugars and saturates differ more between tables. Common practice.
DATABASE_SD = np.array([0.015, 0.025, 0.025, 0.025, 0.11, 0.13, 0.12, 0.25])

#: What the same is of single foods, of another table or brand, as a multiple of the above: of a dish
#: whose fat is one bottle of oil the fat is as doubtful as that bottle. Fitted with the priors.
LINE_SCALE = 2.6

#: Share of honest recipes that are noisier than that, and how much more.
TAIL_SHARE, TAIL_SCALE = 0.12, 2.6


@dataclass(frozen=True, slots=True)
class UnitSlip:
    """A unit read as another: the grams are multiplied by ``factor``."""

    counted_as: str
    factor: float
    weight: float


@cache
def priors() -> dict[str, float]:
    """Belief in each kind before the numbers are seen (shared/slip_priors.csv); sums to 1."""
    rows = {row["kind"]: float(row["prior"]) for row in shared_rows("slip_priors.csv")}
    every = sum(rows.values())
    return {kind: value / every for kind, value in rows.items()}


@cache
def unit_slips() -> dict[str, tuple[UnitSlip, ...]]:
    """Slips by the unit on the line (shared/slip_units.csv)."""
    out: dict[str, list[UnitSlip]] = {}
    for row in shared_rows("slip_units.csv"):
        slip = UnitSlip(row["counted_as"], float(row["factor"]), float(row["weight"]))
        out.setdefault(row["unit"], []).append(slip)
    return {unit: tuple(slips) for unit, slips in out.items()}


def noise(mean: Matrix, sd: Matrix = DATABASE_SD) -> Matrix:
    """Covariance of database noise around predicted numbers.

    Args:
        mean: (n, tags) predicted numbers in the order of ``TAGS``.
        sd: relative, (tags or more,) or (n, tags).

    Returns:
        (n, tags, tags): macros independent, each by ``DATABASE_SD`` of itself; energy moves with them by
        the Atwater factors and has its own part.
    """
    tags = mean.shape[-1]
    own = (sd[..., :tags] * np.abs(mean)) ** 2
    cov = np.zeros((*mean.shape, tags))
    at = np.arange(tags)
    cov[:, at, at] = own
    moved = own * ATWATER[:tags]
    cov[:, KCAL, :] += moved
    cov[:, :, KCAL] += moved
    cov[:, KCAL, KCAL] += (own * ATWATER[:tags] ** 2).sum(axis=1)
    return cov


def table_spread(values: Matrix, recipe: Ints, count: int) -> Matrix:
    """Relative spread of the sums of recipes between two tables, (recipes, tags).

    Args:
        values: (lines, tags), what each line brings.
        recipe: (lines,), ascending.
        count: of recipes.
    """
    total, square = np.zeros((count, values.shape[1])), np.zeros((count, values.shape[1]))
    np.add.at(total, recipe, values)
    np.add.at(square, recipe, values**2)
    alike = square / np.maximum(total**2, 1e-12)  # 1 where one line brings all of it
    scale = np.sqrt(1 + LINE_SCALE**2 * np.minimum(alike, 1.0))
    scale[:, KCAL] = 1.0  # follows the macros
    return np.asarray(DATABASE_SD[: values.shape[1]] * scale, dtype=np.float64)


def noise_variance(mean: Matrix, sd: Matrix = DATABASE_SD) -> Matrix:
    """The diagonal of ``noise``, (n, tags)."""
    tags = mean.shape[-1]
    own = (sd[..., :tags] * np.abs(mean)) ** 2
    own[:, KCAL] += (own * ATWATER[:tags] ** 2).sum(axis=1)
    return np.asarray(own, dtype=np.float64)


def log_likelihood(
    stated: Matrix, mean: Matrix, cov: Matrix, given: NDArray[np.bool_]
) -> tuple[Vector, Vector]:
    """How well predicted numbers fit stated ones.

    Args:
        stated: (n, tags), anything where not given.
        mean: (n, tags).
        cov: (n, tags, tags), of everything together.
        given: (n, tags), which numbers are stated.

    Returns:
        log density of the stated numbers (a normal with a wider one mixed in), and the squared
        misfit in standard deviations, (n,) each.
    """
    half_log_det, misfit = np.zeros(len(mean)), np.zeros(len(mean))
    pattern = given @ (1 << np.arange(given.shape[1]))
    for some in np.unique(pattern):  # numbers that are not stated play no part
        rows = np.flatnonzero(pattern == some)
        tags = np.flatnonzero(given[rows[0]])
        lower = np.linalg.cholesky(cov[rows[:, None, None], tags[:, None], tags])
        solved = stated[rows[:, None], tags] - mean[rows[:, None], tags]
        for j in range(len(tags)):  # forward substitution, all candidates at once
            solved[:, j] -= np.einsum("ni,ni->n", lower[:, j, :j], solved[:, :j])
            solved[:, j] /= lower[:, j, j]
        misfit[rows] = (solved**2).sum(axis=1)
        half_log_det[rows] = np.log(np.einsum("nii->ni", lower)).sum(axis=1)
    numbers = given.sum(axis=1)
    base = -half_log_det - 0.5 * numbers * np.log(2 * np.pi)
    narrow = np.log(1 - TAIL_SHARE) - 0.5 * misfit
    wide = np.log(TAIL_SHARE) - 0.5 * misfit / TAIL_SCALE**2 - numbers * np.log(TAIL_SCALE)
    return base + np.logaddexp(narrow, wide), misfit
