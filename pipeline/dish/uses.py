"""Kinds of use: which lines are not eaten whole, by shared/eaten_share.csv."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from pipeline.dish.model import Dishes, LineUse
from pipeline.lines.use_words import dish_phrase, use_words
from pipeline.phrases import Phrase
from pipeline.resources import shared_rows

if TYPE_CHECKING:
    from pipeline.phrases import Bools, Column


@dataclass(frozen=True, slots=True)
class EatenRule:
    """A row of shared/eaten_share.csv.

    Attributes:
        use, rule: kind of use, and its name for people.
        places: where ``phrase`` has to be found: ``line``, ``section``, ``title``, ``method``; all
            of them where several are joined by ``+`` (``section`` is then asked for ``food``).
        food: what line or food has to say; None for any.
        least_g: lines of less are eaten whole.
        of: ``line`` or ``food``, see ``LineUse``.
    """

    use: str
    rule: str
    places: tuple[str, ...]
    phrase: Phrase
    food: Phrase | None
    least_g: float
    of: str
    share: float
    low: float
    high: float
    source: str


@cache
def eaten_rules() -> tuple[EatenRule, ...]:
    """Rows of shared/eaten_share.csv, the first that fits rules."""
    return tuple(
        EatenRule(
            row["use"], row["rule"], tuple(row["place"].split("+")), Phrase(row["pattern"]),
            Phrase(rf"\b(?:{row['food']})") if row["food"] else None,
            float(row["least_g"]), row["of"], float(row["share"]), float(row["low"]),
            float(row["high"]), row["source"],
        )
        for row in shared_rows("eaten_share.csv")
    )  # fmt: skip


#: A dish that is named after them is no marinade or brine that is poured off.
_NAMESAKES = {use: Phrase(rf"\b{use}\b") for use in ("marinade", "brine")}


def uses(dishes: Dishes) -> list[LineUse]:
    """The first rule that fits each line; those that its own words ask for come first."""
    refused = dish_phrase("refused")  # "don't drain the fat"
    places: dict[str, Column] = {
        "line": dishes.text.mapped(
            dish_phrase("extra"), lambda text: use_words(text).without_extra
        ),
        "section": dishes.section,
        "title": dishes.of_line(dishes.title),
        "method": dishes.of_line(
            dishes.method.mapped(refused, lambda text: refused.pattern.sub("", text))
        ),
    }
    open_ = dishes.is_food.copy()
    found: list[LineUse] = []
    for rule in sorted(eaten_rules(), key=lambda rule: rule.places[0] != "line"):
        fits = _fits(rule, dishes, places, open_)
        open_ &= ~fits
        if rule.share == 1 == rule.low:
            continue
        found += [
            LineUse(dishes.recipe_id[at], dishes.line_no[at], rule.use, rule.of, rule.share,
                    rule.low, rule.high, f"{rule.rule} [{rule.source}]")
            for at in np.flatnonzero(fits).tolist()
        ]  # fmt: skip
    return found


def _fits(rule: EatenRule, dishes: Dishes, places: dict[str, Column], rows: Bools) -> Bools:
    """Those of some lines that a rule fits."""
    if rule.least_g:
        rows = rows & (dishes.grams >= rule.least_g)
    if rule.places[0] == "method":
        rows = rows & ~places["method"].where(lambda text: not text)
    rows = places[rule.places[0]].has(rule.phrase, rows)
    if rows.any() and (namesake := _NAMESAKES.get(rule.use)):
        rows = rows & ~places["title"].has(namesake)
    if rule.food is None or not rows.any():
        return rows
    if "section" in rule.places[1:]:
        return places["section"].has(rule.food, rows)
    return dishes.text.has(rule.food, rows) | dishes.description.has(rule.food, rows)
