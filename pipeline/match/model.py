"""What the match stage says of one distinct line: the contract with weigh, compute and report.

Objects are not declared frozen, since filling a frozen one takes several times as long.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Status = Literal["accepted", "to review", "unmatched"]
Origin = Literal["decision", "pantry", "recipe", "table", "none"]


@dataclass(slots=True, unsafe_hash=True)
class Candidate:
    """A food that the line may mean; shared by lines and never changed, like ``Match``.

    Attributes:
        food_id: ``sr28:09040``, ``pantry:halloumi``, ``recipe:base-dressing``.
        probability: share of belief among all candidates of the line, 0 to 1.
        description: the table's name of the food.
    """

    food_id: str
    probability: float
    description: str


@dataclass(slots=True, unsafe_hash=True)
class Match:
    """The food chosen for one distinct line text.

    Attributes:
        text: the line as written (key).
        food_id: the best food, or None when unmatched; filled for ``to review`` too.
        description: the table's name of that food, "" when none.
        confidence: probability that the food is right, calibrated on labelled lines.
        status: accepted | to review | unmatched.
        origin: what decided: a remembered decision, the pantry, a recipe of the collection,
            the table, or nothing.
        reason: one plain sentence: why this food, or why not.
        runners_up: the next candidates, best first, the chosen one not among them.
        names_food: False when the line names no food at all (a heading, skewers).
        reference_id: the measured food of the same concept in the reference table ("sr28:01123"
            for an egg of another table), whose measures, density and refuse fill in where the
            chosen food has none; None when none is known.
        open_kinds: other kinds of the chosen food that the line's words fit as well, each with its
            share; the shares and that of the chosen food make 1.
    """

    text: str
    food_id: str | None
    description: str
    confidence: float
    status: Status
    origin: Origin
    reason: str
    runners_up: tuple[Candidate, ...] = ()
    names_food: bool = True
    reference_id: str | None = None
    open_kinds: tuple[Candidate, ...] = ()
