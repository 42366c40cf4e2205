"""One cause, many recipes: a creator's habits, inferred from the whole collection.

Stands between compute and reconcile. ``find_habits`` looks at stated minus computed of all recipes
of a creator at once; ``habits_given`` says what would become of each recipe if the habits were
known, and which slips are left then. Verdicts do not change until a person confirms. ``settled``
takes up what is no habit: kinds that the words leave open and the numbers tell.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from pipeline.habits.known import Known
from pipeline.habits.model import HABIT, READING, Habit, constants
from pipeline.habits.report import detected, habit_table, with_habits
from pipeline.reconcile import judge

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import pandas as pd

    from pipeline.compute import Computation
    from pipeline.reconcile import Judgement
    from pipeline.settings import Settings

__all__ = [
    "HABIT",
    "Given",
    "Habit",
    "Known",
    "detected",
    "enough_recipes",
    "find_habits",
    "habit_table",
    "habits_given",
    "settled",
    "with_habits",
]


def enough_recipes(recipe: pd.DataFrame, stated: pd.DataFrame) -> bool:
    """Whether any creator has enough recipes with numbers for a habit to show."""
    judged = recipe[recipe["recipe_id"].isin(stated["recipe_id"])]
    if judged.empty:
        return False
    return bool(judged["creator"].fillna("").value_counts().max() >= constants()["least_recipes"])


def find_habits(known: Known, asked: pd.DataFrame, refused: frozenset[str]) -> list[Habit]:
    """The habits of each creator, the surest first; those less likely than not are left out.

    Args:
        asked: RECIPE of those to look at; recipes without a creator are one collection.
        refused: keys of habits (``habit_key``) that a person refused.
    """
    from pipeline.habits.evidence import read_evidence
    from pipeline.habits.rounding import roundings, with_steps

    found = [h for h in roundings(known.stated, asked) if h.key not in refused]
    least = int(constants()["least_recipes"])
    foods = known.foods
    evidence = read_evidence(
        known.computation, with_steps(known.stated, found), asked, known.runner_up, foods, least
    )
    if evidence is not None:
        from pipeline.habits.search import Search

        found += Search(*evidence, foods, refused).habits()
    return sorted(
        found,
        key=lambda h: (h.kind == READING, -h.probability, -len(h.recipe_ids), h.creator, h.key),
    )


def settled(
    known: Known, habits: Sequence[Habit], counted: Callable[[Computation], Computation]
) -> Known:
    """The same with what each creator's recipes settle: kinds left open, and rounding.

    Args:
        habits: of ``find_habits``; the readings among them are used.
        counted: energy as the creators count it, of sums that ``compute`` made.
    """
    from pipeline.habits.readings import with_readings
    from pipeline.habits.rounding import with_steps

    known = with_readings(known, habits, counted)
    return replace(known, stated=with_steps(known.stated, habits))


@dataclass(frozen=True, slots=True)
class Given:
    """What would be if the habits were known.

    Attributes:
        judgement: verdicts and explanations of the recipes touched.
        habits: the habits that were taken as known.
    """

    judgement: Judgement
    habits: list[Habit]


def habits_given(known: Known, habits: Sequence[Habit], settings: Settings) -> Given | None:
    """Compute and judge the touched recipes again with the sure habits taken as known.

    Args:
        habits: of ``find_habits``; those of at least ``least_probability`` are used.
        settings: tolerance, and how each creator counts.

    Returns:
        None when no habit is sure.
    """
    from pipeline.habits import apply

    least = constants()["least_probability"]
    sure = [h for h in habits if h.probability >= least and h.kind != READING]
    ids = apply.touched(sure)
    if not ids:
        return None
    every = apply.with_used(ids, known.lines)
    part = known.lines[known.lines["recipe_id"].isin(every)].reset_index(drop=True)
    lines = apply.adjusted_lines(sure, part, known.computation, known.foods)
    pantry = apply.adjusted_foods(known.con, sure, known.own)
    factors, without_fibre = apply.energy_sets(sure)
    way = known.recipe["creator"].fillna("").map(settings.energy_of)
    again = apply.counted_energy(
        known.summed(lines, every, pantry),
        factors=factors | set(known.recipe.loc[way == "atwater", "recipe_id"]),
        without_fibre=without_fibre | set(known.recipe.loc[way == "without fibre", "recipe_id"]),
    )
    stated = apply.adjusted_stated(sure, known.stated[known.stated["recipe_id"].isin(ids)])
    judgement = judge(
        known.con, again, stated, known.runner_up, profile=settings.profile,
        percent=settings.percent, pantry_nutrient=pantry,
    )  # fmt: skip
    return Given(judgement, sure)
