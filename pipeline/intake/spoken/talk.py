"""What the passes over a script share: its words and how they flow, and what they hand on."""

from __future__ import annotations

import bisect
from dataclasses import dataclass, field

from pipeline.intake.model import Basis
from pipeline.intake.spoken.words import STRONG, Lexicon, Unit, Word
from pipeline.problems import Problem


@dataclass(slots=True)
class Total:
    """Numbers stated together: their tags and values, and the words they take."""

    start: int
    end: int
    amounts: list[tuple[str, float, float, int, int]] = field(default_factory=list)
    basis: Basis = "per_serving"
    brings: bool = False
    of_several: bool = False  # "each", "per portion": it serves more than one


@dataclass(slots=True)
class Amount:
    """A quantity in the words: number, unit, and where the food after it may begin."""

    start: int
    end: int
    value: float
    high: float
    unit: Unit | None
    size: str
    article: bool
    each: tuple[float, str] | None = None
    has_of: bool = False
    vague: str = ""


@dataclass(slots=True)
class Mention:
    """One ingredient of a recipe."""

    start: int
    end: int
    food: str
    head: tuple[str, ...]
    amount: Amount | None
    section: str = ""
    also: str = ""
    notes: str = ""
    per_person: bool = False
    share: float = 1.0
    share_text: str = ""
    part: str = ""  # "juice of"


@dataclass(slots=True)
class Segment:
    """One recipe of the script: the words it takes and its title."""

    start: int
    end: int
    title: str
    body: int
    is_base: bool = False


class Talk:
    """The words of a script, what is known of them, and which of them have found their place."""

    def __init__(self, words: list[Word], known: Lexicon, source: str) -> None:
        self.words = words
        self.known = known
        self.source = source
        self.problems: list[Problem] = []
        self.taken = [False] * len(words)
        self._derived: float | None = None  # servings, from "half a tin each, so one tin"
        self._starts: list[int] = []
        parts: list[str] = []
        length = 0
        for word in words:
            if word.breaks:
                mark = "| " if word.breaks == STRONG else ", "
                parts.append(mark)
                length += 2
            self._starts.append(length)
            said = word.text if word.value is None else "a" if word.article else f"{word.value:g}"
            parts.append(said + " ")
            length += len(said) + 1
        self.flow = "".join(parts)

    def at(self, offset: int) -> int:
        """Index of the word at a character of ``flow``."""
        return max(bisect.bisect_right(self._starts, offset) - 1, 0)

    def said(self, start: int, end: int) -> str:
        """Words from ``start`` to ``end``, with their breaks as ``|`` and ``,``."""
        if start >= len(self.words):
            return ""
        stop = self._starts[end] if end < len(self.words) else len(self.flow)
        return self.flow[self._starts[start] : stop].rstrip(" ,|")

    def _text(self, at: int) -> str:
        return self.words[at].text if 0 <= at < len(self.words) else ""

    def _joined(self, at: int) -> str:
        """Text of a word that no full stop parts from the word before it."""
        if at >= len(self.words) or self.words[at].breaks == STRONG:
            return ""
        return self.words[at].text

    def _take(self, start: int, end: int) -> None:
        for index in range(start, min(end, len(self.taken))):
            self.taken[index] = True
