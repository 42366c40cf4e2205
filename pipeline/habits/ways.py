"""Ways in which a creator counts everything: conventions, and states of all lines at once.

Carbohydrate without fibre, energy by 4-4-9, every raw weight with the values of the cooked food, or
the other way round. A way is one cause whatever foods it touches.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from pipeline.habits.evidence import Bools, Ints, Lines, N, Recipes
from pipeline.habits.model import (
    COOKED_AS_RAW,
    FACTORS,
    NET,
    NET_ENERGY,
    RAW_AS_COOKED,
    constants,
)
from pipeline.habits.phrases import KCAL_PARTS
from pipeline.habits.weighing import Cause
from pipeline.reconcile import Foods
from pipeline.reconcile.model import ATWATER, CARBS, FAT, FIBRE, KCAL, SUGAR, Matrix

#: kcal a gram of fibre that are left out where carbohydrate is given without it, and belief in it.
_FIBRE_KCAL = ((0.0, 0.7), (4.0, 0.3))
_ALCOHOL_KCAL = 7.0
#: Cooked in water alone: energy and macros of the dry matter stay in these proportions.
_SAME_MATTER = 0.2
#: What takes up water in cooking has so many times the energy dry.
_TAKES_UP = 1.6
#: Food with more of its energy from sugars is fruit.
_SWEET = 0.25
#: A state of everything shows in at least so many foods; of one food it is a habit of that food.
_FOODS = 2


@dataclass(slots=True)
class Ways:
    """Makes the ways of a creator: causes whose gain is the log belief in a way of its ``about``.

    Attributes:
        recipes, lines: of ``evidence.read_evidence``.
        foods: of ``reconcile.load_foods``.
        least: recipes that a way has to move.
    """

    recipes: Recipes
    lines: Lines
    foods: Foods
    least: int

    def of(self, recipe: Ints, rows: Ints) -> list[Cause]:
        """The ways that move enough recipes of one creator.

        Args:
            recipe: rows of the creator's recipes; ``rows`` of their lines.
        """
        found = [*self._fibre(recipe), self._factors(recipe, rows), *self._states(rows)]
        return [w for w in found if self._seen(w) >= self.least]

    def _seen(self, way: Cause) -> int:
        """Recipes in which a change is larger than the rounding of a stated number."""
        r = self.recipes
        least = np.maximum(r.step[way.recipe], 0.02 * r.mean[way.recipe])
        return int(((np.abs(way.change) > least) & r.given[way.recipe]).any(axis=1).sum())

    def _fibre(self, recipe: Ints) -> list[Cause]:
        r = self.recipes
        mean = r.mean[recipe]
        total = ~r.net[recipe] & r.given[recipe, CARBS] & (mean[:, FIBRE] > 0)
        out = []
        for kcal, belief in _FIBRE_KCAL:
            change = np.zeros_like(mean)
            change[total, CARBS] = -mean[total, FIBRE]
            change[total, KCAL] = -kcal * mean[total, FIBRE]
            name = NET_ENERGY if kcal else NET
            out.append(_way("convention", name, NET, belief, recipe[total], change[total]))
        return out

    def _factors(self, recipe: Ints, rows: Ints) -> Cause:
        mean, m = self.recipes.mean[recipe], self.lines
        alcohol = np.zeros(len(recipe))
        np.add.at(alcohol, np.searchsorted(recipe, m.recipe[rows]), m.alcohol_g[rows])
        change = np.zeros_like(mean)
        change[:, KCAL] = mean @ ATWATER + _ALCOHOL_KCAL * alcohol - mean[:, KCAL]
        return _way("convention", FACTORS, FACTORS, 1.0, recipe, change)

    def _states(self, rows: Ints) -> list[Cause]:
        """All raw weights as cooked, and all cooked ones as raw; of all food, or dry goods alone."""
        m, state = self.lines, self.foods.variants.state
        known = rows[m.food[rows] >= 0]
        out = []
        for name, of in ((RAW_AS_COOKED, "raw"), (COOKED_AS_RAW, "cooked")):
            every = known[state[m.food[known]] == of]
            foods = np.array([self._pair(food) for food in m.food[every].tolist()], dtype=np.int64)
            every, foods = every[foods >= 0], foods[foods >= 0]
            dry = self._takes_up(m.food[every], foods)
            for mine in (np.ones_like(dry), dry) if not dry.all() else (dry,):
                if len(set(m.food[every[mine]].tolist())) >= _FOODS:
                    out.append(self._state(name, every[mine], foods[mine]))
        return out

    def _state(self, name: str, at: Ints, foods: Ints) -> Cause:
        """Some lines as the foods beside them."""
        m = self.lines
        recipe, place = np.unique(m.recipe[at], return_inverse=True)
        value = self.foods.values[foods]
        bring = m.grams[at][:, None] / 100 * value
        bring = np.where(np.isfinite(bring), bring, m.values[at])
        net = self.recipes.net[m.recipe[at]]
        bring[net, CARBS] -= bring[net, FIBRE]
        change = np.zeros((len(recipe), N))
        np.add.at(change, place, bring - m.values[at])
        way = _way("state", name, "state", 0.25, recipe, change)
        return replace(way, rows=at, foods=tuple(foods.tolist()))

    def _takes_up(self, food: Ints, other: Ints) -> Bools:
        """Whether cooking adds much water: grain, pasta and pulses, no fruit that is stewed."""
        values = self.foods.values
        kcal = np.stack([values[food, KCAL], values[other, KCAL]])
        with np.errstate(invalid="ignore", divide="ignore"):
            sugar = np.nan_to_num(4 * values[food, SUGAR] / kcal[0])
        return np.asarray((kcal.max(axis=0) > _TAKES_UP * kcal.min(axis=0)) & (sugar < _SWEET))

    def _pair(self, food: int) -> int:
        """The food in the other state, differing by water alone; -1 for none."""
        known = self.foods.by_water
        if food not in known:
            mine = self.foods.values[food, : FAT + 1] * KCAL_PARTS
            known[food] = next(
                (
                    int(other) for other in self.foods.variants.in_other_states(food)
                    if _same_matter(mine, self.foods.values[other, : FAT + 1] * KCAL_PARTS)
                ),
                -1,
            )  # fmt: skip
        return known[food]


def _way(kind: str, name: str, about: str, belief: float, recipe: Ints, change: Matrix) -> Cause:
    return Cause(kind, None, math.log(belief), change, convention=name, about=about, recipe=recipe)


def _same_matter(one: Matrix, other: Matrix) -> bool:
    """Whether two foods have the same share of energy from each macro, and not the same energy."""
    if (
        not (np.isfinite(one).all() and np.isfinite(other).all())
        or min(one[KCAL], other[KCAL]) <= 0
    ):
        return False
    apart = float(np.abs(one[1:] / one[KCAL] - other[1:] / other[KCAL]).max())
    ratio = max(one[KCAL], other[KCAL]) / min(one[KCAL], other[KCAL])
    return apart < _SAME_MATTER and float(ratio) > 1 + constants()["matters"]
