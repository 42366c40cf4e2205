"""One line of a card."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class CardLine:
    """A line of a card: where it stands, its text, and what a markup said of it.

    Attributes:
        level: level of a markup heading, 0 for none.
        begins: a recipe begins here, whatever stands around it.
        role: what the line is, where the whole text has told (``decoder.Role``); "" where it has not.
    """

    no: int
    text: str
    level: int = 0
    begins: bool = False
    role: str = ""
