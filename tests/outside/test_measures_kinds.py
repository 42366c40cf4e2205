"""The tables of kinds against weights the source itself publishes for foods of that kind.

Source: USDA SR28 (2015, rev. May 2016), household weights of ABBREV as the snapshot holds them, and
the FAO/INFOODS Density Database v2.0 (2012) ranges of ``shared/densities.csv``.
"""

from __future__ import annotations

import math
import statistics

import pytest

from pipeline.resources import shared_rows
from pipeline.snapshot import open_snapshot
from pipeline.weigh.kinds import food_words, line_words
from pipeline.weigh.tables import weigh_tables
from pipeline.weigh.units import kitchen_units

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


def test_generic_densities_lie_in_the_published_ranges() -> None:
    """Liquids for which FAO/INFOODS publish a range: the generic row must overlap it."""
    checked = 0
    for row in shared_rows("densities.csv"):
        if not row["ndb_no"] or row["form"] != "liquid":
            continue
        name, _, state = row["food_plain_name"].partition(",")
        states = {"canned"} & set(state.split())
        found = weigh_tables().volumes.best(line_words(name, states))
        if found is None:
            continue
        assert found.low * 0.97 <= float(row["g_per_ml"]) <= found.high * 1.03, row[
            "food_plain_name"
        ]
        checked += 1
    assert checked >= 10


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
