"""Readings of ours that the collection settles: "salmon" is farmed or wild, and the numbers say which.

Where the words of a line leave the kind open, the table's ordinary kind is read. When the numbers of
all recipes of a creator fit another kind that the words name as well, that one is read instead:
nobody made a mistake, and no question is asked. The line says so, and a person's answer rules.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from pipeline.habits.apply import with_used
from pipeline.habits.model import READING, Habit

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import duckdb
    import pandas as pd

    from pipeline.compute import Computation
    from pipeline.reconcile import Foods


def settled(
    con: duckdb.DuckDBPyConnection,
    habits: Sequence[Habit],
    line_result: pd.DataFrame,
    runner_up: pd.DataFrame,
    recipe: pd.DataFrame,
    computation: Computation,
    foods: Foods,
    own: pd.DataFrame,
    counted: Callable[[Computation], Computation],
) -> tuple[pd.DataFrame, Computation]:
    """Lines and sums with the kinds that the numbers of each creator's recipes settle.

    Args:
        con: a connection to the snapshot.
        habits: of ``find_habits``; its readings are used.
        line_result: LINE_RESULT, with ``eaten_share``.
        runner_up, recipe, computation: of the run.
        foods: of ``reconcile.load_foods``.
        own: FOOD_NUTRIENT of the pantry.
        counted: energy as the creators count it, of sums that ``compute`` made.
    """
    from pipeline.compute import compute

    readings = [h for h in habits if h.kind == READING and h.lines]
    ids = _with_users({r for h in readings for r in h.recipe_ids}, line_result)
    if not ids:
        return line_result, computation
    lines = _read_as(readings, line_result, foods)
    every = with_used(ids, lines)
    part = lines[lines["recipe_id"].isin(every)].reset_index(drop=True)
    again = counted(
        compute(
            con, part, runner_up[runner_up["text"].isin(part["text"])],
            recipe[recipe["recipe_id"].isin(every)], pantry_nutrient=own,
            convention=computation.convention,
        )
    )  # fmt: skip
    return lines, _in_place(computation, again, ids)


def _with_users(ids: set[str], line_result: pd.DataFrame) -> set[str]:
    """The recipes and all that use them, however far up."""
    food = line_result["food_id"].astype(str)
    uses = food.str.startswith("recipe:")
    users = list(
        zip(line_result.loc[uses, "recipe_id"], food[uses].str[len("recipe:") :], strict=True)
    )
    every = set(ids)
    while more := {user for user, used in users if used in every} - every:
        every |= more
    return every


def _read_as(readings: Sequence[Habit], line_result: pd.DataFrame, foods: Foods) -> pd.DataFrame:
    """LINE_RESULT with the foods that the readings name, each line saying why."""
    of = {key: habit for habit in readings for key in habit.lines}
    keys = list(zip(line_result["recipe_id"], line_result["line_no"], strict=True))
    food_id = line_result["food_id"].to_numpy(dtype=object).copy()
    description = line_result["description"].to_numpy(dtype=object).copy()
    reason = line_result["reason"].to_numpy(dtype=object).copy()
    for row, key in enumerate(keys):
        if (habit := of.get(key)) is not None:
            food_id[row] = foods.variants.food_ids[habit.nearest]
            description[row] = foods.variants.descriptions[habit.nearest]
            reason[row] = (
                f"the words leave the kind open; the numbers of {len(habit.recipe_ids)} recipes"
                " fit this one"
            )
    return line_result.assign(food_id=food_id, description=description, reason=reason)


def _in_place(computation: Computation, again: Computation, ids: set[str]) -> Computation:
    """The sums with those of some recipes put in place, the others as they are."""
    import pandas as pd

    def both(old: pd.DataFrame, new: pd.DataFrame) -> pd.DataFrame:
        if old.empty or "recipe_id" not in old:
            return old
        kept, put = old[~old["recipe_id"].isin(ids)], new[new["recipe_id"].isin(ids)]
        order = {r: n for n, r in enumerate(dict.fromkeys(old["recipe_id"]))}
        made = pd.concat([f for f in (kept, put) if len(f)], ignore_index=True)
        place = made["recipe_id"].map(order).to_numpy()
        return made.iloc[place.argsort(kind="stable")].reset_index(drop=True).astype(old.dtypes)

    return replace(
        computation,
        computed=both(computation.computed, again.computed),
        total=both(computation.total, again.total),
        recipe=both(computation.recipe, again.recipe),
        line_value=both(computation.line_value, again.line_value),
        doubt=both(computation.doubt, again.doubt),
    )
