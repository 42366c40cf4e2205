"""The one reader of CSV: rows and unreadable places, each with its line.

Collections, pantry and decisions come through here. A row whose quotes do not close, or that has
more cells than the header, costs itself alone: reading goes on at the next line that is a whole
row, and everything between is a ``Fault`` with its first and last line. No row is ever left out
without one.

The time is linear in the text: a quoted cell that is known not to close is not tried again.
"""

from __future__ import annotations

import csv
import re
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TextIO

from pipeline.problems import Problem, input_problem

#: A quoted cell ends within so many characters, or its quote was never closed.
MAX_ROW_CHARS = 1_000_000
#: Faults of one file that are listed one by one; the rest are counted in one more.
MOST_LISTED = 100
_BLOCK = 1 << 20

_QUOTED = re.compile(r'[^"]*(?:""[^"]*)*"(?!")')
_BLANKS = re.compile(r" *")
#: Characters of a line that the standard reader takes, whose cells are bounded.
_MOST_BY_STANDARD = 100_000


@dataclass(frozen=True, slots=True)
class Row:
    """One row.

    Attributes:
        line: the 1-based line it begins on.
        cells: as many as it has; empty ones beyond the header's are left out.
        lines: how many lines it takes.
        plain: it is written as RFC 4180 wants it, so that every reader of CSV gives these cells.
    """

    line: int
    cells: list[str]
    lines: int = 1
    plain: bool = True


@dataclass(frozen=True, slots=True)
class Fault:
    """Lines that are no row: the first and the last of them, why, and the text of the first."""

    line: int
    last: int
    why: str
    text: str


class _NotARow(Exception):
    """The lines at hand are no row; ``whole``: it is known where the next one begins."""

    def __init__(self, why: str, whole: bool = False) -> None:
        super().__init__(why)
        self.whole = whole


def split_lines(text: str) -> Iterator[str]:
    """Lines of a text without their ends, whichever they are; nothing but a line break parts."""
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    start = 0
    while True:
        end = text.find("\n", start)
        if end < 0:
            if start < len(text):
                yield text[start:]
            return
        yield text[start:end]
        start = end + 1


def rows(lines: Iterable[str], delimiter: str, *, first_line: int = 1) -> Iterator[Row | Fault]:
    """Rows of a CSV, the header first, and its faults, in the order of the lines.

    Args:
        lines: of the file, without their ends.
        delimiter: one character.
        first_line: number of the first of ``lines``.

    Yields:
        A ``Row`` for each row that can be read; blank lines give none. A ``Fault`` for each stretch
        of lines that is no row: a quote that does not close or closes within a word, or more cells
        than the header names.
    """
    return _Reader(lines, delimiter, first_line).rows()


def all_plain(text: TextIO, delimiter: str, *, lead: int = 0) -> bool:
    """Whether ``rows`` gives a plain row for every line, at a fraction of its time.

    Args:
        text: the whole file, line breaks as ``\\n``.
        delimiter: one character.
        lead: empty lines above the header.

    Returns:
        False also for sound tables that have to be looked at more closely: line breaks in cells.
    """
    if any(text.readline().strip() for _ in range(lead)):
        return False
    header = text.readline().rstrip("\n")
    first = next(rows([header], delimiter), None)
    if not isinstance(first, Row) or not first.plain:
        return False
    mark = re.escape(delimiter)
    cell = rf'(?:"[^"\n]*+(?:""[^"\n]*+)*+"|[^"{mark}\n]*+)'
    more = len(first.cells) - 1
    plain = re.compile(rf"(?:(?=[^\n]*\S){cell}(?:{mark}{cell}){{0,{more}}}+\n)*+")
    rest = ""
    while block := text.read(_BLOCK):
        whole, end, after = (rest + block).rpartition("\n")
        if len(after) > MAX_ROW_CHARS or plain.fullmatch(whole + end) is None:
            return False
        rest = after
    return not rest or plain.fullmatch(rest + "\n") is not None


class _Reader:
    def __init__(self, lines: Iterable[str], delimiter: str, first_line: int) -> None:
        self._source = iter(lines)
        self._ahead: deque[str] = deque()
        self._delimiter = delimiter
        self._at = first_line
        #: Where quoted cells begin (line, character) that lead to no row.
        self._doomed: set[tuple[int, int]] = set()
        other = f'[^"{re.escape(delimiter)}]'
        cell = f'(?:"(?:[^"]|"")*+"|{other}*+)'
        #: A row of one line whose quotes are all in their place, which the standard reader splits.
        self._whole = re.compile(f"{cell}(?:{re.escape(delimiter)}{cell})*+").fullmatch

    def _next(self, place: int) -> str | None:
        """The line ``place`` lines below the one at hand; None after the last."""
        while len(self._ahead) <= place:
            line = next(self._source, None)
            if line is None:
                return None
            self._ahead.append(line)
        return self._ahead[place]

    def _drop(self, count: int) -> None:
        for _ in range(count):
            self._ahead.popleft()
        self._at += count

    def rows(self) -> Iterator[Row | Fault]:
        width = usual = 0
        fault: Fault | None = None
        while (line := self._next(0)) is not None:
            if not line.strip():
                self._drop(1)
                continue
            try:
                row = self._row(line, width)
            except _NotARow as why:
                if why.whole and fault is None:
                    yield Fault(self._at, self._at, str(why), line[:500])
                else:
                    fault = self._worse(fault, str(why), line)
                self._drop(1)
                continue
            if fault is not None and len(row.cells) < usual:
                fault = self._worse(fault, "", line)  # rather a rest of the row before
                self._drop(1)
                continue
            if fault is not None:
                yield fault
                fault = None
            self._drop(row.lines)
            width = width or len(row.cells)
            usual = len(row.cells)
            yield row
        if fault is not None:
            yield fault

    def _worse(self, fault: Fault | None, why: str, line: str) -> Fault:
        if fault is None:
            return Fault(self._at, self._at, why, line[:500])
        return Fault(fault.line, self._at, fault.why, fault.text)

    def _row(self, line: str, width: int) -> Row:
        """The row that begins here.

        Raises:
            _NotARow: there is none, and why.
        """
        row = self._quoted_row(line) if '"' in line else self._plain_row(line)
        if not width or len(row.cells) <= width:
            return row
        if any(cell.strip() for cell in row.cells[width:]):
            why = f"it has {len(row.cells)} cells, the header {width}"
            raise _NotARow(why, whole=row.lines == 1)
        return Row(row.line, row.cells[:width], row.lines, plain=False)

    def _plain_row(self, line: str) -> Row:
        return Row(self._at, line.split(self._delimiter))

    def _quoted_row(self, line: str) -> Row:
        if not self._doomed and len(line) < _MOST_BY_STANDARD and self._whole(line):
            return Row(self._at, next(csv.reader((line,), delimiter=self._delimiter, strict=True)))
        cells: list[str] = []
        plain = True
        place = at = chars = 0
        begun: list[tuple[int, int]] = []
        while True:
            if line.startswith('"', at):
                begun.append((self._at + place, at))
                cell, place, at, chars = self._quoted_cell(line, place, at, chars, begun)
                line = self._ahead[place]
                cells.append(cell)
                blanks = _BLANKS.match(line, at)
                if blanks and blanks.end() > at:
                    plain, at = False, blanks.end()
                if at >= len(line):
                    return Row(self._at, cells, place + 1, plain)
            else:
                end = line.find(self._delimiter, at)
                cells.append(line[at:] if end < 0 else line[at:end])
                plain = plain and '"' not in cells[-1]
                if end < 0:
                    return Row(self._at, cells, place + 1, plain)
                at = end
            at += 1

    def _quoted_cell(
        self, line: str, place: int, at: int, chars: int, begun: list[tuple[int, int]]
    ) -> tuple[str, int, int, int]:
        """The cell, and the place, character and length of row after its closing quote."""

        def no_row(why: str) -> _NotARow:
            self._doomed.update(begun)
            return _NotARow(why)

        if begun[-1] in self._doomed:
            raise no_row("a quote in it is not closed")
        parts: list[str] = []
        at += 1
        while (closed := _QUOTED.match(line, at)) is None:
            parts.append(line[at:])
            chars += len(line) - at + 1
            place, at = place + 1, 0
            following = self._next(place) if chars <= MAX_ROW_CHARS else None
            if following is None:
                raise no_row("a quote in it is not closed")
            line = following
        end = closed.end()
        blanks = _BLANKS.match(line, end)
        after = blanks.end() if blanks else end
        if after < len(line) and line[after] != self._delimiter:
            raise no_row("a quote in it is not closed, or stands within a quoted cell")
        parts.append(line[at : end - 1])
        return "\n".join(parts).replace('""', '"'), place, end, chars + end - at


def write_row(cells: Sequence[str], delimiter: str) -> str:
    """One row as RFC 4180 wants it, without its line end."""

    def cell(text: str) -> str:
        if delimiter in text or '"' in text or "\n" in text or "\r" in text:
            return '"' + text.replace('"', '""') + '"'
        return text

    return delimiter.join(cell(text) for text in cells)


def problems_of(faults: Sequence[Fault], source: str) -> list[Problem]:
    """One problem a fault, ``MOST_LISTED`` of them, and one that counts the rest."""
    problems = [_problem(fault, source) for fault in faults[:MOST_LISTED]]
    rest = faults[MOST_LISTED:]
    if rest:
        first, last = rest[0].line, rest[-1].last
        problems.append(
            input_problem(
                "csv-rows-invalid", source=source, source_line=first, count=f"{len(rest):,}",
                first=first, last=last,
            )
        )  # fmt: skip
    return problems


def _problem(fault: Fault, source: str) -> Problem:
    one = fault.line == fault.last
    where = f"row on line {fault.line}" if one else f"rows on lines {fault.line} to {fault.last}"
    on = "; the rows after it were read" if one else "; the rows after them were read"
    text = " ".join(fault.text.split())
    return input_problem(
        "csv-row-invalid", source=source, source_line=fault.line, where=where,
        why=(fault.why or "they are no whole rows") + on,
        text=text if len(text) <= 120 else text[:119] + "…",
    )  # fmt: skip
