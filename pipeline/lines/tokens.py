"""A line cut into numbers, vulgar fractions, words and marks, in one pass."""

from __future__ import annotations

import re

NUMBER, FRACTION, WORD, MARK, END = 1, 2, 3, 4, 0

_TOKEN = re.compile(
    r"(\d+(?:[.,]\d+)*(?:\s?/\s?\d+(?![\d.,]*\s?%))?|(?<![\w.])\.\d+)"  # 1  1.5  1,500  1/2  .5
    r"|([½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒↉])"
    r"|(x(?=\s?[\d½¼¾⅓⅔])|[a-wyz][a-z]{0,2}\d{1,2}\b|omega-\d|(?:[^\W\d_½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒↉]+(?:['&-][^\W\d_½¼¾⅓⅔]+)*))"
    r"|(\S)"
)


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
        self.word: list[str] = []
        self.kind: list[int] = []
        self.start: list[int] = []
        self.end: list[int] = []
        word, kind, start, end = self.word, self.kind, self.start, self.end
        for match in _TOKEN.finditer(lower):
            word.append(match[0])
            kind.append(match.lastindex or MARK)
            first, last = match.span()
            start.append(first)
            end.append(last)
        self.size = len(word)
        length = len(lower)
        for _ in range(4):
            word.append("")
            kind.append(END)
            start.append(length)
            end.append(length)
