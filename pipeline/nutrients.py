"""The nutrients the tool speaks of: INFOODS tagname, column name, unit, label words.

Tagnames are INFOODS (Klensin et al. 1989, as listed in USDA SR28 NUTR_DEF). Missing values are
NULL everywhere and never zero.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Nutrient:
    """One nutrient: ``tag`` in tables, ``column`` in wide results and CSV headers.

    Attributes:
        tag: INFOODS tagname.
        column: wide column, the unit at the end (``kcal`` is its own unit).
        unit: kcal, g or mg, the unit of every amount under this tag.
        label: the words a creator reads.
        schema_org: property of schema.org/NutritionInformation, or "" when it has none.
    """

    tag: str
    column: str
    unit: str
    label: str
    schema_org: str = ""


NUTRIENTS: tuple[Nutrient, ...] = (
    Nutrient("ENERC_KCAL", "kcal", "kcal", "energy", "calories"),
    Nutrient("PROCNT", "protein_g", "g", "protein", "proteinContent"),
    Nutrient("CHOCDF", "carbs_g", "g", "carbohydrate", "carbohydrateContent"),
    Nutrient("FAT", "fat_g", "g", "fat", "fatContent"),
    Nutrient("FIBTG", "fiber_g", "g", "fibre", "fiberContent"),
    Nutrient("SUGAR", "sugar_g", "g", "sugars", "sugarContent"),
    Nutrient("FASAT", "satfat_g", "g", "saturated fat", "saturatedFatContent"),
    Nutrient("NA", "sodium_mg", "mg", "sodium", "sodiumContent"),
    Nutrient("ALC", "alcohol_g", "g", "alcohol"),
    Nutrient("WATER", "water_g", "g", "water"),
)

BY_TAG: dict[str, Nutrient] = {n.tag: n for n in NUTRIENTS}
BY_COLUMN: dict[str, Nutrient] = {n.column: n for n in NUTRIENTS}

#: A creator may state carbohydrate without fibre; it is kept under its own tag.
NET_CARBS_TAG = "CHOAVLDF"

#: The nutrients of ``recipes.csv``, in its column order.
REPORTED: tuple[str, ...] = (
    "kcal", "protein_g", "carbs_g", "fat_g", "fiber_g", "sugar_g", "sodium_mg",
)  # fmt: skip
