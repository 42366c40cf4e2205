"""Frames of the compute stage from a few words a line (helpers of the tests beside this)."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import duckdb
import pandas as pd
import pytest

from pipeline.tables import LINE_RESULT, RECIPE, RUNNER_UP

#: Invented foods: kcal, protein, carbohydrate, fat, fibre per 100 g; None is not reported.
FOODS = {
    "oil": (900.0, 0.0, 0.0, 100.0, 0.0),
    "beans": (120.0, 8.0, 20.0, 1.0, 7.0),
    "rice": (350.0, 7.0, 78.0, 1.0, 1.0),
    "milk": (60.0, 3.0, 5.0, 3.0, None),
}
TAGS = ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT", "FIBTG")


def food_tables() -> tuple[pd.DataFrame, pd.DataFrame]:
    """food and food_nutrient of the invented foods."""
    food = pd.DataFrame(
        [(f"x:{name}", name, "Invented") for name in FOODS],
        columns=["food_id", "description", "category"],
    )
    rows = [
        (f"x:{name}", tag, value, math.nan, 0)
        for name, values in FOODS.items()
        for tag, value in zip(TAGS, values, strict=True)
        if value is not None
    ]
    nutrient = pd.DataFrame(
        rows, columns=["food_id", "nutrient", "amount_per_100g", "standard_error", "n"]
    )
    return food, nutrient


@pytest.fixture(scope="module")
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection that holds the invented foods, as a snapshot does."""
    db = duckdb.connect()
    food, nutrient = food_tables()
    db.register("f", food)
    db.register("n", nutrient)
    db.execute("create table food as select * from f")
    db.execute(
        "create table food_nutrient as select * replace"
        " (case when isnan(standard_error) then null else standard_error end as standard_error)"
        " from n"
    )
    yield db
    db.close()


def make_line(recipe_id: str, line_no: int, food: str | None, grams: float | None, **more):
    """One LINE_RESULT row: recipe, number, food and grams; the rest as for a plain weighed line."""
    row = {
        "recipe_id": recipe_id, "line_no": line_no, "section": "", "text": f"{grams} g {food}",
        "source_line": None, "food_id": f"x:{food}" if food else None, "description": food or "",
        "confidence": 1.0, "status": "accepted", "origin": "table", "reason": "",
        "names_food": True, "grams": grams, "grams_low": grams, "grams_high": grams,
        "basis": "mass", "weigh_reason": "", "unit": "g", "amount": grams,
    }  # fmt: skip
    return {**row, **more}


@pytest.fixture
def line() -> Callable[..., dict[str, object]]:
    """``make_line`` as a fixture."""
    return make_line


@pytest.fixture(scope="module")
def line_maker() -> Callable[..., dict[str, object]]:
    """The same for property tests, which take no fixture made anew for each test."""
    return make_line


def lines_frame(rows: list[dict[str, object]]) -> pd.DataFrame:
    """LINE_RESULT from rows; further columns stay."""
    frame = pd.DataFrame(rows)
    return frame.reindex(columns=list(dict.fromkeys([*LINE_RESULT, *frame.columns])))


def recipes_frame(*rows: dict[str, object]) -> pd.DataFrame:
    """RECIPE from rows that name what matters."""
    return pd.DataFrame(list(rows)).reindex(columns=RECIPE)


def runners_frame(*rows: tuple[str, int, str, float]) -> pd.DataFrame:
    """RUNNER_UP from text, rank, food and probability."""
    return pd.DataFrame([(t, r, f"x:{f}", f, p, 0.0) for t, r, f, p in rows], columns=RUNNER_UP)
