"""Stage 2, lines: the text of an ingredient line → amount, unit, size, food name, state, notes.

>>> line = parse("2 x 400 g tins chickpeas, drained")
>>> line.name, line.measures[0].unit, line.measures[0].each.amount, sorted(line.states)
('chickpeas', 'tin', 400.0, ['canned', 'drained'])
"""

from __future__ import annotations

from pipeline.lines.grammar import parse, parse_many
from pipeline.lines.model import LineKind, Measure, ParsedLine, UnitKind
from pipeline.lines.render import render_measure
from pipeline.lines.split import split_lines
from pipeline.lines.vocabulary import STATES

__all__ = [
    "STATES", "LineKind", "Measure", "ParsedLine", "UnitKind", "parse",
    "parse_many", "render_measure", "split_lines",
]  # fmt: skip
