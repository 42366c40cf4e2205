"""The stage's contract: a recipe with its lines in, uses of lines out."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from pipeline.lines.use_words import UseWords, use_words

NAN = float("nan")
#: Texts of which is remembered what they say: lines and words come again in many recipes.
KEPT = 32_768


class LineUse(NamedTuple):
    """How much of a line is eaten, where that is not all of it; a row of ``tables.LINE_USE``.

    Attributes:
        use: kind of use of shared/eaten_share.csv, or ``made`` (counted where it is made),
            ``share`` (part of what is made is used), ``if_added``.
        of: what ``share`` is of: ``line`` its own grams, ``food`` the grams of the other lines.
        share, low, high: best guess and 90 % range.
        reason: in words, for the line.
    """

    recipe_id: str
    line_no: int
    use: str
    of: str
    share: float
    low: float
    high: float
    reason: str


@dataclass(slots=True)
class DishLine:
    """One line of a recipe as read so far; grams NaN when not known."""

    line_no: int
    text: str
    section: str
    description: str
    food_id: str
    grams: float
    basis: str
    unit: str
    is_food: bool

    @property
    def said(self) -> UseWords:
        """What the line's wording says of its use."""
        return use_words(self.text)


@dataclass(slots=True)
class Dish:
    """A recipe with its lines, in their order."""

    recipe_id: str
    title: str
    method: str
    servings: float
    lines: list[DishLine] = field(default_factory=list)

    def foods(self) -> Sequence[DishLine]:
        return [line for line in self.lines if line.is_food]


_WORD = re.compile(r"[^\W\d_]+")


def plain_words(text: str) -> tuple[str, ...]:
    """Lower-case words of a text."""
    return tuple(w.lower() for w in _WORD.findall(text))
