"""Rounding of published numbers, row by row from shared/rounding_rules.csv.

At an exact half the larger number is shown: neither rule text says, so one way is kept throughout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from pipeline.resources import shared_rows

Vector = NDArray[np.float64]
Texts = NDArray[Any]
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
class Band:
    """One row of the rules: numbers from ``lower`` to ``upper`` and how they are shown."""

    lower: float
    lower_included: bool
    upper: float
    upper_included: bool
    increment: float  # 0: shown as zero, or as ``less_than`` where the rule has such words
    less_than: str

    def holds(self, values: Vector) -> NDArray[np.bool_]:
        """Which of the numbers lie in the band."""
        above = values >= self.lower if self.lower_included else values > self.lower
        below = values <= self.upper if self.upper_included else values < self.upper
        return np.asarray(above & below)


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


def to_step(values: Vector, step: float | Vector) -> Vector:
    """Nearest multiples of ``step``, halves up."""
    return np.asarray(np.floor(values / step + 0.5 + 1e-9) * step)


def written(values: Vector, places: int) -> Texts:
    """Numbers with so many decimals; each distinct one is written once."""
    distinct, at = np.unique(values, return_inverse=True)
    return np.array([f"{value:.{places}f}" for value in distinct.tolist()], dtype=object)[at]


def shown(rule: Rule, tag: str, values: Vector, step: float | Vector = 1.0) -> tuple[Texts, Vector]:
    """How numbers are published: the texts without unit, and their values.

    Args:
        rule: ``us`` per serving (21 CFR 101.9(c)), ``eu`` per 100 g (Commission guidance 2012),
            ``whole``: whole numbers, an ordinary choice for recipes.
        tag: INFOODS tagname; salt under the EU rule is ``NACL``, in g.
        values: kcal, g or mg (sodium: mg under ``us`` and ``whole``, g under ``eu``).
        step: of the creators' own numbers, 1 or 0.1; only ``whole`` leaves it to them.

    Raises:
        ValueError: a number is negative or not finite, or the rule has no row for the nutrient.
    """
    bad = ~(np.isfinite(values) & (values >= 0))
    if bad.any():
        raise ValueError(f"cannot publish {values[bad][0]} for {tag}")
    texts, numbers = np.full(len(values), "", dtype=object), np.full(len(values), math.nan)
    if rule == "whole":
        for size in np.unique(step).tolist():
            of = np.broadcast_to(np.asarray(step) == size, len(values))
            numbers[of] = to_step(values[of], size)
            texts[of] = written(numbers[of], 0 if size >= 1 else 1)
        return texts, numbers
    for band in bands(rule, _WORDS[rule].get(tag, "")):
        of = np.isnan(numbers) & band.holds(values)
        if band.increment:
            numbers[of] = to_step(values[of], band.increment)
            places = max(0, -math.floor(math.log10(band.increment) + 1e-9))
            texts[of] = written(numbers[of], places)
        else:
            less = (values[of] > 0) & bool(band.less_than)
            texts[of] = np.where(less, band.less_than, "0")
            numbers[of] = np.where(less, band.upper / 2, 0.0)
    if np.isnan(numbers).any():
        raise ValueError(f"rule '{rule}' has no row for {tag} at {values[np.isnan(numbers)][0]}")
    return texts, numbers
