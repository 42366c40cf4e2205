"""Millilitres and grams of kitchen units, by system: ``shared/kitchen_units.csv``."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from pipeline.resources import shared_rows

SYSTEMS = ("us", "metric", "uk", "au", "nz", "imperial")


@dataclass(frozen=True, slots=True)
class KitchenUnits:
    """Sizes of units.

    Attributes:
        grams: g in one unit of mass, by unit.
        millilitres: ml in one unit of volume, by (unit, system); SI units under system "".
    """

    grams: dict[str, float]
    millilitres: dict[tuple[str, str], float]

    def ml(self, unit: str, system: str) -> float | None:
        """Millilitres in one ``unit``.

        Args:
            unit: canonical unit, with a system at the end when the line says one
                (``tbsp_au``, ``fl_oz_imperial``).
            system: used when the unit carries none.
        """
        found = self.millilitres.get((unit, system)) or self.millilitres.get((unit, ""))
        if found is not None:
            return found
        stem, _, said = unit.rpartition("_")
        return self.millilitres.get((stem, said)) if said in SYSTEMS else None

    def ratio(self, unit: str, other: str) -> float:
        """How many of ``other`` one ``unit`` is, both of mass or both of volume; NaN: not known."""
        sizes = {**self.grams, **self.sizes("us")}
        return sizes.get(unit, math.nan) / sizes.get(other, math.nan)

    def sizes(self, system: str) -> dict[str, float]:
        """Millilitres of every unit of volume in one system."""
        return {unit: ml for (unit, own), ml in self.millilitres.items() if own in ("", system)}


@cache
def kitchen_units() -> KitchenUnits:
    """The table, read once."""
    grams: dict[str, float] = {}
    millilitres: dict[tuple[str, str], float] = {}
    for row in shared_rows("kitchen_units.csv"):
        if row["kind"] == "mass":
            grams[row["unit"]] = float(row["si"])
        else:
            millilitres[row["unit"], row["system"]] = float(row["si"])
    return KitchenUnits(grams, millilitres)


def stem_of(unit: str) -> str:
    """The unit without its system: ``cup`` of ``cup_metric``; ``fl_oz`` stays."""
    stem, _, said = unit.rpartition("_")
    return stem if stem and said in SYSTEMS else unit
