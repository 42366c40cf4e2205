"""The arithmetic of the search: robust likelihoods and shared causes fitted to many recipes at once.

A recipe's residual (stated minus computed, less what is already explained) is an honest one with
probability ``1 - slips``; else it carries one slip of its own: a scale (servings), a line more or
less, one number mistyped, or anything. All of these are normals, so that everything is linear
algebra over arrays.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from pipeline.habits.evidence import Bools, Cube, Ints
from pipeline.reconcile.model import KCAL, MACROS, TAGS, TAIL_SCALE, TAIL_SHARE, Matrix, Vector

N = len(TAGS)
#: How slips divide, and how wide each is, relative to what it moves. Common practice, after
#: shared/slip_priors.csv: scales, a line, one number, anything.
_SHARES = {"scale": 0.22, "line": 0.45, "number": 0.18, "free": 0.15}
_SCALE_SD, _LINE_SD, _NUMBER_SD, _FREE_SD = 0.8, 1.0, 0.5, 0.35
_ROUNDS = 7
#: Lines of a recipe that may each carry a slip, those of most energy first.
_LINES = 12
#: Unknowns that move less (kcal, or g per 100 g) are settled.
_SETTLED = 0.05


@dataclass(slots=True)
class Noise:
    """How residuals lie when no shared cause is left, row by row.

    Attributes:
        weight: (m, 7, 7) inverse covariance over the stated numbers, 0 elsewhere.
        log_det: (m,) of the covariance of the stated numbers.
        given: (m,) how many numbers are stated.
        slips: (m, 7, k) directions in which a slip moves the numbers, one deviation long.
        spread: (m, k) their length in deviations of ``weight``, squared.
        belief: (m, k) log belief in each; -inf pads.
        free_weight, free_log_det: the same as the first two for numbers that follow from nothing.
        clean: log belief that a recipe carries no slip.
    """

    weight: Cube
    log_det: Vector
    given: Vector
    slips: Cube
    spread: Matrix
    belief: Matrix
    free_weight: Cube
    free_log_det: Vector
    clean: float

    def rows(self, at: Ints) -> Noise:
        """The same for some rows, in that order."""
        return replace(self, **{name: getattr(self, name)[at] for name in _OF_ROWS})

    @staticmethod
    def joined(parts: Sequence[Noise]) -> Noise:
        """Noises of one creator, one after the other."""
        columns: dict[str, Any] = {
            name: np.concatenate([getattr(part, name) for part in parts]) for name in _OF_ROWS
        }
        return replace(parts[0], **columns)

    def sharpen(self, at: Ints, cov: Cube, given: Bools) -> None:
        """Put the covariance ``cov`` (k, 7, 7) in place of that of the rows ``at``."""
        self.weight[at], self.log_det[at] = inverse(cov, given)
        self.spread[at] = np.einsum(
            "mik,mij,mjk->mk", self.slips[at], self.weight[at], self.slips[at], optimize=True
        )

    def __call__(self, off: Matrix) -> tuple[Vector, Vector]:
        """Log density of residuals (m, 7), and how much each counts as honest evidence (0 to 1)."""
        pulled = np.einsum("mij,mj->mi", self.weight, off)
        misfit = np.einsum("mi,mi->m", pulled, off)
        base = -0.5 * self.log_det
        narrow = self.clean + math.log(1 - TAIL_SHARE) + base - 0.5 * misfit
        wide = (
            self.clean + math.log(TAIL_SHARE) + base - 0.5 * misfit / TAIL_SCALE**2
            - self.given * math.log(TAIL_SCALE)
        )  # fmt: skip
        along = np.einsum("mik,mi->mk", self.slips, pulled)
        slip = (
            self.belief + base[:, None] - 0.5 * misfit[:, None]
            + 0.5 * along**2 / (1 + self.spread) - 0.5 * np.log1p(self.spread)
        )  # fmt: skip
        free_misfit = np.einsum("mi,mij,mj->m", off, self.free_weight, off)
        free = (
            math.log(_SHARES["free"]) + math.log(-math.expm1(self.clean))
            - 0.5 * self.free_log_det - 0.5 * free_misfit
        )  # fmt: skip
        every = np.column_stack([narrow, wide, free, slip])
        total = _log_sum(every)
        weight = np.exp(narrow - total) + np.exp(wide - total) / TAIL_SCALE**2
        return total, weight


#: Fields of ``Noise`` that have a value for each row.
_OF_ROWS = tuple(f.name for f in fields(Noise) if f.name != "clean")


def inverse(cov: Cube, given: Bools) -> tuple[Cube, Vector]:
    """Inverse over the given numbers, 0 elsewhere, and log determinant over them."""
    both = given[:, :, None] & given[:, None, :]
    at = np.arange(cov.shape[1])
    masked = np.where(both, cov, 0.0)
    masked[:, at, at] = np.where(given, masked[:, at, at], 1.0)
    weight = np.where(both, np.linalg.inv(masked), 0.0)
    return weight, np.linalg.slogdet(masked)[1]


def noise_of(
    cov: Cube, given: Bools, mean: Matrix, stated: Matrix, recipe: Ints, values: Matrix,
    doubt: Vector, slips: float,
) -> Noise:  # fmt: skip
    """The noise of recipes.

    Args:
        cov: (n, 7, 7) of an honest recipe.
        given: (n, 7) which numbers are stated.
        mean, stated: (n, 7).
        recipe, values, doubt: of each line: its recipe, what it brings (m, 7), and belief that its
            food is another one, which is no slip and moves the numbers as one.
        slips: share of recipes that carry a slip.
    """
    n = len(cov)
    size = np.maximum(mean, stated)
    many = np.maximum(np.bincount(recipe, minlength=n), 1)
    # lines that bring least show least; those beyond the first few are no slip of their own
    order = np.lexsort((-np.abs(values[:, KCAL]), recipe))
    recipe, values, doubt = recipe[order], values[order], doubt[order]
    place = np.arange(len(recipe)) - np.searchsorted(recipe, recipe)
    kept = place < _LINES
    recipe, values, doubt, place = recipe[kept], values[kept], doubt[kept], place[kept]
    most = int(place.max()) + 1 if len(place) else 0
    numbers = [KCAL, *MACROS]
    directions = np.zeros((n, N, 1 + len(numbers) + most))
    belief = np.full((n, 1 + len(numbers) + most), -math.inf)
    directions[:, :, 0] = _SCALE_SD * mean
    belief[:, 0] = math.log(_SHARES["scale"])
    for k, j in enumerate(numbers, start=1):
        directions[:, j, k] = _NUMBER_SD * size[:, j]
        belief[:, k] = np.where(given[:, j], math.log(_SHARES["number"] / len(numbers)), -math.inf)
    directions[recipe, :, 1 + len(numbers) + place] = _LINE_SD * values
    belief += math.log(slips)
    belief[recipe, 1 + len(numbers) + place] = np.log(
        slips * _SHARES["line"] / many[recipe] + doubt
    )
    weight, log_det = inverse(cov, given)
    at = np.arange(N)
    loose = cov.copy()
    loose[:, at, at] += (_FREE_SD * size) ** 2
    free_weight, free_log_det = inverse(loose, given)
    spread = np.einsum("mik,mij,mjk->mk", directions, weight, directions, optimize=True)
    return Noise(
        weight, log_det, given.sum(axis=1).astype(float), directions, spread, belief, free_weight,
        free_log_det, math.log1p(-slips),
    )  # fmt: skip


@dataclass(slots=True)
class Fit:
    """Shared unknowns fitted to groups of residuals.

    Attributes:
        theta: (g, k) the likeliest unknowns.
        evidence: (g,) log marginal likelihood (Laplace) of the residuals of each group.
        precision: (g, k, k) around ``theta``.
    """

    theta: Matrix
    evidence: Vector
    precision: Cube


def fit_shared(
    off: Matrix, by: Cube | Vector, group: Ints, groups: int, noise: Noise,
    centre: Matrix, prior: Cube, starts: list[Matrix], least: Matrix | None = None,
) -> Fit:  # fmt: skip
    """Residuals as ``by @ theta`` of their group, plus noise; robust, by reweighting.

    Args:
        off: (m, 7) residuals.
        by: (m, 7, k) what one unit of each unknown moves; (m,) when the unknowns are the seven
            themselves, each moved by so much.
        group: (m,) sorted, 0 to ``groups`` - 1, each there at least once.
        groups: how many there are.
        noise: of the rows.
        centre, prior: (g, k) mean and (g, k, k) precision of the unknowns before they are seen.
        starts: (g, k) each; the likeliest end is kept.
        least: (g, k) the unknowns never fall below.
    """
    first = np.searchsorted(group, np.arange(groups))
    half_prior = 0.5 * np.linalg.slogdet(prior)[1]
    known = _Known(off, by, group, noise, prior, np.einsum("gkl,gl->gk", prior, centre))
    best: Fit | None = None
    for start in starts:
        theta = _settle(known, start, least)
        total, weight = noise(off - known.moved(theta))
        precision = prior + np.add.reduceat(weight[:, None, None] * known.info, first)
        away = theta - centre
        evidence = (
            np.add.reduceat(total, first) + half_prior
            - 0.5 * np.einsum("gk,gkl,gl->g", away, prior, away)
            - 0.5 * np.linalg.slogdet(precision)[1]
        )  # fmt: skip
        if best is None:
            best = Fit(theta, evidence, precision)
        else:
            better = evidence > best.evidence
            best.theta[better] = theta[better]
            best.evidence[better] = evidence[better]
            best.precision[better] = precision[better]
    if best is None:
        raise ValueError("fit_shared needs at least one start")
    return best


class _Known:
    """What the rounds of a fit need and none of them changes.

    Attributes:
        info, toward: (m, k, k) and (m, k): what each row tells of the unknowns when it is honest.
        pull: (g, k) of the prior.
    """

    def __init__(
        self, off: Matrix, by: Cube | Vector, group: Ints, noise: Noise, prior: Cube, pull: Matrix,
    ) -> None:  # fmt: skip
        self.off, self.by, self.group, self.noise = off, by, group, noise
        self.prior, self.pull = prior, pull
        self.info: Cube
        if by.ndim == 1:
            pulled = by[:, None, None] * noise.weight
            self.info = by[:, None, None] * pulled
        else:
            pulled = np.einsum("mik,mij->mkj", by, noise.weight)
            self.info = np.einsum("mkj,mjl->mkl", pulled, by)
        self.toward: Matrix = np.einsum("mkj,mj->mk", pulled, off)

    def moved(self, theta: Matrix) -> Matrix:
        """What the unknowns of its group move of each row."""
        mine = theta[self.group]
        if self.by.ndim == 1:
            return self.by[:, None] * mine
        out: Matrix = np.einsum("mik,mk->mi", self.by, mine)
        return out

    def some(self, kept: Bools) -> _Known:
        """The same for some of the groups, numbered again."""
        rows = np.flatnonzero(kept[self.group])
        out = object.__new__(_Known)
        out.off, out.by, out.noise = self.off[rows], self.by[rows], self.noise.rows(rows)
        out.group = (np.cumsum(kept) - 1)[self.group[rows]]
        out.prior, out.pull = self.prior[kept], self.pull[kept]
        out.info, out.toward = self.info[rows], self.toward[rows]
        return out


def _settle(known: _Known, start: Matrix, least: Matrix | None) -> Matrix:
    """Unknowns by reweighting, each group for itself: one that is settled is left alone."""
    theta = start.copy()
    open_ = np.arange(len(theta))  # groups that still move, as ``known`` numbers them
    for _ in range(_ROUNDS):
        last, group = theta[open_], known.group
        first = np.searchsorted(group, np.arange(len(open_)))
        weight = known.noise(known.off - known.moved(last))[1]
        precision = known.prior + np.add.reduceat(weight[:, None, None] * known.info, first)
        pull = known.pull + np.add.reduceat(weight[:, None] * known.toward, first)
        now = np.linalg.solve(precision, pull[:, :, None])[:, :, 0]
        if least is not None:
            now = np.maximum(now, least[open_])
        theta[open_] = now
        moving = np.abs(now - last).max(axis=1) >= _SETTLED
        if not moving.any():
            break
        if not moving.all():
            open_, known = open_[moving], known.some(moving)
    return theta


def _log_sum(terms: Matrix) -> Vector:
    """Log of the sum of exponentials of each row; scipy's own checks cost more than the sum."""
    top = terms.max(axis=1)
    total: Vector = top + np.log(np.exp(terms - top[:, None]).sum(axis=1))
    return total


def log_sum(terms: Sequence[float]) -> float:
    """Log of a sum of exponentials, -inf of nothing."""
    top = max(terms, default=-math.inf)
    return top if math.isinf(top) else top + math.log(sum(math.exp(t - top) for t in terms))


def medians(values: Matrix, group: Ints, groups: int) -> Matrix:
    """Median of each group and column, NaN left out; 0 where a group has none."""
    first = np.searchsorted(group, np.arange(groups))
    place = np.arange(len(group)) - first[group]
    padded = np.full((groups, int(place.max()) + 1, values.shape[1]), math.nan)
    padded[group, place] = values
    padded.sort(axis=1)  # NaN stand last
    seen = np.isfinite(padded).sum(axis=1)
    low, high = np.maximum(seen - 1, 0) // 2, seen // 2
    high = np.minimum(high, np.maximum(seen - 1, 0))
    middle = 0.5 * sum(
        np.take_along_axis(padded, at[:, None, :], axis=1)[:, 0, :] for at in (low, high)
    )
    return np.where(seen > 0, middle, 0.0)
