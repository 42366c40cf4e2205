"""A recipe of the snapshot and what a creator could publish of it (helper of these tests)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pandas as pd

from pipeline.compute import Computation, compute
from pipeline.tables import LINE_RESULT, RECIPE, STATED

COLUMNS = {"kcal": "ENERC_KCAL", "protein_g": "PROCNT", "carbs_g": "CHOCDF", "fat_g": "FAT",
           "fiber_g": "FIBTG"}  # fmt: skip

#: An invented stew: text, SR28 code, grams, unit.
STEW = [
    ("250 g millet", "20031", 250.0, "g"),
    ("400 g cooked pinto beans", "16043", 400.0, "g"),
    ("3 tbsp olive oil", "04053", 40.5, "tbsp"),
    ("300 g low-fat Greek yogurt", "01287", 300.0, "g"),
    ("2 medium onions", "11282", 220.0, "piece"),
    ("500 g crushed tomatoes", "11693", 500.0, "g"),
    ("400 g beef mince, 20 % fat", "23572", 400.0, "g"),
]


@dataclass
class Case:
    """One recipe, computed, with true numbers per serving."""

    computation: Computation
    true: dict[str, float]
    servings: float


def lines(items=STEW, recipe_id: str = "stew", doubt: float = 0.03) -> pd.DataFrame:
    """LINE_RESULT of items, grams give or take ``doubt``."""
    rows = [
        {
            "recipe_id": recipe_id, "line_no": n, "section": "", "text": text,
            "food_id": f"sr28:{code}", "description": text, "confidence": 0.99,
            "status": "accepted", "origin": "table", "names_food": True, "grams": grams,
            "grams_low": grams * (1 - doubt), "grams_high": grams * (1 + doubt), "basis": "mass",
            "unit": unit, "amount": math.nan,
        }
        for n, (text, code, grams, unit) in enumerate(items, 1)
    ]  # fmt: skip
    return pd.DataFrame(rows).reindex(columns=LINE_RESULT)


def recipes(servings: float = 4.0, recipe_id: str = "stew", **more) -> pd.DataFrame:
    """RECIPE with one row."""
    row = {"recipe_id": recipe_id, "title": "Stew", "servings": servings, "yield_g": math.nan}
    return pd.DataFrame([{**row, **more}]).reindex(columns=RECIPE)


def case(con, items=STEW, servings: float = 4.0, doubt: float = 0.03, **more) -> Case:
    """Compute a recipe."""
    found = compute(con, lines(items, doubt=doubt), None, recipes(servings, **more))
    sums = found.computed.set_index("nutrient")["amount"]
    return Case(found, {c: sums[t] / servings for c, t in COLUMNS.items()}, servings)


def stated(numbers: dict[str, float], basis: str = "per_serving", recipe_id: str = "stew",
           step: float = 1.0) -> pd.DataFrame:  # fmt: skip
    """STATED, rounded to ``step``."""
    rows = [
        (recipe_id, COLUMNS.get(c, c), round(v / step) * step, basis, step, f"{v:.0f}")
        for c, v in numbers.items()
    ]
    return pd.DataFrame(rows, columns=STATED)
