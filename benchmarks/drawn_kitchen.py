"""Kitchens drawn at random from the food table: foods nobody chose, so that nothing is tuned to them.

The foods are all that ``shared/words/en.csv`` names, those with many names oftener, under the first
of their names, as far as a line of 100 g is read as that food and all of it is eaten. Neighbours are
read off the food profiles (same head, part, form and category), not asked of the search that is
measured; cups, spoons, slices and pieces weigh what the table says.
Three regimes: ``GOLD`` has the shape of the outside set (masses only, 3 % noise a line and nutrient,
another product or net carbohydrate); ``OPEN`` is the same with foods whose words name others as well,
which creators may mean; ``LIFE`` has every kind of habit and the noise of life.
"""

from __future__ import annotations

import json
import math
import random
import re
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import synthetic
from invented import Line
from invented_habits import Pool, Regime, line_of

if TYPE_CHECKING:
    from pipeline.snapshot import Snapshot

#: Role in a dish, and how often a line is one of each, by food category.
_ROLES = {
    "Cereal Grains and Pasta": ("base", 3.0), "Baked Products": ("base", 2.0),
    "Breakfast Cereals": ("base", 0.7), "Legumes and Legume Products": ("pulse", 2.5),
    "Dairy and Egg Products": ("dairy", 4.0), "Fats and Oils": ("fat", 3.0),
    "Nut and Seed Products": ("nuts", 2.0), "Sweets": ("sweet", 2.0),
    "Vegetables and Vegetable Products": ("veg", 6.0), "Fruits and Fruit Juices": ("fruit", 3.0),
    "Poultry Products": ("protein", 1.5), "Beef Products": ("protein", 1.5),
    "Pork Products": ("protein", 1.0), "Sausages and Luncheon Meats": ("protein", 1.0),
    "Lamb, Veal, and Game Products": ("protein", 0.5),
    "Finfish and Shellfish Products": ("protein", 2.0), "Spices and Herbs": ("small", 1.0),
    "Soups, Sauces, and Gravies": ("small", 1.0),
}  # fmt: skip
#: Foods a creator cooks with, and those of each role that a habit may need.
_FOODS, _AT_LEAST = (24, 32), {"base": 2, "fat": 2, "sweet": 2}
_LINES = (4, 9)
#: Foods of a kitchen whose words name others as well, at most.
_OPEN = 4
#: A line of a food of 100 kcal weighs so many grams a serving, and less the denser the food is.
_GRAMS, _DENSER, _SPREAD = 80.0, 0.7, 0.4
#: Share of the foods with a household measure in the table that are measured by it.
_MEASURED = 0.45
_UNITS = ("cup", "tbsp", "slice", "scoop", "piece")
#: Our weight of a measure is the table's, give or take this share.
_SAME_WEIGHT = 0.15
#: Another product has so many times the energy at most.
_REACH = 2.2

#: Deviation of what a creator's cup, spoon, slice or piece weighs, in every recipe alike.
_MEASURE_SD = {"cup": 0.07, "tbsp": 0.06, "slice": 0.12, "scoop": 0.1, "piece": 0.12}

GOLD = Regime(
    kinds=(("product", 0.85), ("net_carbs", 0.15)), recipes=(8, 16), table_sd=(0.0, 0.0), odd=0.0,
    line_noise=0.03, measure_sd={}, kcal_steps=((1, 1.0),), gram_steps=((1, 1.0),),
    slips=("servings_slip", "line_left_out", "line_doubled", "digits_transposed"), used=0.7,
)  # fmt: skip
OPEN = replace(GOLD, open_kinds=True)
LIFE = Regime(
    kinds=(("product", 0.42), ("measure", 0.18), ("state", 0.1), ("left_out", 0.05),
           ("net_carbs", 0.09), ("factors", 0.06), ("base", 0.1)),
    recipes=(8, 16), table_sd=(0.02, 0.05), odd=0.0, measure_sd=_MEASURE_SD,
    slips=("servings_slip", "line_left_out", "line_doubled", "digits_transposed", "unit_slip",
           "macros_swapped", "kilojoules_as_kcal"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Food:
    """A food that can be drawn: SR28 number, first name, how many names, role, kcal per 100 g."""

    code: str
    words: str
    names: int
    role: str
    weight: float
    kcal: float


@dataclass(frozen=True, slots=True)
class Table:
    """What kitchens are drawn from.

    Attributes:
        foods: that can be drawn.
        measures: unit and grams of one by code.
        neighbours: code and kind of what may stand in a food's place, by code.
        same_words: codes of foods that the words of a food name as well, by code.
    """

    foods: tuple[_Food, ...]
    measures: dict[str, list[tuple[str, float]]]
    neighbours: dict[str, list[tuple[str, str]]]
    same_words: dict[str, list[str]]


@cache
def table(snapshot: Snapshot) -> Table:
    """The foods of the table that cooks have words for."""
    names, _, _ = synthetic._foods(snapshot)
    first: dict[int, str] = {}
    many: dict[int, int] = {}
    for name, at in names:
        first.setdefault(at, name)
        many[at] = many.get(at, 0) + 1
    from food_table import load_foods

    with snapshot.connect() as con:
        by_row = {at: food_id for food_id, at in load_foods(con).index.items()}
        rows = con.execute(
            "select food_id, category, kcal, head, kind, part, form, states, fat_pct_low, description"
            " from food join food_wide using (food_id) join food_profile using (food_id)"
            " where source = 'sr28' and survey and kcal > 0 and protein_g is not null"
            " and carbs_g is not null and fat_g is not null order by food_id"
        ).fetchall()
        weighed = con.execute(
            "select food_id, unit, grams / amount from measure where amount > 0 and grams > 1"
            f" and unit in {_UNITS} and (size = '' or (unit = 'piece' and size = 'medium'))"
            " and qualifier = '' order by food_id, unit, seq"
        ).fetchall()
    weights: dict[str, dict[str, float]] = {}
    for food_id, unit, grams in weighed:
        weights.setdefault(food_id, {}).setdefault(unit, float(grams))
    known = {food_id: (category, kcal) for food_id, category, kcal, *_ in rows}
    said = {
        f"{amount} {words}": (food_id, grams)
        for at, words in first.items() if (food_id := by_row[at]) in known
        for amount, grams in [("100 g", 100.0), *_amounts(weights.get(food_id, {}))]
    }  # fmt: skip
    read = _read(list(said))
    right = {
        text for text, (food_id, grams) in said.items()
        if read.get(text, ("", 0.0))[0] == food_id and abs(read[text][1] / grams - 1) < _SAME_WEIGHT
    }  # fmt: skip
    foods = tuple(
        _Food(by_row[at][5:], name, many[at], *_ROLES[category], float(kcal))
        for at, name in first.items()
        if by_row[at] in known and f"100 g {name}" in right
        for category, kcal in [known[by_row[at]]]
        if category in _ROLES
    )
    measures = {
        f.code: [
            (unit, grams) for unit, grams in weights.get(f"sr28:{f.code}", {}).items()
            if f"{_said(unit)} {f.words}" in right
        ]
        for f in foods
    }  # fmt: skip
    return Table(foods, measures, _neighbours(rows), _same_words(foods, rows))


def _said(unit: str) -> str:
    return "1" if unit == "piece" else f"1 {unit}"


def _amounts(weights: dict[str, float]) -> list[tuple[str, float]]:
    return [(_said(unit), grams) for unit, grams in weights.items()]


def _read(texts: list[str]) -> dict[str, tuple[str, float]]:
    """Food read for each line, and the grams of it that are eaten: no skin, stone or bone.

    What a line is read as is measured elsewhere; a habit about a line that is read as another food
    or weight is neither true nor false.
    """
    import pipeline

    pages = [
        {
            "@context": "https://schema.org", "@type": "Recipe", "identifier": f"names-{n}",
            "name": f"Names {n}", "recipeYield": "1 serving",
            "recipeIngredient": texts[n : n + 40],
        }
        for n in range(0, len(texts), 40)
    ]  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        for n, page in enumerate(pages):
            (Path(folder) / f"{n}.json").write_text(json.dumps(page))
        lines = pipeline.verify([folder]).lines
    return {
        text: (str(food_id), float(grams) * (float(share) if share < 1 else 1.0))
        for text, food_id, grams, share in zip(
            *(lines[c].tolist() for c in ("text", "food_id", "grams", "eaten_share")), strict=True
        )
        if grams == grams
    }


def _neighbours(rows: list[tuple[Any, ...]]) -> dict[str, list[tuple[str, str]]]:
    """Foods of one head, part, form and category: another product, or the same in another state."""
    alike: dict[tuple[Any, ...], list[tuple[Any, ...]]] = {}
    for row in rows:
        _, category, _, head, _, part, form, *_ = row
        alike.setdefault((category, tuple(head), tuple(part), form), []).append(row)
    out: dict[str, list[tuple[str, str]]] = {}
    for group in alike.values():
        for one in group:
            for other in group:
                if one is not other and (kind := _other(one, other)):
                    out.setdefault(one[0][5:], []).append((other[0][5:], kind))
    return out


def _same_words(foods: tuple[_Food, ...], rows: list[tuple[Any, ...]]) -> dict[str, list[str]]:
    """Foods of one head, form, states and fat that are of kinds no word of the name tells."""
    of = {row[0][5:]: row for row in rows}
    by: dict[tuple[Any, ...], list[tuple[Any, ...]]] = {}
    for row in rows:
        by.setdefault((row[1], tuple(row[3]), row[6], frozenset(row[7]), row[8]), []).append(row)
    out: dict[str, list[str]] = {}
    for food in foods:
        mine = of[food.code]
        words = _words(food.words)
        if words <= _words(mine[9]) and _words(" ".join(mine[4])) - words:
            key = (mine[1], tuple(mine[3]), mine[6], frozenset(mine[7]), mine[8])
            out[food.code] = [
                other[0][5:] for other in by[key]
                if words <= _words(other[9]) and _words(" ".join(other[4])) - words
                and 0.1 < abs(math.log(other[2] / mine[2])) < 0.8
            ]  # fmt: skip
    return out


def _words(text: str) -> set[str]:
    return {w.rstrip("s").removesuffix("e") for w in re.findall(r"[a-z]+", text.lower())}


def _other(one: tuple[Any, ...], other: tuple[Any, ...]) -> str:
    """What ``other`` is in place of ``one``, "" for another food altogether."""
    kind, states, fat = (
        (set(one[4]), set(other[4])),
        (set(one[7]), set(other[7])),
        (one[8], other[8]),
    )
    cooked = ["raw" if "raw" in s else "cooked" if "cooked" in s else "" for s in states]
    if cooked[0] != cooked[1]:
        same = kind[0] == kind[1] and fat[0] == fat[1]
        return "raw_cooked_slip" if same and all(cooked) else ""
    shared = kind[0] == kind[1] or bool(kind[0] & kind[1])
    near = 1 / _REACH < one[2] / other[2] < _REACH
    return "product_variant" if shared and near and not _packed(*states) else ""


def _packed(one: set[str], other: set[str]) -> bool:
    """Whether two foods differ in keeping rather than as products: dried, tinned, frozen."""
    kept = {"dried", "dry", "canned", "frozen", "condensed", "powdered", "instant", "unprepared"}
    return bool((one ^ other) & kept)


def kitchen(of: Table, seed: str, *, masses: bool) -> Pool:
    """The foods that one creator cooks with.

    Args:
        of: of ``table``.
        seed: the same seed draws the same kitchen.
        masses: nothing is measured by the cup or piece.
    """
    rng = random.Random(f"kitchen|{seed}")
    chosen: dict[str, _Food] = {}
    for role, least in _AT_LEAST.items():
        for food in _drawn(rng, [f for f in of.foods if f.role == role]):
            if sum(f.role == role for f in chosen.values()) >= least:
                break
            chosen.setdefault(food.code, food)
    many = rng.randint(*_FOODS)
    for food in _drawn(rng, list(of.foods)):
        if len(chosen) >= many:
            break
        if not any(food.words in f.words or f.words in food.words for f in chosen.values()):
            chosen.setdefault(food.code, food)
    ingredients = tuple(_ingredient(f, of, rng, masses) for f in chosen.values())
    alternates = tuple((c, kind, o) for c in chosen for o, kind in of.neighbours.get(c, ()))
    open_ = [(c, rng.choice(others)) for c in chosen if (others := of.same_words.get(c))]
    kinds = tuple(rng.sample(open_, min(len(open_), _OPEN)))
    return Pool(ingredients, alternates, kinds, _dish)


def _drawn(rng: random.Random, foods: list[_Food]) -> Iterator[_Food]:
    """Foods without end, usual ones of usual categories oftener."""
    by: dict[str, list[_Food]] = {}
    for f in foods:
        by.setdefault(f"{f.role} {f.weight}", []).append(f)
    groups = list(by.values())
    while True:
        group = rng.choices(groups, [g[0].weight for g in groups])[0]
        yield rng.choices(group, [f.names for f in group])[0]


def _ingredient(f: _Food, of: Table, rng: random.Random, masses: bool) -> tuple[Any, ...]:
    """As ``kitchen_foods``: code, words, role, unit, grams of one, least and most a serving."""
    middle = min(max(_GRAMS * (100 / f.kcal) ** _DENSER, 4.0), 220.0)
    if f.role == "small":
        middle = min(middle, 15.0)
    low, high = middle * math.exp(-_SPREAD), middle * math.exp(_SPREAD)
    fitting = [(u, g) for u, g in of.measures.get(f.code, ()) if 0.15 * g < middle < 8 * g]
    if masses or not fitting or rng.random() > _MEASURED:
        return (f.code, f.words, f.role, "g", 1.0, low, high)
    unit, grams = rng.choice(fitting)
    return (f.code, f.words, f.role, unit, grams, low / grams, high / grams)


def _dish(rng: random.Random, pool: Pool) -> tuple[list[Line], int]:
    """4 to 9 lines of different foods, and servings."""
    servings = rng.choice([1, 1, 2, 2, 4, 4, 6])
    many = rng.randint(*_LINES)
    return [line_of(i, rng, servings) for i in rng.sample(pool.ingredients, many)], servings


def pool_of(snapshot: Snapshot, seed: int, regime: Regime) -> Pool:
    """The kitchen of a collection in a regime; net carbohydrate needs no foods of its own."""
    pool = kitchen(table(snapshot), str(seed), masses=not regime.measure_sd)
    return replace(pool, regime=regime, kinds=pool.kinds if regime.open_kinds else ())
