"""Slips on single lines: left out, doubled, another unit or weight, looked up as another food."""

from __future__ import annotations

import math
from functools import cache, lru_cache
from typing import TYPE_CHECKING

import numpy as np

from pipeline.phrases import Phrase
from pipeline.reconcile.model import CARBS, FAT, FIBRE, UnitSlip, priors, unit_slips
from pipeline.reconcile.shares import shared, visible
from pipeline.reconcile.slips import CODE, GENERAL_FACTORS, Slips, slips

if TYPE_CHECKING:
    from pipeline.reconcile.arrays import Bools, Ints, Matrix, Vector
    from pipeline.reconcile.cases import Cases
    from pipeline.reconcile.foods import Foods

#: A line that is not weighed may be taken for another weight: factors (a piece, a cup or a tin is
#: seldom read more than three times off; twice is a line counted twice), each for the weights around
#: it: a band of this width on the logarithm.
_AMOUNTS = np.array([0.25, 0.4, 0.55, 0.7, 1.4, 1.7, 2.4, 3.2])
_BANDS = np.array([0.5, 0.4, 0.28, 0.28, 0.22, 0.2, 0.3, 0.3])
#: Another cook's weight by a Laplace on the logarithm, the wider the less our own is known: spread of
#: a weight that everybody knows, so many times our own beside it, and the usual of both.
_KNOWN_SPREAD, _TIMES_OURS, _USUAL_SPREAD = 0.25, 2.5, 0.5

#: Likeness of profiles that a runner-up needs to be offered as another product of a line's food.
#: Words alone are not enough: garlic is no garlic soup.
_NEAR = 0.4

#: Belief that energy is counted with 4, 4 and 9 kcal a gram, of a creator whose table is ours.
#: Common practice.
_BY_FACTORS = 0.2

_SPOON = Phrase(r"\b(?:(?P<tbsp>tbsp|tbs|tablespoons?)|(?P<tsp>tsp|teaspoons?))\b")


def line_slips(cases: Cases) -> list[Slips]:
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
    ):
        change = (factor - 1)[:, None] * lines.mean[line]
        seen = visible(cases, lines.recipe[line], change)
        line, factor, change = line[seen], factor[seen], change[seen]
        recipe = lines.recipe[line]
        out.append(
            slips(
                cases, recipe, kind, shared(cases, recipe, weight[seen], kind), line=line, change=change,
                line_cov=factor**2 - 1, parameter=factor, other=other[seen],
            )
        )  # fmt: skip
    return [*out, _amount_slips(cases)]


def _amount_slips(cases: Cases) -> Slips:
    """Lines by the piece, cup or tin taken for another weight; what we think of it plays no part."""
    lines = cases.lines
    open_ = np.flatnonzero(~lines.by_mass & (np.nan_to_num(lines.grams) > 0))
    spread = np.sqrt(_KNOWN_SPREAD**2 + _TIMES_OURS**2 * lines.grams_var[open_])
    belief = _share_off(spread)
    belief /= _share_off(np.array([_USUAL_SPREAD])).sum()
    line, factor = np.repeat(open_, len(_AMOUNTS)), np.tile(_AMOUNTS, len(open_))
    width = np.tile(_BANDS, len(open_))
    change = (factor - 1)[:, None] * lines.mean[line]
    seen = visible(cases, lines.recipe[line], change)
    line, factor, recipe = line[seen], factor[seen], lines.recipe[line[seen]]
    return slips(
        cases, recipe, "amount_slip", shared(cases, recipe, belief.ravel()[seen], "amount_slip"),
        line=line, change=change[seen], line_cov=np.full(len(line), -1.0),
        value=factor[:, None] * lines.mean[line], value_var=width[seen] ** 2 / 12, parameter=factor,
    )  # fmt: skip


def _share_off(spread: Vector) -> Matrix:
    """Share of cooks whose weight is off by about each factor, (lines, factors), not yet scaled."""
    off = math.sqrt(2) * np.abs(np.log(_AMOUNTS)) / spread[:, None]
    return np.asarray(np.exp(-off) * _BANDS / spread[:, None], dtype=np.float64)


#: A volume in millilitres whose number was counted as grams.
ML_AS_G = UnitSlip("g", math.nan, 0.3)


@cache
def unit_readings() -> list[tuple[str, UnitSlip]]:
    """Unit and what it may be counted as, in the order of ``Slips.other``."""
    rows = [(unit, slip) for unit, found in unit_slips().items() for slip in found]
    return [*rows, ("ml", ML_AS_G)]


@cache
def _readings_by_unit() -> dict[str, tuple[int, ...]]:
    """Rows of ``unit_readings`` by the unit on the line, those of ``ML_AS_G`` apart."""
    out: dict[str, tuple[int, ...]] = {}
    for n, (unit, slip) in enumerate(unit_readings()):
        if slip is not ML_AS_G:
            out[unit] = (*out.get(unit, ()), n)
    return out


def _readings_of(text: str, unit: str) -> tuple[int, ...]:
    """What a line may have been counted as, by the units that its words and its reading name."""
    if not _SPOON.found(text):
        return _readings_in(unit)
    return _readings_in(
        unit, frozenset(str(hit.lastgroup) for hit in _SPOON.pattern.finditer(text))
    )


@lru_cache(maxsize=1_000)
def _readings_in(unit: str, spoons: frozenset[str] = frozenset()) -> tuple[int, ...]:
    units = {unit.split("_")[0] if unit != "fl_oz" else "fl_oz", *spoons}
    return tuple(n for u in sorted(units) for n in _readings_by_unit().get(u, ()))


def _unit_readings(cases: Cases) -> tuple[Ints, Ints, Vector, Vector]:
    """Line, unit slip, factor and weight of every unit that a line may have been counted in."""
    lines, every = cases.lines, unit_readings()
    found = [_readings_of(*line) for line in zip(lines.text, lines.unit, strict=True)]
    line = np.repeat(np.arange(len(found)), [len(f) for f in found])
    chosen = np.array([n for f in found for n in f], dtype=np.int64)
    factor = np.array([s.factor for _, s in every])[chosen]
    weight = np.array([s.weight for _, s in every])[chosen]
    with np.errstate(invalid="ignore"):
        in_ml = np.array([u == "ml" for u in lines.unit], dtype=np.bool_)
        in_ml &= (lines.grams > 0) & (lines.unit_amount > 0)
    ml = np.flatnonzero(in_ml)
    return (
        np.concatenate([line, ml]),
        np.concatenate([chosen, np.full(len(ml), len(every) - 1)]),
        np.concatenate([factor, lines.unit_amount[ml] / lines.grams[ml]]),
        np.concatenate([weight, np.full(len(ml), ML_AS_G.weight)]),
    )


def food_slips(cases: Cases, foods: Foods) -> Slips:
    """The grams of a line looked up in another food: raw for cooked, another product."""
    lines = cases.lines
    line, other, raw_cooked, weight = _other_foods(cases, foods)
    seen, value, change = _as_foods(cases, foods, line, other)
    line, raw_cooked, weight = line[seen], raw_cooked[seen], weight[seen]
    recipe = lines.recipe[line]
    prior = np.empty(len(line))
    for kind, mine in (("raw_cooked_slip", raw_cooked), ("product_variant", ~raw_cooked)):
        count = np.bincount(lines.recipe[np.unique(line[mine])], minlength=len(cases))
        prior[mine] = priors()[kind] * weight[mine] / count[recipe[mine]]
    return slips(
        cases, recipe, np.where(raw_cooked, CODE["raw_cooked_slip"], CODE["product_variant"]), prior,
        line=line, change=change, line_cov=np.full(len(line), -1.0), value=value,
        value_var=lines.grams_var[line] + 1e-4, other=other[seen],
    )  # fmt: skip


def _other_foods(cases: Cases, foods: Foods) -> tuple[Ints, Ints, Bools, Vector]:
    """Line, other food, whether raw for cooked and belief: what may have been looked up instead.

    Neighbours in the space of profiles, and those runners-up of the match that are near in it; of a
    food that is both, the larger belief holds.
    """
    lines, variants = cases.lines, foods.variants
    weighed = (lines.food >= 0) & (np.nan_to_num(lines.grams) > 0)
    own = np.flatnonzero(weighed)
    place, other, raw, belief = variants.of_many(lines.food[own])
    named = weighed[lines.runner_line]
    line, runner, p = lines.runner_line[named], lines.runner_food[named], lines.runner_p[named]
    near = _likeness(foods, lines.food[line], runner) >= _NEAR
    line, runner, p = line[near], runner[near], p[near]
    mine, theirs = variants.state[lines.food[line]], variants.state[runner]
    every_line = np.concatenate([own[place], line])
    order = np.argsort(every_line, kind="stable")
    every_line = every_line[order]
    other = np.concatenate([other, runner])[order]
    raw = np.concatenate([raw, (mine != "") & (theirs != "") & (mine != theirs)])[order]
    belief = np.concatenate([belief, np.minimum(2 * p, 0.5)])[order]
    key = (2 * every_line + raw) * len(foods.values) + other
    _, first, of = np.unique(key, return_index=True, return_inverse=True)
    most = np.zeros(len(first))
    np.maximum.at(most, of, belief)
    kept = np.sort(first)
    return every_line[kept], other[kept], raw[kept].astype(np.bool_), most[of[kept]]


def _likeness(foods: Foods, food: Ints, other: Ints) -> Vector:
    """Likeness of two foods each; equal pairs are looked up once."""
    count = len(foods.values)
    pairs, of = np.unique(food * count + other, return_inverse=True)
    likeness = foods.variants.likeness
    alike = [likeness(*divmod(pair, count)) for pair in pairs.tolist()]
    return np.array(alike, dtype=np.float64)[of]


def _as_foods(cases: Cases, foods: Foods, line: Ints, other: Ints) -> tuple[Ints, Matrix, Matrix]:
    """Lines as other foods of the same weight.

    Returns:
        The rows that have all macros and can be seen; what each brings, and the change it makes.
    """
    lines = cases.lines
    value = foods.values[other, : lines.values.shape[1]] * (lines.grams[line] / 100)[:, None]
    whole = np.isfinite(value[:, : FAT + 1]).all(axis=1)
    value = np.where(np.isfinite(value), value, lines.values[line])
    net = cases.net[lines.recipe[line]]
    value[net, CARBS] -= value[net, FIBRE]
    change = value - lines.mean[line]
    seen = np.flatnonzero(whole & visible(cases, lines.recipe[line], change))
    return seen, value[seen], change[seen]


def honest(cases: Cases, foods: Foods) -> list[Slips]:
    """No slip: the lines as matched, energy by the general factors, or a runner-up of a match meant."""
    lines = cases.lines
    seen, value, change = _as_foods(cases, foods, lines.runner_line, lines.runner_food)
    line = lines.runner_line[seen]
    as_runner = slips(
        cases, lines.recipe[line], "honest", lines.runner_p[seen], line=line, change=change,
        line_cov=np.full(len(line), -1.0), value=value, value_var=lines.grams_var[line],
        other=lines.runner_food[seen],
    )  # fmt: skip
    every = np.arange(len(cases))
    by_factors = slips(
        cases, every, "honest", np.full(len(cases), _BY_FACTORS),
        transform=np.full(len(cases), GENERAL_FACTORS),
    )  # fmt: skip
    return [as_runner, by_factors, slips(cases, every, "honest", np.ones(len(cases)))]
