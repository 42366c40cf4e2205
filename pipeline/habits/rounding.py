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
        for creator, part in mine.groupby(who[mine.index], sort=True):
            ids = sorted(set(part["recipe_id"]))
            if len(ids) < k["least_recipes"]:
                continue
            amounts = part["amount"].to_numpy(dtype=float)
            step, p = _likeliest(amounts)
            if p >= k["least_probability"] and step / 2 >= _TELLS * float(np.median(amounts)):
                phrase = f"{_WORDS[unit]} in steps of {step:g} {unit}"
                out.append(
                    Habit(READING, phrase, str(creator), p, ids, measure=unit, grams=step)
                )  # fmt: skip
    return out


def _likeliest(amounts: np.ndarray) -> tuple[float, float]:
    """The likeliest step of a creator's numbers, and the belief in it."""
    prior = math.log(constants()["rounding"] / len(STEPS))
    odds = []
    for step in STEPS:
        even = np.isclose(amounts / step, np.round(amounts / step), atol=1e-6)
        chance = 1 / step
        yes = math.log(1 - _UNROUNDED + _UNROUNDED * chance) - math.log(chance)
        odds.append(prior + even.sum() * yes + (~even).sum() * math.log(_UNROUNDED))
    best = int(np.argmax(odds))
    every = np.logaddexp.reduce([*odds, 0.0])
    return STEPS[best], float(np.exp(odds[best] - every))


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
        even = np.isclose(amount / one.grams, np.round(amount / one.grams), atol=1e-6)
        at = mine.to_numpy() & even
        step[at] = np.fmax(step[at], one.grams)
    return stated.assign(step=step)
