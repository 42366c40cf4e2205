"""Amounts that are one number and one unit or size, and no more: the common case."""

from __future__ import annotations

from pipeline.foods.words import singular
from pipeline.lines.amounts import numeral
from pipeline.lines.model import Measure
from pipeline.lines.percents import CALORIES
from pipeline.lines.tokens import FRACTION, NUMBER, VULGAR, WORD, Tokens
from pipeline.lines.vocabulary import LEXICON, NOT_FOOD, UnitWord, meant_unit

#: Words after a unit with which the amount goes on: "1 cup minus 1 tbsp", "2 cups worth of".
_GOES_ON = frozenset({"minus", "less", "worth", "ish", "more"})
#: Words after a number that make it no count: "5 percent", "1 cal spray", "1 t butter".
_NOT_COUNTED = frozenset({"percent", "pct", "t", *CALORIES})


def plain_measure(t: Tokens, i: int) -> tuple[Measure, int] | None:
    """The amount at token ``i`` when it is one number and one unit or size, and no more.

    The common case of ``measures.read_measure``, answered without looking for ranges, packages, lengths and
    amounts said twice; None when the words could hold any of these.

    Returns:
        The measure, and the first token of the food.
    """
    word, kind = t.word, t.kind
    value, j = _plain_number(t, i)
    if kind[j] != WORD or not j:
        return None
    size = ""
    after = word[j]
    entry = LEXICON.get(after)
    if entry is not None and entry.bare_size is not None:  # "2 large eggs"
        size, not_before = entry.bare_size
        j += 1
        after = word[j]
        if kind[j] != WORD or after in not_before or f"{after} {word[j + 1]}" in not_before:
            return None
        entry = LEXICON.get(after)
    if entry is None or entry.counted:
        if word[j + 1] == "of" or after in _NOT_COUNTED or (entry is None and meant_unit(after)):
            return None
        place = (t.start[i], t.end[j - 1])
        return Measure(value, "piece", "count", value, value, size, None, False, place), j
    unit = entry.bare_unit
    past = _past_unit(t, unit, j) if unit is not None and not size else 0
    if unit is None or not past:
        return None
    place = (t.start[i], t.end[j])
    return Measure(value, unit.unit, unit.kind, value, value, "", None, False, place), past


def _plain_number(t: Tokens, i: int) -> tuple[float, int]:
    """The number at token ``i`` and the token after it; (0, 0) where more may be meant."""
    kind, word = t.kind, t.word
    text = word[i]
    j = i + 1
    if kind[i] == FRACTION:
        return VULGAR[text], j
    value, whole, fraction, problem = numeral(text)
    if problem or (fraction and value >= 1):  # "80/20"
        return 0.0, 0
    if not whole:
        return value, j
    if text[0] == "0":  # "00 flour"
        return 0.0, 0
    if kind[j] == FRACTION:  # "1½"
        return value + VULGAR[word[j]], j + 1
    if kind[j] == NUMBER:  # "1 1/2"
        part = numeral(word[j])
        proper = part.fraction and part.value < 1 and not part.problem
        return (value + part.value, j + 1) if proper else (0.0, 0)
    return value, j


def _past_unit(t: Tokens, unit: UnitWord, j: int) -> int:
    """The first token of the food after the unit at ``j``; 0 where more may be meant."""
    past = j + 1
    if t.kind[past] != WORD:
        return 0
    if t.word[past] == "of":
        past += 1
        if unit.kind == "package" or t.kind[past] != WORD:
            return 0
    if t.word[past] in _GOES_ON:
        return 0
    following = LEXICON.get(t.word[past])
    if following is not None and not following.after_unit:
        return 0
    return 0 if unit.kind in ("count", "package") and no_food(t, j, past) else past


def no_food(t: Tokens, j: int, past: int) -> bool:
    """ "2 loaf tins": the word that looks like a unit begins the name of a kitchen thing."""
    return f"{t.word[j]} {singular(t.word[past])}" in NOT_FOOD
