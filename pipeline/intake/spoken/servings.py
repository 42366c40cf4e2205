"""How many servings a spoken recipe makes."""

from __future__ import annotations

import math
import re

from pipeline.intake.spoken.grammar import Talk
from pipeline.intake.spoken.lines import Reading
from pipeline.intake.spoken.segments import Segment
from pipeline.intake.spoken.totals import ENERGY, said_last

_THINGS = (
    r"(?P<w>servings?|portions?|people|persons?|bowls?|meals?|bars?|jars?|balls?|muffins?|"
    r"pancakes?|slices?|"
    r"pieces?|wraps?|cookies|squares?|boxes|tubs?|lunches|dinners|plates?|pots?|bagels?|"
    r"burgers?|patties|"
    r"brownies|scones|biscuits|cakes|wedges|rolls|buns|cups|glasses|fishcakes|tacos|flapjacks|"
    r"of (?:us|you))"
)
_N = r"(?P<n>\d{1,3})"
_SOFT = r"(?:(?: about| around| roughly| you| me| us| up| out| like| a good| the| just| it| that| this| in)*)"
#: In order of trust: (pattern, the things counted are servings by themselves).
_PATTERNS = tuple(
    re.compile(p)
    for p in (
        rf"\b{_N} (?P<w>servings|portions)\b",
        rf"\b(?:serves?|feeds?|serving|enough for|good for|does){_SOFT} {_N}(?! (?:g|grams?|"
        rf"minutes?|hours?|lots?)\b)(?: {_THINGS})?",
        rf"\b(?:for|does|do|feed) (?:the )?{_N} (?P<w>people|of us|of you)\b",
        rf"\bone serving out of {_N}\b|\b1 serving out of {_N.replace('<n>', '<n2>')}\b",
        rf"\b(?:divided?s?|split|splits|cut)(?: [a-z]+){{0,4}} (?:by|into|in|between)(?: your|"
        rf" the| those)? {_N}\b",
        rf"\b(?:makes?|making|gives?|gets?|get|yields?|that's|so that's|out of that|is for|"
        rf"this is for){_SOFT} {_N} (?:[a-z]+ )?{_THINGS}\b",
        rf"\b(?:cut|cuts|slice|roll|shape|drop)(?: [a-z]+){{0,5}}? (?:in|into|"
        rf"to) {_N} (?:[a-z]+ )?{_THINGS}\b",
        rf"\b(?:makes?|making|that's|it's|yields?|i make){_SOFT} {_N}(?= (?:of us|so|and|or|in|"
        rf"with|\||,|per|at)|$)",
        rf"\b(?:that's|so|so that's|is|for|it's|is for){_SOFT} {_N} (?:[a-z]+ )?(?P<w>bowls|"
        rf"boxes|tubs|slices|wedges|plates)\b",
        rf"\b(?:that|this) one's for {_N}\b",
    )
)
_ONE = re.compile(
    r"\b(?:for (?:just )?(?:one|1|me)(?: (?:person|serving|large cup|portion|of me))?\b(?! lot)|"
    r"(?:it's|that's|so) 1 portion|it's one portion|so 1 person|1 serving\b|"
    r"each person (?:gets|has)|for each (?:person|serving|bowl))"
)
_ALL = re.compile(
    rf"\b(?:every|each|all)(?: one)? of (?:these|them) (?:is|are|makes|serves|"
    rf"does) {_N}(?: servings| portions)?\b"
)


def servings_of(
    talk: Talk, segment: Segment, reading: Reading, end: int | None = None
) -> tuple[float, str]:
    """Servings of a recipe and what they are called; NaN when it is not said.

    What is said comes first; where a number for the whole and one for a share are told, their ratio
    checks it, and stands in where nothing is said.
    """
    said = talk.said(segment.start, segment.end if end is None else end)
    ratio = _ratio(segment)
    candidates: list[tuple[float, str]] = []
    for pattern in _PATTERNS:
        for match in pattern.finditer(said):
            groups = match.groupdict()
            number = groups.get("n") or groups.get("n2")
            if number and 1 <= int(number) <= 200:
                word = groups.get("w") or ""
                candidates.append((float(number), _word(word)))
    if ratio is not None:
        agreeing = next((c for c in candidates if c[0] == ratio), None)
        if agreeing is not None:
            return agreeing
    if candidates:
        return candidates[0]
    if reading.servings == reading.servings:
        return reading.servings, "servings"
    if ratio is not None:
        return ratio, "servings"
    if _ONE.search(said):
        return 1.0, "serving"
    common = talk.common_servings
    return (common, "servings") if common == common else (math.nan, "")


def common_servings(talk: Talk) -> float:
    """Servings that a script says of all its recipes at once; NaN when it does not."""
    match = _ALL.search(talk.flow)
    return float(match["n"]) if match else math.nan


def _word(word: str) -> str:
    if word in (
        "",
        "people",
        "person",
        "persons",
        "servings",
        "serving",
        "portions",
        "portion",
    ) or word.startswith("of "):
        return "servings"
    return word


def _ratio(segment: Segment) -> float | None:
    energy = {p.basis: p.value for p in said_last(segment.totals) if p.tag == ENERGY}
    whole, share = energy.get("per_recipe"), energy.get("per_serving")
    if not whole or not share:
        return None
    ratio = whole / share
    near = round(ratio)
    return float(near) if near >= 2 and abs(ratio - near) <= 0.02 * near + 0.02 else None
