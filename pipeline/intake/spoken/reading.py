"""The lines of one stretch of a script while they are read."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from pipeline.intake.spoken.mentions import Amount, Food, Mention, named_again, same_food
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.words import Span


@dataclass(slots=True)
class Left(Span):
    """Words that look like an ingredient and became none, and why."""

    why: str


@dataclass(slots=True)
class Reading:
    """The lines of one segment.

    Attributes:
        talk: all that is said.
        found: the lines; ``left`` what became none.
        marks: kind, place, line and note of what words mean.
        unclear: amounts without a food.
        taken_from: place of the recipe whose lines were taken over.
        made: pieces that the base it takes makes, and their name.
        section: what the next line is for.
        late: what is read stands behind the numbers, or in mere talk.
    """

    talk: Talk
    found: list[Mention]
    left: list[Left] = field(default_factory=list)
    marks: list[tuple[str, int, int, Mention | None, str]] = field(default_factory=list)
    unclear: list[Amount] = field(default_factory=list)
    taken_from: int | None = None
    made: tuple[float, str] = (math.nan, "")
    section: str = ""
    late: bool = False

    @property
    def last(self) -> Mention | None:
        """The line read last."""
        return self.found[-1] if self.found else None

    def names(self, food: Food) -> bool:
        """A line has this food, perhaps in more words."""
        return any(named_again(food, m.food) or same_food(food, m.food) for m in self.found)

    def add(self, mention: Mention) -> None:
        """Take a mention for a line."""
        mention.section = self.section
        self.found.append(mention)

    def leave(self, span: Span, why: str) -> bool:
        """Leave out what looks like a line; true."""
        self.left.append(Left(span.start, span.end, why))
        return True

    def mark(self, span: Span, line: Mention, kind: str = "ingredient", why: str = "") -> None:
        """Words that are said of a line."""
        self.marks.append((kind, span.start, span.end, line, why))
