"""Slips in the whole and in the finished numbers: servings, 100 g, exchanged, mistyped, other units."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from pipeline.reconcile.cases import LEAST_AMOUNT
from pipeline.reconcile.digits import SHARES, WAYS, chance_of, may_be_meant
from pipeline.reconcile.model import (
    ATWATER,
    CARBS,
    FIBRE,
    KCAL,
    MACROS,
    SODIUM,
    noise_variance,
    priors,
)
from pipeline.reconcile.shares import shared, visible
from pipeline.reconcile.slips import (
    KILOJOULES,
    LESS_FIBRE_WAYS,
    MORE_FIBRE,
    SODIUM_WAYS,
    SWAPS,
    Slips,
    slips,
)

if TYPE_CHECKING:
    from pipeline.reconcile.arrays import Bools, Matrix, Vector
    from pipeline.reconcile.cases import Cases

#: Counts of servings one may divide by, and belief in them relative to the right count.
_COUNTS = np.array([*range(1, 13), 14, 15, 16, 18, 20, 24], dtype=np.float64)

_USUAL_COUNTS = (2, 4, 6, 8, 10, 12, 16, 24)

#: Weight of a serving when the yield is not given, as a share of the raw weight: share, its relative
#: spread, belief. Either nothing is lost, or what a dish loses in cooking (common practice).
_COOKED_SHARE = ((1.0, 0.005, 0.6), (0.82, 0.1, 0.4))

#: A way of typing; a number is whole when it is so near one; a number further from the sum than this
#: share of it was not meant.
_POINT, _WHOLE, _POINT_FAR = "the decimal point shifted", 1e-6, 1.0

#: A number that follows nothing: scale of a Laplace on the log ratio, beyond what noise explains.
_STALE_SCALE, _STALE_LEAST = 0.40, 0.06


def scale_slips(cases: Cases) -> list[Slips]:
    """Divided by another count of servings; the number of one serving; given per 100 g."""
    basis = np.array(cases.basis)
    servings = np.where(cases.servings > 0, cases.servings, math.nan)
    every = np.arange(len(cases))
    # another count
    mine = every[(basis == "per_serving") & np.isfinite(servings)]
    n = servings[mine][:, None]
    counts = np.concatenate([np.tile(_COUNTS, (len(mine), 1)), 2 * n, n / 2], axis=1)
    belief = _count_belief(counts, n)
    for column in (-2, -1):  # twice and half may stand among the counts already
        belief[(counts[:, column, None] == counts[:, :column]).any(axis=1), column] = 0.0
    recipe = np.repeat(mine, counts.shape[1])
    factor, weight = (n / counts).ravel(), belief.ravel()
    change = (factor - 1)[:, None] * cases.mean[recipe]
    seen = (weight > 0) & visible(cases, recipe, change)
    recipe, factor, weight = recipe[seen], factor[seen], weight[seen]
    out = [
        slips(
            cases, recipe, "servings_slip", shared(cases, recipe, weight, "servings_slip", 1e-9),
            scale=factor, parameter=counts.ravel()[seen],
        )
    ]  # fmt: skip
    # one serving's numbers stated for the whole recipe
    whole = every[(basis == "per_recipe") & (np.nan_to_num(servings) > 1)]
    prior = np.full(len(whole), priors()["servings_slip"])
    out.append(slips(cases, whole, "servings_slip", prior, scale=1 / servings[whole]))
    # numbers of 100 g
    for share, sd, belief_share in _COOKED_SHARE:
        weight = cases.weight_g * np.where(cases.yield_known, 1.0, share)
        belief_of = np.where(cases.yield_known, float(share == 1.0), belief_share)
        mine = every[(basis != "per_100g") & (np.nan_to_num(weight) > 0) & (belief_of > 0)]
        factor = 100 / weight[mine]
        mine_seen = visible(cases, mine, (factor - 1)[:, None] * cases.mean[mine])
        mine, factor = mine[mine_seen], factor[mine_seen]
        value = factor[:, None] * cases.mean[mine]  # moves with the weight of a serving
        out.append(
            slips(
                cases, mine, "per_100g_stated_as_serving",
                priors()["per_100g_stated_as_serving"] * belief_of[mine], scale=factor,
                parameter=100 / factor, value=value, value_var=np.full(len(mine), sd**2),
            )
        )  # fmt: skip
    return out


def _count_belief(k: Matrix, n: Matrix) -> Matrix:
    """Belief in dividing by ``k`` when ``n`` is right, not yet scaled. Common practice."""
    near = np.abs(k - n)
    out = np.full(k.shape, 0.25)
    usual = np.isin(k, _USUAL_COUNTS)
    out[usual & (k <= 3 * n) & (n <= 3 * k)] = 1.0  # what the creator's other recipes are for
    out[near == 2] = np.where(usual[near == 2], 2.0, 1.5)
    out[(k == 2 * n) | (k == n / 2) | (near == 1)] = 2.0
    out[k == 1] = 4.0  # the whole recipe as one serving
    out[np.broadcast_to(n == 1, k.shape) & usual] = 2.0  # a loaf or cake counted as one
    out[(k < 1) | (k == n)] = 0.0
    return out


def swap_slips(cases: Cases) -> list[Slips]:
    """Two macros in each other's place."""
    pairs = np.stack([cases.given[:, a] & cases.given[:, b] for _, a, b in SWAPS], axis=1)
    prior = priors()["macros_swapped"] / np.maximum(pairs.sum(axis=1), 1)
    out = []
    for n, (code, a, b) in enumerate(SWAPS):
        more = cases.mean[:, b] - cases.mean[:, a]
        out.append(_written(cases, "macros_swapped", code, pairs[:, n], {a: more, b: -more}, prior))
    return out


def _written(
    cases: Cases, kind: str, code: int, may: Bools, change: dict[int, Vector], prior: Vector | float,
    parameter: Vector | None = None,
) -> Slips:  # fmt: skip
    """One way of writing finished numbers otherwise, for the recipes in which it can be seen.

    Args:
        code: of the transform.
        may: (recipes,) where it may have happened at all.
        change: of each number it touches, (recipes,).
        prior, parameter: of each recipe.
    """
    moved = np.zeros_like(cases.mean)
    for tag, by in change.items():
        moved[:, tag] = by
    mine = np.flatnonzero(may & visible(cases, np.arange(len(cases)), moved))
    transform = np.full(len(mine), code)
    return slips(
        cases, mine, kind, np.broadcast_to(prior, len(cases))[mine], transform=transform, other=transform,
        parameter=np.zeros(len(mine)) if parameter is None else parameter[mine],
    )  # fmt: skip


def kilojoule_slips(cases: Cases) -> Slips:
    mine = np.flatnonzero(cases.given[:, KCAL] & (cases.mean[:, KCAL] > 0))
    prior = np.full(len(mine), priors()["kilojoules_as_kcal"])
    return slips(cases, mine, "kilojoules_as_kcal", prior, transform=np.full(len(mine), KILOJOULES))


def sodium_slips(cases: Cases) -> list[Slips]:
    """Sodium in grams where milligrams are meant, or salt in its place."""
    if not cases.given[:, SODIUM:].any():
        return []
    sodium, prior = cases.mean[:, SODIUM], priors()["sodium_unit_slip"]
    may = cases.given[:, SODIUM] & (sodium > 0)
    return [
        _written(
            cases, "sodium_unit_slip", code, may, {SODIUM: (factor - 1) * sodium}, prior * belief
        )
        for code, factor, belief in SODIUM_WAYS
    ]


def stale_slips(cases: Cases) -> list[Slips]:
    """One number follows nothing and the others fit; its density is part of the prior."""
    return [
        _stale(cases, "energy_not_following_macros", KCAL, 1.0),
        *(_stale(cases, "macro_not_following", tag, 1 / len(MACROS)) for tag in MACROS),
    ]


def _stale(cases: Cases, kind: str, tag: int, share: float) -> Slips:
    core = (KCAL, *MACROS)
    others = cases.given[:, [t for t in core if t != tag]].sum(axis=1)
    # next to nothing may have been anything below what is worth telling
    stated, mean = (
        np.maximum(side[:, tag], LEAST_AMOUNT[tag]) for side in (cases.stated, cases.mean)
    )
    off = np.abs(np.log(stated / mean))
    enough = (others >= 2) | (others >= 1) & (cases.given[:, KCAL] | (tag == KCAL))
    may = cases.given[:, tag] & enough & (off > _STALE_LEAST)
    if tag == KCAL:
        may &= ~_follows_macros(cases)
    mine = np.flatnonzero(may)
    density = np.exp(-(off[mine] - _STALE_LEAST) / _STALE_SCALE) / (2 * _STALE_SCALE * stated[mine])
    return slips(cases, mine, kind, priors()[kind] * share * density, aside=np.full(len(mine), tag))


def _follows_macros(cases: Cases) -> Bools:
    """Whether the stated energy is that of the stated macros by the general factors, (recipes,)."""
    factors = ATWATER[: cases.stated.shape[1]]
    off = np.abs(cases.stated[:, KCAL] - cases.stated @ factors)
    room = cases.step[:, KCAL] + cases.step @ factors
    return np.asarray(cases.given[:, list(MACROS)].all(axis=1) & (off <= room), dtype=np.bool_)


def fibre_slips(cases: Cases) -> list[Slips]:
    """Carbohydrate without its fibre, or with it where the collection states it without."""
    fibre = cases.mean[:, FIBRE]
    may = cases.given[:, CARBS] & ~cases.net & (fibre > 0)
    kind, ways = "net_carbs_stated", LESS_FIBRE_WAYS
    if cases.available:
        kind, ways = "fibre_in_carbs", ((MORE_FIBRE, 0.0, 1.0),)
    return [
        _written(
            cases, kind, code, may, {CARBS: -fibre, KCAL: -kcal_per_g * fibre},
            priors()[kind] * belief, fibre,
        )
        for code, kcal_per_g, belief in ways
    ]  # fmt: skip


def digit_slips(cases: Cases) -> Slips:
    """One number mistyped; what was meant has to lie near the sum."""
    places = (KCAL, *MACROS)
    may = cases.given[:, places] & (cases.stated[:, places] > 0)
    recipe, column = np.nonzero(may)
    at = np.array(places)[column]
    step = cases.step[recipe, at]
    step = np.where(step > 0, step, 1.0)
    shown = np.rint(cases.stated[recipe, at] / step).astype(np.int64)
    values = may_be_meant(shown)
    base = np.einsum("nii->ni", cases.cov) + noise_variance(cases.mean, cases.sd)
    off = np.abs(values * step[:, None] - cases.mean[recipe, at][:, None])
    near = off <= (4 * np.sqrt(base[recipe, at]) + step)[:, None]
    of, column = np.nonzero(near & (values > 0))
    value, number = values[of, column], shown[of]
    recipe, at, typed = recipe[of], at[of], values[of, column] * step[of]
    change = np.zeros((len(of), cases.mean.shape[1]))
    change[np.arange(len(of)), at] = cases.stated[recipe, at] - typed
    seen = np.flatnonzero(visible(cases, recipe, change))
    found = [
        chance_of(v, n) for v, n in zip(value[seen].tolist(), number[seen].tolist(), strict=True)
    ]
    chance, way = np.array(found, dtype=np.float64).reshape(len(found), 2).T
    seen, chance, way = seen[chance > 0], chance[chance > 0], way[chance > 0]
    recipe, numbers = recipe[seen], may.sum(axis=1)
    return slips(
        cases, recipe, "digits_transposed", priors()["digits_transposed"] * chance / numbers[recipe],
        typed_at=at[seen], typed=typed[seen], other=way.astype(np.int64),
    )  # fmt: skip


def point_slips(cases: Cases) -> Slips:
    """One number written ten times too large: the decimal point of 9.3 left out.

    A number ten times too small, or large by a nought, is a slip of its digits.
    """
    places = np.array((KCAL, *MACROS))
    step = np.where(cases.step > 0, cases.step, 1.0)[:, places]
    may = cases.given[:, places] & (cases.stated[:, places] > 0)
    typed = cases.stated[:, places] / 10
    of_digits = np.abs(np.rint(typed / step) - typed / step) < _WHOLE
    far = np.abs(typed - cases.mean[:, places]) > _POINT_FAR * typed
    recipe, column = np.nonzero(may & ~of_digits & ~far)
    # the tenth is as sharp as the number: a tenth of its density
    chance = SHARES[_POINT] / 10 / np.maximum(may.sum(axis=1), 1)
    return slips(
        cases, recipe, "digits_transposed", priors()["digits_transposed"] * chance[recipe],
        typed_at=places[column], typed=typed[recipe, column],
        other=np.full(len(recipe), WAYS.index(_POINT)),
    )  # fmt: skip
