"""How a creator rounds: all numbers of a collection are multiples of 5 or 10.

A number that ends in 0 or 5 may be one by chance; all of many are not. The steps found stand for
the half step by which each number may be off, as the writing's own steps do: a reading of ours, which
changes no number and asks nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from pipeline.habits.model import READING, Habit, constants

if TYPE_CHECKING:
    import pandas as pd

#: Steps that people round to, in kcal and in g.
STEPS = (5.0, 10.0)
#: Share of numbers that a creator who rounds gives unrounded (typed from a pack, slips).
_UNROUNDED = 0.02
#: Half a step smaller than this share of the numbers changes nothing worth telling.
_TELLS = 0.01
_GROUPS = {
    "kcal": ("ENERC_KCAL",),
    "g": ("PROCNT", "CHOCDF", "CHOAVLDF", "FAT", "FIBTG", "SUGAR", "FASAT"),
}
_WORDS = {"kcal": "energy", "g": "protein, carbohydrate and fat"}


def roundings(stated: pd.DataFrame, recipe: pd.DataFrame) -> list[Habit]:
    """What each creator rounds to, where the numbers leave no doubt: ``grams`` of ``measure``.

    Args:
        stated: STATED.
        recipe: RECIPE; recipes without a creator are one collection.
    """
    k = constants()
    owner = dict(zip(recipe["recipe_id"], recipe["creator"].fillna("").astype(str), strict=True))
    numbers = stated[stated["recipe_id"].isin(owner.keys()) & stated["amount"].notna()]
    numbers = numbers[(numbers["amount"] > 0) & (numbers["step"] < STEPS[0])]
    who = numbers["recipe_id"].map(owner).str.strip()
    out: list[Habit] = []
    for unit, tags in _GROUPS.items():
        mine = numbers[numbers["nutrient"].isin(tags)]
        amounts, recipes = mine["amount"].to_numpy(dtype=float), mine["recipe_id"].to_numpy()
        even = np.column_stack([_even(amounts, step) for step in STEPS])
        for creator, at in sorted(mine.groupby(who[mine.index]).indices.items()):
            ids = sorted(set(recipes[at]))
            if len(ids) < k["least_recipes"]:
                continue
            step, p = _likeliest(len(at), even[at].sum(axis=0))
            tells = step / 2 >= _TELLS * float(np.median(amounts[at]))
            if p >= k["least_probability"] and tells:
                phrase = f"{_WORDS[unit]} in steps of {step:g} {unit}"
                out.append(
                    Habit(READING, phrase, str(creator), p, ids, measure=unit, grams=step)
                )  # fmt: skip
    return out


def _even(amounts: np.ndarray, step: float) -> np.ndarray:
    """Which amounts are multiples of a step."""
    return np.isclose(amounts / step, np.round(amounts / step), atol=1e-6)


def _likeliest(count: int, even: np.ndarray) -> tuple[float, float]:
    """The likeliest step of a creator's numbers, and the belief in it.

    Args:
        count: of the numbers; ``even``: how many of them are multiples of each of ``STEPS``.
    """
    prior = math.log(constants()["rounding"] / len(STEPS))
    chance = 1 / np.array(STEPS)
    yes = np.log(1 - _UNROUNDED + _UNROUNDED * chance) - np.log(chance)
    odds = prior + even * yes + (count - even) * math.log(_UNROUNDED)
    best = int(np.argmax(odds))
    return STEPS[best], float(np.exp(odds[best] - np.logaddexp.reduce([*odds, 0.0])))


def with_steps(stated: pd.DataFrame, habits: Sequence[Habit]) -> pd.DataFrame:
    """STATED with the steps that its creators round to.

    Args:
        stated: STATED.
        habits: those of ``roundings`` among them.
    """
    found = [h for h in habits if h.kind == READING and not h.lines]
    if not found:
        return stated
    step = stated["step"].to_numpy(dtype=float).copy()
    amount = stated["amount"].to_numpy(dtype=float)
    for one in found:
        mine = stated["recipe_id"].isin(one.recipe_ids) & stated["nutrient"].isin(
            _GROUPS[one.measure]
        )
        at = mine.to_numpy() & _even(amount, one.grams)
        step[at] = np.fmax(step[at], one.grams)
    return stated.assign(step=step)
