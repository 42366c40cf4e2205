"""Pack values typed by a person: read, checked, brought to the pantry's columns."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from pipeline.memory.files import number
from pipeline.memory.pantry import COLUMNS, beyond_any_food, check_values, pantry_id


class PackField(NamedTuple):
    """One value of a pack: column of the pantry, words, unit, whether it has to be given."""

    column: str
    label: str
    unit: str
    needed: bool = False


FIELDS: tuple[PackField, ...] = (
    PackField("kcal", "Energy", "kcal", needed=True),
    PackField("protein_g", "Protein", "g", needed=True),
    PackField("carbs_g", "Carbohydrate", "g", needed=True),
    PackField("fat_g", "Fat", "g", needed=True),
    PackField("fiber_g", "Fibre", "g"),
    PackField("sugar_g", "of which sugars", "g"),
    PackField("satfat_g", "of which saturates", "g"),
    PackField("salt_g", "Salt", "g"),
    PackField("sodium_mg", "or sodium", "mg"),
)
#: g of salt → mg of sodium, Regulation (EU) No 1169/2011 Annex I: salt = sodium × 2.5.
SODIUM_MG_PER_SALT_G = 400.0
LONGEST_NAME = 120
#: No pack says more of anything.
_MOST = 100_000.0


@dataclass(slots=True)
class Pack:
    """What was read.

    Attributes:
        row: every column of the pantry, per serving, empty where not given; no row when there are faults.
        faults: field → what has to be corrected.
        doubts: what cannot be right about the values together; a person may insist.
        values: as typed, to be shown again.
    """

    row: dict[str, str] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)
    doubts: list[str] = field(default_factory=list)
    values: dict[str, str] = field(default_factory=dict)


def read_pack(form: Mapping[str, str]) -> Pack:
    """Read the fields of the pack form; never raises.

    Args:
        form: food_name, aliases, serving_name, serving_g, per ("serving" or "100g"), and the
            columns of ``FIELDS``, as typed; decimal commas are fine.
    """
    names = ("food_name", "aliases", "serving_name", "serving_g", "per")
    typed = {
        name: " ".join(form.get(name, "").split())[:500]
        for name in (*names, *(f.column for f in FIELDS))
    }
    pack = Pack(values=typed)
    _names(pack)
    per_100g = typed["per"] == "100g"
    serving = _amount(
        pack, PackField("serving_g", "the weight of a serving", "g", needed=not per_100g)
    )
    if serving is None and per_100g and "serving_g" not in pack.faults:
        serving = 100.0  # the values say it all
    if serving == 0:
        pack.faults["serving_g"] = "A serving has to weigh something; write its grams."
    values = {f.column: value for f in FIELDS if (value := _amount(pack, f)) is not None}
    salt = values.pop("salt_g", None)
    if salt is not None and "sodium_mg" not in values:
        values["sodium_mg"] = salt * SODIUM_MG_PER_SALT_G
    if pack.faults or not serving:
        return pack
    share = serving / 100 if per_100g else 1.0
    values = {column: value * share for column, value in values.items()}
    beyond = beyond_any_food(values, serving)
    if beyond:
        at = next((f.column for f in FIELDS if f.column == beyond[0].split()[0]), "serving_g")
        pack.faults[at] = f"{_plain(beyond[0])[:-1]} cannot be; is it for another weight?"
        return pack
    pack.doubts = [_plain(doubt) for doubt in check_values(values, serving)]
    pack.row = {
        **dict.fromkeys(COLUMNS, ""),
        "food_name": typed["food_name"],
        "aliases": typed["aliases"],
        "serving_name": typed["serving_name"],
        "serving_g": _text(serving),
        **{column: _text(value) for column, value in values.items()},
    }
    return pack


def _names(pack: Pack) -> None:
    name = pack.values["food_name"]
    if not name:
        pack.faults["food_name"] = "Give the food a name, as your recipes call it."
    elif len(name) > LONGEST_NAME:
        pack.faults["food_name"] = f"Keep the name under {LONGEST_NAME} characters."
    elif not name[0].isalnum() or pantry_id(name) == pantry_id(""):
        pack.faults["food_name"] = "Begin the name with a letter or digit, and use a to z in it."
    for other in ("aliases", "serving_name"):
        text = pack.values[other]
        if text and not text[0].isalnum():
            pack.faults[other] = "Begin with a letter or digit."


def _amount(pack: Pack, of: PackField) -> float | None:
    column, unit = of.column, of.unit
    text = pack.values[column]
    if not text:
        if of.needed:
            pack.faults[column] = f"Type {of.label.lower()} in {unit} from the pack."
        return None
    value = typed_number(text, unit)
    if value is None:
        pack.faults[column] = f"“{text}” is no number of {unit}; write it plainly, such as 6.5."
    elif value < 0:
        pack.faults[column] = "It cannot be less than nothing."
    elif value > _MOST:
        pack.faults[column] = f"{text} {unit} is more than any pack says."
    else:
        return value
    return None


#: What a unit comes to in the unit of a field; kilojoules: Regulation (EU) No 1169/2011, Annex XIV.
_UNITS: dict[str, dict[str, float]] = {
    "kcal": {"kcal": 1.0, "cal": 1.0, "calories": 1.0, "kj": 1 / 4.184},
    "g": {"g": 1.0, "gr": 1.0, "gram": 1.0, "grams": 1.0, "kg": 1000.0, "mg": 0.001},
    "mg": {"mg": 1.0, "g": 1000.0},
}
_NUMBER_AND_UNIT = re.compile(
    r"\s*([-+]?(?:\d{1,3}(?:[\s\u00a0]\d{3})+|\d[\d,]*)?(?:[.,]?\d+)?)\s*([A-Za-z]*)\.?\s*"
)


def typed_number(text: str, unit: str) -> float | None:
    """A number as typed, with or without its unit: "5", "5 g", "5g", "0,5 g", "836 kJ".

    Args:
        unit: of the field: kcal, g or mg; another one of its kind is brought to it.

    Returns:
        The number in ``unit``, None when it is none.
    """
    found = _NUMBER_AND_UNIT.fullmatch(text)
    if found is None:
        return None
    factor = _UNITS[unit].get((found[2] or unit).lower())
    value = number(found[1])
    return None if factor is None or value is None else value * factor


def _text(value: float) -> str:
    return f"{value:.6g}"


def _plain(doubt: str) -> str:
    """A doubt in the words of the form: columns by their labels."""
    for known in FIELDS[1:]:  # kcal is a word already
        doubt = doubt.replace(known.column, known.label.removeprefix("of which ").lower())
    return doubt[0].upper() + doubt[1:] + "."
