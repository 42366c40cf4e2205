"""The shared tables of the stage: every row readable, ranged, sourced and reachable."""

from __future__ import annotations

import pytest
from growth import cpu_seconds, growth
from weigh_by_hand import line, measure

from pipeline.resources import shared_rows
from pipeline.snapshot import Snapshot
from pipeline.weigh import Weigher
from pipeline.weigh.kinds import KindTable, Pattern, food_words, line_words, singular
from pipeline.weigh.tables import weigh_tables

RANGED = {
    "piece_weights.csv": "grams",
    "volume_weights.csv": "grams",
    "trade_measures.csv": "quantity",
    "packages.csv": "value",
}


@pytest.mark.parametrize("table", RANGED)
def test_every_row_has_a_range_around_its_value_and_a_source(table: str) -> None:
    for number, row in enumerate(shared_rows(table), 2):
        value, low, high = (float(row[c]) for c in (RANGED[table], "low", "high"))
        assert 0 < low <= value <= high, f"{table}:{number}"
        assert row["source"], f"{table}:{number}"
        assert high <= value * 5, f"{table}:{number} says nothing with so wide a range"


@pytest.mark.parametrize("table", [*RANGED, "refuse_rules.csv"])
def test_patterns_read_and_are_not_repeated(table: str) -> None:
    seen: set[tuple[str, ...]] = set()
    for number, row in enumerate(shared_rows(table), 2):
        if row.get("rule") != "part":
            pattern = Pattern.parse(row["food"])
            assert pattern.slots or not row["food"], f"{table}:{number}"
            for word in (w for slot in pattern.slots for w in slot):
                assert word not in pattern.without, f"{table}:{number} asks for and bars {word}"
        key = tuple(row.get(c, "") for c in ("rule", "unit", "food", "size", "part"))
        assert key not in seen, f"{table}:{number} repeats {key}"
        seen.add(key)


def test_shares_are_shares() -> None:
    for row in shared_rows("packages.csv"):
        assert row["of"] in ("g", "ml", "share")
        if row["rule"] == "drained":
            assert float(row["high"]) <= 1
    for row in shared_rows("refuse_rules.csv"):
        if row["loss_pct"]:
            assert float(row["low_pct"]) <= float(row["loss_pct"]) <= float(row["high_pct"]) < 100


def test_generic_densities_are_those_of_food() -> None:
    tables = weigh_tables()
    for name in ("water", "olive oil", "honey", "flour", "popped popcorn", "salt"):
        row = tables.volumes.best(line_words(name))
        assert row is not None, name
        assert 0.02 < row.value < 1.5, name


@pytest.mark.parametrize(
    ("word", "one"),
    [
        ("tomatoes", "tomato"), ("leaves", "leaf"), ("berries", "berry"), ("olives", "olive"),
        ("chives", "chive"), ("radishes", "radish"), ("cookies", "cooky"), ("hummus", "hummus"),
        ("couscous", "couscous"), ("chillies", "chilli"), ("oats", "oat"), ("peas", "pea"),
        ("asparagus", "asparagus"), ("boxes", "box"), ("gas", "gas"),
    ],
)  # fmt: skip
def test_singular(word: str, one: str) -> None:
    assert singular(word) == one
    assert singular(one) == one


def test_the_head_of_a_name_outweighs_its_other_words() -> None:
    table = KindTable([("butter", "butter"), ("bean", "bean"), ("butter peanut", "spread")])
    assert table.best(line_words("butter beans")) == "bean"
    assert table.best(line_words("peanut butter")) == "spread"
    assert table.best(line_words("chicken stock")) is None


def test_a_description_names_its_thing_first() -> None:
    bag = food_words("Nuts, almonds, dry roasted, with salt added", "Nut and Seed Products")
    assert KindTable([("almond", 1)]).best(bag) == 1
    assert KindTable([("salt", 1)]).best(bag) is None
    assert KindTable([("@nut", 1)]).best(bag) == 1


def test_a_word_marked_with_an_equals_sign_must_stand_on_the_line() -> None:
    table = KindTable([("sausage =italian", 1)])
    described = food_words("Sausage, Italian, pork, raw", "Sausages and Luncheon Meats")
    assert table.best({**described, **line_words("pork sausage")}) is None
    assert table.best({**described, **line_words("italian sausage")}) == 1


def test_a_line_costs_the_same_however_many_came_before(weigh_snapshot: Snapshot) -> None:
    weigher = Weigher(weigh_snapshot)
    lines = [line(measure(i, "g", "mass"), name=f"flour {i}") for i in range(16_000)]

    def seconds(n: int) -> float:
        return cpu_seconds(lambda: [weigher.weigh_one(one, "sr28:20081") for one in lines[:n]])

    assert growth(seconds, 4_000, within=6) <= 6
