"""Which lines name no food: headings, kitchen things, "Serves 4"."""

from __future__ import annotations

from pipeline.foods.words import singular
from pipeline.lines.model import LineKind
from pipeline.lines.remarks import remark_phrase
from pipeline.lines.tokens import VULGAR
from pipeline.lines.vocabulary import HEADINGS, NO_LINE_STARTS, NOT_FOOD, NOT_FOOD_ENDS

_DIGITS = frozenset("0123456789") | VULGAR.keys()


def sort_line(written: str, words: str) -> LineKind | None:
    """``heading`` or ``not_food`` by the shape of the whole line, else None.

    Args:
        written: the cleaned line, stripped, case kept.
        words: the same in lower case.
    """
    if "=" in words and remark_phrase("definition").pattern.match(words):
        return "not_food"  # "1 cup* = 180 ml"
    first, last = words[0], words[-1]
    if first.isalnum() and last not in ":)]*" and words not in HEADINGS and (
        words[:4] not in ("for ", "the ")
    ):  # fmt: skip
        if words.startswith(NO_LINE_STARTS) and _starts_no_line(words):
            return "not_food"
        if written.isupper() and not _has_digit(words) and words.split()[-1] in HEADINGS:
            return "heading"
        return None
    bare = words.strip(" *#=_-:[](){}<>•|.~")
    if not bare:
        return None
    if not _has_digit(words) and (first in "#=[" or (first == "*" and last in "*:")):
        return "heading"
    plain = bare.removeprefix("for the ").removeprefix("for ").removeprefix("the ")
    if bare in HEADINGS or plain.removesuffix(" ingredients") in HEADINGS:
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


def _has_digit(words: str) -> bool:
    return any(c in _DIGITS for c in words)


def _starts_no_line(words: str) -> bool:
    """ "Serves 4", "Prep time: 10 min" and not "servings of rice"."""
    start = next(s for s in NO_LINE_STARTS if words.startswith(s))
    rest = words[len(start) :]
    told = rest.lstrip(" :~-")
    return bool(told) and (told[0] in _DIGITS or rest.lstrip()[:1] == ":" or start == "preheat")


def names_no_food(name: str) -> bool:
    """The whole name, or its last words, stand in ``shared/not_food.csv``."""
    last = singular(name.rpartition(" ")[2])
    if last not in NOT_FOOD_ENDS:
        return False
    words = [*name.split()[:-1], last]
    for n in range(1, min(4, len(words)) + 1):
        only_alone = NOT_FOOD.get(" ".join(words[-n:]))
        if only_alone is not None and (not only_alone or n == len(words)):
            return True
    return False
