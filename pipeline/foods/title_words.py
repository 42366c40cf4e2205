"""Titles of recipes as words, so that a line that names one is recognised."""

from __future__ import annotations

import re
from functools import cache

from pipeline.foods.words import words
from pipeline.resources import shared_rows, word_lists

_LISTS = {name: frozenset(own) for name, own in word_lists("match_words.csv").items()}
#: Sizes are read as part of an amount, so that "half the Big red sauce" is half of a red sauce.
_SIZES = {
    said[0] for row in shared_rows("sizes.csv") for size in row["words"].split(";")
    if len(said := words(size)) == 1
}  # fmt: skip
#: Words in brackets that may still name a dish.
_NAME_IN_BRACKETS = 3
_IDLE = _LISTS["glue"] | _LISTS["made_before"] | _SIZES


@cache
def _spellings() -> dict[str, tuple[str, ...]]:
    """Words that are written or called otherwise elsewhere, with what the words files call it."""
    rows = ((words(row["from"]), words(row["to"])) for row in shared_rows("spelling_variants.csv"))
    return {written[0]: meant for written, meant in rows if len(written) == 1}


def key_of(text: str) -> tuple[str, ...]:
    """The words of a title or a food name that decide whether one names the other, in one spelling:
    "yoghurt" is "yogurt"."""
    said, spelt = words(text), _spellings()
    if not spelt.keys().isdisjoint(said):
        said = tuple(one for word in said for one in spelt.get(word, (word,)))
    return said if _IDLE.isdisjoint(said) else tuple(w for w in said if w not in _IDLE)


#: What may part a remark from the title before it: "Base – every bowl starts with this".
_REMARK = re.compile(r"\s+[-–—]+\s+|:\s+|\s*[(\[](?=[^()\[\]]*[)\]]\s*$)")


def title_key(title: str) -> tuple[str, ...]:
    """``key_of`` a title without a remark behind it, in brackets, behind a dash or a colon:
    "Base (save this one, I use it a lot)".

    A few words there part one recipe from another ("(vegan)", "Curry - mild") and stay.
    """
    for mark in _REMARK.finditer(title):
        name, remark = title[: mark.start()], title[mark.end() :]
        if len(remark.split()) > _NAME_IN_BRACKETS and (key := key_of(name)):
            return key
    return key_of(title)
