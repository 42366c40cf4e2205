"""Lines without an amount: what people use of that kind of food, by shared/open_amounts.csv."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np

from pipeline.dish.model import KEPT, Dishes
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
    """Grams that an open line comes to, for the whole recipe; ``at`` is its place among the lines."""

    at: int
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


def open_lines(dishes: Dishes) -> list[Opened]:
    """What the lines without an amount come to; a line of no such kind stays unknown."""
    seasoning = dishes.basis.where(lambda basis: basis == "open")
    known = dishes.food_id.where(bool) | seasoning
    without = known & dishes.is_food & np.isnan(dishes.grams)
    without &= dishes.unit.where(lambda unit: not unit)
    without &= dishes.basis.where(lambda basis: basis in ("open", "none", ""))

    count = len(dishes.ids)
    foods, open_, others = (
        np.bincount(dishes.of[some], minlength=count)
        for some in (dishes.is_food, without, without & ~seasoning)
    )
    lost = others > np.maximum(2.0, LOST_AMOUNTS * foods)
    without &= (open_ > 0)[dishes.of] & ~lost[dishes.of]
    rows = {
        at: row for at in np.flatnonzero(without).tolist()
        if (row := amount_of(dishes.text.at(at), dishes.description.at(at), dishes.section.at(at)))
    }  # fmt: skip
    toppings = [at for at, row in rows.items() if row.of == "serving" and row.when == ""]
    chosen = np.bincount(dishes.of[toppings], minlength=count) if toppings else np.zeros(count)
    return [_opened(dishes, at, row, int(chosen[dishes.of[at]])) for at, row in rows.items()]


def _opened(dishes: Dishes, at: int, row: OpenAmount, toppings: int) -> Opened:
    times = 1.0 if row.of == "recipe" else _servings(float(dishes.servings[dishes.of[at]]))
    if row.of == "serving" and row.when == "":
        times *= min(1.0, TOPPINGS / toppings)
    span = f"{row.low:g} to {row.high:g} g"
    return Opened(
        at, row.typical * times, row.low * times, row.high * times,
        _when("beside", dishes.text.at(at), dishes.section.at(at)),
        f"no amount is written; people use {span} a {row.of} ({row.kind}) [{row.source}]",
    )  # fmt: skip


@lru_cache(maxsize=KEPT)
def amount_of(text: str, description: str, section: str) -> OpenAmount | None:
    """The row for a line by its words and its food; rows for a use only where the line says it."""
    bag = dict(line_words(use_words(text).without_use))
    for word, weight in food_words(description, "").items():
        bag[word] = max(weight, bag.get(word, 0.0))
    for score, row in _table().ranked(bag):
        if score and _when(row.when, text, section):
            return row
    return None


def _when(when: str, text: str, section: str) -> bool:
    """Whether the line or its section says the use that a row is for."""
    phrase = {"frying": "for_frying", "greasing": "for_greasing"}.get(when, "beside")
    return when == "" or any(use_words(words).says(phrase) for words in (text, section))


def _servings(servings: float) -> float:
    """Servings for an estimate; four where the recipe does not say, never more than a dozen."""
    return min(servings, 12.0) if servings > 0 else 4.0
