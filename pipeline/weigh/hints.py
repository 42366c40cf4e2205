"""What the wording of a line says beside its measures: market, width, what was done when.

Tins, cubes and sheets differ in size from market to market; a width in inches tells one tortilla
from another; and cream that is whipped behind the comma was measured before it was whipped.
"""

from __future__ import annotations

import re
from functools import cache

from pipeline.lines.model import ParsedLine
from pipeline.resources import shared_rows
from pipeline.weigh.kinds import word_set

_WORD = re.compile(r"[a-z][a-z-]*")
_ACROSS = re.compile(
    r"(?P<n>\d+(?:\.\d+)?)(?:\s*(?:-|–|to)\s*(?P<m>\d+(?:\.\d+)?))?\s*-?\s*"
    r"(?:(?P<cm>cm|centimetres?|centimeters?)\b|(?:inch(?:es)?|in)\b|[\"”″])"
    r"(?!\W{0,2}(?:\w+ )?(?:pieces?|chunks?|slices?|cubes?|strips?|thick|dice|rounds?|lengths?|long|"
    r"knob|batons?|sticks?|wedges?|coins?|matchsticks?))"
)
_CUT = re.compile(r"\b(?:cut|sliced|chopped|diced|cubed)\b[^,;()]*$")
#: Work that changes how much a food fills: said behind the comma, it came after the measuring.
AFTER_MEASURING = word_set("whipped whisked melted sifted crushed")
_BEHIND = re.compile(r"[,;(–-]\s*(?:[\w-]+ ){0,4}?(whipped|whisked|melted|sifted|crushed)\b")
_CM_PER_INCH = 2.54


@cache
def _market_words() -> dict[str, str]:
    return {row["word"]: row["market"] for row in shared_rows("market_words.csv")}


def market(parsed: ParsedLine) -> str:
    """``us``, ``uk`` (with the rest of the metric world) or "" when the signs are none or mixed.

    A package counted by the ounce decides alone; else every sign on the line must agree.
    """
    for measure in parsed.measures:
        if measure.each is not None and measure.each.unit in ("oz", "lb"):
            return "us"
    known = _market_words()
    signs = {known[word] for word in _WORD.findall(parsed.text.lower()) if word in known}
    return signs.pop() if len(signs) == 1 else ""


def across(text: str) -> float:
    """Width or length in cm that the line gives the thing itself ("10-inch tortillas"), else 0.

    A size to which the thing is cut ("cut into 1-inch chunks") is none.
    """
    low = text.lower()
    for hit in _ACROSS.finditer(low):
        if _CUT.search(low[: hit.start()]):
            continue
        wide = float(hit["n"])
        if hit["m"]:
            wide = (wide + float(hit["m"])) / 2
        return wide if hit["cm"] else wide * _CM_PER_INCH
    return 0.0


def done_after(text: str) -> str:
    """The word of work that stands behind a comma or in parentheses: "cream, whipped"."""
    hit = _BEHIND.search(text.lower())
    return hit[1] if hit is not None else ""
