"""Which lines name no food: headings, kitchen things, "Serves 4"."""

from __future__ import annotations

import re
from functools import cache

from pipeline.foods.words import singular
from pipeline.lines.model import LineKind
from pipeline.lines.remarks import remark_phrase
from pipeline.lines.tokens import VULGAR
from pipeline.lines.vocabulary import (
    HEADINGS,
    LEXICON,
    NO_LINE_STARTS,
    NO_WORD,
    NOT_FOOD,
    NOT_FOOD_ENDS,
    SEASONINGS,
    group,
)

#: No more characters tell a time or a temperature alone; and what stands between such facts.
_SHORT, _FACTS = 40, re.compile(r"\s*(?:[,;|·•]|[\u2300-\U0010ffff])+\s*")
#: Spaces in a text that says for what numbers are, at most.
_FOR_WHAT = 3
#: Signs around a heading, and a remark behind it.
_AROUND = " *#=_-–—:[](){}<>•|.~"
_REMARK = re.compile(r"\s*\([^()\d]*\)\s*$")
#: A day of a year in figures, and nothing of a longer number.
_DAY = re.compile(
    r"(?:(?:19|20)\d\d([-./])\d{1,2}\1\d{1,2}|\d{1,2}([-./])\d{1,2}\2(?:19|20)\d\d)(?![\w/-])"
)
_SIGNS = " ⏱⏲⏰🕐🕒\ufe0f"  # of a clock
_DIGITS = frozenset("0123456789") | VULGAR.keys()


def sort_line(written: str, words: str) -> LineKind | None:
    """``heading`` or ``not_food`` by the shape of the whole line, else None.

    Args:
        written: the cleaned line, stripped, case kept.
        words: the same in lower case.
    """
    if "=" in words and remark_phrase("definition").pattern.match(words):
        return "not_food"  # "1 cup* = 180 ml"
    if words == written and words in SEASONINGS:
        return None
    first, last = words[0], words[-1]
    if words.lstrip(_AROUND).partition(" ")[0] in group("denies") and denies_a_food(words):
        return "not_food"
    if _says_for_what(words):
        return "heading"
    named = _REMARK.sub("", words) if last == ")" else words  # "Sauce (make this first)"
    named = named.strip(_AROUND)  # "Topping -"
    if (last not in ":)]*" and tells_time_or_heat(words)) or _begins_otherwise(words):
        return "not_food"
    if first.isalnum() and last not in ":)]*" and named not in HEADINGS and (
        words[:4] not in ("for ", "the ")
    ):  # fmt: skip
        if words.startswith(NO_LINE_STARTS) and _starts_no_line(words):
            return "not_food"
        if written.isupper() and not _has_digit(words) and words.split()[-1] in HEADINGS:
            return "heading"
        return None
    bare = words.strip(_AROUND)
    if not bare:
        return None
    if not _has_digit(words) and (first in "#=[" or (first == "*" and last in "*:")):
        return "heading"
    plain = bare.removeprefix("for the ").removeprefix("for ").removeprefix("the ")
    if bare in HEADINGS or named in HEADINGS or plain.removesuffix(" ingredients") in HEADINGS:
        return "heading"
    if last == ":" and first not in _DIGITS and first != "-":
        return "heading"
    if words.startswith(NO_LINE_STARTS) and _starts_no_line(words):
        return "not_food"
    if words.startswith("for ") and not any(c in _DIGITS or c in ":,(" for c in words):
        return "heading"
    if bare.startswith("ingredients") and "serve" in bare:
        return "heading"
    return None


def denies_a_food(words: str) -> bool:
    """Whether a line says what is not in the dish: "no tomatoes", and neither "no sugar jam" nor "no 2".

    >>> denies_a_food("no oil needed"), denies_a_food("without salt"), denies_a_food("no salt butter")
    (True, True, False)
    """
    first, *rest = words.strip(_AROUND + "?!").split()
    if first not in group("denies") or not rest or _has_digit(words):
        return False
    return len(rest) == 1 or singular(rest[0]) not in group("denied_of_a_food")


def tells_time_or_heat(text: str) -> bool:
    """Whether a line only says how long or how hot: "30 min", "200C / 180 fan", "2 hours chilling"."""
    if len(text) >= _SHORT or not _has_digit(text):
        return False
    facts = text.strip(_SIGNS).lower().rstrip(".")
    if not facts.endswith(_fact_ends()):
        return False
    parts = _FACTS.split(facts)
    return all((told := _fact().fullmatch(part)) and _leads(told["lead"]) for part in parts)


def _says_for_what(words: str) -> bool:
    """ "Per head": for what numbers are."""
    return words.startswith("per ") and words.count(" ") <= _FOR_WHAT and not _has_digit(words)


def _begins_otherwise(words: str) -> bool:
    """Whether a number at the start is of a day or a heat, and no amount."""
    return words[0] in _DIGITS and (_begins_with_heat(words) or tells_a_day(words))


def _begins_with_heat(words: str) -> bool:
    """A step of the method: "180 fan, 35 min in the deep tray"."""
    fact, told, _ = words.partition(",")
    return bool(told) and len(fact) < _SHORT and _heat().fullmatch(fact.strip()) is not None


def tells_a_day(text: str) -> bool:
    """A day with its year, and no number behind it: "2024-05-19", "6.10.2024, before the trip"."""
    found = _DAY.match(text)
    return found is not None and not _has_digit(text[found.end() :])


def _leads(word: str | None) -> bool:
    """Whether a word may stand before a time or a heat: none, "about", "prep"."""
    bare = (word or "").rstrip(".")
    return not bare or bare in group("timing") or LEXICON.get(bare, NO_WORD).hedge


@cache
def _fact_ends() -> tuple[str, ...]:
    """What every match of ``_fact`` ends in."""
    return (*group("time"), *group("heat"), *group("timing"), "m")


def _any_of(name: str) -> str:
    return "|".join(map(re.escape, sorted(group(name), key=lambda word: (-len(word), word))))


@cache
def _heat() -> re.Pattern[str]:
    heats = _any_of("heat")
    one = rf"\d{{2,3}}\s*°?\s*(?:{heats})\b"
    return re.compile(rf"{one}(?:\s*/?\s*{one})*(?:\s*(?:{heats}))?")


@cache
def _fact() -> re.Pattern[str]:
    """A time with what it is of, or a heat; ``lead`` is the word before it."""
    number = r"\d+(?:[.,/]\d+)?(?: \d/\d)?"
    times, of = _any_of("time"), _any_of("timing")
    time = rf"{number}\s*(?:(?:-|–|to)\s*{number}\s*)?-?\s*(?:{times})\b\.?"
    return re.compile(
        rf"(?:(?P<lead>[^\W\d_]+\.?)\s+|~\s*)?"
        rf"(?:{time}(?:\s*(?:and\s*)?{number}\s*(?:m|{times})\b)?(?:\s+(?:{of}))*"
        rf"|{_heat().pattern})"
    )


def _has_digit(words: str) -> bool:
    return not _DIGITS.isdisjoint(words)


def _starts_no_line(words: str) -> bool:
    """ "Serves 4", "Prep time: 10 min" and not "servings of rice"."""
    start = next(s for s in NO_LINE_STARTS if words.startswith(s))
    rest = words[len(start) :]
    told = rest.lstrip(" :~-")
    return bool(told) and (told[0] in _DIGITS or rest.lstrip()[:1] == ":" or start == "preheat")


def names_no_food(name: str) -> bool:
    """The whole name, or its last words, stand in ``shared/not_food.csv``.

    Behind "in" they say how the food is cut: "carrots in ribbons".
    """
    last = singular(name.rpartition(" ")[2])
    if last not in NOT_FOOD_ENDS:
        return False
    words = [*name.split()[:-1], last]
    for n in range(1, min(4, len(words)) + 1):
        only_alone = NOT_FOOD.get(" ".join(words[-n:]))
        cut = words[-n - 1 : -n] == ["in"] and n + 1 < len(words)
        if only_alone is not None and (not only_alone or n == len(words)) and not cut:
            return True
    return False
