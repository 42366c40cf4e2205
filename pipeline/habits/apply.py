"""What a collection's tables would be if its habits were known: adjusted lines and numbers.

Nothing here changes a verdict by itself; the run judges the adjusted tables beside the real ones to
say what would become of each recipe, and to search slips that are left when the habits are known.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pipeline.compute.subrecipes import PREFIX
from pipeline.habits.model import FACTORS, NET, NET_ENERGY, Habit
from pipeline.nutrients import NET_CARBS_TAG
from pipeline.reconcile.model import TAGS
from pipeline.tables import FOOD_NUTRIENT

if TYPE_CHECKING:
    from collections.abc import Sequence

    import duckdb

    from pipeline.compute import Computation
    from pipeline.reconcile import Foods

#: kcal a gram of fibre is counted with in the general factors for carbohydrate.
_FIBRE_KCAL = 4.0
#: General Atwater factors (shared/energy_factors.csv), by wide column.
_FACTORS = {"protein_g": 4.0, "carbs_g": 4.0, "fat_g": 9.0, "alcohol_g": 7.0}
_Z90 = 1.6448536269514722


def touched(habits: Sequence[Habit]) -> set[str]:
    """Recipes that any of the habits moves."""
    return {r for h in habits for r in h.recipe_ids}


def with_used(recipe_ids: set[str], line_result: pd.DataFrame) -> set[str]:
    """The recipes and all they use, however far down."""
    return reached(recipe_ids, uses_of(line_result))


def with_users(recipe_ids: set[str], line_result: pd.DataFrame) -> set[str]:
    """The recipes and all that use them, however far up."""
    return reached(recipe_ids, [(used, user) for user, used in uses_of(line_result)])


def uses_of(line_result: pd.DataFrame) -> list[tuple[str, str]]:
    """Pairs of a recipe and one that it uses."""
    both = zip(line_result["recipe_id"].tolist(), line_result["food_id"].tolist(), strict=True)
    return [
        (recipe_id, food_id.removeprefix(PREFIX))
        for recipe_id, food_id in both
        if isinstance(food_id, str) and food_id.startswith(PREFIX)
    ]


def reached(start: set[str], steps: list[tuple[str, str]]) -> set[str]:
    """``start`` and all that any number of steps lead to."""
    every = set(start)
    while more := {there for here, there in steps if here in every} - every:
        every |= more
    return every


def adjusted_lines(
    habits: Sequence[Habit], line_result: pd.DataFrame, computation: Computation, foods: Foods
) -> pd.DataFrame:
    """LINE_RESULT with the foods and grams that the habits say.

    Args:
        habits: products, states, measures and bases; conventions change no line.
        line_result: LINE_RESULT; only its lines are changed.
        computation: of the compute stage: grams of lines that use another recipe.
    """
    cells = _Cells(line_result)
    at = {
        key: i
        for i, key in enumerate(zip(line_result["recipe_id"], line_result["line_no"], strict=True))
    }
    value = computation.line_value
    keys = zip(value["recipe_id"], value["line_no"], strict=True)
    counted = dict(zip(keys, value["grams"].astype(float), strict=True))
    for number, habit in enumerate(habits):
        rows = [(key, at[key]) for key in habit.lines if key in at]
        if habit.kind == "measure":
            spread = _Z90 * float(habit.sure[0]) if habit.sure is not None else 0.0
            for _, row in rows:
                weight = float(cells.of["grams"][row]) * habit.factor
                cells.weigh(row, weight, weight * max(1 - spread, 0.5), weight * (1 + spread))
        elif habit.kind == "base" and len(habit.names) > 1:
            first: dict[str, int] = {}
            for key, row in rows:
                head = first.setdefault(key[0], row)
                weight = counted.get(key, 0.0)
                if head == row:
                    cells.put(row, food_id=own_id(number), confidence=1.0)
                    cells.weigh(row, weight, weight, weight)
                else:
                    together = float(cells.of["grams"][head]) + weight
                    cells.weigh(head, together, together, together)
                    cells.weigh(row, 0.0, 0.0, 0.0)
        elif habit.swaps:
            for key, other in zip(habit.lines, habit.swaps, strict=True):
                if key in at:
                    cells.put(at[key], **_food(foods, other))
        elif habit.kind == "state":
            for _, row in rows:
                cells.put(row, **_food(foods, habit.nearest))
        elif habit.composition is not None:
            for key, row in rows:
                cells.put(row, food_id=own_id(number), confidence=1.0)
                if habit.kind == "base":
                    weight = counted.get(key, math.nan)
                    cells.weigh(row, weight, weight, weight)
                    cells.put(row, basis="habit")
    return line_result.assign(**cells.of)


def _food(foods: Foods, at: int) -> dict[str, object]:
    """What a line says that means a food of the table."""
    found = foods.variants
    return {"food_id": found.food_ids[at], "description": found.descriptions[at], "confidence": 1.0}


class _Cells:
    """The columns of LINE_RESULT that a habit changes, as arrays to write into."""

    def __init__(self, lines: pd.DataFrame) -> None:
        numbers = ("grams", "grams_low", "grams_high", "confidence")
        self.of: dict[str, Any] = {
            c: lines[c].to_numpy(dtype=np.float64, na_value=math.nan).copy() for c in numbers
        }
        for column in ("food_id", "description", "basis"):
            self.of[column] = lines[column].to_numpy(dtype=object).copy()

    def put(self, row: int, **cells: object) -> None:
        for column, value in cells.items():
            self.of[column][row] = value

    def weigh(self, row: int, grams: float, low: float, high: float) -> None:
        self.put(row, grams=grams, grams_low=low, grams_high=high)


def own_id(number: int) -> str:
    """Name of the food that stands for the ``number``-th habit's composition."""
    return f"pantry:habit-{number}"


def adjusted_foods(
    con: duckdb.DuckDBPyConnection, habits: Sequence[Habit], own: pd.DataFrame
) -> pd.DataFrame:
    """FOOD_NUTRIENT of the pantry and of the products that the habits imply.

    What a creator's numbers do not tell (salt, water) is taken from the table's food.
    """
    wanted = [(n, h) for n, h in enumerate(habits) if h.composition is not None]
    if not wanted:
        return own
    ids = sorted({h.food_id for _, h in wanted if h.food_id})
    marks = ", ".join("?" for _ in ids) or "''"
    rest: dict[str, list[tuple[str, float]]] = {}
    for food_id, tag, amount in con.execute(
        "select food_id, nutrient, amount_per_100g from food_nutrient"
        f" where food_id in ({marks}) order by all",
        ids,
    ).fetchall():
        if tag not in TAGS and amount is not None:
            rest.setdefault(food_id, []).append((tag, float(amount)))
    nan = float("nan")
    rows = []
    for number, habit in wanted:
        composition = habit.composition if habit.composition is not None else np.zeros(len(TAGS))
        implied = [(t, float(v)) for t, v in zip(TAGS, composition, strict=True)]
        for tag, amount in [*implied, *rest.get(habit.food_id, [])]:
            rows.append((own_id(number), tag, amount, nan, nan))
    more = pd.DataFrame(rows, columns=FOOD_NUTRIENT)
    return pd.concat([own, more], ignore_index=True) if len(own) else more


def adjusted_stated(habits: Sequence[Habit], stated: pd.DataFrame) -> pd.DataFrame:
    """STATED with carbohydrate under the tag that the creator means."""
    net = touched([h for h in habits if h.convention in (NET, NET_ENERGY)])
    return net_carbohydrate(stated, stated["recipe_id"].isin(net)) if net else stated


def net_carbohydrate(stated: pd.DataFrame, where: pd.Series[bool] | None = None) -> pd.DataFrame:
    """STATED in which carbohydrate means carbohydrate without fibre."""
    tagged = stated["nutrient"] == "CHOCDF"
    if where is not None:
        tagged &= where
    return stated.assign(nutrient=stated["nutrient"].where(~tagged, NET_CARBS_TAG))


def counted_energy(
    computation: Computation, *, factors: set[str] | None, without_fibre: set[str] | None
) -> Computation:
    """The sums with energy as a creator counts it.

    Args:
        factors: recipes whose energy is 4 x protein + 4 x carbohydrate + 9 x fat (+ 7 x alcohol);
            None for all.
        without_fibre: recipes in which fibre brings no energy; None for all.
    """
    value = computation.line_value
    kcal = value["kcal"].to_numpy(dtype=float).copy()
    change = np.zeros(len(value))
    of = value["recipe_id"]
    by_factors = np.ones(len(value), bool) if factors is None else of.isin(factors).to_numpy()
    bare = np.ones(len(value), bool) if without_fibre is None else of.isin(without_fibre).to_numpy()
    if not (by_factors.any() or bare.any()):
        return computation
    summed = sum(value[c].fillna(0.0).to_numpy(dtype=float) * f for c, f in _FACTORS.items())
    change[by_factors] = (summed - kcal)[by_factors]
    fibre = value["fiber_g"].fillna(0.0).to_numpy(dtype=float)
    change[bare] -= _FIBRE_KCAL * fibre[bare]
    change = np.where(np.isfinite(kcal), np.nan_to_num(change), 0.0)
    moved = value.assign(_change=change).groupby("recipe_id")["_change"].sum()

    def shifted(table: pd.DataFrame, columns: list[str]) -> pd.DataFrame:
        energy = (table["nutrient"] == "ENERC_KCAL").to_numpy()
        by = np.where(energy, table["recipe_id"].map(moved).fillna(0.0).to_numpy(dtype=float), 0.0)
        return table.assign(**{c: table[c].astype(float) + by for c in columns})

    return replace(
        computation,
        line_value=value.assign(kcal=kcal + change),
        total=shifted(computation.total, ["amount", "low", "high"]),
        computed=shifted(computation.computed, ["amount", "low", "high"]),
    )


def energy_sets(habits: Sequence[Habit]) -> tuple[set[str], set[str]]:
    """Recipes whose energy is counted by factors, and those in which fibre brings none."""
    by = {
        name: touched([h for h in habits if h.convention == name]) for name in (FACTORS, NET_ENERGY)
    }
    return by[FACTORS], by[NET_ENERGY]
