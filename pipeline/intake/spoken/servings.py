"""How many servings a spoken recipe makes."""

from __future__ import annotations

import math

from pipeline.intake.spoken.grammar import Talk
from pipeline.intake.spoken.lines import Reading
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.segments import Segment
from pipeline.intake.spoken.totals import ENERGY, said_last

#: In order of trust.
_SERVES = [f"serves_{n}" for n in range(1, 12)]


def servings_of(
    talk: Talk, segment: Segment, reading: Reading, end: int | None = None
) -> tuple[float, str]:
    """Servings of a recipe and what they are called; NaN when it is not said.

    What is said comes first; where a number for the whole and one for a share are given, their ratio
    checks it, and stands in where nothing is said.
    """
    said = talk.said(segment.start, segment.end if end is None else end)
    ratio = _ratio(segment)
    candidates: list[tuple[float, str]] = []
    for name in _SERVES:
        for match in phrases(name).finditer(said):
            if 1 <= int(match["n"]) <= 200:
                candidates.append((float(match["n"]), _word(match.groupdict().get("w") or "")))
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
    if phrases("serves_one").search(said):
        return 1.0, "serving"
    common = talk.common_servings
    return (common, "servings") if common == common else (math.nan, "")


def common_servings(talk: Talk) -> float:
    """Servings that a script says of all its recipes at once; NaN when it does not."""
    match = phrases("all_serve").search(talk.flow)
    return float(match["n"]) if match else math.nan


def _word(word: str) -> str:
    plain = not word or word in word_class("serving") or word.startswith("of ")
    return "servings" if plain else word


def _ratio(segment: Segment) -> float | None:
    energy = {p.basis: p.value for p in said_last(segment.totals) if p.tag == ENERGY}
    whole, share = energy.get("per_recipe"), energy.get("per_serving")
    if not whole or not share:
        return None
    ratio = whole / share
    near = round(ratio)
    return float(near) if near >= 2 and abs(ratio - near) <= 0.02 * near + 0.02 else None
