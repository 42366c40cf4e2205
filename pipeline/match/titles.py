"""Lines that name another recipe of the collection: "2 portions of the base dressing".

A title is often the plain name of a food ("Corn tortillas"), so a line means a recipe only when it
says so (``refers``), or when the recipe is of the same creator; a recipe of the same folder of
which nobody is named is meant too, where the table knows no such food for certain. What a line says
is told here; which recipe it means is decided for all lines at once by ``sql/read_uses.sql``.
"""

from __future__ import annotations

import re

from pipeline.foods.words import words
from pipeline.match.knowledge import GLUE

#: Units that only a dish is counted in; a line with one may name a title in part.
DISH_UNITS = frozenset({"portion", "whole", "batch"})
#: Words around a title that say only that it was made before.
_MADE_BEFORE = frozenset(
    {"recipe", "batch", "portion", "serving", "homemade", "leftover", "quantity", "above", "below",
     "one", "full", "see", "from", "made", "earlier", "previous", "prepared", "remaining", "rest"}
)  # fmt: skip
#: Words that point to something made by a recipe: "half the base dough", "my granola (see recipe)".
_REFERS = re.compile(
    r"\b(?:the|this|that|recipe|batch(?:es)?|made (?:earlier|before|above)"
    r"|see (?:above|below|recipe|page)|(?:from|recipe) (?:above|below)|leftover|previous)\b"
    r"|https?://",
    re.IGNORECASE,
)
#: A share of something made: "500 g of the sauce", "half the dough".
_SHARE = re.compile(r"\b(?:of|from|half|quarter)\s+(?:the|this|that)\b", re.IGNORECASE)
#: Words that point to something the cook made, in this kitchen or another.
_OWN = re.compile(r"\b(?:home-?made|our|my)\b", re.IGNORECASE)
#: Behind these "the" says nothing of the food: "for the pan", "at the end".
_OTHER_THE = re.compile(r"\b(?:for|at|on|in|into|over|to|off|all)\s+(?:the|this)\b", re.IGNORECASE)


def refers(text: str) -> str:
    """What a line says of having been made: "share" ("500 g of the sauce"), "recipe" ("the
    dressing", "see recipe"), "own" ("our stock", "homemade stock"), or "".
    """
    if _SHARE.search(text):
        return "share"
    if _REFERS.search(_OTHER_THE.sub(" ", text)):
        return "recipe"
    return "own" if _OWN.search(text) else ""


def key_of(text: str) -> tuple[str, ...]:
    """The words of a title or a food name that decide whether one names the other."""
    return tuple(w for w in words(text) if w not in GLUE and w not in _MADE_BEFORE)
