"""Rounding of published numbers, row by row from shared/rounding_rules.csv.

At an exact half the larger number is shown: neither rule text says, so one way is kept throughout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Literal

from pipeline.resources import shared_rows

Rule = Literal["eu", "us", "whole"]

#: tagname -> the word that the rules use. Sodium is shown as salt in the European Union.
_WORDS = {
    "eu": {"ENERC_KCAL": "energy", "PROCNT": "protein", "CHOCDF": "carbohydrate",
           "CHOAVLDF": "carbohydrate", "FAT": "fat", "FIBTG": "fibre", "SUGAR": "sugars",
           "FASAT": "saturates", "NACL": "salt", "NA": "sodium"},
    "us": {"ENERC_KCAL": "energy", "PROCNT": "protein", "CHOCDF": "total carbohydrate",
           "CHOAVLDF": "total carbohydrate", "FAT": "total fat", "FIBTG": "dietary fibre",
           "SUGAR": "total sugars", "FASAT": "saturated fat", "NA": "sodium"},
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shown:
    """A number as it is published: the text without unit, and its value."""

    text: str
    value: float


@dataclass(frozen=True, slots=True)
class Band:
    """One row of the rules: numbers from ``lower`` to ``upper`` and how they are shown."""

    lower: float
    lower_included: bool
    upper: float
    upper_included: bool
    increment: float  # 0: shown as zero, or as ``less_than`` where the rule has such words
    less_than: str

    def holds(self, value: float) -> bool:
        """Whether ``value`` lies in the band."""
        above = value > self.lower or (self.lower_included and value == self.lower)
        below = value < self.upper or (self.upper_included and value == self.upper)
        return above and below


@cache
def bands(rule: Rule, word: str) -> tuple[Band, ...]:
    """Rows of one nutrient, in order; empty when the rule does not name it."""
    out = []
    for row in shared_rows("rounding_rules.csv"):
        if row["jurisdiction"].lower() != rule or row["nutrient"] != word or not row["lower"]:
            continue
        words = row["less_than_text"].partition(" / ")[0]  # "less than 1 g", "<0.5 g"
        out.append(Band(
            float(row["lower"]),
            row["lower_included"] == "y",
            float(row["upper"]) if row["upper"] else math.inf,
            row["upper_included"] == "y",
            float(row["increment"]) if row["increment"] else 0.0,
            words.removesuffix(" g").removesuffix(" mg"),
        ))  # fmt: skip
    return tuple(out)


def to_step(value: float, step: float) -> float:
    """Nearest multiple of ``step``, halves up."""
    return math.floor(value / step + 0.5 + 1e-9) * step


def shown(rule: Rule, tag: str, value: float, step: float = 1.0) -> Shown:
    """How a number is published.

    Args:
        rule: ``us`` per serving (21 CFR 101.9(c)), ``eu`` per 100 g (Commission guidance 2012),
            ``whole``: whole numbers, an ordinary choice for recipes.
        tag: INFOODS tagname; salt under the EU rule is ``NACL``, in g.
        value: kcal, g or mg (sodium: mg under ``us`` and ``whole``, g under ``eu``).
        step: of the creator's own numbers, 1 or 0.1; only ``whole`` leaves it to them.

    Raises:
        ValueError: the number is negative or not finite, or the rule has no row for the nutrient.
    """
    if not math.isfinite(value) or value < 0:
        raise ValueError(f"cannot publish {value} for {tag}")
    if rule == "whole":
        rounded = to_step(value, step)
        return Shown(f"{rounded:.{0 if step >= 1 else 1}f}", rounded)
    word = _WORDS[rule].get(tag, "")
    for band in bands(rule, word):
        if band.holds(value):
            if band.increment:
                rounded = to_step(value, band.increment)
                places = max(0, -math.floor(math.log10(band.increment) + 1e-9))
                return Shown(f"{rounded:.{places}f}", rounded)
            if value == 0 or not band.less_than:
                return Shown("0", 0.0)
            return Shown(band.less_than, band.upper / 2)
    raise ValueError(f"rule '{rule}' has no row for {tag} at {value}")
