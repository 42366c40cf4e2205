"""Lines without an amount: what people use of that kind of food, by shared/open_amounts.csv."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from pipeline.dish.model import Dish, DishLine
from pipeline.lines.use_words import use_words
from pipeline.resources import shared_rows
from pipeline.weigh.kinds import KindTable, food_words, line_words

#: Of several things to put on top, people take about two (common practice).
TOPPINGS = 2.0
#: A recipe of which more lines lack an amount has lost its amounts: nothing is made up for it.
LOST_AMOUNTS = 0.45


@dataclass(frozen=True, slots=True)
class OpenAmount:
    """A row of shared/open_amounts.csv: grams a recipe or a serving, with their 90 % range."""

    kind: str
    when: str
    of: str
    low: float
    typical: float
    high: float
    source: str


class Opened(NamedTuple):
    """Grams that an open line comes to, for the whole recipe."""

    recipe_id: str
    line_no: int
    grams: float
    low: float
    high: float
    beside: bool
    reason: str


@cache
def _table() -> KindTable[OpenAmount]:
    return KindTable(
        (
            row["food"],
            OpenAmount(row["kind"], row["when"], row["of"], float(row["low"]),
                       float(row["typical"]), float(row["high"]), row["source"]),
        )
        for row in shared_rows("open_amounts.csv")
    )  # fmt: skip


def open_lines(dish: Dish) -> Iterator[Opened]:
    """What the lines without an amount come to; a line of no such kind stays unknown."""
    foods = dish.foods()
    without = [line for line in foods if is_open(line)]
    if not without:
        return
    seasonings = [line for line in without if line.basis == "open"]
    rows = [amount_of(line) for line in without]
    chosen = sum(row is not None and row.of == "serving" and row.when == "" for row in rows)
    part = min(1.0, TOPPINGS / chosen) if chosen else 1.0
    if len(without) - len(seasonings) > max(2.0, LOST_AMOUNTS * len(foods)):
        return
    for line, found in zip(without, rows, strict=True):
        if found is None:
            continue
        times = 1.0 if found.of == "recipe" else _servings(dish)
        if found.of == "serving" and found.when == "":
            times *= part
        said = f"{found.low:g} to {found.high:g} g"
        yield Opened(
            dish.recipe_id, line.line_no, found.typical * times, found.low * times,
            found.high * times, _when("beside", line),
            f"no amount is written; people use {said} a {found.of} ({found.kind}) [{found.source}]",
        )  # fmt: skip


def is_open(line: DishLine) -> bool:
    """True for a line of a known food without an amount."""
    known = bool(line.food_id) or line.basis == "open"
    return (
        known and math.isnan(line.grams) and line.unit == "" and line.basis in ("open", "none", "")
    )


def amount_of(line: DishLine) -> OpenAmount | None:
    """The row for a line by its words and its food; rows for a use only where the line says it."""
    bag = dict(line_words(line.said.without_use))
    for word, weight in food_words(line.description, "").items():
        bag[word] = max(weight, bag.get(word, 0.0))
    for score, row in _table().ranked(bag):
        if score and _when(row.when, line):
            return row
    return None


def _when(when: str, line: DishLine) -> bool:
    """Whether the line or its section says the use that a row is for."""
    said = (line.said, use_words(line.section))
    if when == "frying":
        return any(words.for_frying for words in said)
    if when == "greasing":
        return any(words.for_greasing for words in said)
    return when == "" or any(words.beside for words in said)


def _servings(dish: Dish) -> float:
    """Servings for an estimate; four where the recipe does not say, never more than a dozen."""
    return min(dish.servings, 12.0) if dish.servings > 0 else 4.0
