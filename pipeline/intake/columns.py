"""Names of columns and keys: "Protein (g)", "energy_kj_per_100g", "Net carbs", "satfat_g"."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from pipeline.intake.model import Basis
from pipeline.nutrients import NET_CARBS_TAG, NUTRIENTS

_NUTRIENTS: dict[str, tuple[str, bool]] = {
    "kcal": ("ENERC_KCAL", False), "kcals": ("ENERC_KCAL", False), "kj": ("ENERC_KCAL", False),
    "calories": ("ENERC_KCAL", False), "calorie": ("ENERC_KCAL", False),
    "cals": ("ENERC_KCAL", False), "cal": ("ENERC_KCAL", False), "energy": ("ENERC_KCAL", False),
    "protein": ("PROCNT", False), "proteins": ("PROCNT", False), "prot": ("PROCNT", False),
    "carb": ("CHOCDF", False), "carbs": ("CHOCDF", False), "carbohydrate": ("CHOCDF", False),
    "carbohydrates": ("CHOCDF", False), "totalcarbs": ("CHOCDF", False),
    "totalcarbohydrate": ("CHOCDF", False), "cho": ("CHOCDF", False),
    "netcarbs": (NET_CARBS_TAG, False), "netcarb": (NET_CARBS_TAG, False),
    "netcarbohydrate": (NET_CARBS_TAG, False), "availablecarbohydrate": (NET_CARBS_TAG, False),
    "fat": ("FAT", False), "fats": ("FAT", False), "totalfat": ("FAT", False),
    "fiber": ("FIBTG", False), "fibre": ("FIBTG", False), "dietaryfiber": ("FIBTG", False),
    "dietaryfibre": ("FIBTG", False),
    "sugar": ("SUGAR", False), "sugars": ("SUGAR", False), "ofwhichsugars": ("SUGAR", False),
    "satfat": ("FASAT", False), "saturates": ("FASAT", False), "saturated": ("FASAT", False),
    "saturatedfat": ("FASAT", False), "sats": ("FASAT", False),
    "ofwhichsaturates": ("FASAT", False), "saturatedfats": ("FASAT", False),
    "sodium": ("NA", False), "salt": ("NA", True),
    "alcohol": ("ALC", False), "water": ("WATER", False),
}  # fmt: skip
_TAGS = {n.tag.lower(): n.tag for n in NUTRIENTS} | {NET_CARBS_TAG.lower(): NET_CARBS_TAG}
_SCHEMA = {n.schema_org.lower(): n.tag for n in NUTRIENTS if n.schema_org}
_BASES: tuple[tuple[str, Basis], ...] = (
    (r"per100(?:g|grams?|ml)?|100g", "per_100g"),
    (r"per(?:recipe|batch|total)|whole(?:recipe|batch)?|total(?!fat|carb|sugar)", "per_recipe"),
    (r"per(?:serving|serve|portion|person|slice|piece)|each", "per_serving"),
)


#: "kcal/portion": for one portion; "kJ/kcal" is no such thing.
_PER = re.compile(
    r"\s?/\s?(?=(?:100|a\b|1\b|serv|portion|person|slice|piece|recipe|batch|head|bowl))",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class NutrientColumn:
    """What a column of numbers holds; ``unit`` is "" when the header does not say."""

    tag: str
    unit: str
    salt: bool
    basis: Basis | None


def plain(name: object) -> str:
    """A column name in lower case with single underscores: "Line No." is ``line_no``."""
    return _plain(str(name))


@lru_cache(maxsize=4096)
def _plain(name: str) -> str:
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", "_", name.strip())
    return re.sub(r"[^a-z0-9]+", "_", spaced.lower()).strip("_")


@lru_cache(maxsize=4096)
def nutrient_column(name: str) -> NutrientColumn | None:
    """What nutrient a column or key holds, in which unit and for what; None when it is none.

    >>> nutrient_column("Energy (kJ) per 100 g")
    NutrientColumn(tag='ENERC_KCAL', unit='kj', salt=False, basis='per_100g')
    """
    if name.lower() in _SCHEMA:
        return NutrientColumn(_SCHEMA[name.lower()], "", False, None)
    if name.lower() in _TAGS and name.upper() == name:
        return NutrientColumn(_TAGS[name.lower()], "", False, None)
    words = plain(_PER.sub(" per ", name))
    basis: Basis | None = None
    joined = words.replace("_", "")
    for pattern, meant in _BASES:
        found = re.search(pattern, joined)
        if found:
            basis = meant
            joined = joined[: found.start()] + joined[found.end() :]
            words = joined if words.count("_") else words
            break
    parts = words.split("_") if basis is None else [joined]
    parts = [p for p in parts if p not in ("stated", "declared", "label", "content", "amount")]
    unit = ""
    joined = "".join(parts)
    if len(parts) > 1 and parts[-1] in ("g", "mg", "kcal", "kj", "grams", "gram"):
        unit, joined = parts[-1], "".join(parts[:-1])
        if joined in ("", "energy", "calories"):
            joined = "energy"
    elif joined not in _NUTRIENTS:
        suffix = re.fullmatch(r"(.+?)(kcal|kj|mg|g|grams?)", joined)
        if suffix and suffix[1] in _NUTRIENTS:
            joined, unit = suffix[1], suffix[2]
    if joined == "kj":
        unit = "kj"
    known = _NUTRIENTS.get(joined) or _named(name)
    return None if known is None else NutrientColumn(known[0], unit or _unit(name), known[1], basis)


def _named(name: str) -> tuple[str, bool] | None:
    """Tag of a name that stated lines know as well, what it is for and its unit left away."""
    from pipeline.intake.stated_line import nutrient_named

    bare = re.sub(r"[(\[][^()\[\]]*[)\]]", " ", plain(_PER.sub(" per ", name)).replace("_", " "))
    bare = re.sub(
        r"\b(?:per|each)\b.*$|\b(?:in\s+)?(?:m?g|kcal|grams?)$|^(?:nutrition|stated)\b", "", bare
    )
    return nutrient_named(bare.strip())


def _unit(name: str) -> str:
    """Unit in the brackets of a header, or behind its name."""
    found = re.search(r"(?:[(\[]|\bin\s|\s)\s*(mg|g|kcal|kj)\b", name, re.IGNORECASE)
    return found[1].lower() if found else ""


#: A header that speaks of nutrition, whether its nutrient is one that is judged or not.
_NUTRITIONAL = re.compile(
    r"k?cal|\bkj\b|energy|protein|carb|\bfat\b|fib(?:re|er)|macro|nutri", re.IGNORECASE
)


def speaks_of_nutrition(name: str) -> bool:
    """Whether a column that ``nutrient_column`` does not know would be missed by its owner."""
    from pipeline.intake.stated_line import is_not_judged

    return bool(_NUTRITIONAL.search(name)) and not is_not_judged(name)


#: Keys of numbers that stand together with another of them.
_MACRO_LETTERS = {"p": "protein", "c": "carbs", "f": "fat"}


def column_among(name: str, names: Iterable[object]) -> NutrientColumn | None:
    """``nutrient_column`` of a key among others: "p", "c" and "f" tell each other what they are."""
    letter = _MACRO_LETTERS.get(plain(name))
    if letter is None or len(_MACRO_LETTERS.keys() & {plain(n) for n in names}) < 2:
        return nutrient_column(name)
    return nutrient_column(letter)


def basis_of(text: str) -> Basis | None:
    """What a basis cell or key says: "per serving", "100 g", "whole recipe"; None for neither."""
    joined = plain(text).replace("_", "")
    if not joined:
        return None
    for pattern, meant in _BASES:
        if re.search(pattern, joined):
            return meant
    if joined in ("serving", "portion", "serve", "slice", "piece", "person"):
        return "per_serving"
    if joined in ("recipe", "batch", "dish"):
        return "per_recipe"
    return None
