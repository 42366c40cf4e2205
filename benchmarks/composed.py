"""Lists of the table's own descriptions with known sums, for want of recipes written that way.

Each list names a few random foods of SR28 as the table describes them, half of them by grams, half
in one of the food's own household measures (cups, spoons, ounces, slices), one to three of it. The
sum by the table is known exactly, so the error of the whole run (intake, lines, match, weigh,
compute) is too. These are no recipes: nobody cooks them, and their foods are drawn evenly from the
table where recipes draw on its common ones.
"""

from __future__ import annotations

import json
import random
import tempfile
from pathlib import Path
from statistics import median

import pipeline
from pipeline.snapshot import Snapshot

#: Units of household measures that lists are written in, and how a cook writes them.
UNITS = {"cup": "cup", "tbsp": "tbsp", "tsp": "tsp", "fl_oz": "fl oz", "oz": "oz", "slice": "slice"}
_FOODS = """
    select food_id, description, kcal from food join food_macros using (food_id)
    where source = 'sr28' and complete order by food_id
"""
_MEASURES = """
    select food_id, amount, unit, grams from measure
    where qualifier = '' and size = '' and unit in (select unnest($units)) order by food_id, seq
"""


def write_lists(folder: Path, snapshot: Snapshot, count: int, seed: int) -> dict[str, float]:
    """Write ``count`` recipe files of four to nine lines; return title → kcal by the table."""
    rnd = random.Random(seed)
    with snapshot.connect() as con:
        foods = con.execute(_FOODS).fetchall()
        own: dict[str, list[tuple[float, str, float]]] = {}
        for food_id, amount, unit, grams in con.execute(
            _MEASURES, {"units": list(UNITS)}
        ).fetchall():
            own.setdefault(food_id, []).append((amount, UNITS[unit], grams))
    sums: dict[str, float] = {}
    for number in range(1, count + 1):
        title, lines, kcal = f"List {number:03}", [], 0.0
        for food_id, description, per_100_g in rnd.sample(foods, rnd.randint(4, 9)):
            grams = float(rnd.randrange(10, 310, 10))
            written = f"{grams:g} g {description}"
            if food_id in own and rnd.random() < 0.5:
                amount, unit, weight = rnd.choice(own[food_id])
                times = rnd.randint(1, 3)
                grams = weight * times
                written = f"{amount * times:g} {unit} {description}"
            lines.append(written)
            kcal += per_100_g * grams / 100.0
        sums[title] = kcal
        recipe = {
            "@context": "https://schema.org",
            "@type": "Recipe",
            "name": title,
            "recipeYield": "1",
            "recipeIngredient": lines,
            "nutrition": {"@type": "NutritionInformation", "calories": f"{kcal:.0f} kcal"},
        }
        (folder / f"{title}.json").write_text(json.dumps(recipe), encoding="utf-8")
    return sums


def energy_errors(snapshot: Snapshot, count: int = 150, seed: int = 5) -> list[float]:
    """Relative error of energy of each list as the product computes it; 1 where it has none."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        sums = write_lists(folder, snapshot, count, seed)
        found = pipeline.verify(folder, snapshot=snapshot).recipes
        computed = dict(zip(found["title"], found["kcal_computed"].fillna(0.0), strict=True))
    return [abs(computed.get(title, 0.0) - kcal) / kcal for title, kcal in sums.items()]


def row(errors: list[float]) -> tuple[float, float]:
    """Median relative error, and the share of lists within 5 %."""
    return median(errors), sum(e <= 0.05 for e in errors) / len(errors)
