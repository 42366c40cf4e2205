"""One line with one food: what every way of weighing looks at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pipeline.lines.model import ParsedLine
from pipeline.units import KitchenUnits, kitchen_units
from pipeline.weigh.estimate import Estimate
from pipeline.weigh.food import Food, Foods
from pipeline.weigh.kinds import line_words
from pipeline.weigh.tables import WeighTables, weigh_tables
from pipeline.weigh.words import word_list

#: Kinds of measure whose weight differs from market to market.
_SOLD_AS = frozenset(("package", "count"))
#: What a sign of the market counts for among the words of a line: enough to choose between rows.
_SIGN = 0.5


@dataclass(slots=True)
class Kitchen:
    """What is the same for every line: foods, tables, system of spoons, the creator's own foods.

    Attributes:
        spoons: system of cups and spoons where the line does not name one.
        pantry: the creator's own foods by food_id.
        per_unit: what one unit weighs, by (unit, size, case); filled as lines are weighed.
    """

    foods: Foods
    spoons: str
    pantry: Mapping[str, Any]
    units: KitchenUnits = field(default_factory=kitchen_units)
    tables: WeighTables = field(default_factory=weigh_tables)
    per_unit: dict[tuple[object, ...], Estimate | None] = field(default_factory=dict)


@dataclass(slots=True)
class Case:
    """One line with one food.

    Attributes:
        line: words of the line alone, with what each counts for.
        bag: the same with the food's.
        across: cm that the line gives the thing, 0 when none.
        key: equal for cases in which one unit weighs the same.
    """

    kitchen: Kitchen
    parsed: ParsedLine
    food_id: str | None
    food: Food
    line: dict[str, float]
    bag: dict[str, float]
    across: float
    key: tuple[object, ...]


def case_of(
    kitchen: Kitchen,
    parsed: ParsedLine,
    food_id: str | None,
    description: str,
    reference_id: str | None,
) -> Case:
    """Put together what is known of a line as one food."""
    reference = kitchen.foods.reference_of(food_id, reference_id)
    food = kitchen.foods.food(food_id, description, reference)
    line = line_words(parsed.name, parsed.states, parsed.notes, parsed.part)
    after, sold, wide = "", "", 0.0
    if parsed.notes and not word_list("worked").isdisjoint(line):
        after = parsed.remarks.worked_after
        weight = line.pop(after, None)
        known = food.own.volumes or kitchen.tables.volumes.best(line) is not None
        if weight is not None and not known:
            line[after] = weight  # weighed in no other form: better in the wrong one than not
    if any(m.kind in _SOLD_AS for m in parsed.measures) or "canned" in parsed.states:
        # us is the default of the tables, so a kitchen of that system says nothing
        sold = market_of(parsed) or ("" if kitchen.spoons == "us" else "uk")
        if sold:
            line["~" + sold] = _SIGN
        wide = parsed.remarks.across_cm
    bag = line
    if food.words:
        bag = dict(food.words)
        for word, counts in line.items():
            if counts > bag.get(word, 0.0):
                bag[word] = counts
    key = (
        parsed.name, parsed.states, parsed.notes, parsed.part, food_id, reference, after, sold, wide,
    )  # fmt: skip
    return Case(kitchen, parsed, food_id, food, line, bag, wide, key)


def market_of(parsed: ParsedLine) -> str:
    """The market a line was written for; a package counted by the ounce decides alone."""
    if any(m.each is not None and m.each.unit in ("oz", "lb") for m in parsed.measures):
        return "us"
    return parsed.remarks.market
