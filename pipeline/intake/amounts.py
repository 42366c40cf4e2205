"""Numbers as people write them, and amounts of a nutrient with the rounding they imply.

``1,724 kJ``, ``1.724 kJ``, ``0,5 g``, ``12½ g``, ``<1 g``, ``10-12 g``, ``412``: each gives a
value in the unit of its nutrient and the step it was rounded to. 1 kcal is 4.184 kJ exactly (the
thermochemical calorie, NIST SP 811); salt is sodium times 2.5 (Regulation (EU) 1169/2011, Annex I).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache, lru_cache

from pipeline.nutrients import BY_TAG, NET_CARBS_TAG

KJ_PER_KCAL = 4.184
SALT_PER_SODIUM = 2.5

_FRACTIONS = {
    "½": 1 / 2, "¼": 1 / 4, "¾": 3 / 4, "⅓": 1 / 3, "⅔": 2 / 3, "⅛": 1 / 8, "⅜": 3 / 8,
    "⅝": 5 / 8, "⅞": 7 / 8, "⅕": 1 / 5, "⅖": 2 / 5, "⅗": 3 / 5, "⅘": 4 / 5, "⅙": 1 / 6, "⅚": 5 / 6,
}  # fmt: skip

#: A number with thousands and decimals of either tradition, or a vulgar fraction. It begins where
#: its digits begin and takes all of them (``++``), so that a run of digits is looked through once.
NUMBER = (
    r"(?<![0-9])"
    r"(?:[0-9]{1,3}(?:[\u0020\u00a0\u202f'’][0-9]{3})+(?![0-9])(?:[.,][0-9]++)?"
    r"|[0-9]{1,3}(?:,[0-9]{3}){2,}(?:\.[0-9]++)?|[0-9]{1,3}(?:\.[0-9]{3}){2,}(?:,[0-9]++)?"
    r"|[0-9]{1,3},[0-9]{3}\.[0-9]++|[0-9]{1,3}\.[0-9]{3},[0-9]++"
    r"|[0-9]++[.,][0-9]++|[0-9]++\s?[½¼¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚]|[½¼¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚]|[0-9]++|\.[0-9]++)"
)
_ENERGY_UNIT = r"kcals?|k\.cal|kilo-?calories?|calories?|cals?|kj|kilo-?joules?"
_MASS_UNIT = r"mg|milligram(?:me)?s?|g|gr|gms?|gram(?:me)?s?"
_AMOUNT = re.compile(
    rf"(?P<less><|≤|less\s+than|under|up\s+to|fewer\s+than)?\s*(?<![\w.,])(?P<sign>[-−])?"
    rf"(?P<low>{NUMBER})(?:\s*(?:-|–|—|to)\s*(?P<high>{NUMBER}))?"
    rf"\s*(?P<unit>{_ENERGY_UNIT}|{_MASS_UNIT}|%)?(?![a-zµ])",
    re.IGNORECASE,
)
_TRACE = re.compile(r"^\W*(?:trace|traces|negligible|tr\.?)\W*$", re.IGNORECASE)
_LEADING_DIGITS = 6  # decimals beyond which a float carries no rounding of its own


@dataclass(frozen=True, slots=True)
class Number:
    """A value and the step of its last written digit."""

    value: float
    step: float


@dataclass(frozen=True, slots=True)
class Amount:
    """An amount of one nutrient, in the unit of its tag, as written in ``text``."""

    amount: float
    step: float
    text: str


def read_number(token: str, unit: str = "") -> Number:
    """Value of one ``NUMBER`` token.

    A comma before exactly three digits parts thousands, except in grams, where three decimals are
    likelier than a kilogram of a nutrient, and after a zero. A dot before exactly three digits is
    a decimal point except in an energy below 10, where ``1.724 kJ`` can only mean 1724.
    """
    token = token.strip()
    if token and token[-1] in _FRACTIONS:
        whole = token[:-1].strip()
        return Number((float(whole) if whole else 0.0) + _FRACTIONS[token[-1]], 0.01)
    token = re.sub(r"[\s\u00a0\u202f'’]", "", token)
    commas, dots = token.count(","), token.count(".")
    if commas and dots:
        thousands = "," if token.rfind(".") > token.rfind(",") else "."
        token = token.replace(thousands, "").replace(",", ".")
    elif commas > 1 or dots > 1:
        token = token.replace(",", "").replace(".", "")
    elif commas or dots:
        whole, _, decimals = token.replace(",", ".").partition(".")
        grouped = len(decimals) == 3 and whole.strip("0") != "" and len(whole) <= 3
        energy = unit.lower().startswith(("k", "cal"))
        if grouped and ((commas and not _is_grams(unit)) or (dots and energy and len(whole) == 1)):
            token = whole + decimals
        else:
            token = f"{whole}.{decimals}"
    whole, _, decimals = token.partition(".")
    return Number(float(token), 10.0 ** -len(decimals))


def _is_grams(unit: str) -> bool:
    return unit.lower().startswith("g")


class Written(float):
    """A float that remembers how it stood in the file: ``12.50`` was rounded to 0.01."""

    written: str

    def __new__(cls, text: str) -> Written:
        made = super().__new__(cls, text)
        made.written = text
        return made


def plain_number(value: float) -> Number:
    """A number that came typed (JSON, Parquet): its writing implies the step."""
    if isinstance(value, int):
        return Number(float(value), 1.0)
    written = value.written if isinstance(value, Written) else repr(float(value))
    written = written.lower()
    if "e" in written or written.endswith(".0"):
        return Number(float(value), 1.0)
    decimals = len(written.partition(".")[2])
    return Number(float(value), 10.0 ** -min(decimals, _LEADING_DIGITS))


def in_tag_unit(number: Number, unit: str, tag: str, *, salt: bool = False) -> Number:
    """``number`` of ``unit`` (``""``: the tag's own) in the unit of ``tag``."""
    factor = _factor(unit.lower(), tag, salt)
    return number if factor == 1 else Number(number.value * factor, number.step * factor)


@cache
def _factor(unit: str, tag: str, salt: bool) -> float:
    """How many units of ``tag`` one ``unit`` is."""
    if tag == "ENERC_KCAL":
        return 1 / KJ_PER_KCAL if unit.startswith(("kj", "kilo-j", "kiloj")) else 1.0
    wanted = "g" if tag == NET_CARBS_TAG else BY_TAG[tag].unit
    written = "mg" if unit.startswith("m") else "g" if unit else ("g" if salt else wanted)
    factor = {("mg", "g"): 1 / 1000, ("g", "mg"): 1000.0}.get((written, wanted), 1.0)
    return factor / SALT_PER_SODIUM if salt else factor


def read_amount(value: object, tag: str, *, unit: str = "", salt: bool = False) -> Amount | str:
    """The amount of nutrient ``tag`` that ``value`` says, or in words why it says none.

    Args:
        value: text (``"412 kcal"``) or a number.
        tag: INFOODS tagname; decides the unit of the result and what a bare number means.
        unit: unit of a bare number when it is known from elsewhere (a column header).
        salt: the value is grams of salt and the tag is sodium.
    """
    if isinstance(value, bool) or value is None:
        return "there is no number"
    if isinstance(value, (int, float)):
        try:
            found = float(value)
        except OverflowError:
            return "the number is not finite"
        if not math.isfinite(found):
            return "the number is not finite"
        if found < 0:
            return "the number is negative"
        number = in_tag_unit(plain_number(value), unit, tag, salt=salt)
        return Amount(number.value, number.step, f"{value}")
    return _amount_in(" ".join(str(value).split()), tag, unit, salt)


@lru_cache(maxsize=4096)
def _amount_in(text: str, tag: str, unit: str, salt: bool) -> Amount | str:
    if len(text) > 400:
        return "the text is too long for an amount"
    if "∞" in text:
        return "the number is not finite"
    if _TRACE.match(text):  # shown on labels for less than half a gram
        number = in_tag_unit(Number(0.25, 0.5), "g" if tag != "ENERC_KCAL" else "", tag, salt=salt)
        return Amount(number.value, number.step, text)
    best = _best_match(text, tag)
    if isinstance(best, str):
        return best
    written = best["unit"] or unit
    number = read_number(best["low"], written)
    if best["sign"]:
        return "the number is negative"
    if best["high"]:
        high = read_number(best["high"], written)
        if high.value > number.value:
            width = high.value - number.value
            number = Number((number.value + high.value) / 2, width + number.step)
    elif best["less"]:
        number = Number(number.value / 2, max(number.value, number.step))
    if not math.isfinite(number.value):
        return "the number is not finite"
    number = in_tag_unit(number, written, tag, salt=salt)
    return Amount(number.value, number.step, text)


def _best_match(text: str, tag: str) -> re.Match[str] | str:
    """The number in ``text`` that speaks of ``tag``: kcal before kJ before a bare number."""
    ranked: list[tuple[int, int, re.Match[str]]] = []
    percent = False
    for match in _AMOUNT.finditer(text):
        unit = (match["unit"] or "").lower()
        if unit == "%":
            percent = True
            continue
        energy = unit.startswith(("k", "c"))
        if tag == "ENERC_KCAL":
            if unit and not energy:
                continue
            rank = 2 if not unit else 1 if unit.startswith(("kj", "kilo-j", "kiloj")) else 0
        else:
            if energy:
                continue
            rank = 0 if unit else 1
        ranked.append((rank, match.start(), match))
    if ranked:
        return min(ranked, key=lambda found: found[:2])[2]
    return "a percentage is not an amount" if percent else "there is no number with a fitting unit"


def amount_spans(text: str, tag: str) -> list[tuple[int, int, str]]:
    """Start, end and unit of each number in ``text`` that speaks of ``tag``, less-than signs in.

    Energies may stand in kcal and in kJ; of anything else there is one amount.
    """
    best = _best_match(text, tag)
    if isinstance(best, str):
        return []
    chosen = [best]
    if tag == "ENERC_KCAL" and best["unit"]:
        chosen = [m for m in _AMOUNT.finditer(text) if m["unit"] and m["unit"][:1] in "kKcC"]
    return [
        (
            m.start("less") if m["less"] else m.start("low"),
            m.end("high") if m["high"] else m.end("low"),
            m["unit"] or "",
        )
        for m in chosen
    ]
