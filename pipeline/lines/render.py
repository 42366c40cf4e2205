"""Measures back to text, so that reading the text again gives the same measure."""

from __future__ import annotations

from pipeline.lines.model import Measure
from pipeline.lines.vocabulary import UNIT_WORD, UNITS


def render_measure(measure: Measure) -> str:
    """A measure as a cook would write it: ``2 x 400 g tin``, ``1.5 heaped tbsp``, ``2-3``.

    Reading ``f"{render_measure(m)} flour"`` gives ``m`` again, places in the text apart.
    """
    number = _number(measure.low)
    if measure.low != measure.high:
        number = f"{number}-{_number(measure.high)}"
        if measure.amount == 2 and (measure.low, measure.high) == (2, 3):
            number = "a couple of"
    parts = ["about"] if measure.about else []
    parts.append(number)
    if measure.each is not None:
        parts += ["x", render_measure(measure.each)]
    if measure.size:
        parts.append(measure.size)
    if measure.unit == "piece":
        pass
    elif measure.kind == "share":
        parts.append("batch of")
    elif measure.unit not in UNIT_WORD:  # the line's own word
        parts.append(f"{measure.unit} of")
    elif measure.unit in UNITS and (
        UNITS[measure.unit].needs_of or UNITS[measure.unit].needs_number
    ):
        parts.append(f"{UNIT_WORD[measure.unit]} of")
    else:
        parts.append(UNIT_WORD[measure.unit])
    return " ".join(parts)


def _number(value: float) -> str:
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return text if float(text) == value or len(text) > 1 else repr(value)
