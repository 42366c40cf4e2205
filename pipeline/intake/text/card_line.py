"""One line of a card."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class CardLine:
    """A line of a card: where it stands, its text, and what a markup said of it.

    Attributes:
        level: level of a markup heading, 0 for none.
        cells: cells of a table row, when the text came from one.
    """

    no: int
    text: str
    level: int = 0
    cells: tuple[str, ...] = ()
