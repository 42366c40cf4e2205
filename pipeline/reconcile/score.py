"""Belief in every candidate of many recipes at once: prior times likelihood of all stated numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pipeline.reconcile.model import (
    ATWATER,
    KCAL,
    MACROS,
    SODIUM,
    Matrix,
    Vector,
    log_likelihood,
    noise,
    noise_variance,
    priors,
)
from pipeline.reconcile.slips import (
    CODE,
    HONEST,
    PLAIN,
    Slips,
    finish,
    predicted_sums,
    spread,
    transformed,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from pipeline.reconcile.arrays import Bools, Ints
    from pipeline.reconcile.cases import Cases

#: Spread of numbers that follow from nothing we know, as scales of Laplace distributions of log
#: ratios: all numbers together (another portion, another dish), and each by itself about that.
_FREE_COMMON, _FREE_SCALE = 0.5, 0.35
_COMMON = np.linspace(-4.0, 4.0, 33)

#: Likelihood counts to this power: lines and tables are not as independent as the model takes them.
#: Fitted with the priors.
TEMPER = 0.87

#: Share of creators who count with our table; of those who share our weights too, and how close
#: their sums then come: what remains is rounding and this share of the number. Fitted with the priors.
SAME_TABLE, EXACT_SHARE, EXACT_SD = 0.50, 0.20, 0.004

#: Share of honest creators who give carbohydrate without its fibre in a collection that gives it with
#: fibre: labels of the European Union do. Common practice.
NET_SHARE = 0.15

#: Squared deviations a number beyond which sums are not of our table.
_CLOSE = 4.0

#: A slip that leaves more than this many squared deviations a number is no explanation.
_FITS = 18.0

#: Belief that a second slip was made when one was. Common practice.
SECOND_SLIP = 0.3

#: Candidates that are scored together; each needs about 1 kB.
_AT_ONCE = 20_000

#: Factor by which a limit may be passed: sums of the same numbers differ in their last digits.
_SLACK = 1 + 1e-9


class Scores(NamedTuple):
    """What the numbers say of each candidate.

    Attributes:
        log: (candidates,), log prior and log likelihood together.
        misfit: (candidates,), squared distance in standard deviations.
    """

    log: Vector
    misfit: Vector


def score(cases: Cases, found: Slips, first: Ints, second: Ints | None = None) -> Scores:
    """Score single slips, or two made at once, in bounded batches; no step of Python a candidate.

    Args:
        found: single slips.
        first: rows of ``found``.
        second: rows of slips in a line that are made before those, which are in another line or in
            the whole; None for none.
    """
    parts = [
        _scored(cases, found, first[at], None if second is None else second[at])
        for at in (slice(n, n + _AT_ONCE) for n in range(0, len(first), _AT_ONCE))
    ] or [Scores(np.empty(0), np.empty(0))]
    return Scores(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def _scored(cases: Cases, found: Slips, first: Ints, second: Ints | None) -> Scores:
    """Scores of one batch; those that cannot fit are left at nothing."""
    recipe, kind, log_prior = found.recipe[first], found.kind[first], found.log_prior[first]
    if second is not None:
        log_prior = log_prior + found.log_prior[second] + math.log(SECOND_SLIP)
    mean = predicted_sums(cases, found, first, second)
    stated, given = cases.stated.take(recipe, axis=0), cases.given.take(recipe, axis=0)
    typed = np.flatnonzero(found.typed_at[first] >= 0)
    stated[typed, found.typed_at[first[typed]]] = found.typed[first[typed]]
    aside = np.flatnonzero(found.aside[first] >= 0)
    given[aside, found.aside[first[aside]]] = False
    most = _FITS * np.maximum(given.sum(axis=1), 2)
    rounded = rounding(cases.stated, cases.given, cases.step)[recipe]
    sd = cases.sd.take(recipe, axis=0)
    # a number by itself lies no further off than all together: most are excluded by one of them
    alone = spread(cases, found, first, second, whole=False) + noise_variance(mean, sd)
    off = (stated - mean) ** 2 / _with_floor(alone, mean, rounded)
    near = np.where(given, off, 0.0).max(axis=1) <= most * _SLACK
    rows = np.flatnonzero(near | (found.transform[first] != PLAIN) | (kind == HONEST))
    first, second = first[rows], None if second is None else second[rows]
    given = given[rows]
    sums = _Sums.of(cases, found, first, second, mean[rows], stated[rows], rounded[rows])
    another, misfit = log_likelihood(sums.stated, sums.shown, sums.cov(sd[rows]), given)
    fit = math.log(1 - SAME_TABLE - EXACT_SHARE) + another
    close = np.flatnonzero(misfit <= _CLOSE * np.maximum(given.sum(axis=1), 2))
    ours = sums.take(close)
    same, _ = log_likelihood(ours.stated, ours.shown, ours.cov(), given[close])
    fit[close] = np.logaddexp(fit[close], math.log(SAME_TABLE) + same)
    exact = _same_sums(ours.stated, ours.shown, ours.rounded, given[close])
    fit[close] = np.logaddexp(fit[close], math.log(EXACT_SHARE) + exact)
    fits = (misfit <= most[rows]) | (kind[rows] == HONEST)
    log, off_by = np.full(len(recipe), -np.inf), np.full(len(recipe), np.inf)
    log[rows] = np.where(fits, TEMPER * fit + log_prior[rows], -np.inf)
    off_by[rows] = misfit
    return Scores(log, off_by)


@dataclass(slots=True)
class _Sums:
    """What some candidates predict, with the spread of the weights and foods behind it.

    Attributes:
        stated, rounded: (n, tags), what is stated and the variance of its rounding.
        before, shown: (n, tags), the sums, and what would be in print.
        spread: (n, tags, tags), of the sums.
        transform: (n,), what happens to the finished numbers.
    """

    stated: Matrix
    rounded: Matrix
    before: Matrix
    shown: Matrix
    spread: NDArray[np.float64]
    transform: Ints

    @classmethod
    def of(
        cls, cases: Cases, found: Slips, first: Ints, second: Ints | None, mean: Matrix,
        stated: Matrix, rounded: Matrix,
    ) -> _Sums:  # fmt: skip
        every = spread(cases, found, first, second, whole=True)
        transform = found.transform[first]
        return cls(stated, rounded, mean, transformed(mean, transform), every, transform)

    def take(self, rows: Ints) -> _Sums:
        return _Sums(*(getattr(self, f.name).take(rows, axis=0) for f in fields(self)))

    def cov(self, sd: Matrix | None = None) -> NDArray[np.float64]:
        """Covariance of what would be in print, counted with our table, or with others of this spread."""
        cov = self.spread.copy()
        if sd is not None:
            cov += noise(self.before, sd)
        finish(cov, self.before, self.transform)
        at = np.arange(self.before.shape[1])
        cov[:, at, at] = _with_floor(np.einsum("nii->ni", cov), self.shown, self.rounded)
        return cov


def _same_sums(stated: Matrix, mean: Matrix, rounded: Matrix, given: Bools) -> Vector:
    """Log density of the stated numbers when both sides count alike."""
    variance = rounded + (EXACT_SD * mean) ** 2 + 1e-6
    each = -0.5 * ((stated - mean) ** 2 / variance + np.log(2 * math.pi * variance))
    return np.asarray(np.where(given, each, 0.0).sum(axis=1), dtype=np.float64)


def _with_floor(variance: Matrix, mean: Matrix, rounded: Matrix) -> Matrix:
    """Variances with rounding; differences of covariances may lose a little.

    No variance is below a thousandth of the noise.
    """
    floor = (0.003 * np.abs(mean)) ** 2 + 1e-6
    return np.asarray(np.maximum(variance, 0.0) + rounded + floor, dtype=np.float64)


def rounding(stated: Matrix, given: Bools, step: Matrix) -> Matrix:
    """Variance of rounding; energy that ends in 0 or 5 may have been rounded to 5."""
    step = np.where(step > 0, step, 0.0)
    by_five = given[:, KCAL] & (stated[:, KCAL] % 5 == 0)
    step[by_five, KCAL] = np.maximum(step[by_five, KCAL], 5.0)
    return np.asarray(step**2 / 12, dtype=np.float64)


def free_density(cases: Cases) -> Vector:
    """Log density of the stated numbers when they follow from nothing we know, (recipes,).

    All numbers within a wide band around a common multiple of the sums; energy in line with the
    stated macros in half of such cases.
    """
    floor = np.maximum(cases.step, 0.5)
    floor[:, KCAL] = 5.0
    floor[:, SODIUM:] = 50.0
    stated, mean = np.maximum(cases.stated, floor), np.maximum(cases.mean, floor)
    expected = cases.mean[:, KCAL] + (cases.stated - cases.mean) @ ATWATER[: floor.shape[1]]
    sd = 0.04 * np.maximum(mean[:, KCAL], expected) + 4.0
    near = -0.5 * ((stated[:, KCAL] - expected) / sd) ** 2 - np.log(sd * math.sqrt(2 * math.pi))
    whole = cases.given[:, list(MACROS)].all(axis=1)
    prior = -np.abs(_COMMON) / _FREE_COMMON
    total = np.full((len(cases), len(_COMMON)), -np.inf)
    ratio, scale = np.log(stated / mean), np.log(2 * _FREE_SCALE * stated)
    for n, common in enumerate(_COMMON):
        wide = -np.abs(ratio - common) / _FREE_SCALE - scale
        either = np.logaddexp(math.log(0.5) + near, math.log(0.5) + wide[:, KCAL])
        wide[:, KCAL] = np.where(whole, either, wide[:, KCAL])
        total[:, n] = (wide * cases.given).sum(axis=1) + prior[n]
    most = total.max(axis=1)
    summed = most + np.log(np.exp(total - most[:, None]).sum(axis=1))
    return np.asarray(TEMPER * (summed - np.log(np.exp(prior).sum())), dtype=np.float64)


@dataclass(slots=True)
class Beliefs:
    """Beliefs of the candidates of many recipes.

    Attributes:
        belief: (candidates,), of those that are slips, the pairs after the singles; with ``free``
            they sum to 1 a recipe; 0 for honest readings.
        free: (recipes,), belief that no slip fits.
        honest: (recipes,), belief in an honest sum, with even odds before.
        as_net: (recipes,), the same of a sum with carbohydrate given without fibre.
    """

    belief: Vector
    free: Vector
    honest: Vector
    as_net: Vector


def believe(
    cases: Cases, recipe: Ints, kind: Ints, log_score: Vector, density: Vector | None = None
) -> Beliefs:
    """Share out belief over the candidates of each recipe.

    Args:
        density: of ``free_density``, where it is known already.
        recipe, kind, log_score: of every candidate, single slips and pairs alike.
    """
    count = len(cases)
    free = math.log(priors()["none_found"]) + (free_density(cases) if density is None else density)
    is_honest = kind == HONEST
    honest = _log_sum(recipe[is_honest], log_score[is_honest], np.full(count, -np.inf))
    slipped = ~is_honest
    fault = _log_sum(recipe[slipped], log_score[slipped], free)
    belief = np.where(slipped, np.exp(log_score - fault[recipe]), 0.0)
    is_net = kind == CODE["net_carbs_stated"]
    weight = math.log(NET_SHARE) - math.log(priors()["net_carbs_stated"])
    as_net = _log_sum(recipe[is_net], log_score[is_net] + weight, np.full(count, -np.inf))
    other = slipped & ~is_net
    without = _log_sum(recipe[other], log_score[other], free)
    return Beliefs(belief, np.exp(free - fault), _odds(honest, fault), _odds(as_net, without))


def _odds(one: Vector, other: Vector) -> Vector:
    """Belief in one of two of these log likelihoods."""
    return np.asarray(1 / (1 + np.exp(np.clip(other - one, -700.0, 700.0))), dtype=np.float64)


def _log_sum(group: Ints, value: Vector, start: Vector) -> Vector:
    """log of start plus the sum of exponentials, by group."""
    most = start.copy()
    np.maximum.at(most, group, value)
    safe = np.where(np.isfinite(most), most, 0.0)
    total = np.exp(start - safe) + np.bincount(
        group, weights=np.exp(value - safe[group]), minlength=len(start)
    )
    with np.errstate(divide="ignore"):
        return np.asarray(safe + np.log(total), dtype=np.float64)
