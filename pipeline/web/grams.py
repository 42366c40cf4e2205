"""Grams typed by a person for a line: read, and held against what the line and the tool say."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from pipeline.foods import words
from pipeline.web.pack import typed_number

if TYPE_CHECKING:
    from pipeline.web.session import ReviewSession

#: A line can weigh no more, in grams; nor does a recipe make or weigh more.
MOST = 1_000_000.0
#: From so many grams on a line is asked about, whatever it is: no kitchen weighs out more at once.
LARGE = 20_000.0
#: So many times more, or less, than the tool makes of the line is asked about.
FAR = 20.0
#: Ways of weighing that rest on nothing the line says; an answer may well be far from them.
_LOOSE = frozenset({"none", "open", "parts"})


@dataclass(slots=True)
class Grams:
    """What was read.

    Attributes:
        value: grams; None when there is a fault.
        fault: what has to be corrected, "" when nothing.
        doubts: what is hard to believe; a person may insist.
    """

    value: float | None = None
    fault: str = ""
    doubts: list[str] = field(default_factory=list)


def read_grams(session: ReviewSession, key: str, text: str) -> Grams:
    """Read the grams typed for a line that the collection has; never raises.

    Args:
        text: as typed: "45", "7,5 g".
    """
    value = typed_number(text, "g")
    if value is None:
        return Grams(
            fault=f"“{text[:40]}” is not a number of grams; write it plainly, such as 45 or 7.5 g."
        )
    if value < 0:
        return Grams(fault="It cannot be less than nothing.")
    if value > MOST:
        return Grams(
            fault=f"{text[:40]} is too much: no line of a recipe weighs more than {MOST:,.0f} g."
        )
    with session.state.lock:
        parts = session.questions.parts(key)
        if parts:
            texts = session.state.lines.texts
            foods = " and ".join(f"“{texts[k]}”" for k in parts if k in texts)
            return Grams(
                fault=f"The line holds {len(parts)} foods, {foods}, and the grams would not say of which."
                " Open the food under “holds” and give its grams there, or make it two lines below;"
                " if the whole line is one food, choose that food first."
            )
        return Grams(value, doubts=[*_too_far(session, key, value), *_second_food(session, key)])


def _too_far(session: ReviewSession, key: str, value: float) -> list[str]:
    if value >= LARGE:
        return [f"{value:,.6g} g is more than a kitchen weighs out for one recipe."]
    weight = session.questions.reading(key).weight
    if not value or not weight.grams or weight.basis in _LOOSE:
        return []
    low, high = weight.low or weight.grams, weight.high or weight.grams
    if low / FAR <= value <= high * FAR:
        return []
    side = "more" if value > high else "less"
    return [f"{value:g} g is far {side} than the {weight.grams:.3g} g that the line comes to."]


def _second_food(session: ReviewSession, key: str) -> list[str]:
    """Whether what stands after the food of a line is the known name of another."""
    if session.questions.answer_to(key, "line") is not None:
        return []
    index, parsed = session.state.tools.matcher.index, session.state.lines.parsed[key]
    mine = set(words(parsed.name))
    for piece in re.split(r"[,;/+&]|\b(?:and|with|plus)\b", parsed.notes):
        said = words(piece)
        known = said and not set(said) <= mine and index.knowledge.canonical(said) in index.names
        if known and not any(word in parsed.states for word in said):
            name = " ".join(piece.split())
            return [
                f"The line also names “{name}”, and all the grams would be of “{parsed.name}”."
                " Where both are eaten, make it two lines below and give each its own."
            ]
    return []
