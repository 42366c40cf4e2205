"""The tables of kinds against weights the source itself publishes for foods of that kind.

Source: USDA SR28 (2015, rev. May 2016), household weights of WEIGHT as the snapshot holds them, and
the FAO/INFOODS Density Database v2.0 (2012), the ranges of ``data/fao_densities.csv``.
"""

from __future__ import annotations

import csv
import math
import statistics
from pathlib import Path

import pytest

from pipeline.lines import parse
from pipeline.snapshot import open_snapshot
from pipeline.units import kitchen_units
from pipeline.weigh import Weigher
from pipeline.weigh.kinds import food_words, line_words
from pipeline.weigh.tables import weigh_tables

#: Groups of plain foods that people weigh out for cooking.
GROUPS = (
    "Dairy and Egg Products", "Spices and Herbs", "Fats and Oils", "Fruits and Fruit Juices",
    "Nut and Seed Products", "Legumes and Legume Products", "Cereal Grains and Pasta", "Sweets",
)  # fmt: skip


def test_generic_volumes_reproduce_the_sources_own() -> None:
    """Cup and spoon rows of SR28 that the generic table never saw, by kind of food.

    The table gives one figure a kind, so single foods scatter; as a whole it must sit in the
    middle of them (bias under 6 %) and near them (median under 15 %).
    """
    con = open_snapshot().connect()
    rows = con.execute(
        "select description, category, amount, unit, qualifier, grams from measure join food "
        "using (food_id) where unit in ('cup', 'tbsp', 'tsp') and seq < 1000 and survey "
        "and category in (select unnest(?))",
        [list(GROUPS)],
    ).fetchall()
    con.close()
    volumes, units = weigh_tables().volumes, kitchen_units()
    off: list[float] = []
    for description, category, amount, unit, qualifier, grams in rows:
        bag = dict(food_words(description, category))
        for word, weight in line_words("", notes=qualifier).items():
            bag.setdefault(word, max(weight, 0.8))
        row = volumes.best(bag)
        if row is not None:
            off.append(math.log(row.value * amount * (units.ml(unit, "us") or 0) / grams))
    assert len(off) > 300
    assert abs(statistics.median(off)) < 0.06
    assert statistics.median(map(abs, off)) < 0.15


#: Liquids of SR28 that give the weight of a cup.
LIQUIDS = {
    "water": "14411", "whole milk": "01077", "skimmed milk": "01085", "buttermilk": "01230",
    "half-and-half cream": "01049", "heavy cream": "01053", "olive oil": "04053",
    "rapeseed oil": "04582", "soybean oil": "04044", "orange juice": "09206",
    "lemon juice": "09152", "apple juice": "09016", "cider vinegar": "02048", "soy sauce": "16123",
    "vanilla extract": "02050",
}  # fmt: skip


@pytest.mark.parametrize("name", LIQUIDS)
def test_generic_densities_hold_the_sources_own_liquids(name: str) -> None:
    with open_snapshot().connect() as con:
        own = con.execute(
            "select max(grams / amount) from measure where food_id = ? and unit = 'cup'",
            [f"sr28:{LIQUIDS[name]}"],
        ).fetchall()[0][0]
        own = (
            own
            or con.execute(
                "select 8 * max(grams / amount) from measure where food_id = ? and unit = 'fl_oz'",
                [f"sr28:{LIQUIDS[name]}"],
            ).fetchall()[0][0]
        )
    found = weigh_tables().volumes.best(line_words(name))
    assert found is not None
    assert found.low * 0.97 <= own / 236.588 <= found.high * 1.03


def published_densities() -> list[dict[str, str]]:
    path = Path(__file__).parent / "data" / "fao_densities.csv"
    with path.open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


@pytest.mark.parametrize("row", published_densities(), ids=lambda row: row["food"])
def test_a_litre_weighs_what_is_published(row: dict[str, str]) -> None:
    """FAO/INFOODS ranges; a kitchen cup may be off by 2 % of them."""
    weigher = Weigher(open_snapshot())
    found = weigher.weigh_one(parse(f"1 litre {row['food']}"), f"sr28:{row['sr28_code']}")
    assert found.grams is not None
    assert 0.98 * float(row["low"]) <= found.grams / 1000 <= 1.02 * float(row["high"])


@pytest.mark.parametrize(
    ("unit", "name", "low", "high"),
    [
        # USDA shell egg weight classes (2000): a dozen large eggs weigh 24 oz at least, 12 % shell.
        ("piece", "egg", 24 * 28.35 / 12 * 0.86, 27 * 28.35 / 12 * 0.90),
        # A US stick of butter is a quarter of an avoirdupois pound.
        ("stick", "butter", 113, 113.5),
        # SR28 02047 seq 4, a dash of salt; SR28 11215 seq 3, a clove of garlic.
        ("clove", "garlic", 3, 3),
        # SR28 18375 seq 3: a packet of dry yeast 7.2 g (n 3, sd 0.17).
    ],
)
def test_piece_weights_against_published_ones(
    unit: str, name: str, low: float, high: float
) -> None:
    row = weigh_tables().pieces[unit].best(line_words(name))
    assert row is not None
    assert low - 1e-9 <= row.value <= high + 1e-9


def test_a_drained_tin_is_what_the_source_weighed() -> None:
    """SR28 weighed cans: chickpeas 448 g with liquid, 253 g drained; kidney beans 436 and 266 g."""
    drained = weigh_tables().drained
    for name, whole, left in [("chickpeas", 448, 253), ("kidney beans", 436, 266)]:
        row = drained.best(line_words(name))
        assert row is not None
        assert row.low <= left / whole <= row.high
