"""Habits in a creator's words: one question and one sentence each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.habits.model import (
    COOKED_AS_RAW,
    FACTORS,
    NET,
    NET_ENERGY,
    RAW_AS_COOKED,
    READING,
    Habit,
)
from pipeline.reconcile.model import CARBS, FAT, KCAL, PROTEIN

if TYPE_CHECKING:
    from pipeline.reconcile import Foods
    from pipeline.reconcile.model import Vector

_PARTS = ((PROTEIN, "protein"), (CARBS, "carbohydrate"), (FAT, "fat"))
#: kcal a gram, to compare what a change of each macro means.
_KCAL = {PROTEIN: 4.0, CARBS: 4.0, FAT: 9.0}


def question(habit: Habit, foods: Foods, agree_then: int, agree_now: int) -> str:
    """What a person is asked; ends with what would become of the recipes."""
    if habit.kind == READING:
        return detail(habit, foods)
    of = len(habit.recipe_ids)
    then = f" If so, {agree_then} of {of} agree instead of {agree_now}."
    return f"{_asked(habit, foods)}{_either(habit)}{then}"


def detail(habit: Habit, foods: Foods) -> str:
    """What was found, as a statement."""
    if habit.kind == READING and not habit.lines:
        return (
            f"All of {len(habit.recipe_ids)} recipes state {habit.phrase}: each may be off by half"
            " a step, which is no difference."
        )
    if habit.kind == READING:
        return (
            f"“{habit.phrase}” is read as “{foods.variants.descriptions[habit.nearest]}” in"
            f" {len(habit.recipe_ids)} recipes: the words leave the kind open, and the numbers fit"
            " that one."
        )
    return f"{_found(habit, foods)}.{_either(habit)}"


def short(habit: Habit) -> str:
    """The habit as a clause: "your cheddar counts 314 kcal and 22 g fat a 100 g"."""
    of = len(habit.recipe_ids)
    return f"{_clause(habit)} (a habit in {of} recipes)"


def _clause(habit: Habit, beside: Vector | None = None) -> str:
    phrase = f"“{habit.phrase}”"
    if habit.convention:
        return {
            NET: "carbohydrate is given without fibre",
            NET_ENERGY: "carbohydrate is given without fibre, and the energy counts none",
            FACTORS: "energy is 4 x protein + 4 x carbohydrate + 9 x fat",
            RAW_AS_COOKED: "every food that the lines give raw counts with the values of the cooked one",
            COOKED_AS_RAW: "every food that the lines give cooked counts with the values of the raw one",
        }[habit.convention]
    if habit.kind == "measure" and habit.factor == 0:
        return f"{phrase} is not in the numbers"
    if habit.kind == "measure":
        return f"1 {habit.measure} of {phrase} counts as {weight(habit.grams)}"
    if habit.composition is None:
        return phrase
    return f"{phrase} counts {values(habit.composition, beside)} a 100 g"


def _found(habit: Habit, foods: Foods) -> str:
    table = _table(habit, foods)
    sentence = f"In {len(habit.recipe_ids)} recipes {_clause(habit, table)}"
    if habit.kind == "measure" and habit.factor > 0:
        return f"{sentence}, {abs(habit.factor - 1):.0%} {'more' if habit.factor > 1 else 'less'} than here"
    if habit.composition is not None and table is not None:
        return f"{sentence}, where the food of the table has {values(table, habit.composition)}"
    return sentence


def _asked(habit: Habit, foods: Foods) -> str:
    nearest = foods.variants.descriptions[habit.nearest] if habit.nearest >= 0 else ""
    like = f", like “{nearest}”" if nearest else ""
    asked = f"Is yours another product{like}?"
    if habit.swaps:
        state = "raw" if habit.convention == COOKED_AS_RAW else "cooked"
        asked = f"Do all the grams mean {state} food?"
    elif habit.convention:
        asked = "Is that how you always state it?"
    elif habit.kind == "measure":
        asked = "Is that what yours weighs?" if habit.factor else "Do you leave it out of the sums?"
    elif habit.kind == "base":
        asked = "Is that sum of your own right?"
    elif habit.kind == "state":
        asked = f"Do the grams mean “{nearest}”?"
    return f"{_found(habit, foods)}. {asked}"


def weight(grams: float) -> str:
    """ "27 g", "4.2 g"."""
    return f"{grams:.0f} g" if grams >= 10 else f"{grams:.1f} g"


def _either(habit: Habit) -> str:
    if not habit.together:
        return ""
    names = " and ".join(f"“{n}”" for n in (habit.phrase, *habit.together))
    return f" {names} always stand in the same recipes, so it cannot be told which of them it is."


def _table(habit: Habit, foods: Foods) -> Vector | None:
    at = foods.variants.at.get(habit.food_id, -1)
    return None if at < 0 else foods.values[at]


def values(of: Vector, beside: Vector | None) -> str:
    """Energy and the macros worth telling: "314 kcal and 22 g fat".

    Args:
        of: (7,) per 100 g.
        beside: the composition it is compared with; macros that are alike in both are left out.
    """
    parts = [f"{of[KCAL]:.0f} kcal"]
    for j, word in _PARTS:
        far = beside is None or (
            abs(of[j] - beside[j]) * _KCAL[j] > 0.07 * max(of[KCAL], beside[KCAL], 40.0)
        )
        if of[j] == of[j] and far and (beside is not None or of[j] >= 0.5):
            parts.append(f"{of[j]:.0f} g {word}" if of[j] >= 10 else f"{of[j]:.1f} g {word}")
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
