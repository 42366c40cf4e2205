"""Ingredients that stand on one line."""

from __future__ import annotations

import re

#: Parts of a list in one line, at least, and the share of them that has an amount.
_LIST, _MOST = 2, 0.6


def _within_brackets(text: str, mark: str) -> bool:
    """Whether a mark stands within brackets: "1 tin (400 g / 14 oz) tomatoes"."""
    return any(mark in inside for inside in re.findall(r"\([^()]*\)", text))


def list_in_line(text: str) -> list[str]:
    """The ingredients of a line that holds several, each with its amount; [] for any other line.

    A comma parts them only where nothing else does, for it also parts a food from its note.

    >>> list_in_line("500 g mince / 2 tins beans / 1 onion")
    ['500 g mince', '2 tins beans', '1 onion']
    """
    from pipeline.lines import parse_many  # here: few lines hold a mark of a list

    for mark in (" / ", " + ", " ... ", " … ", "; ", " | ", " · ", ", "):
        if mark in text:
            pieces = [piece for part in text.split(mark) if (piece := part.strip(" .;"))]
            least = _LIST if mark != ", " else _LIST + 1
            read = parse_many(pieces)
            if any(line.measures and not line.name for line in read) or _within_brackets(
                text, mark
            ):
                return []  # "1 cup / 240 ml milk" is one food
            names = [line.name for line in read if line.measures]
            most = _MOST if mark != ", " else 1.0
            listed = len(names) >= max(least, most * len(pieces)) and len(set(names)) == len(names)
            return pieces if listed else []
    return []


def inline_list(text: str) -> list[str]:
    """Parts of "Ingredients: 200 g rice; 1 egg; salt"."""
    marks = r"[;|]" if ";" in text or "|" in text else r",\s+(?=(?:\d|[½¼¾⅓⅔]|an?\s|one\s|half\s))"
    return list_in_line(text.strip()) or [
        part.strip() for part in re.split(marks, text) if part.strip()
    ]
