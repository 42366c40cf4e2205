"""What energy and carbohydrate mean in a collection: one convention for every number of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

from pipeline.resources import shared_rows

#: ``table``: the food table's own energy (specific Atwater factors in USDA tables). ``eu``: 4
#: protein, 4 available carbohydrate, 9 fat, 2 fibre, 7 alcohol (Regulation (EU) 1169/2011, Annex
#: XIV). ``atwater``: 4 protein, 4 carbohydrate as the collection states it, 9 fat, 7 alcohol
#: (21 CFR 101.9(c)(1)(i)(B) where it is total).
Energy = Literal["table", "eu", "atwater"]

#: ``total``: by difference, fibre included (INFOODS CHOCDF). ``available``: without fibre, as a
#: European label states it.
Carbohydrate = Literal["total", "available"]


@dataclass(frozen=True, slots=True)
class Convention:
    """How a collection counts energy and carbohydrate.

    Attributes:
        energy: whose energy, see ``Energy``.
        carbohydrate: what ``CHOCDF`` stands for in every table of the run.
        reason: one sentence: set, detected from what, or the default.
        belief: in the carbohydrate detected, 0 to 1; 1 where nothing was.
    """

    energy: Energy = "table"
    carbohydrate: Carbohydrate = "total"
    reason: str = (
        "carbohydrate with fibre (by difference); energy the food table's own (the default)"
    )
    belief: float = 1.0

    @property
    def available(self) -> bool:
        """Carbohydrate is without fibre."""
        return self.carbohydrate == "available"

    @property
    def plain(self) -> bool:
        """Nothing to convert: the table's own numbers."""
        return self.energy == "table" and not self.available


#: Numbers as the food table has them.
TABLE = Convention()


@cache
def factors() -> dict[str, float]:
    """kcal per g of the EU label rule (Regulation 1169/2011, Annex XIV)."""
    wanted = {
        "protein": "protein",
        "carbohydrate except polyols": "carbs",
        "fat": "fat",
        "alcohol (ethanol)": "alcohol",
        "fibre": "fibre",
    }
    return {
        wanted[row["component"]]: float(row["value"])
        for row in shared_rows("energy_factors.csv")
        if row["system"] == "EU label" and row["unit"] == "kcal/g" and row["component"] in wanted
    }
