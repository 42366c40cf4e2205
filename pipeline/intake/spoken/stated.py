"""Numbers that are stated of a dish, and what energy and macros of one dish have to do with each other.

The energy of a dish is near 4 P + 4 C + 9 F (general Atwater factors, 21 CFR 101.9(c)(1)(i)(B)).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pipeline.intake.model import Basis
from pipeline.intake.spoken.words import Span

ENERGY, PROTEIN, CARBS, FAT = "ENERC_KCAL", "PROCNT", "CHOCDF", "FAT"
MACROS = frozenset({PROTEIN, CARBS, FAT})
_ROUNDED = 10.0  # kcal that rounded grams may be above a small energy


@dataclass(slots=True)
class Item(Span):
    """A number or a nutrient word of a passage."""

    value: float | None = None
    tag: str = ""


@dataclass(slots=True)
class Stated(Span):
    """One number bound to a nutrient."""

    tag: str
    value: float
    basis: Basis | None = None
    bare: bool = False


@dataclass(slots=True)
class Total(Span):
    """Numbers stated together."""

    parts: list[Stated] = field(default_factory=list)
    corrects: bool = False  # the speaker takes back what was said before
    doubt: float = -1.0  # what speaks for it being of something else, above nought

    @property
    def tags(self) -> set[str]:
        """Nutrients stated."""
        return {p.tag for p in self.parts}

    @property
    def values(self) -> dict[str, float]:
        """Nutrient → its number; the last where there are several."""
        return {p.tag: p.value for p in self.parts}

    @property
    def complete(self) -> bool:
        """Stands on its own: an energy, or two nutrients."""
        return ENERGY in self.tags or len(self.tags) >= 2


@dataclass(slots=True)
class Figure(Span):
    """A number that belongs to a product: "the 60 calorie wraps"."""

    text: str


def off(energy: float, grams: Mapping[str, float]) -> float:
    """Share of an energy by which 4 P + 4 C + 9 F misses it."""
    return abs(energy - _atwater(grams)) / max(energy, 1.0)


def possible(energy: float, grams: Mapping[str, float]) -> bool:
    """Protein, carbohydrate and fat, as far as they are known, do not exceed an energy."""
    return _atwater(grams) <= 1.15 * energy + _ROUNDED


def _atwater(grams: Mapping[str, float]) -> float:
    """4 P + 4 C + 9 F of those that are known."""
    return sum(factor * grams.get(tag, 0.0) for tag, factor in ((PROTEIN, 4), (CARBS, 4), (FAT, 9)))


def is_share(whole: float, share: float) -> bool:
    """One number is the other times 2 to 40."""
    ratio = whole / max(share, 1e-9)
    return 2 <= round(ratio) <= 40 and abs(ratio - round(ratio)) <= 0.015 * ratio
