"""Put other numbers into a text that states some, and leave every other character as it is."""

from __future__ import annotations

import re
from collections.abc import Mapping

from pipeline.intake.amounts import KJ_PER_KCAL, SALT_PER_SODIUM, amount_spans
from pipeline.intake.facts_line import find_facts, is_count
from pipeline.intake.numbers import is_kj
from pipeline.intake.stated_line import all_found
from pipeline.nutrients import BY_TAG, NET_CARBS_TAG

#: Words for a nutrient that a text did not state yet.
_NAMED = ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT", "FIBTG", "SUGAR", "FASAT", "NA", "ALC")
LABELS = {
    **{tag: BY_TAG[tag].label for tag in _NAMED}, "FASAT": "saturates", NET_CARBS_TAG: "net carbs",
}  # fmt: skip


def shown(value: float, unit: str = "", *, comma: bool = False) -> str:
    """A number as it is published: at most two decimals, no trailing zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".") if unit != "kj" else f"{value:.0f}"
    return text.replace(".", ",") if comma else text


def unit_of(tag: str) -> str:
    """Unit that amounts under ``tag`` are in."""
    return "g" if tag == NET_CARBS_TAG else BY_TAG[tag].unit


def written_value(value: float, tag: str, unit: str, *, salt: bool = False) -> float:
    """``value`` of ``tag`` in the unit a text writes it in ("" is the tag's own)."""
    if tag == "ENERC_KCAL":
        return value * KJ_PER_KCAL if is_kj(unit) else value
    if salt:
        value *= SALT_PER_SODIUM
    own, unit = unit_of(tag), unit.lower()
    wanted = "mg" if unit.startswith("m") else "g" if unit or salt else own
    if (own, wanted) == ("mg", "g"):
        return value / 1000
    return value * 1000 if (own, wanted) == ("g", "mg") else value


def _instead(old: str, value: float, tag: str, unit: str, salt: bool) -> str:
    """The text of another number in the unit and with the decimal mark of an old one."""
    comma = re.search(r"\d,\d{1,2}(?!\d)", old) is not None
    number = written_value(value, tag, unit, salt=salt)
    return shown(number, "kj" if is_kj(unit) else "", comma=comma)


def restate_amount(text: str, tag: str, value: float, *, salt: bool = False) -> str:
    """Text of one amount ("412 kcal", "1,724 kJ") with ``value`` instead, units and words kept."""
    spans = amount_spans(text, tag)
    if not spans:
        return with_unit(value, tag)
    out, at = [], 0
    for start, end, unit in spans:
        out += [text[at:start], _instead(text[start:end], value, tag, unit, salt)]
        at = end
    return "".join([*out, text[at:]])


def with_unit(value: float, tag: str) -> str:
    """A number with the unit of its tag: "412 kcal"."""
    return f"{shown(value)} {unit_of(tag)}"


def restate_line(line: str, values: Mapping[str, float]) -> tuple[str, set[str]]:
    """A free-form stated line with other numbers; also the tags it stated.

    The energy of the whole beside that of one part stays as many times the part as it was.
    """
    done: set[str] = set()
    new: list[tuple[int, int, str]] = []
    for found in all_found(line):
        if found.tag not in values:
            continue
        start, end = found.number_span
        text = _instead(line[start:end], values[found.tag], found.tag, found.unit, found.salt)
        new.append((start, end, text))
        done.add(found.tag)
    facts = find_facts(line)
    if facts.total and "ENERC_KCAL" in values:
        start, end = facts.total
        times = round(facts.parts) if is_count(facts.parts) else facts.parts
        new.append((start, end, f"{values['ENERC_KCAL'] * times:.0f}"))
    out, at = [], 0
    for start, end, text in sorted(new):
        lead = re.sub(r"(?:<|less\s+than)\s*$", "", line[at:start], flags=re.IGNORECASE)
        out += [lead, text]
        at = end
    return "".join([*out, line[at:]]), done


def stated_sentence(values: Mapping[str, float], basis: str = "per_serving") -> str:
    """A stated line from scratch: "Per serving: 412 kcal, protein 32 g, ..."."""
    lead = {"per_serving": "Per serving", "per_recipe": "Whole recipe", "per_100g": "Per 100 g"}
    return f"{lead[basis]}: {listed(values)}"


def listed(values: Mapping[str, float]) -> str:
    """Amounts as a list: "412 kcal, protein 32 g"."""
    return ", ".join(
        with_unit(v, tag) if tag == "ENERC_KCAL" else f"{LABELS[tag]} {with_unit(v, tag)}"
        for tag, v in values.items()
        if tag in LABELS
    )
