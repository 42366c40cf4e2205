"""Short ways to say a line by hand."""

from __future__ import annotations

from pipeline.lines.model import Measure, ParsedLine


def measure(
    amount: float,
    unit: str,
    kind: str,
    *,
    size: str = "",
    each: Measure | None = None,
    ends: tuple[float, float] | None = None,
    about: bool = False,
) -> Measure:
    """A ``Measure`` by hand."""
    low, high = ends or (amount, amount)
    return Measure(amount, unit, kind, low, high, size, each, about)  # type: ignore[arg-type]


def line(*measures: Measure, name: str = "", text: str = "", **more: object) -> ParsedLine:
    """A food line by hand; ``states`` and ``flags`` may be any iterables of words."""
    for key in ("states", "flags"):
        if key in more:
            more[key] = frozenset(more[key])  # type: ignore[call-overload]
    return ParsedLine(text or name, "food", measures, name=name, **more)  # type: ignore[arg-type]
