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

from pipeline.intake.numbers import Number, Quantity, Roles, is_kj, quantities, read_number
from pipeline.nutrients import BY_TAG, NET_CARBS_TAG

KJ_PER_KCAL = 4.184
SALT_PER_SODIUM = 2.5

_TRACE = re.compile(r"^\W*(?:trace|traces|negligible|tr\.?)\W*$", re.IGNORECASE)
#: A number by itself, which can be read in one way only.
_BARE = re.compile(r"[0-9]{1,9}(?:\.[0-9]{1,9})?")
_LEADING_DIGITS = 6  # decimals beyond which a float carries no rounding of its own


@dataclass(frozen=True, slots=True)
class Amount:
    """An amount of one nutrient, in the unit of its tag, as written in ``text``."""

    amount: float
    step: float
    text: str


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
        return 1 / KJ_PER_KCAL if is_kj(unit) else 1.0
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
    if _BARE.fullmatch(text):  # most cells of a table: nothing to be told apart
        number = in_tag_unit(read_number(text, unit), unit, tag, salt=salt)
        return Amount(number.value, number.step, text)
    if len(text) > 400:
        return "the text is too long for an amount"
    if "∞" in text:
        return "the number is not finite"
    if _TRACE.match(text):  # shown on labels for less than half a gram
        number = in_tag_unit(Number(0.25, 0.5), "g" if tag != "ENERC_KCAL" else "", tag, salt=salt)
        return Amount(number.value, number.step, text)
    best = _best(text, tag)
    if isinstance(best, str):
        return best
    if best.negative:
        return "the number is negative"
    written = best.unit or unit
    number = best.number(written)
    if not math.isfinite(number.value):
        return "the number is not finite"
    number = in_tag_unit(number, written, tag, salt=salt)
    return Amount(number.value, number.step, text)


def _best(text: str, tag: str) -> Quantity | str:
    """The number in ``text`` that speaks of ``tag``: kcal before kJ before a bare number."""
    found = quantities(Roles(text))
    fits = [q for q in found if q.kind in (("energy", "") if tag == "ENERC_KCAL" else ("mass", ""))]
    if fits:
        return min(fits, key=lambda q: (not q.kind, is_kj(q.unit)))
    percent = any(q.kind == "percent" for q in found)
    return "a percentage is not an amount" if percent else "there is no number with a fitting unit"


def amount_spans(text: str, tag: str) -> list[tuple[int, int, str]]:
    """Start, end and unit of each number in ``text`` that speaks of ``tag``, less-than signs in.

    Energies may stand in kcal and in kJ; of anything else there is one amount.
    """
    best = _best(text, tag)
    if isinstance(best, str):
        return []
    several = tag == "ENERC_KCAL" and best.unit
    chosen = [q for q in quantities(Roles(text)) if q.kind == "energy"] if several else [best]
    return [(q.less_at if q.less else q.start, q.end, q.unit) for q in chosen]
