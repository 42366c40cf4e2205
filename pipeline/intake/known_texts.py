"""What is read of a text is kept by the text: many readers ask the same of a line of a card."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import TypeVar

#: Texts that are kept of one reader: those of a card, not those of a collection; characters of one.
LINES_KEPT, LONGEST_KEPT = 1024, 400

Read = TypeVar("Read")


def kept_by_text(read: Callable[[str], Read]) -> Callable[[str], Read]:
    """A function of a text alone, whose answers to the short texts asked last are kept.

    Args:
        read: always answers the same, with what nobody changes.
    """
    kept = lru_cache(maxsize=LINES_KEPT)(read)

    @wraps(read)
    def asked(text: str) -> Read:
        return kept(text) if len(text) <= LONGEST_KEPT else read(text)

    return asked
