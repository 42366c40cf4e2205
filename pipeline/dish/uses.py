"""Kinds of use: which lines are not eaten whole, by shared/eaten_share.csv."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache

from pipeline.dish.model import KEPT, Dish, DishLine, LineUse
from pipeline.lines.use_words import use_words
from pipeline.resources import shared_rows


@dataclass(frozen=True, slots=True)
class EatenRule:
    """A row of shared/eaten_share.csv.

    Attributes:
        use, rule: kind of use, and its name for people.
        places: where ``pattern`` has to be found: ``line``, ``section``, ``title``, ``method``; all
            of them where several are joined by ``+`` (``section`` is then asked for ``food``).
        food: what line or food has to say; None for any.
        least_g: lines of less are eaten whole.
        of: ``line`` or ``food``, see ``LineUse``.
    """

    use: str
    rule: str
    places: tuple[str, ...]
    pattern: re.Pattern[str]
    food: re.Pattern[str] | None
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
            row["use"], row["rule"], tuple(row["place"].split("+")),
            re.compile(row["pattern"], re.IGNORECASE),
            re.compile(rf"\b(?:{row['food']})", re.IGNORECASE) if row["food"] else None,
            float(row["least_g"]), row["of"], float(row["share"]), float(row["low"]),
            float(row["high"]), row["source"],
        )
        for row in shared_rows("eaten_share.csv")
    )  # fmt: skip


def uses(dish: Dish) -> Iterator[LineUse]:
    """The first rule that fits each line."""
    asked = _rules_of(dish)
    by_line, by_place = (
        [r for r in asked if (r.places[0] == "line") == own] for own in (True, False)
    )
    for line in dish.foods():
        text, asks = _read(line.text)
        told = by_line if asks else []
        if not told and not by_place:
            continue
        rule = next((r for r in (*told, *by_place) if _fits(r, line, text)), None)
        if rule is not None and not (rule.share == 1 == rule.low):
            yield LineUse(dish.recipe_id, line.line_no, rule.use, rule.of, rule.share, rule.low,
                          rule.high, f"{rule.rule} [{rule.source}]")  # fmt: skip


@lru_cache(maxsize=KEPT)
def _read(text: str) -> tuple[str, bool]:
    """A line without what is done with more than its amount, and whether a rule may ask for it."""
    text = use_words(text).without_extra
    return text, _any_of("line").search(text) is not None


def _rules_of(dish: Dish) -> list[EatenRule]:
    """Rules that line, title and method leave possible; the dish itself is no marinade."""
    found = []
    asked = {"title": bool(_any_of("title").search(dish.title)),
             "method": bool(dish.method and _any_of("method").search(dish.method))}  # fmt: skip
    sections = {line.section for line in dish.lines if line.section}
    asked["section"] = any(_any_of("section").search(section) for section in sections)
    for rule in eaten_rules():
        if not asked.get(rule.places[0], True):
            continue
        if rule.places[0] == "title" and not rule.pattern.search(dish.title):
            continue
        if rule.places[0] == "method" and not rule.pattern.search(dish.method):
            continue
        if rule.use in ("marinade", "brine") and re.search(rf"\b{rule.use}\b", dish.title, re.I):
            continue
        found.append(rule)
    return found


@cache
def _any_of(place: str) -> re.Pattern[str]:
    """Words that some rule of a line, title or method asks for: most hold none."""
    patterns = [r.pattern.pattern for r in eaten_rules() if r.places[0] == place]
    return re.compile("|".join(f"(?:{p})" for p in patterns) or r"(?!)", re.IGNORECASE)


def _fits(rule: EatenRule, line: DishLine, text: str) -> bool:
    if rule.least_g and not line.grams >= rule.least_g:
        return False
    if rule.places[0] == "line" and not rule.pattern.search(text):
        return False
    if rule.places[0] == "section" and not rule.pattern.search(line.section):
        return False
    if rule.food is None:
        return True
    if "section" in rule.places[1:]:
        return rule.food.search(line.section) is not None
    return rule.food.search(line.text) is not None or rule.food.search(line.description) is not None
