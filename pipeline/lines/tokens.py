"""A line cut into numbers, vulgar fractions, words and marks, in one pass."""

from __future__ import annotations

import re

NUMBER, FRACTION, WORD, MARK, END = 1, 2, 3, 4, 0

_NUMBER = r"\d+(?:[.,]\d+)*(?:\s?/\s?\d+(?![\d.,]*\s?%))?|(?<![\w.])\.\d+"  # 1 1.5 1,500 1/2 .5
_FRACTION = "[½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒↉]"
_WORD = (
    r"x(?=\s?[\d½¼¾⅓⅔])|[a-wyz][a-z]{0,2}\d{1,2}\b|omega-\d"
    r"|[^\W\d_½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒↉]+(?:['&-][^\W\d_½¼¾⅓⅔]+)*"
)
_TOKEN = re.compile(rf"{_WORD}|{_NUMBER}|{_FRACTION}|\S")
_KIND = re.compile(rf"({_NUMBER})|({_FRACTION})|({_WORD})|(\S)")
_KEPT = 20_000


class _Kinds(dict[str, int]):
    """Token text → its kind; told once a text, since a token's text alone says it."""

    def __missing__(self, text: str) -> int:
        found = _KIND.match(text)
        kind = (found.lastindex if found else None) or MARK
        if len(self) < _KEPT:
            self[text] = kind
        return kind


_KINDS = _Kinds()


class Tokens:
    """Parallel lists, one entry a token, four empty ones at the end so that looking ahead is safe.

    Attributes:
        word: lower-case text of the token.
        kind: NUMBER, FRACTION, WORD, MARK or END.
        start, end: its place in the cleaned line.
    """

    __slots__ = ("end", "kind", "size", "start", "text", "word")

    def __init__(self, lower: str) -> None:
        self.text = lower
        word = _TOKEN.findall(lower)
        self.size = len(word)
        kinds = _KINDS
        self.kind = [kinds[w] for w in word]
        self.start: list[int] = []
        self.end: list[int] = []
        begins, ends, find = self.start.append, self.end.append, lower.find
        place = 0
        for w in word:  # only spaces stand between tokens, so the next find is the token
            place = find(w, place)
            begins(place)
            place += len(w)
            ends(place)
        length = len(lower)
        word += ("", "", "", "")
        self.word: list[str] = word
        self.kind += (END, END, END, END)
        self.start += (length, length, length, length)
        self.end += (length, length, length, length)
