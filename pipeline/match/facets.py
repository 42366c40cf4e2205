"""The words of a description as the match stage weighs them: its head and the rest.

What a description says of states, form and makers is read once, into profiles
(``pipeline.foods.profile``); here are only the lists by which its words count more or less.
"""

from __future__ import annotations

import re

from pipeline.foods.words import words
from pipeline.resources import word_lists

_LISTS = word_lists("match_words.csv")
#: Facet words that say nothing a cook would say: they neither help nor hurt a match.
NEUTRAL = frozenset(_LISTS["neutral"])
_NOT_BRANDS = frozenset(_LISTS["not_a_brand"])
_BRAND = re.compile(r"\b[A-Z][A-Z&.]{2,}\b")


def head_and_tail(description: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Words of the first part of a description, and of the later ones.

    Args:
        description: e.g. ``"Rice, brown, long-grain, cooked"``.
    """
    parts = description.replace("(", ", ").replace(")", " ").split(",")
    return words(parts[0]), tuple(w for part in parts[1:] for w in words(part))


def brand_names(description: str) -> list[str]:
    """Words in capitals that name a maker: ``McDONALD'S``, ``KRAFT``."""
    return [w for w in _BRAND.findall(description) if w not in _NOT_BRANDS]
