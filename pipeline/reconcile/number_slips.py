"""Slips in the whole and in the finished numbers: servings, 100 g, exchanged, mistyped, other units."""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from pipeline.reconcile.digits import meant_by
from pipeline.reconcile.model import (
    CARBS,
    FIBRE,
    KCAL,
    MACROS,
    SODIUM,
    TAGS,
    Matrix,
    Vector,
    noise,
    priors,
)
from pipeline.reconcile.shares import shared, tells
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
    from pipeline.reconcile.cases import Cases

#: Counts of servings one may divide by, and belief in them relative to the right count.
_COUNTS = np.array([*range(1, 13), 14, 15, 16, 18, 20, 24], dtype=np.float64)

_USUAL_COUNTS = (2, 4, 6, 8, 10, 12, 16, 24)

#: Weight of a serving when the yield is not given: raw weight, or less after cooking.
_COOKED_SHARE = ((1.0, 0.8), (0.85, 0.12), (0.7, 0.08))

#: Energy that follows nothing: scale of a Laplace on the log ratio, beyond what noise explains.
_ENERGY_SCALE, _ENERGY_LEAST = 0.30, 0.06


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
    seen = (weight > 0) & tells(cases, recipe, change)
    recipe, factor, weight = recipe[seen], factor[seen], weight[seen]
    out = [
        slips(
            recipe, "servings_slip", shared(cases, recipe, weight, "servings_slip", 1e-9),
            scale=factor, parameter=counts.ravel()[seen],
        )
    ]  # fmt: skip
    # one serving's numbers stated for the whole recipe
    whole = every[(basis == "per_recipe") & (np.nan_to_num(servings) > 1)]
    prior = np.full(len(whole), priors()["servings_slip"])
    out.append(slips(whole, "servings_slip", prior, scale=1 / servings[whole]))
    # numbers of 100 g
    for share, belief_share in _COOKED_SHARE:
        weight = cases.weight_g * np.where(cases.yield_known, 1.0, share)
        belief_of = np.where(cases.yield_known, float(share == 1.0), belief_share)
        mine = every[(basis != "per_100g") & (np.nan_to_num(weight) > 0) & (belief_of > 0)]
        factor = 100 / weight[mine]
        mine_seen = tells(cases, mine, (factor - 1)[:, None] * cases.mean[mine])
        mine, factor = mine[mine_seen], factor[mine_seen]
        out.append(
            slips(
                mine, "per_100g_stated_as_serving",
                priors()["per_100g_stated_as_serving"] * belief_of[mine], scale=factor,
                parameter=100 / factor,
            )
        )  # fmt: skip
    return out


def _count_belief(k: Matrix, n: Matrix) -> Matrix:
    """Belief in dividing by ``k`` when ``n`` is right, not yet scaled. Common practice."""
    near = np.abs(k - n)
    out = np.full(k.shape, 0.25)
    out[near == 2] = 1.5
    out[(k == 2 * n) | (k == n / 2) | (near == 1)] = 2.0
    out[k == 1] = 4.0  # the whole recipe as one serving
    usual = np.isin(k, _USUAL_COUNTS)  # a loaf or cake counted as one: any usual count
    out[np.broadcast_to(n == 1, k.shape) & usual] = 2.0
    out[(k < 1) | (k == n)] = 0.0
    return out


def swap_slips(cases: Cases) -> list[Slips]:
    """Two macros in each other's place."""
    pairs = np.stack([cases.given[:, a] & cases.given[:, b] for _, a, b in SWAPS], axis=1)
    out = []
    for n, (code, a, b) in enumerate(SWAPS):
        change = np.zeros_like(cases.mean)
        change[:, a] = cases.mean[:, b] - cases.mean[:, a]
        change[:, b] = -change[:, a]
        mine = np.flatnonzero(pairs[:, n] & tells(cases, np.arange(len(cases)), change))
        prior = priors()["macros_swapped"] / pairs[mine].sum(axis=1)
        transform = np.full(len(mine), code)
        out.append(slips(mine, "macros_swapped", prior, transform=transform, other=transform))
    return out


def kilojoule_slips(cases: Cases) -> Slips:
    mine = np.flatnonzero(cases.given[:, KCAL] & (cases.mean[:, KCAL] > 0))
    prior = np.full(len(mine), priors()["kilojoules_as_kcal"])
    return slips(mine, "kilojoules_as_kcal", prior, transform=np.full(len(mine), KILOJOULES))


def sodium_slips(cases: Cases) -> list[Slips]:
    """Sodium in grams where milligrams are meant, or salt in its place."""
    sodium = cases.mean[:, SODIUM]
    may = cases.given[:, SODIUM] & (sodium > 0)
    out = []
    for code, factor, belief in SODIUM_WAYS:
        change = np.zeros_like(cases.mean)
        change[:, SODIUM] = (factor - 1) * sodium
        mine = np.flatnonzero(may & tells(cases, np.arange(len(cases)), change))
        prior = np.full(len(mine), priors()["sodium_unit_slip"] * belief)
        transform = np.full(len(mine), code)
        out.append(slips(mine, "sodium_unit_slip", prior, transform=transform, other=transform))
    return out


def energy_slips(cases: Cases) -> Slips:
    """The macros fit and the energy follows nothing; its density is part of the prior."""
    others = cases.given.copy()
    others[:, KCAL] = False
    said, mean = cases.stated[:, KCAL], cases.mean[:, KCAL]
    with np.errstate(invalid="ignore", divide="ignore"):
        off = np.abs(np.log(said / mean))
    mine = np.flatnonzero(
        cases.given[:, KCAL] & others[:, list(MACROS)].any(axis=1) & (off > _ENERGY_LEAST)
        & np.isfinite(off)
    )  # fmt: skip
    density = np.exp(-(off[mine] - _ENERGY_LEAST) / _ENERGY_SCALE) / (
        2 * _ENERGY_SCALE * said[mine]
    )
    return slips(
        mine, "energy_not_following_macros", priors()["energy_not_following_macros"] * density,
        no_energy=np.ones(len(mine), dtype=np.bool_),
    )  # fmt: skip


def fibre_slips(cases: Cases) -> list[Slips]:
    """Carbohydrate without its fibre, or with it where the collection states it without."""
    fibre = cases.mean[:, FIBRE]
    may = cases.given[:, CARBS] & ~cases.net & (fibre > 0)
    kind, ways = "net_carbs_stated", LESS_FIBRE_WAYS
    if cases.available:
        kind, ways = "fibre_in_carbs", ((MORE_FIBRE, 0.0, 1.0),)
    out = []
    for code, kcal_per_g, belief in ways:
        change = np.zeros_like(cases.mean)
        change[:, CARBS], change[:, KCAL] = -fibre, -kcal_per_g * fibre
        mine = np.flatnonzero(may & tells(cases, np.arange(len(cases)), change))
        prior = np.full(len(mine), priors()[kind] * belief)
        out.append(
            slips(mine, kind, prior, transform=np.full(len(mine), code), parameter=fibre[mine])
        )
    return out


@cache
def meant(shown: int) -> tuple[Vector, Vector, tuple[str, ...]]:
    """Values, chances and ways of every number that typing may have turned into ``shown``."""
    found = meant_by(shown, 1, 10 ** (len(str(shown)) + 1))
    return (
        np.array([float(m.value) for m in found]), np.array([m.chance for m in found]),
        tuple(m.how for m in found),
    )  # fmt: skip


def digit_slips(cases: Cases) -> Slips:
    """One number mistyped; what was meant has to lie near the sum."""
    places = (KCAL, *MACROS)
    may = cases.given[:, places] & (cases.stated[:, places] > 0)
    recipe, column = np.nonzero(may)
    at = np.array(places)[column]
    step = cases.step[recipe, at]
    step = np.where(step > 0, step, 1.0)
    shown = np.rint(cases.stated[recipe, at] / step).astype(np.int64)
    found = [meant(int(s)) for s in shown]
    size = [len(values) for values, _, _ in found]
    of = np.repeat(np.arange(len(found)), size)
    if not len(of):
        return slips(np.empty(0, np.int64), "digits_transposed", np.empty(0))
    value = np.concatenate([values for values, _, _ in found]) * step[of]
    chance = np.concatenate([chances for _, chances, _ in found])
    way = np.concatenate([np.arange(n) for n in size])
    recipe, at = recipe[of], at[of]
    at_own = np.arange(len(TAGS))
    base = (cases.cov + noise(cases.mean))[:, at_own, at_own]
    room = 4 * np.sqrt(base[recipe, at]) + step[of]
    change = np.zeros((len(of), len(TAGS)))
    change[np.arange(len(of)), at] = cases.stated[recipe, at] - value
    seen = (np.abs(value - cases.mean[recipe, at]) <= room) & tells(cases, recipe, change)
    numbers = may.sum(axis=1)
    return slips(
        recipe[seen], "digits_transposed",
        priors()["digits_transposed"] * chance[seen] / numbers[recipe[seen]],
        typed_at=at[seen], typed=value[seen], parameter=shown[of][seen].astype(np.float64),
        other=way[seen],
    )  # fmt: skip
