"""Readings of ours that the collection settles: "salmon" is farmed or wild, and the numbers say which.

Where the words of a line leave the kind open, the table's ordinary kind is read. When the numbers of
all recipes of a creator fit another kind that the words name as well, that one is read instead:
nobody made a mistake, and no question is asked. The line says so, and a person's answer rules.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pandas as pd

from pipeline.habits.apply import with_used, with_users
from pipeline.habits.model import READING, Habit
from pipeline.reading import with_cells

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from pipeline.compute import Computation
    from pipeline.habits.known import Known
    from pipeline.reconcile import Foods


def with_readings(
    known: Known, habits: Sequence[Habit], counted: Callable[[Computation], Computation]
) -> Known:
    """Lines and sums with the kinds that the numbers of each creator's recipes settle.

    Args:
        habits: of ``find_habits``; its readings are used.
        counted: energy as the creators count it, of sums that ``compute`` made.
    """
    readings = [h for h in habits if h.kind == READING and h.lines]
    ids = with_users({r for h in readings for r in h.recipe_ids}, known.lines)
    if not ids:
        return known
    lines = _read_as(readings, known.lines, known.foods)
    every = with_used(ids, lines)
    part = lines[lines["recipe_id"].isin(every)].reset_index(drop=True)
    again = counted(known.summed(part, every, known.own))
    return replace(known, lines=lines, computation=_in_place(known.computation, again, ids))


def _read_as(readings: Sequence[Habit], line_result: pd.DataFrame, foods: Foods) -> pd.DataFrame:
    """LINE_RESULT with the foods that the readings name, each line saying why."""
    of = {key: habit for habit in readings for key in habit.lines}
    keys = zip(line_result["recipe_id"], line_result["line_no"], strict=True)
    found = {at: of[key] for at, key in zip(line_result.index, keys, strict=True) if key in of}
    return with_cells(line_result, {
        at: {
            "food_id": foods.variants.food_ids[habit.nearest],
            "description": foods.variants.descriptions[habit.nearest],
            "reason": "the words leave the kind open; the numbers of"
                      f" {len(habit.recipe_ids)} recipes fit this one",
        }
        for at, habit in found.items()
    })  # fmt: skip


def _in_place(computation: Computation, again: Computation, ids: set[str]) -> Computation:
    """The sums with those of some recipes put in place, the others as they are."""

    def both(old: pd.DataFrame, new: pd.DataFrame) -> pd.DataFrame:
        if old.empty or "recipe_id" not in old:
            return old
        kept, put = old[~old["recipe_id"].isin(ids)], new[new["recipe_id"].isin(ids)]
        order = {r: n for n, r in enumerate(dict.fromkeys(old["recipe_id"]))}
        made = pd.concat([f for f in (kept, put) if len(f)], ignore_index=True)
        place = made["recipe_id"].map(order).to_numpy()
        return made.iloc[place.argsort(kind="stable")].reset_index(drop=True).astype(old.dtypes)

    names = ("computed", "total", "recipe", "line_value", "doubt")
    made: dict[str, Any] = {n: both(getattr(computation, n), getattr(again, n)) for n in names}
    return replace(computation, **made)
