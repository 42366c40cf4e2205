"""Household measures as composition tables write them: ``1 cup, chopped`` into its parts.

The words stand in ``shared/measures_words.csv``; what they are not is kept as the source wrote it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from pipeline.foods.words import singular
from pipeline.resources import shared_rows

#: Size words, longest first so that "extra large" is not read as "large".
SIZES = (
    "extra small", "extra large", "extra-large", "small", "medium", "large", "jumbo", "miniature",
    "mini", "midget", "big", "thin", "thick", "regular",
)  # fmt: skip
_SAME_SIZE = {"extra-large": "extra large", "miniature": "mini", "midget": "mini", "big": "large"}
_NUMBER = re.compile(r"^(?:(\d+)\s+)?(\d+)\s*/\s*(\d+)(?![\d/\"'])\s*|^(\d*\.?\d+)(?![\d/])\s*")
_SIZE = re.compile(rf"^({'|'.join(SIZES)})\b[\s,-]*", re.IGNORECASE)
_HEAD_END = re.compile(r"[,(]")
_FROM_A_POUND = re.compile(r"yields?\s+from\s+1\s+lb", re.IGNORECASE)
_PART_OF = re.compile(
    r"^\(?\s*(?:approx\.?\s*)?\d+/\d+\s+(?:of|cake|pie|pizza|per)\b", re.IGNORECASE
)
_INNER = re.compile(
    r"(?<![\w./-])(\d*\.?\d+|\d+/\d+)\s*(cups?|fl oz|tbsp|tablespoons?|tsp)\b", re.I
)


@dataclass(frozen=True, slots=True)
class MeasureText:
    """One measure read: ``amount`` of ``unit``; what else the source says in ``qualifier``.

    Attributes:
        amount: how many of the unit, above zero.
        unit: canonical unit where the words are known (``shared/measures_words.csv``); ``piece``
            for one of the food itself; ``lb_raw`` for what is left of a pound as bought once
            trimmed and cooked; else the source's own words, lower case.
        qualifier: the rest of the source's words, without the comma or brackets around it.
        size: small | medium | large | ..., "" when not said.
    """

    amount: float
    unit: str
    qualifier: str
    size: str


@cache
def unit_words() -> dict[str, str]:
    """Canonical unit of every word of ``shared/measures_words.csv``, words in lower case."""
    return {
        word: row["unit"]
        for row in shared_rows("measures_words.csv")
        for word in row["words"].split(";")
    }


def _words(text: str) -> list[str]:
    return re.findall(r"[a-zà-ÿ]+", text.lower())


def _tidy(text: str) -> str:
    """Without the commas around it, and without brackets that hold all of it."""
    text = " ".join(text.split()).strip(" ,")
    if text.startswith("(") and text.endswith(")") and text.count("(") == 1:
        text = text[1:-1].strip()
    return text


def _number(text: str) -> tuple[float, str] | None:
    """The number a text starts with and the rest of it; None when it starts with none."""
    found = _NUMBER.match(text)
    if not found:
        return None
    whole, over, under, decimal = found.groups()
    if decimal is not None:
        return float(decimal), text[found.end() :]
    if int(under) == 0:
        return None
    return float(int(whole or 0) + Fraction(int(over), int(under))), text[found.end() :]


def size_of(text: str) -> tuple[str, str]:
    """The size word a text starts with, "" when none, and the rest."""
    found = _SIZE.match(text)
    if not found:
        return "", text
    word = found.group(1).lower()
    return _SAME_SIZE.get(word, word), text[found.end() :]


def read_measure(
    text: str, *, amount: float | None = None, description: str = ""
) -> MeasureText | None:
    """Read one household measure.

    Args:
        text: as the table writes it: ``.5 cup, sliced``, ``1 fruit,  (2-1/8" dia)``; without the
            number when ``amount`` is given.
        amount: how many of the unit, when the table keeps it apart.
        description: the food's name in the table: in "Peppers, sweet" a pepper is a ``piece``.

    Returns:
        The parts, or None when there is no positive amount or no text to read.

    Source:
        Wording of USDA SR28 ABBREV and WEIGHT and of FoodData Central ``food_portion``.
    """
    text = " ".join(text.split())
    if amount is None:
        read = _number(text)
        if read is None and text[:1].isdigit():
            return None  # "1/0 cup", "50% cup": a number that cannot be read is no 1
        if read is None:
            amount = 1.0
        else:
            amount, text = read
    if not amount > 0 or not text:
        return None
    cut = _HEAD_END.search(text)
    head, rest = (text[: cut.start()], text[cut.start() :]) if cut else (text, "")
    size, head_left = size_of(head.strip())
    unit, left = _unit_of(head_left.strip(), description, bare=bool(size))
    if not size:
        size, left = size_of(left)
    qualifier = ", ".join(part for part in (_tidy(left), _tidy(rest)) if part)
    if not size:
        size = size_of(qualifier)[0] or size_of(_tidy(rest))[0]
    if not size and unit == "piece":  # "Potato large" of "Potatoes, flesh and skin, raw"
        size = size_of(" ".join(_unnamed(left, description)))[0]
    if unit in ("piece", "unit") and _FROM_A_POUND.search(text):
        unit = "lb_raw"
    elif unit == "piece" and _PART_OF.match(qualifier):
        unit = "slice"
    return MeasureText(amount, unit, qualifier, size)


def _named(description: str) -> set[str]:
    """Words of a food's name, singular."""
    return {singular(word) for word in _words(description)}


def _unnamed(head: str, description: str) -> list[str]:
    """Words of a measure that are none of the food's name."""
    named = _named(description)
    return [word for word in head.split() if singular(word.lower()) not in named]


def _unit_of(head: str, description: str, *, bare: bool) -> tuple[str, str]:
    """Unit of the words before the first comma, and those of them that are not the unit."""
    known = unit_words()
    tokens = head.split()
    for length in (2, 1):
        words = " ".join(tokens[:length]).lower().rstrip(".")
        if len(tokens) >= length and words in known:
            return known[words], " ".join(tokens[length:])
    if not tokens:
        return ("piece" if bare else ""), ""
    named = _named(description)
    if bare or any(singular(word) in named for word in _words(head)):
        return "piece", head
    last_is_unit = len(tokens) > 1 and tokens[-1].lower() in known
    if last_is_unit and not tokens[-2][0].isdigit():  # "sugar cube", but not "hotcakes 5.3 oz"
        return known[tokens[-1].lower()], " ".join(tokens[:-1])
    return head.lower(), ""


def inner_volume(measure: MeasureText) -> MeasureText | None:
    """The volume a serving or packet is said to hold: "1 serving, 1/2 cup" is half a cup.

    None unless the whole measure is a ``portion`` of one and names exactly one volume.
    """
    if measure.unit != "portion" or measure.amount != 1:
        return None
    found = list(_INNER.finditer(measure.qualifier))
    if len(found) != 1 or re.search(r"about|prepared|approx|dry|plus", measure.qualifier, re.I):
        return None
    number = _number(found[0].group(1))
    if number is None or not number[0] > 0:
        return None
    return MeasureText(number[0], unit_words()[found[0].group(2).lower()], "", "")
