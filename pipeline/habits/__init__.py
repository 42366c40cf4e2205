"""One cause, many recipes: a creator's habits, inferred from the whole collection.

Stands between compute and reconcile. ``find_habits`` looks at stated minus computed of all recipes
of a creator at once; ``habits_given`` says what would become of each recipe if the habits were
known, and which slips are left then. Verdicts do not change until a person confirms. ``settled``
takes up what is no habit: kinds that the words leave open and the numbers tell.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.habits.model import (
    FACTORS,
    HABIT,
    NET,
    NET_ENERGY,
    READING,
    Habit,
    constants,
    habit_key,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import duckdb
    import pandas as pd

    from pipeline.compute import Computation
    from pipeline.compute.convention import Convention
    from pipeline.reconcile import Foods, Judgement
    from pipeline.settings import Settings

__all__ = [
    "FACTORS",
    "HABIT",
    "NET",
    "NET_ENERGY",
    "Given",
    "Habit",
    "detected",
    "enough_recipes",
    "find_habits",
    "habit_key",
    "habit_table",
    "habits_given",
    "settled",
    "with_habits",
]


def enough_recipes(recipe: pd.DataFrame, stated: pd.DataFrame) -> bool:
    """Whether any creator has enough recipes with numbers for a habit to show."""
    said = recipe[recipe["recipe_id"].isin(stated["recipe_id"])]
    if said.empty:
        return False
    return bool(said["creator"].fillna("").value_counts().max() >= constants()["least_recipes"])


def find_habits(
    computation: Computation,
    stated: pd.DataFrame,
    recipe: pd.DataFrame,
    runner_up: pd.DataFrame | None,
    foods: Foods,
    refused: frozenset[str] = frozenset(),
) -> list[Habit]:
    """The habits of each creator, the surest first; those less likely than not are left out.

    Args:
        computation: of the compute stage.
        stated: STATED.
        recipe: RECIPE; recipes without a creator are one collection.
        runner_up: RUNNER_UP, or None.
        foods: of ``reconcile.load_foods``.
        refused: keys of habits (``habit_key``) that a person refused.
    """
    from pipeline.habits.evidence import read_evidence
    from pipeline.habits.rounding import roundings, with_steps

    found = [h for h in roundings(stated, recipe) if h.key not in refused]
    stated = with_steps(stated, found)
    least = int(constants()["least_recipes"])
    evidence = read_evidence(computation, stated, recipe, runner_up, foods, least)
    if evidence is not None:
        from pipeline.habits.search import Search

        found += Search(*evidence, foods, refused).habits()
    return sorted(
        found,
        key=lambda h: (h.kind == READING, -h.probability, -len(h.recipe_ids), h.creator, h.key),
    )


def settled(
    con: duckdb.DuckDBPyConnection,
    habits: Sequence[Habit],
    line_result: pd.DataFrame,
    runner_up: pd.DataFrame,
    recipe: pd.DataFrame,
    stated: pd.DataFrame,
    computation: Computation,
    foods: Foods,
    own: pd.DataFrame,
    counted: Callable[[Computation], Computation],
) -> tuple[pd.DataFrame, pd.DataFrame, Computation]:
    """Lines, numbers and sums with what each creator's recipes settle: kinds, and rounding.

    See ``readings.settled`` and ``rounding.with_steps``.
    """
    from pipeline.habits.readings import settled as with_readings
    from pipeline.habits.rounding import with_steps

    lines, sums = with_readings(
        con, habits, line_result, runner_up, recipe, computation, foods, own, counted
    )
    return lines, with_steps(stated, habits), sums


@dataclass(frozen=True, slots=True)
class Given:
    """What would be if the habits were known.

    Attributes:
        judgement: verdicts and explanations of the recipes touched.
        habits: the habits that were taken as known.
    """

    judgement: Judgement
    habits: list[Habit]


def habits_given(
    con: duckdb.DuckDBPyConnection,
    habits: Sequence[Habit],
    line_result: pd.DataFrame,
    runner_up: pd.DataFrame,
    recipe: pd.DataFrame,
    stated: pd.DataFrame,
    computation: Computation,
    foods: Foods,
    own: pd.DataFrame,
    *,
    settings: Settings,
) -> Given | None:
    """Compute and judge the touched recipes again with the sure habits taken as known.

    Args:
        con: a connection to the snapshot.
        habits: of ``find_habits``; those of at least ``least_probability`` are used.
        line_result: LINE_RESULT, with ``eaten_share``.
        runner_up, recipe, stated, computation: of the run.
        foods: of ``reconcile.load_foods``.
        own: FOOD_NUTRIENT of the pantry.
        settings: tolerance, and how each creator counts.

    Returns:
        None when no habit is sure.
    """
    from pipeline.compute import compute
    from pipeline.habits import apply
    from pipeline.reconcile import judge

    sure = [
        h for h in habits if h.probability >= constants()["least_probability"] and h.kind != READING
    ]
    ids = apply.touched(sure)
    if not ids:
        return None
    every = apply.with_used(ids, line_result)
    lines = apply.adjusted_lines(
        sure, line_result[line_result["recipe_id"].isin(every)].reset_index(drop=True),
        computation, foods,
    )  # fmt: skip
    pantry = apply.adjusted_foods(con, sure, own)
    again = compute(
        con, lines, runner_up[runner_up["text"].isin(lines["text"])],
        recipe[recipe["recipe_id"].isin(every)], pantry_nutrient=pantry,
        convention=computation.convention,
    )  # fmt: skip
    factors, without_fibre = apply.energy_sets(sure)
    way = recipe["creator"].fillna("").map(settings.energy_of)
    factors |= set(recipe.loc[way == "atwater", "recipe_id"])
    without_fibre |= set(recipe.loc[way == "without fibre", "recipe_id"])
    again = apply.counted_energy(again, factors=factors, without_fibre=without_fibre)
    said = apply.adjusted_stated(sure, stated[stated["recipe_id"].isin(ids)])
    judgement = judge(
        con, again, said, runner_up, profile=settings.profile, percent=settings.percent,
        pantry_nutrient=pantry,
    )  # fmt: skip
    return Given(judgement, sure)


def habit_table(
    habits: Sequence[Habit], given: Given | None, verdict: pd.DataFrame, foods: Foods
) -> pd.DataFrame:
    """HABIT: one row a habit with its question.

    Args:
        habits: of ``find_habits``.
        given: of ``habits_given``.
        verdict: recipe_id, verdict, as they are now.
        foods: of ``reconcile.load_foods``.
    """
    from pipeline.habits.report import rows

    return rows(habits, given, verdict, foods)


def detected(
    habits: pd.DataFrame, convention: Convention, stated: pd.DataFrame, verdict: pd.DataFrame
) -> pd.DataFrame:
    """HABIT with the detected convention of the collection before it; see ``report.detected``."""
    from pipeline.habits.report import detected as with_row

    return with_row(habits, convention, stated, verdict)


def with_habits(
    explanation: pd.DataFrame, given: Given | None, verdict: pd.DataFrame
) -> pd.DataFrame:
    """Explanations in which a habit stands first where it is all there is to say.

    Args:
        explanation: EXPLANATION of the run as it is.
        given: of ``habits_given``; None leaves all as it is.
        verdict: recipe_id, verdict, as they are now; recipes that agree need no explanation.
    """
    from pipeline.habits.report import explained

    return explanation if given is None else explained(explanation, given, verdict)
