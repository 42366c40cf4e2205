"""What is read of an amount at one place of a line, and how amounts said apart are put together."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from pipeline.lines.amounts import Amount
from pipeline.lines.model import Measure
from pipeline.lines.tokens import NUMBER, Tokens
from pipeline.lines.vocabulary import UNITS, UnitWord

PIECE = UNITS["piece"]
HELD = ("mass", "volume")
TIMES = frozenset({"x", "×", "*"})
#: Marks between two ways to say one amount.
DUAL = frozenset({"/", "=", "|"})
#: A package holds fewer pieces than this; a larger number is its weight (common practice).
MOST_PIECES = 50


@dataclass(slots=True)
class Reading:
    """What was read at one place of the line.

    Attributes:
        measures: the amount, and the same amount said again.
        next: first token after it.
        plus: amounts to add.
        flags, problems: codes.
        implied: no number was written ("pinch of salt").
        share: a part of a whole said before ("half the dressing").
        written: how the number was said: numeral, count, article, fraction, vague.
        lead: adjectives that stood before the unit and belong to the food.
        food_at: the token where words begin that were read with the amount and may also describe
            the food: the size of a mass ("1 lb large shrimp"); -1 for none.
    """

    measures: list[Measure]
    next: int
    plus: list[Measure] = field(default_factory=list)
    flags: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    implied: bool = False
    share: bool = False
    written: str = ""
    lead: list[str] = field(default_factory=list)
    food_at: int = -1


def measure_of(
    t: Tokens, amount: Amount, unit: UnitWord, name: str, start: int, end: int,
    size: str = "", each: Measure | None = None, about: bool = False,
) -> Measure:  # fmt: skip
    """The measure of tokens ``start`` to ``end``, its unit by the canonical name."""
    place = (t.start[start], t.end[end - 1]) if end > start else (0, 0)
    return Measure(amount.value, name, unit.kind, amount.low, amount.high, size, each, about, place)


def hedges(t: Tokens, i: int) -> tuple[bool, int]:
    """Whether "about" and the like stand at token ``i``, and the token after them."""
    about = False
    while True:
        if t.word[i] == "~":
            about, i = True, i + 1
            continue
        if t.word[i] == "the" and t.kind[i + 1] == NUMBER:  # "the 400 g ones"
            i += 1
        found = t.phrase(i, "hedge")
        if found is None:
            return about, i
        about, i = True, found[1]
        if t.word[i] == ".":
            i += 1


def pieces_of(measures: list[Measure], held: Measure) -> bool:
    """Make packages of so many pieces each a count of pieces; whether they can be."""
    first = measures[0]
    if first.kind != "package" or first.each is not None or not 1 < held.high < MOST_PIECES:
        return False
    measures[0] = replace(
        held, amount=first.amount * held.amount, low=first.low * held.low,
        high=first.high * held.high,
    )  # fmt: skip
    return True


def attach(measures: list[Measure], inside: list[Measure], each: bool, total: bool) -> None:
    """Give amounts said aside to the counted thing ("each"), or beside it (in all).

    Several packages and one weight after the name: the weight of all ("2 cans of tuna,
    drained (240 g)"); directly after the word, of each ("2 cans (15 oz)").
    """
    first = measures[0]
    weights = [m for m in inside if m.kind in HELD]
    counted = first.kind in ("count", "package", "trade") and first.each is None
    if weights and counted and (each or (first.kind == "package" and not total)):
        measures[0] = replace(first, each=weights[0])
        return
    measures.extend(inside)
