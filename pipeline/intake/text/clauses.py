"""The clauses and spans of a text: its lines, cut where a mark may part them, and runs of these."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from pipeline.intake.facts_line import find_facts
from pipeline.intake.patterns import pattern
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.inline_list import MARKS
from pipeline.intake.text.line_kinds import BULLET, IGNORED_KEY, MAYBE_STATED, tells

#: Where a line may be cut: signs of a list, the end of a sentence, a label, wide space.
_CUTS = re.compile(
    rf"{MARKS}|\s*(?:\.{{3,}}|…|→|⇒|->|=>|;|\||\t)\s*|"
    r"(?:(?<=[^\W\d_]{2})|(?<=[^\W\d_]\s\d)|(?<=[^\W\d_]\s\d\d))(?<!\b[Nn]o)\.\s+(?=\S)|(?<!\b[Nn]o)[.!?]\s+(?=[^\W\d_])"
    r"|,\s+|:\s+|\s{3,}"
)
#: Where a clause may be cut before an amount in its midst: "Into the pan go 800 g lamb".
_AMOUNTS = re.compile(r"(?<=[^\W\d_]\s)(?=\d)")
#: The mark of such a cut.
AMOUNT = "#"
#: Words of a line from which on it is cut so.
_SENTENCE = 8
#: A sign that may part a list, and how often it has to.
_LIST_SIGN, _LEAST_SIGNS = re.compile(r"[;/|·•+→–—-]"), 2
_SPAN_CLAUSES = 5
_LINE_CLAUSES = 80


class Span(NamedTuple):
    """A stretch of a line: the clauses ``first`` to ``last``, and its text."""

    first: int
    last: int
    text: str


@dataclass(slots=True)
class Clause:
    """A piece of a line between two cuts; ``mark`` is the cut before it, "" at a line's begin."""

    line: CardLine
    at: int
    start: int
    end: int
    mark: str
    blank: bool
    more: int = 0


def clauses_of(lines: Sequence[CardLine]) -> list[Clause]:
    """The clauses of a text; a line of very many is one."""
    out: list[Clause] = []
    blank = True
    for at, line in enumerate(lines):
        text = line.text
        body = text.strip()
        if not body or (pattern("rule").match(body) and not line.level):
            blank = True
            continue
        start = len(text) - len(text.lstrip())
        bullet = BULLET.match(text)
        step = pattern("step").match(text)
        start = max(start, bullet.end() if bullet else 0, step.end() if step else 0)
        inside = _brackets(text)
        cuts = [
            (m.start(), m.end(), m[0].strip() or " ") for m in _CUTS.finditer(text, start)
            if not inside[m.start()] and m.end() < len(text.rstrip())
        ]  # fmt: skip
        if text[start : start + 1].isnumeric() and _lists_by_a_sign(text, cuts):
            cuts = [cut for cut in cuts if cut[2] != ","]
        cuts = sorted(cuts + _before_amounts(text, start, inside))
        cuts = cuts if len(cuts) < _LINE_CLAUSES and not says_aside(body) else []
        starts = [(start, ""), *((end, mark) for _, end, mark in cuts)]
        ends = [*(begin for begin, *_ in cuts), len(text.rstrip())]
        parts = [(a, b, mark) for (a, mark), b in zip(starts, ends, strict=True) if b > a]
        for no, (a, b, mark) in enumerate(parts):
            out.append(
                Clause(line, at, a, b, mark if no else "", blank and not no, len(parts) - no - 1)
            )
        blank = False
    return out


def says_aside(text: str) -> bool:
    """Whether a line says something that is not read ("Category: dinner, easy"), and nothing else."""
    return bool(IGNORED_KEY.match(text)) and not (
        MAYBE_STATED.search(text) or find_facts(text).yields
    )


def _lists_by_a_sign(text: str, cuts: Sequence[tuple[int, int, str]]) -> bool:
    """Whether a sign parts amounts, so that a comma parts none: "1 tin tuna, drained / 1 egg / 2 rolls",
    and not "tuna - 120 g, egg - 1, rolls - 2", which begins with a food."""
    signs = [m for _, end, m in cuts if _LIST_SIGN.fullmatch(m) and text[end : end + 1].isnumeric()]
    return any(signs.count(sign) >= _LEAST_SIGNS for sign in signs) and not MAYBE_STATED.search(
        text
    )


def _before_amounts(text: str, start: int, inside: list[bool]) -> list[tuple[int, int, str]]:
    if len(text.split()) < _SENTENCE or tells(text[start:]):
        return []
    return [
        (m.start() - 1, m.start(), AMOUNT) for m in _AMOUNTS.finditer(text, start + 1)
        if not inside[m.start()]
    ]  # fmt: skip


def _brackets(text: str) -> list[bool]:
    depth, inside = 0, []
    closes = text.count(")")
    for c in text:
        depth += c == "(" and closes > 0
        inside.append(depth > 0)
        if c == ")":
            closes -= 1
            depth = max(0, depth - 1)
    return inside


def spans_of(clauses: Sequence[Clause]) -> Iterator[Span]:
    """Every run of up to five neighbouring clauses of a line, and every whole line.

    A run over a semicolon neither begins nor ends at a comma, which parts less.
    """
    for first, clause in enumerate(clauses):
        most = clause.more if clause.more < _SPAN_CLAUSES else _SPAN_CLAUSES - 1
        lasts = [*range(first, first + most + 1)]
        if not clause.mark and clause.more >= _SPAN_CLAUSES:
            lasts.append(first + clause.more)
        for last in lasts:
            inner = [one.mark for one in clauses[first + 1 : last + 1]]
            after = clauses[last + 1].mark if last < first + clause.more else ""
            if ";" in inner and "," in (clause.mark, after):
                continue
            text = clause.line.text[clause.start : clauses[last].end]
            yield Span(first, last, text.strip("*_ ").strip())
