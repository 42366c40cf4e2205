"""Invented recipes with the slips of life, in life's disorder: to refit the search, and to judge it.

The dishes are those of ``invented.py``. What differs is how they come to be published:

* the creator's grams differ from ours line by line, and so do the foods behind them (another
  table, another brand), more for cups and pieces than for the scale;
* our own reading is wrong now and then, and its confidence says so;
* recipes state energy alone, four numbers, or all eight;
* slips come as often as in a hand-labelled sample of public recipes: ingredients not counted, other
  products, other counts of servings, dry for cooked and other weights above all; some have two,
  some state numbers that follow from nothing;
* nothing is selected for being clear: a slip only has to move some number by 15 %.

``fit`` is the half with even numbers; the half with odd ones is kept apart and only counted.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from invented import ALTERNATES, Line, dish

from pipeline.reconcile.model import FIBRE, KCAL, MACROS, TAGS, Vector

if TYPE_CHECKING:
    from collections.abc import Callable

    from pipeline.reconcile import Foods

#: How often each slip is made among recipes that have one; hand-labelled public recipes, rounded.
SLIPS = {
    "line_left_out": 0.27, "product_variant": 0.14, "servings_slip": 0.13, "amount_slip": 0.10,
    "raw_cooked_slip": 0.07, "unit_slip": 0.05, "line_doubled": 0.03, "net_carbs_stated": 0.03,
    "energy_not_following_macros": 0.04, "per_100g_stated_as_serving": 0.03,
    "digits_transposed": 0.03, "macros_swapped": 0.01, "kilojoules_as_kcal": 0.01,
    "none_found": 0.06,
}  # fmt: skip
HONEST_SHARE, TWO_SHARE = 0.4, 0.12

#: Spread of a line's grams between two honest people, by unit.
GRAMS_SD = {"g": 0.01, "ml": 0.03, "tbsp": 0.08, "tsp": 0.12, "piece": 0.15}
#: Spread of a nutrient between two tables' entries for one food, line by line.
FOOD_SD = np.array([0.0, 0.06, 0.06, 0.06, 0.12, 0.15, 0.12, 0.25])
#: A line whose product differs altogether (another fat level, another brand) without being a slip.
OTHER_BRAND, OTHER_BRAND_SD = 0.06, 0.25

Done = list[tuple[str, "int | None"]]

_ATWATER = np.array([0.0, 4.0, 4.0, 9.0, 0.0, 0.0, 0.0, 0.0])
_LINE_SLIPS = ("line_left_out", "line_doubled", "unit_slip", "amount_slip", "raw_cooked_slip",
               "product_variant")  # fmt: skip


@dataclass
class Made:
    """One recipe as published, and the truth about it.

    Attributes:
        slips: (kind, line number or None), none for an honest one.
        stated: (tags,), NaN where not stated.
        ours: grams that we read, line by line, with their half range.
    """

    recipe_id: str
    servings: float
    lines: list[Line]
    slips: list[tuple[str, int | None]]
    stated: Vector
    true: Vector
    ours: list[tuple[float, float]] = field(default_factory=list)


def life(foods: Foods, seed: str, count: int, odd: bool) -> list[Made]:
    """``count`` recipes of one half.

    Args:
        foods: of ``load_foods``.
        seed: any text.
        count: how many.
        odd: the half kept apart.
    """
    out: list[Made] = []
    number = int(odd)
    while len(out) < count:
        made = _one(foods, random.Random(f"{seed}|life|{number}"), f"life-{number}")
        if made is not None:
            out.append(made)
        number += 2
    return out


def _one(foods: Foods, rng: random.Random, recipe_id: str) -> Made | None:
    lines, servings = dish(rng)
    at = [foods.variants.at[f"sr28:{line.code}"] for line in lines]
    per_100g = np.nan_to_num(foods.values[at])
    grams = np.array([line.grams for line in lines])
    true = (grams[:, None] * per_100g / 100).sum(axis=0) / servings
    ours, theirs = [], grams.copy()
    for n, line in enumerate(lines):
        sd = GRAMS_SD[line.unit]
        ours.append((line.grams * math.exp(rng.gauss(0, 0.7 * sd)), 2.2 * sd))
        theirs[n] *= math.exp(rng.gauss(0, 0.7 * sd))
    values = _another_table(per_100g, rng)
    slips = _drawn(rng)
    values, theirs, whole, done = _made(foods, lines, at, per_100g, values, theirs, slips, rng)
    if done is None:
        return None
    numbers = (theirs[:, None] * values / 100).sum(axis=0) / servings * whole(servings, grams)
    finished = _finished(numbers, done, rng)
    given = _given(rng)
    if finished is None or (slips and not _visible(finished, true, given)):
        return None
    stated = np.where(given, _rounded(finished, rng), np.nan)
    stated, done = _typed(stated, done, rng)
    if done is None or (slips and not _visible(stated, true, given)):
        return None
    return Made(recipe_id, float(servings), lines, done, stated, true, ours)


def _another_table(per_100g: Vector, rng: random.Random) -> Vector:
    """The same foods in another table: macros moved line by line, energy with them."""
    out = per_100g.copy()
    for row in out:
        wide = OTHER_BRAND_SD if rng.random() < OTHER_BRAND else 0.0
        before = row.copy()
        for j, sd in enumerate(FOOD_SD):
            row[j] *= math.exp(rng.gauss(0, max(sd, wide))) if sd else 1.0
        row[KCAL] = max(row[KCAL] + float(_ATWATER @ (row - before)), 0.0)
    return out


def _drawn(rng: random.Random) -> list[str]:
    if rng.random() < HONEST_SHARE:
        return []
    kinds, weights = list(SLIPS), list(SLIPS.values())
    first = rng.choices(kinds, weights)[0]
    if first in (*_LINE_SLIPS, "servings_slip") and rng.random() < TWO_SHARE:
        pool = [k for k in _LINE_SLIPS if k != first]
        return [first, rng.choices(pool, [SLIPS[k] for k in pool])[0]]
    return [first]


def _made(
    foods: Foods, lines: list[Line], at: list[int], per_100g: Vector, values: Vector, grams: Vector,
    slips: list[str], rng: random.Random,
) -> tuple[Vector, Vector, Callable[[float, Vector], float], Done | None]:  # fmt: skip
    """Slips in the sums: values, grams, factor of the whole, (kind, line) of each; None: cannot be."""
    values, grams = values.copy(), grams.copy()
    done: Done = []
    factor = 1.0
    energy = grams * per_100g[:, KCAL]
    used: set[int] = set()
    for kind in slips:
        if kind == "servings_slip":
            factor *= rng.choice([0.5, 2.0, 4 / 3, 2 / 3, 1.5, 0.75, -1.0, -1.0])
            done.append((kind, None))
            continue
        if kind == "per_100g_stated_as_serving":
            factor = math.nan
            done.append((kind, None))
            continue
        if kind not in _LINE_SLIPS:
            done.append((kind, None))
            continue
        choice = _choices(foods, lines, at, kind, used)
        if not choice:
            return values, grams, lambda servings, weights: 1.0, None
        weight = [max(float(energy[n]), 1.0) ** 0.5 for n, _ in choice]
        n, how = rng.choices(choice, weight)[0]
        used.add(n)
        if isinstance(how, float):
            grams[n] *= how
        else:
            values[n] = np.nan_to_num(foods.values[how[0]])
        done.append((kind, n + 1))
    servings_factor = factor

    def whole(servings: float, weights: Vector) -> float:
        if math.isnan(servings_factor):
            return 100 * servings / float(weights.sum())
        if servings_factor < 0:
            return float(servings)  # the whole recipe as one serving
        return servings_factor

    return values, grams, whole, done


def _choices(
    foods: Foods, lines: list[Line], at: list[int], kind: str, used: set[int]
) -> list[tuple[int, float | tuple[int]]]:
    """Lines on which a slip may be made, with a factor on the grams or the row of another food."""
    out: list[tuple[int, float | tuple[int]]] = []
    for n, line in enumerate(lines):
        if n in used:
            continue
        if kind == "line_left_out":
            out.append((n, 0.0))
        elif kind == "line_doubled":
            out.append((n, 2.0))
        elif kind == "unit_slip" and line.unit in ("tbsp", "tsp"):
            out.append((n, 1 / 3 if line.unit == "tbsp" else 3.0))
        elif kind == "amount_slip" and line.unit not in ("g", "ml"):
            out.extend((n, f) for f in (0.3, 0.45, 0.55, 1.7, 2.3, 3.0))
        elif kind in ("raw_cooked_slip", "product_variant"):
            named = [o for code, k, o in ALTERNATES if code == line.code and k == kind]
            rows = [foods.variants.at[f"sr28:{o}"] for o in named]
            # life does not keep to a list: any neighbour of the food
            rows += [v.index for v in foods.variants.of(at[n]) if v.kind == kind][:4]
            out.extend((n, (row,)) for row in rows)
    return out


def _finished(numbers: Vector, done: Done, rng: random.Random) -> Vector | None:
    """Slips on the finished numbers."""
    out = numbers.copy()
    for kind, _ in done:
        if kind == "net_carbs_stated":
            if out[FIBRE] < 4:
                return None
            out[MACROS[1]] -= out[FIBRE]
        elif kind == "macros_swapped":
            a, b = rng.sample(list(MACROS), 2)
            out[[a, b]] = out[[b, a]]
        elif kind == "kilojoules_as_kcal":
            out[KCAL] *= 4.184
        elif kind == "energy_not_following_macros":
            out[KCAL] *= rng.choice([0.6, 0.7, 0.8, 1.25, 1.4, 1.7])
        elif kind == "none_found":
            common = math.exp(rng.gauss(0, 0.5))
            out = out * common * np.array([math.exp(rng.gauss(0, 0.4)) for _ in TAGS])
            out[KCAL] = 4 * out[1] + 4 * out[2] + 9 * out[3]
    return out


def _given(rng: random.Random) -> Vector:
    """What is stated: energy alone, four numbers, or as on public pages nearly all."""
    out = np.zeros(len(TAGS), dtype=bool)
    style = rng.random()
    out[KCAL] = True
    if style > 0.08:
        out[list(MACROS)] = True
    if style > 0.30:
        out[FIBRE:] = True
        for n in range(FIBRE, len(TAGS)):
            out[n] &= rng.random() < 0.93
    return out


def _rounded(numbers: Vector, rng: random.Random) -> Vector:
    out = np.floor(numbers + 0.5)
    if rng.random() < 0.2:
        out[KCAL] = 5 * math.floor(numbers[KCAL] / 5 + 0.5)
    return out


def _typed(stated: Vector, done: Done, rng: random.Random) -> tuple[Vector, Done | None]:
    from invented import _typed_wrong

    if ("digits_transposed", None) not in done:
        return stated, done
    places = [j for j in (KCAL, *MACROS) if stated[j] >= 10]
    if not places:
        return stated, None
    at = rng.choice(places)
    wrong = _typed_wrong(int(stated[at]), rng)
    if wrong is None:
        return stated, None
    out = stated.copy()
    out[at] = wrong
    return out, done


def _visible(numbers: Vector, true: Vector, given: Vector) -> bool:
    """Some core number is off by 15 % and more than 3 g or 30 kcal."""
    for j in (KCAL, *MACROS):
        off = abs(numbers[j] - true[j])
        if given[j] and off > 0.15 * true[j] and off > (30 if j == KCAL else 3):
            return True
    return False
