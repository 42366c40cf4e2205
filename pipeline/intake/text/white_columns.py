"""Columns of a plain text, told by its white space: recipes side by side, and tables without bars."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from functools import partial
from itertools import groupby, islice

from pipeline.intake.patterns import pattern
from pipeline.intake.text.line_kinds import tells

#: The number of a line and its text.
Line = tuple[int, str]
#: What stands between wide spaces.
_CELL = re.compile(r"\S+(?: \S+)*")
#: Spaces between what stands side by side.
_APART = 3
#: Lines that show a column: that begin at its place, and ingredients in it.
_LEAST = 3
_STEP_WORDS = 4
_SENTENCES = re.compile(r"(?<=[.!?])\s+")
#: Lines below one without columns of which each may name those of a table.
_HEADER_ROWS = 2
#: Places that are tried in a stretch, the most frequent first.
_TRIED = 5


def columns_apart(lines: Sequence[str]) -> list[Line]:
    """The lines of a text, what stands in columns side by side one below the other, and rows of a
    table below the names of its columns as lines of a list; each with its place."""
    if not any(" " * _APART in line.strip() for line in lines):
        return list(enumerate(lines))
    out: list[Line] = []
    for rule, some in groupby(enumerate(lines), lambda line: _is_rule(line[1])):
        stretch = list(some)
        out += stretch if rule else _side_by_side(stretch)
    return list(_listed(out))


def _is_rule(text: str) -> bool:
    return "  " not in text.strip() and pattern("rule").match(text) is not None


def _side_by_side(lines: list[Line]) -> list[Line]:
    """Lines between two rules, cut at a column of white space between two lists, or a list and what is
    to be done."""
    starts = Counter(cell.start() for _, text in lines for cell in _cells(text)[1:])
    for x, count in starts.most_common(_TRIED):
        if count < _LEAST - 1:
            break
        out: list[Line] = []
        parted = False
        for crossed, some in groupby(lines, partial(_crosses, x=x)):
            run = list(some)
            left = [(no, text[:x].rstrip()) for no, text in run]
            right = [(no, " " * x + text[x:] if text[x:].strip() else "") for no, text in run]
            if crossed or not (_lists(left) and (_lists(right) or _tell(right))):
                out += run
                continue
            parted = True
            filled = [at for at, (_, text) in enumerate(right) if text]
            first = right[filled[0]][1]
            more = _item(first)
            end = filled[-1] + 1 if more or tells(first.strip()) else len(left)
            begin = filled[0]
            gap = [] if more else [(right[begin][0], "")]
            right = right[begin:end]
            out += [*_side_by_side(left[:end]), *gap, *_side_by_side(right), *left[end:]]
        if parted:
            return out
    return lines


def _cells(text: str) -> list[re.Match[str]]:
    return list(_CELL.finditer(text))


def _crosses(line: Line, x: int) -> bool:
    """Whether words of a line stand across a place, or too near to it."""
    text = line[1]
    return bool(text[:x].strip()) and bool(text[max(0, x - _APART + 1) : x].strip())


def _lists(lines: Sequence[Line]) -> bool:
    texts = [text for _, text in lines if text.strip()]
    few = len(texts) == _LEAST - 1 and all(map(_item, texts))
    return few or _several(map(_item, texts))


def _several(told: Iterable[bool]) -> bool:
    return len(list(islice(filter(None, told), _LEAST))) == _LEAST


def _tell(lines: Sequence[Line]) -> bool:
    """Whether lines are the steps of a method, and no notes on what stands beside them."""
    texts = [text.strip() for _, text in lines if text.strip()]
    if _several(len(text.split()) >= _STEP_WORDS and tells(text) for text in texts):
        return True
    wrapped = 2 * sum(text.endswith(".") for text in texts) <= len(texts)
    told = [tells(pattern("step").sub("", one)) for one in _SENTENCES.split(" ".join(texts))]
    return wrapped and sum(told) >= _LEAST - 1


def _item(text: str) -> bool:
    """Whether a text is an amount and a food."""
    from pipeline.intake.text.features import of_item  # here: few texts have columns
    from pipeline.lines import parse

    return of_item(parse(text.strip())) > 1


def _listed(lines: Sequence[Line]) -> Iterator[Line]:
    """Lines with the rows of a table as lines of a list, by the names of its columns."""
    for celled, some in groupby(lines, lambda line: len(_cells(line[1])) > 1):
        rows = list(some)
        yield from _table(rows) if celled and len(rows) > _LEAST else rows


def _table(lines: list[Line]) -> list[Line]:
    from pipeline.intake.tables.card_rows import names_columns, row_line
    from pipeline.intake.tables.layout import table_form

    for at in range(_HEADER_ROWS):
        head = _cells(lines[at][1])
        rows = list(_rows(lines[at + 1 :], [cell.start() for cell in head[1:]]))
        form = table_form([cell[0] for cell in head], [row for _, row in rows])
        if form is not None and names_columns(form.names):
            listed = [
                (no, f"- {row_line(form.names, row)}" if any(row) else "") for no, row in rows
            ]
            return [*lines[:at], *listed, *lines[at + 1 + len(rows) :]]
    return lines


def _rows(lines: Sequence[Line], starts: Sequence[int]) -> Iterator[tuple[int, list[str]]]:
    """The rows below the names of columns, of which all but the first begin at ``starts``; signs that
    underline the names make an empty one."""
    for no, text in lines:
        cells = _cells(text)
        if cells[0].start() >= starts[0]:
            return
        row = [""] * (1 + len(starts))
        for cell in cells if any(map(str.isalnum, text)) else ():
            at = sum(start <= cell.start() for start in starts)
            row[at] = f"{row[at]} {cell[0]}".lstrip()
        yield no, row
