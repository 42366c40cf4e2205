"""A line cut into numbers, vulgar fractions, words and marks, and what the tables say at a token."""

from __future__ import annotations

import re
from itertools import accumulate

from pipeline.lines.vocabulary import (
    INCH_BEFORE,
    LEXICON,
    UNITS,
    WITH_SYSTEM,
    Effect,
    UnitWord,
    group,
    meant_unit,
)  # fmt: skip

NUMBER, FRACTION, WORD, MARK, END = 1, 2, 3, 4, 0
NUMERIC = (NUMBER, FRACTION)
CLOSE = {"(": ")", "[": "]", "{": "}"}
INCH = UNITS["inch"]
_IN_ALL = group("in_all")
#: "w/ dill", "2 ea lemons".
_IN_FULL = {"w": "with", "ea": "each"}

VULGAR = {
    "½": 1 / 2, "⅓": 1 / 3, "⅔": 2 / 3, "¼": 1 / 4, "¾": 3 / 4, "⅕": 1 / 5, "⅖": 2 / 5, "⅗": 3 / 5,
    "⅘": 4 / 5, "⅙": 1 / 6, "⅚": 5 / 6, "⅐": 1 / 7, "⅛": 1 / 8, "⅜": 3 / 8, "⅝": 5 / 8,
    "⅞": 7 / 8, "⅑": 1 / 9, "⅒": 1 / 10, "↉": 0.0,
}  # fmt: skip

_NUMBER = r"\d+(?:[.,]\d+)*(?:\s?/\s?\d+(?![\d.,]*\s?%))?|(?<![\w.])\.\d+"  # 1 1.5 1,500 1/2 .5
_SIGNS = "".join(VULGAR)
_FRACTION = f"[{_SIGNS}]"
_WORD = (
    rf"x(?=\s?[\d{_SIGNS}])|[a-wyz][a-z]{{0,2}}\d{{1,2}}\b|omega-\d"
    rf"|[^\W\d_{_SIGNS}]+(?:['&-][^\W\d_{_SIGNS}]+)*"
)
#: Most words and numbers are told by what follows them, before the longer patterns are tried.
_SHORT = r"[a-z]++(?![^ ,)])|\d++(?![^ ])(?! ?/)"
_TOKEN = re.compile(rf"({_SHORT}|{_WORD}|{_NUMBER}|{_FRACTION}|\S)")
_KIND = re.compile(rf"({_NUMBER})|({_FRACTION})|({_WORD})|(\S)")
_KEPT = 20_000


class _Kinds(dict[str, int]):
    """Token text → its kind; told once per text, since a token's text alone says it."""

    def __missing__(self, text: str) -> int:
        found = _KIND.match(text)
        kind = (found.lastindex if found else None) or MARK
        if len(self) < _KEPT:
            self[text] = kind
        return kind


_KINDS = _Kinds()


class Tokens:
    """Parallel lists, one entry per token, four empty ones at the end so that looking ahead is safe.

    Attributes:
        text: the cleaned line in lower case; ``cased`` with its capitals ("T", "t").
        word: lower-case text of the token.
        kind: NUMBER, FRACTION, WORD, MARK or END.
        start, end: its place in the cleaned line.
        count: how many tokens there are.
    """

    __slots__ = ("cased", "count", "end", "kind", "start", "text", "word")

    def __init__(self, lower: str, cased: str) -> None:
        self.text = lower
        self.cased = cased
        pieces = _TOKEN.split(lower)  # the space before each token, the token, and so on
        word: list[str] = pieces[1::2]
        if not _IN_FULL.keys().isdisjoint(word):
            word = [_IN_FULL.get(one, one) for one in word]
        self.word = word
        self.count = len(word)
        self.kind = list(map(_KINDS.__getitem__, word))
        place = list(accumulate(map(len, pieces)))
        self.start: list[int] = place[:-1:2]
        self.end: list[int] = place[1::2]
        length = len(lower)
        word += ("", "", "", "")
        self.kind += (END, END, END, END)
        self.start += (length, length, length, length)
        self.end += (length, length, length, length)

    def between(self, i: int, j: int) -> str:
        """The text of tokens ``i`` up to ``j``, "" when there are none."""
        return self.text[self.start[i] : self.end[j - 1]] if j > i else ""

    def glued(self, i: int) -> bool:
        """Whether no space stands between token ``i`` and the next."""
        return self.end[i] == self.start[i + 1]

    def _past(self, j: int, rest: tuple[str, ...]) -> int:
        """The token after the words ``rest`` at ``j``, 0 when others stand there."""
        word = self.word
        for part in rest:
            if word[j] == ".":
                j += 1
            if word[j] != part:
                return 0
            j += 1
        return j

    def _one_of(self, j: int, phrases: frozenset[str]) -> bool:
        word = self.word
        return word[j] in phrases or f"{word[j]} {word[j + 1]}" in phrases

    def phrase(self, i: int, kinds: str | None = None) -> tuple[Effect, int] | None:
        """The longest phrase of the tables at token ``i`` and the token after it.

        Args:
            kinds: text that holds the kinds of ``Effect`` to look for; None for any.
        """
        entry = LEXICON.get(self.word[i])
        if entry is None or not entry.effects:
            return None
        follows = self.word[i + 1]
        for rest, effect in entry.effects:
            if rest and rest[0] != follows and follows != ".":
                continue
            if kinds is None or effect.kind in kinds:
                j = self._past(i + 1, rest) if rest else i + 1
                if j and not (effect.not_before and self._one_of(j, effect.not_before)):
                    return effect, j
        return None

    def size(self, i: int, *, near: bool = False) -> tuple[str, int]:
        """A size at token ``i`` (``"(large)"`` too), or ``""`` and ``i``.

        Args:
            near: directly after the number, where "fat" is a size too ("2 fat garlic cloves").
        """
        word = self.word
        if word[i] == "(" and word[i + 1] != "(":
            size, j = self.size(i + 1)
            return (size, j + 1) if size and word[j] == ")" else ("", i)
        entry = LEXICON.get(word[i])
        if entry is None or not entry.sizes:
            return "", i
        for rest, size, not_before, only_near in entry.sizes:
            if near or not only_near:
                j = self._past(i + 1, rest) if rest else i + 1
                if j and not (not_before and self._one_of(j, not_before)):
                    return size, j
        return "", i

    def unit(self, i: int) -> tuple[UnitWord, int, str] | None:
        """The unit word at token ``i``: its row, the token after it, the canonical unit."""
        word = self.word
        if word[i] == "-" and (self.glued(i) or self.kind[i - 1] == NUMBER):
            i += 1  # "14-ounce", "14- ounce"
        text = word[i]
        if not text:
            return None
        entry = LEXICON.get(text)
        if text == "in":
            inches = word[i + 1] in INCH_BEFORE or (
                word[i + 1] == ")" and self.kind[i - 1] in NUMERIC
            )
            return (INCH, self._past_dot(i + 1), "inch") if inches else None
        if entry is None:
            return self._unlisted_unit(i)
        for rest, unit, _ in entry.units:
            j = self._past(i + 1, rest) if rest else i + 1
            if not j:
                continue
            j = self._past_dot(j)
            if unit.not_in and f"{text} {word[j]}" in unit.not_in:
                continue
            if not unit.needs_of or entry.plural or word[j] in ("of", "("):
                return unit, j, unit.unit
        if entry.system is not None:
            after = self.unit(i + 1)
            if after and after[0].unit in WITH_SYSTEM:
                return after[0], after[1], f"{after[0].unit}_{entry.system}"
        return None

    def _unlisted_unit(self, i: int) -> tuple[UnitWord, int, str] | None:
        """ "T" and "t", inches as a sign, and long unit words with one slip."""
        text = self.word[i]
        if text in "\"'":
            past = i + 1 if text == '"' else i + 2
            return (INCH, past, "inch") if text == '"' or self.word[i + 1] == "'" else None
        if text == "t":
            unit: UnitWord | None = UNITS["tbsp" if self.cased[self.start[i]] == "T" else "tsp"]
        else:
            unit = meant_unit(text) if self.kind[i] == WORD else None
        return None if unit is None else (unit, self._past_dot(i + 1), unit.unit)

    def unit_kind(self, i: int) -> str:
        """The kind of the unit at token ``i``, "" where there is none."""
        found = self.unit(i)
        return found[0].kind if found is not None else ""

    def unit_after(self, j: int) -> bool:
        """Whether a unit stands at token ``j``, a size before it allowed."""
        return self.unit(self.size(j)[1]) is not None

    def past_of(self, j: int) -> int:
        """The token after an "of" or "worth of" at ``j``, ``j`` when none stands there."""
        word = self.word
        if word[j] == "of":
            return j + 1
        worth = j + 1 if word[j] == "'" else j
        return worth + 2 if word[worth] == "worth" and word[worth + 1] == "of" else j

    def is_dash(self, j: int) -> bool:
        """Whether token ``j`` is a dash between spaces."""
        return self.word[j] == "-" and (
            self.end[j - 1] < self.start[j] < self.end[j] < self.start[j + 1]
        )

    def past_total(self, j: int) -> int:
        """The token after "total", "in all", "all told" and the like at ``j``, 0 without one."""
        if self.word[j] in _IN_ALL:
            return j + 1
        return j + 2 if f"{self.word[j]} {self.word[j + 1]}" in _IN_ALL else 0

    def _past_dot(self, j: int) -> int:
        return j + 1 if self.word[j] == "." else j
