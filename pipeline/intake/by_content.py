"""What a column or key holds, told by its content where its name is in no table."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.intake.model import cut
from pipeline.problems import Problem

#: An amount, then a word: "200 g rice", "½ onion", "a pinch of salt"; not "1. Mix" or "40 min".
_LINE = re.compile(
    r"^[\s•*·–-]*(?:(?:\d+(?:[.,/]\d+)?|[½¼¾⅓⅔⅛])[\d\s./,½¼¾⅓⅔⅛x×–-]*"
    r"(?!(?:min|mins|minutes?|hours?|hrs?|kcal|kJ)\b)|(?:an?|half|one|two|three)\s)"
    r"(?<![.)]\s)[^\W\d]",
    re.IGNORECASE,
)
_PIECES = re.compile(r"[\n|;]")
#: Of the pieces of a list of ingredients, those with an amount; the rest is "salt to taste".
_SHARE = 0.6


def _mostly_lines(texts: Sequence[str]) -> bool:
    return sum(_LINE.match(text) is not None for text in texts) >= max(2, _SHARE * len(texts))


def holds_lines(value: Any) -> bool:
    """Whether a value is a list (or a text of several lines) of ingredients with amounts.

    >>> holds_lines(["200 g rice", "1 onion", "salt"]), holds_lines(["1. Mix.", "2. Bake."])
    (True, False)
    """
    if isinstance(value, str):
        value = [piece for piece in _PIECES.split(value) if piece.strip()]
    if not isinstance(value, (list, tuple)):
        return False
    texts = [
        one if isinstance(one, str) else next((v for v in one.values() if isinstance(v, str)), "")
        for one in value if isinstance(one, (str, Mapping))
    ]  # fmt: skip
    return len(texts) == len(value) and _mostly_lines(texts)


def column_of_lines(columns: Sequence[Sequence[str]]) -> int | None:
    """Position of the column most of whose cells hold a list of ingredients; None for none."""
    for at, cells in enumerate(columns):
        filled = [cell for cell in cells if cell.strip()]
        if filled and sum(map(holds_lines, filled)) > len(filled) / 2:
            return at
    return None


def column_of_names(columns: Sequence[Sequence[str]]) -> int | None:
    """Position of the first column whose cells are short, differ, and are no numbers."""
    for at, cells in enumerate(columns):
        filled = [cell.strip() for cell in cells if cell.strip()]
        if (
            filled
            and len(set(filled)) == len(filled)
            and all(len(c) <= 100 and "\n" not in c and re.search(r"[^\W\d]{3}", c) for c in filled)
        ):
            return at
    return None


def read_by_content(name: str) -> Problem:
    """The note that the ingredients stand under a name that is in no table."""
    return Problem(
        "read-by-content",
        f'"{cut(name, 40)}" was read as the ingredients',
        "no name says where they are, and its entries begin with amounts",
        'name it "ingredients" to be sure',
        severity="note",
    )
