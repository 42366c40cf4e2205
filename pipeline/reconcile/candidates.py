"""Every single slip of many recipes as one table of arrays: (recipe, slip, change of each nutrient).

A slip is either in the sums (a line left out, doubled, in another unit, looked up as another food;
all divided by another count or given for 100 g) or in the finished numbers (exchanged, mistyped, in
another unit). What cannot be seen in any stated number, or moves one away from what is stated, is
dropped before anything is built for it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, fields
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from pipeline.reconcile.cases import _DIAGONAL as DIAGONAL
from pipeline.reconcile.digits import meant_by
from pipeline.reconcile.model import (
    CARBS,
    DATABASE_SD,
    FAT,
    FIBRE,
    KCAL,
    KJ_PER_KCAL,
    MACROS,
    PROTEIN,
    TAGS,
    Matrix,
    UnitSlip,
    Vector,
    noise,
    priors,
    unit_slips,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from pipeline.reconcile.cases import Bools, Cases, Ints
    from pipeline.reconcile.foods import Foods

#: Kinds by their code in the table of candidates; ``honest`` is no slip.
KINDS = (
    "honest", "line_left_out", "line_doubled", "unit_slip", "amount_slip", "raw_cooked_slip",
    "product_variant",
    "servings_slip", "per_100g_stated_as_serving", "macros_swapped", "kilojoules_as_kcal",
    "energy_not_following_macros", "net_carbs_stated", "fibre_in_carbs", "digits_transposed",
)  # fmt: skip
CODE = {kind: n for n, kind in enumerate(KINDS)}
HONEST = CODE["honest"]
#: Slips in the sums: a second one may have been made beside them.
LINE_KINDS = tuple(CODE[k] for k in (
    "line_left_out", "line_doubled", "unit_slip", "amount_slip", "raw_cooked_slip",
    "product_variant",
))  # fmt: skip
SCALE_KINDS = tuple(CODE[k] for k in ("servings_slip", "per_100g_stated_as_serving"))

#: Counts of servings one may divide by, and belief in them relative to the right count.
_COUNTS = np.array([*range(1, 13), 14, 15, 16, 18, 20, 24], dtype=np.float64)

_USUAL_COUNTS = (2, 4, 6, 8, 10, 12, 16, 24)

#: Weight of a serving when the yield is not given: raw weight, or less after cooking.
_COOKED_SHARE = ((1.0, 0.8), (0.85, 0.12), (0.7, 0.08))

#: Energy that follows nothing: scale of a Laplace on the log ratio, beyond what noise explains.
_ENERGY_SCALE, _ENERGY_LEAST = 0.30, 0.06

#: A slip may take a stated number away from the sums by so many standard deviations between tables
#: and half a step, no more: what it predicts has to lie nearer to what is stated than the lines do.
_AWAY_SD = 2.0

#: A line that is not weighed may be taken for another weight: factors, and belief in each by a
#: normal on their logarithm (a piece, a cup or a tin is seldom read more than three times off; twice
#: is a line counted twice).
_AMOUNTS = np.array([0.25, 0.4, 0.55, 0.7, 1.4, 1.7, 2.4, 3.2])
_AMOUNT_SPREAD = 0.7

#: Likeness of profiles that a runner-up needs to be offered as another product of a line's food.
#: Words alone are not enough: garlic is no garlic soup.
_NEAR = 0.4

#: What happens to the finished numbers, by code; each is a matrix on (tags,) in ``transforms``.
PLAIN, SWAP_PC, SWAP_CF, SWAP_PF, KILOJOULES, LESS_FIBRE, LESS_FIBRE_2, LESS_FIBRE_4, MORE_FIBRE = (
    range(9)
)
_SWAPS = ((SWAP_PC, PROTEIN, CARBS), (SWAP_CF, CARBS, FAT), (SWAP_PF, PROTEIN, FAT))
#: kcal a gram of fibre taken out of the energy with it, and belief in each.
_LESS_FIBRE = ((LESS_FIBRE, 0.0, 0.7), (LESS_FIBRE_4, 4.0, 0.15), (LESS_FIBRE_2, 2.0, 0.15))

_SPOON = {
    "tbsp": re.compile(r"\b(?:tbsp|tbs|tablespoons?)\b", re.IGNORECASE),
    "tsp": re.compile(r"\b(?:tsp|teaspoons?)\b", re.IGNORECASE),
}


@dataclass(slots=True)
class Slips:
    """Candidates, column by column; every array has one row a candidate.

    Attributes:
        recipe: row of ``Cases``.
        line: row of its lines, -1 for none.
        kind: index into ``KINDS``.
        log_prior: log belief before the numbers are seen.
        scale: factor on the whole recipe.
        change: (n, tags) added to the scaled mean.
        line_cov: how often the covariance of the line is added (-1: the line is not there).
        value: (n, tags) what stands in place of the line ...
        value_var: ... and its relative variance.
        transform: what happens to the finished numbers, see ``transforms``.
        typed_at, typed: index of the number that was mistyped, and what was meant; -1 for none.
        no_energy: the energy follows nothing and is not part of the comparison.
        parameter, other: what the sentence names: factor, count or share; a row of foods, a unit
            slip or a way of typing.
    """

    recipe: Ints
    line: Ints
    kind: Ints
    log_prior: Vector
    scale: Vector
    change: Matrix
    line_cov: Vector
    value: Matrix
    value_var: Vector
    transform: Ints
    typed_at: Ints
    typed: Vector
    no_energy: Bools
    parameter: Vector
    other: Ints

    def __len__(self) -> int:
        return len(self.recipe)

    def take(self, rows: NDArray[np.int64] | NDArray[np.bool_]) -> Slips:
        """The candidates of these rows."""
        return Slips(*(getattr(self, f.name)[rows] for f in fields(self)))

    @staticmethod
    def together(parts: Sequence[Slips]) -> Slips:
        """One table of several."""
        return Slips(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Slips)))


def slips(recipe: Ints, kind: str | Ints, prior: Vector, **columns: NDArray[np.generic]) -> Slips:
    """A table of candidates; columns that are not given are those of no slip."""
    n = len(recipe)
    code = np.full(n, CODE[kind], dtype=np.int64) if isinstance(kind, str) else kind
    nothing = np.zeros((n, len(TAGS)))
    filled: dict[str, NDArray[np.generic]] = {
        "line": np.full(n, -1, dtype=np.int64), "scale": np.ones(n), "change": nothing,
        "line_cov": np.zeros(n), "value": nothing, "value_var": np.zeros(n),
        "transform": np.full(n, PLAIN, dtype=np.int64), "typed_at": np.full(n, -1, dtype=np.int64),
        "typed": np.zeros(n), "no_energy": np.zeros(n, dtype=np.bool_), "parameter": np.zeros(n),
        "other": np.full(n, -1, dtype=np.int64), **columns,
    }  # fmt: skip
    log_prior = np.log(np.maximum(prior, 1e-300))
    return Slips(recipe=recipe, kind=code, log_prior=log_prior, **filled)  # type: ignore[arg-type]


@cache
def transforms() -> NDArray[np.float64]:
    """(9, tags, tags): what each transform does to the numbers."""
    out = np.tile(np.eye(len(TAGS)), (9, 1, 1))
    for code, a, b in _SWAPS:
        out[code][[a, b]] = out[code][[b, a]]
    out[KILOJOULES, KCAL, KCAL] = KJ_PER_KCAL
    for code, kcal_per_g, _ in _LESS_FIBRE:
        out[code, CARBS, FIBRE] = -1.0
        out[code, KCAL, FIBRE] = -kcal_per_g
    out[MORE_FIBRE, CARBS, FIBRE] = 1.0
    return out


# --- the predictions ----------------------------------------------------------------------------


def predicted(cases: Cases, found: Slips) -> Matrix:
    """(n, tags): the numbers each slip would have published, typing slips apart."""
    before = found.scale[:, None] * cases.mean[found.recipe] + found.change
    return transformed(before, found.transform)


def transformed(mean: Matrix, transform: Ints) -> Matrix:
    """Means after what happens to the finished numbers."""
    out = mean.copy()
    rows = np.flatnonzero(transform != PLAIN)
    out[rows] = np.einsum("nij,nj->ni", transforms()[transform[rows]], mean[rows])
    return out


def added_cov(cases: Cases, found: Slips) -> NDArray[np.float64]:
    """(n, tags, tags): what each slip changes in the covariance of the sums."""
    out = found.value_var[:, None, None] * found.value[:, :, None] * found.value[:, None, :]
    rows = np.flatnonzero(found.line_cov != 0)
    out[rows] += found.line_cov[rows, None, None] * cases.lines.cov[found.line[rows]]
    return out


def with_noise(cov: NDArray[np.float64], mean: Matrix, transform: Ints) -> NDArray[np.float64]:
    """Add the noise between two tables, then what happens to the finished numbers.

    Args:
        cov: (n, tags, tags) of the sums.
        mean: (n, tags) of the sums, before the transform.
        transform: (n,).
    """
    out = cov + noise(mean)
    rows = np.flatnonzero(transform != PLAIN)
    take = transforms()[transform[rows]]
    out[rows] = take @ out[rows] @ take.transpose(0, 2, 1)
    kilojoules = np.flatnonzero(transform == KILOJOULES)
    own_factors = 0.01 * mean[kilojoules, KCAL] * KJ_PER_KCAL  # kJ has its own macro factors
    out[kilojoules, KCAL, KCAL] += own_factors**2
    return out


# --- all candidates -----------------------------------------------------------------------------


def candidates(cases: Cases, foods: Foods) -> tuple[Slips, Bools]:
    """Every single slip of every recipe that can be seen, and which of them point the right way.

    A slip that points away explains nothing by itself, and may be one of two. Honest readings (the
    lines as matched, or one of them meaning a runner-up) are rows of kind ``honest``: what they say
    is how likely it is that there is nothing to explain.
    """
    made = Slips.together([
        *_line_slips(cases), _food_slips(cases, foods), *_scale_slips(cases), *_swap_slips(cases),
        _kilojoule_slips(cases), _energy_slips(cases), *_fibre_slips(cases), _digit_slips(cases),
    ])  # fmt: skip
    right = towards(cases, predicted(cases, made), made.recipe, made.kind)
    as_they_are = honest(cases, foods)
    every = np.append(right, np.ones(len(as_they_are), dtype=np.bool_))
    return Slips.together([made, as_they_are]), every


def _tells(cases: Cases, recipe: Ints, change: Matrix) -> Bools:
    """Whether each change is large enough to be seen in any stated number."""
    return np.asarray((np.abs(change) >= cases.least[recipe]).any(axis=1), dtype=np.bool_)


def towards(cases: Cases, mean: Matrix, recipe: Ints, kind: Ints) -> Bools:
    """Whether each prediction moves no stated number away from what is stated, noise apart.

    Typing slips and energy that follows nothing explain one number and move none.
    """
    stated, base = cases.stated[recipe], cases.mean[recipe]
    away = np.abs(stated - mean) - np.abs(stated - base)
    room = _AWAY_SD * DATABASE_SD * np.maximum(np.abs(base), np.abs(mean)) + cases.step[recipe]
    room[:, KCAL] += _AWAY_SD * DATABASE_SD[PROTEIN] * base[:, KCAL]
    still = np.isin(kind, [CODE["digits_transposed"], CODE["energy_not_following_macros"]])
    fits = (away <= room) | ~cases.given[recipe]
    return np.asarray(fits.all(axis=1) | still, dtype=np.bool_)


def _shared(cases: Cases, recipe: Ints, weight: Vector, kind: str, least: float = 1.0) -> Vector:
    """A kind's prior shared out over its candidates; rare readings stay rare when alone."""
    every = np.bincount(recipe, weights=weight, minlength=len(cases))
    return np.asarray(priors()[kind] * weight / np.maximum(every[recipe], least), dtype=np.float64)


def _line_slips(cases: Cases) -> list[Slips]:
    """Lines left out, doubled, or measured in another unit."""
    lines = cases.lines
    every = np.flatnonzero(lines.values.any(axis=1))
    ones = np.ones(len(every))
    unit_line, unit_slip, unit_factor, unit_weight = _unit_readings(cases)
    out = []
    for kind, line, factor, weight, other in (
        ("line_left_out", every, 0 * ones, ones, np.full(len(every), -1)),
        ("line_doubled", every, 2 * ones, ones, np.full(len(every), -1)),
        ("unit_slip", unit_line, unit_factor, unit_weight, unit_slip),
        ("amount_slip", *_amount_readings(cases)),
    ):
        change = (factor - 1)[:, None] * lines.mean[line]
        seen = _tells(cases, lines.recipe[line], change)
        line, factor, change = line[seen], factor[seen], change[seen]
        recipe = lines.recipe[line]
        out.append(
            slips(
                recipe, kind, _shared(cases, recipe, weight[seen], kind), line=line, change=change,
                line_cov=factor**2 - 1, parameter=factor, other=other[seen],
            )
        )  # fmt: skip
    return out


def _amount_readings(cases: Cases) -> tuple[Ints, Vector, Vector, Ints]:
    """Line, factor and weight of lines by the piece, cup or tin taken for another weight."""
    open_ = np.flatnonzero(~cases.lines.by_mass & (np.nan_to_num(cases.lines.grams) > 0))
    belief = np.exp(-0.5 * (np.log(_AMOUNTS) / _AMOUNT_SPREAD) ** 2)
    belief /= belief.sum()
    line = np.repeat(open_, len(_AMOUNTS))
    return (
        line, np.tile(_AMOUNTS, len(open_)), np.tile(belief, len(open_)), np.full(len(line), -1),
    )  # fmt: skip


#: A volume in millilitres whose number was counted as grams.
ML_AS_G = UnitSlip("g", math.nan, 0.3)


def unit_readings() -> list[tuple[str, UnitSlip]]:
    """Unit and what it may be counted as, in the order of ``Slips.other``."""
    rows = [(unit, slip) for unit, found in unit_slips().items() for slip in found]
    return [*rows, ("ml", ML_AS_G)]


def _unit_readings(cases: Cases) -> tuple[Ints, Ints, Vector, Vector]:
    """Line, unit slip, factor and weight of every unit that a line may have been counted in."""
    lines, every = cases.lines, unit_readings()
    of_unit: dict[str, list[int]] = {}
    for n, (unit, slip) in enumerate(every):
        if slip is not ML_AS_G:
            of_unit.setdefault(unit, []).append(n)
    found: list[list[int]] = []
    for text, unit in zip(lines.text, lines.unit, strict=True):
        units = {u for u, words in _SPOON.items() if words.search(text)}
        units.add(unit.split("_")[0] if unit != "fl_oz" else "fl_oz")
        found.append([n for u in sorted(units) for n in of_unit.get(u, ())])
    line = np.repeat(np.arange(len(found)), [len(f) for f in found])
    slip = np.array([n for f in found for n in f], dtype=np.int64)
    factor = np.array([s.factor for _, s in every])[slip] if len(slip) else np.empty(0)
    weight = np.array([s.weight for _, s in every])[slip] if len(slip) else np.empty(0)
    with np.errstate(invalid="ignore"):
        in_ml = np.array([u == "ml" for u in lines.unit], dtype=np.bool_)
        in_ml &= (lines.grams > 0) & (lines.unit_amount > 0)
    ml = np.flatnonzero(in_ml)
    return (
        np.concatenate([line, ml]),
        np.concatenate([slip, np.full(len(ml), len(every) - 1)]),
        np.concatenate([factor, lines.unit_amount[ml] / lines.grams[ml]]),
        np.concatenate([weight, np.full(len(ml), ML_AS_G.weight)]),
    )


def _food_slips(cases: Cases, foods: Foods) -> Slips:
    """The grams of a line looked up in another food: raw for cooked, another product."""
    lines = cases.lines
    weighed = np.flatnonzero((lines.food >= 0) & (np.nan_to_num(lines.grams) > 0))
    named: dict[int, list[tuple[int, float]]] = {}
    for n, at, p in zip(lines.runner_line, lines.runner_food, lines.runner_p, strict=True):
        named.setdefault(int(n), []).append((int(at), float(p)))
    per_line = [_other_foods(foods, int(lines.food[n]), named.get(int(n), [])) for n in weighed]
    line = np.repeat(weighed, [len(found) for found in per_line])
    rows = [row for found in per_line for row in found]
    raw_cooked = np.array([kind == "raw_cooked_slip" for kind, _, _ in rows], dtype=np.bool_)
    other = np.array([at for _, at, _ in rows], dtype=np.int64)
    weight = np.array([w for _, _, w in rows])
    value = foods.values[other] * (lines.grams[line] / 100)[:, None]
    whole = np.isfinite(value[:, : FAT + 1]).all(axis=1)
    value = np.where(np.isfinite(value), value, lines.values[line])
    net = cases.net[lines.recipe[line]]
    value[net, CARBS] -= value[net, FIBRE]
    change = value - lines.mean[line]
    seen = whole & _tells(cases, lines.recipe[line], change)
    line, other, weight, value = line[seen], other[seen], weight[seen], value[seen]
    recipe, raw_cooked = lines.recipe[line], raw_cooked[seen]
    prior = np.empty(len(line))
    for kind, mine in (("raw_cooked_slip", raw_cooked), ("product_variant", ~raw_cooked)):
        with_one = {(int(r), int(n)) for r, n in zip(recipe[mine], line[mine], strict=True)}
        count = np.bincount([r for r, _ in with_one], minlength=len(cases)) if with_one else None
        if count is not None:
            prior[mine] = priors()[kind] * weight[mine] / count[recipe[mine]]
    return slips(
        recipe, np.where(raw_cooked, CODE["raw_cooked_slip"], CODE["product_variant"]), prior,
        line=line, change=change[seen], line_cov=np.full(len(line), -1.0), value=value,
        value_var=lines.grams_var[line] + 1e-4, other=other,
    )  # fmt: skip


def _other_foods(
    foods: Foods, food: int, named: list[tuple[int, float]]
) -> list[tuple[str, int, float]]:
    """Kind, row and belief of each food that may have been looked up in place of another.

    Neighbours in the space of profiles, and those runners-up of the match that are near in it.
    """
    variants = foods.variants
    found: dict[tuple[str, int], float] = {(v.kind, v.index): v.weight for v in variants.of(food)}
    mine = variants.state[food]
    for at, p in named:
        if variants.likeness(food, at) < _NEAR:
            continue
        state = variants.state[at]
        kind = "raw_cooked_slip" if mine and state and state != mine else "product_variant"
        found[kind, at] = max(found.get((kind, at), 0.0), min(2 * p, 0.5))
    return [(kind, at, weight) for (kind, at), weight in found.items()]


def _scale_slips(cases: Cases) -> list[Slips]:
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
    seen = (weight > 0) & _tells(cases, recipe, change)
    recipe, factor, weight = recipe[seen], factor[seen], weight[seen]
    out = [
        slips(
            recipe, "servings_slip", _shared(cases, recipe, weight, "servings_slip", 1e-9),
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
        mine_seen = _tells(cases, mine, (factor - 1)[:, None] * cases.mean[mine])
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


def _swap_slips(cases: Cases) -> list[Slips]:
    """Two macros in each other's place."""
    pairs = np.stack([cases.given[:, a] & cases.given[:, b] for _, a, b in _SWAPS], axis=1)
    out = []
    for n, (code, a, b) in enumerate(_SWAPS):
        change = np.zeros_like(cases.mean)
        change[:, a] = cases.mean[:, b] - cases.mean[:, a]
        change[:, b] = -change[:, a]
        mine = np.flatnonzero(pairs[:, n] & _tells(cases, np.arange(len(cases)), change))
        prior = priors()["macros_swapped"] / pairs[mine].sum(axis=1)
        transform = np.full(len(mine), code)
        out.append(slips(mine, "macros_swapped", prior, transform=transform, other=transform))
    return out


def _kilojoule_slips(cases: Cases) -> Slips:
    mine = np.flatnonzero(cases.given[:, KCAL] & (cases.mean[:, KCAL] > 0))
    prior = np.full(len(mine), priors()["kilojoules_as_kcal"])
    return slips(mine, "kilojoules_as_kcal", prior, transform=np.full(len(mine), KILOJOULES))


def _energy_slips(cases: Cases) -> Slips:
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


def _fibre_slips(cases: Cases) -> list[Slips]:
    """Carbohydrate without its fibre, or with it where the collection states it without."""
    fibre = cases.mean[:, FIBRE]
    may = cases.given[:, CARBS] & ~cases.net & (fibre > 0)
    kind, ways = ("net_carbs_stated", _LESS_FIBRE)
    if cases.available:
        kind, ways = "fibre_in_carbs", ((MORE_FIBRE, 0.0, 1.0),)
    out = []
    for code, kcal_per_g, belief in ways:
        change = np.zeros_like(cases.mean)
        change[:, CARBS], change[:, KCAL] = -fibre, -kcal_per_g * fibre
        mine = np.flatnonzero(may & _tells(cases, np.arange(len(cases)), change))
        prior = np.full(len(mine), priors()[kind] * belief)
        out.append(
            slips(mine, kind, prior, transform=np.full(len(mine), code), parameter=fibre[mine])
        )
    return out


@cache
def _meant(shown: int) -> tuple[Vector, Vector, tuple[str, ...]]:
    """Values, chances and ways of every number that typing may have turned into ``shown``."""
    found = meant_by(shown, 1, 10 ** (len(str(shown)) + 1))
    return (
        np.array([float(m.value) for m in found]), np.array([m.chance for m in found]),
        tuple(m.how for m in found),
    )  # fmt: skip


def _digit_slips(cases: Cases) -> Slips:
    """One number mistyped; what was meant has to lie near the sum."""
    places = (KCAL, *MACROS)
    may = cases.given[:, places] & (cases.stated[:, places] > 0)
    recipe, column = np.nonzero(may)
    at = np.array(places)[column]
    step = cases.step[recipe, at]
    step = np.where(step > 0, step, 1.0)
    shown = np.rint(cases.stated[recipe, at] / step).astype(np.int64)
    found = [_meant(int(s)) for s in shown]
    size = [len(values) for values, _, _ in found]
    of = np.repeat(np.arange(len(found)), size)
    if not len(of):
        return slips(np.empty(0, np.int64), "digits_transposed", np.empty(0))
    value = np.concatenate([values for values, _, _ in found]) * step[of]
    chance = np.concatenate([chances for _, chances, _ in found])
    way = np.concatenate([np.arange(n) for n in size])
    recipe, at = recipe[of], at[of]
    base = (cases.cov + noise(cases.mean))[:, DIAGONAL, DIAGONAL]
    room = 4 * np.sqrt(base[recipe, at]) + step[of]
    change = np.zeros((len(of), len(TAGS)))
    change[np.arange(len(of)), at] = cases.stated[recipe, at] - value
    seen = (np.abs(value - cases.mean[recipe, at]) <= room) & _tells(cases, recipe, change)
    numbers = may.sum(axis=1)
    return slips(
        recipe[seen], "digits_transposed",
        priors()["digits_transposed"] * chance[seen] / numbers[recipe[seen]],
        typed_at=at[seen], typed=value[seen], parameter=shown[of][seen].astype(np.float64),
        other=way[seen],
    )  # fmt: skip


def honest(cases: Cases, foods: Foods) -> Slips:
    """No slip: the lines as matched, or one of them meaning a runner-up of its match."""
    lines = cases.lines
    line, other = lines.runner_line, lines.runner_food
    value = foods.values[other] * lines.grams[line][:, None] / 100
    whole = np.isfinite(value[:, : FAT + 1]).all(axis=1)
    value = np.where(np.isfinite(value), value, lines.values[line])
    net = cases.net[lines.recipe[line]]
    value[net, CARBS] -= value[net, FIBRE]
    change = value - lines.mean[line]
    seen = whole & _tells(cases, lines.recipe[line], change)
    line, value = line[seen], value[seen]
    as_runner = slips(
        lines.recipe[line], "honest", lines.runner_p[seen], line=line, change=change[seen],
        line_cov=np.full(len(line), -1.0), value=value, value_var=lines.grams_var[line],
        other=other[seen],
    )  # fmt: skip
    every = np.arange(len(cases))
    return Slips.together([as_runner, slips(every, "honest", np.ones(len(cases)))])
