"""Ingredients of a tree whose keys are in no table: lists in lists, and entries in parts.

What a key holds follows from its values over all entries of the list: numbers are amounts, words that
the line reader takes for a unit are units, the longest texts are the foods.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

from pipeline.intake.by_content import are_lines
from pipeline.intake.columns import entry_keys, field_of, nutrient_column, plain
from pipeline.intake.entries import render
from pipeline.intake.patterns import pattern
from pipeline.intake.text.inline_list import list_in_line

#: Share of the values of a key that must be of one sort.
_MOST = 0.8
#: The same of units that the line reader knows; those of other languages stand beside them, and
#: sizes and weights of one: "ea (400 g)".
_KNOWN_UNITS = 0.5
_LONGEST_UNIT = 14
_MAX_DEPTH = 4
_PAIR = ("food", "amount")
#: A day: three numbers that one mark joins. No amount is written so.
_DAY = re.compile(r"\s*\d+([-/.])\d+\1\d+\b")
#: Parts of an entry that is a list, fewer than: food, amount, unit, notes.
_MOST_PARTS = 6
#: Marks that set the parts of an entry apart, and no text of one line has otherwise.
_APART = ("~", "|", ";", "^", "¦", "\t", "::", "//", " / ", "#", "*", ">", "=")


def ingredient_entries(value: Any, depth: int = 0) -> Any:
    """Ingredients in the form that ``Entries.add`` reads; what is read as it stands stays as it is.

    Lists within lists, or under keys of an object, become groups under their headings; entries in
    parts get the names of these parts.

    >>> ingredient_entries([{"qty": 4, "u": "tbsp", "what": "oil"}, {"qty": 3, "u": None, "what": "eggs"}])
    [{'amount': 4, 'unit': 'tbsp', 'name': 'oil'}, {'amount': 3, 'unit': None, 'name': 'eggs'}]
    >>> ingredient_entries({"batter": ["2 eggs"], "filling": ["150 g ham"]})
    [{'heading': 'batter', 'ingredients': ['2 eggs']}, {'heading': 'filling', 'ingredients': ['150 g ham']}]
    """
    if depth > _MAX_DEPTH:
        return value
    if isinstance(value, Mapping):
        lists = [isinstance(one, list) for one in value.values()]
        if len(lists) > 1 and all(lists):
            return _groups(value, depth)
        if lists == [True]:
            ((key, listed),) = value.items()
            entries = ingredient_entries(listed, depth + 1)
            tags = all(isinstance(one, Mapping) and key in one for one in listed)
            return entries if tags else [{"heading": str(key), "ingredients": entries}]
        known = {key for field in ("ingredient", "text", "group") for key in entry_keys(field)}
        named = any(str(key).lower() in known for key in value)
        if not named and len(value) > 1 and all(isinstance(v, Mapping) for v in value.values()):
            return named_parts([{"name": key, **one} for key, one in value.items()])
        return [_pair(*one) for one in value.items()] if not named and _are_pairs(value) else value
    if isinstance(value, str):
        return list_in_line(value) or value
    if not isinstance(value, list) or not value:
        return value
    if all(isinstance(one, (list, tuple)) and len(one) == len(_PAIR) for one in value):
        texts = all(isinstance(one[0], str) for one in value)
        for pairs in ([(a, b) for a, b in value], [(b, a) for a, b in value]) if texts else ():
            if all(isinstance(food, str) for food, _ in pairs) and _are_pairs(dict(pairs)):
                return [_pair(*one) for one in pairs]
        return value
    if all(isinstance(one, (list, tuple)) and 1 < len(one) < _MOST_PARTS for one in value):
        entries = named_parts([{str(no): part for no, part in enumerate(one)} for one in value])
        return entries if "name" in entries[0] else value
    if all(isinstance(one, str) for one in value):
        return _parted(value)
    if not all(isinstance(one, Mapping) for one in value):
        return value
    if all(len(one) == 1 and not isinstance(next(iter(one.values())), list) for one in value):
        return value  # YAML: "- tofu: 300 g"
    if all(_list_key(one) for one in value):
        return [_group(one, depth) for one in value]
    return named_parts(value)


def _parted(texts: list[str]) -> Sequence[Any]:
    """Texts whose parts one mark sets apart in all of them, as entries: "800 g~beef mince~raw".

    As they are where a part by itself is a line of the list ("1 cup | 240 ml milk").
    """
    for mark in _APART if len(texts) > 1 else ():
        if all(0 < text.count(mark) < _MOST_PARTS - 1 for text in texts):
            parts = [list(map(str.strip, text.split(mark))) for text in texts]
            entries = named_parts([{str(no): one for no, one in enumerate(p)} for p in parts])
            foods = [str(one.get("name", "")) for one in entries]
            if all(foods) and "amount" in entries[0] and not are_lines(foods):
                return entries
    return texts


def foods_among(node: Mapping[str, Any]) -> dict[str, Any]:
    """Keys of a recipe's object that are foods, their amounts as values; {} where hardly any is.

    >>> foods_among({"for": 4, "barley": "250 g", "feta": "120 g", "kcal": 390})
    {'barley': '250 g', 'feta': '120 g'}
    """
    from pipeline.intake.text.features import known_food  # here: few objects are asked

    foods = {
        key: value for key, value in node.items()
        if isinstance(value, (str, int, float)) and not isinstance(value, bool)
        and known_food(str(key)) and field_of(plain(str(key)), "key") is None
    }  # fmt: skip
    macros = sum(nutrient_column(str(key)) is not None for key in foods)
    sure = len(foods) - macros
    return foods if sure > 1 and sure > macros and _are_pairs(foods) else {}


def _are_pairs(value: Mapping[Any, Any]) -> bool:
    """Whether foods stand beside their amounts: {"red lentils": "200 g", "onion": 1}."""
    amounts = [v for v in value.values() if v not in (None, "")]
    return (
        len(amounts) > 1
        and all(isinstance(k, str) for k in value)
        and not any(isinstance(v, (list, Mapping, bool)) for v in amounts)
        and _mostly(amounts, lambda v: _is_amount(v) or str(v).strip()[:1].isnumeric())
    )


def _pair(food: Any, amount: Any) -> str:
    """A food and its amount as a line.

    >>> _pair("red lentils", "200 g"), _pair("salt", None)
    ('200 g red lentils', 'salt')
    """
    return f"{amount} {food}" if amount not in (None, "") else str(food)


def leaves(value: Any, depth: int = 0) -> list[Any]:
    """Texts and entries of an ingredient list, whatever lists and objects hold them."""
    if isinstance(value, Mapping):
        inner = value.get("ingredients") if "heading" in value else None
        return [value] if inner is None else leaves(inner, depth + 1)
    if isinstance(value, list) and depth <= _MAX_DEPTH:
        return [leaf for one in value for leaf in leaves(one, depth + 1)]
    return [value]


def _groups(value: Mapping[str, Any], depth: int) -> list[dict[str, Any]]:
    return [
        {"heading": str(key), "ingredients": ingredient_entries(one, depth + 1)}
        for key, one in value.items()
    ]


def _list_key(entry: Mapping[str, Any]) -> str | None:
    """The one key of an object that holds a list, beside texts; None for any other object."""
    found = [key for key, value in entry.items() if isinstance(value, list)]
    plain = all(isinstance(v, (str, list)) or v is None for v in entry.values())
    return found[0] if len(found) == 1 and plain else None


def _group(entry: Mapping[str, Any], depth: int) -> dict[str, Any]:
    at = _list_key(entry)
    assert at is not None
    alone = len(entry) == 1 and str(at).lower() not in entry_keys("group")  # "For the sauce": [...]
    texts = (v for v in entry.values() if isinstance(v, str) and v.strip())
    heading = str(at) if alone else next(texts, "")
    return {"heading": heading, "ingredients": ingredient_entries(entry[at], depth + 1)}


def named_parts(
    entries: Sequence[Mapping[str, Any]], known: Mapping[str, str] = MappingProxyType({})
) -> Sequence[Mapping[str, Any]]:
    """Entries with the names of their parts, unless these are known or there is nothing to tell.

    ``known``: parts of keys that something else tells, see ``parts_of``.
    """
    lowered = [{str(k).lower(): v for k, v in one.items()} for one in entries]
    texts = entry_keys("text")
    readable = sum(bool(render(one)) or any(one.get(k) for k in texts) for one in lowered)
    if readable > len(entries) / 2:
        return _with_units(entries, lowered)
    parts = parts_of([{str(k): v for k, v in one.items()} for one in entries], known)
    if "name" not in parts.values():
        return entries
    named = []
    for one in entries:
        made = copy.copy(one) if isinstance(one, dict) else {}
        made.clear()
        told = {str(k): v for k, v in one.items() if str(k) in parts}
        sized = {k for k, v in told.items() if any(map(str.isdigit, str(v)))}  # "ea (400 g)"
        beside = {k for k in sized if parts[k] == "unit" and not _is_unit(told[k])}
        notes = [str(v) for k, v in told.items() if v and (parts[k] == "note" or k in beside)]
        made.update(
            {parts[k]: v for k, v in told.items() if parts[k] != "note" and k not in beside}
        )
        if notes:
            made["note"] = ", ".join(notes)
        named.append(made)
    return named


def _with_units(
    entries: Sequence[Mapping[str, Any]], lowered: Sequence[Mapping[str, Any]]
) -> Sequence[Mapping[str, Any]]:
    """Entries of known keys with the units, and the amounts, that stand under keys in no table."""
    held: dict[str, list[Any]] = {}
    for one in lowered:
        for key, value in one.items():
            if value not in (None, ""):
                held.setdefault(key, []).append(value)
    there = {
        part for part in ("amount", "unit", "text") if not held.keys().isdisjoint(entry_keys(part))
    }
    unknown = [key for key in held if field_of(plain(key), "entry") is None]
    units = [key for key in unknown if are_units(held[key])]
    if "text" in there or "unit" in there or len(units) != 1:
        return entries
    told = {units[0]: "unit"}
    numbers = [key for key in unknown if _mostly(held[key], _is_amount)]
    if "amount" not in there and len(numbers) == 1:
        told[numbers[0]] = "amount"
    if "amount" not in {*there, *told.values()}:
        return entries
    return [_renamed(one, told) for one in entries]


def _renamed(entry: Mapping[str, Any], names: Mapping[str, str]) -> Mapping[str, Any]:
    """An entry whose keys have the names of their parts, at its place in the file."""
    made = copy.copy(entry) if isinstance(entry, dict) else {}
    made.clear()
    made.update({names.get(str(key).lower(), str(key)): value for key, value in entry.items()})
    return made


def parts_of(
    entries: Sequence[Mapping[str, Any]], known: Mapping[str, str] = MappingProxyType({})
) -> dict[str, str]:
    """Key to the part of an ingredient that it holds.

    ``known``: parts of keys that something else tells, as the header of a table does.
    """
    from pipeline.intake.text.features import known_food  # here: few files have such entries

    keys = list(dict.fromkeys(key for one in entries for key in one))
    values = {key: [one[key] for one in entries if one.get(key) not in (None, "")] for key in keys}
    parts = {key: part for key, part in known.items() if key in keys}
    texts: dict[str, float] = {}
    for key in (key for key in keys if key not in parts):
        held = values[key]
        if not held or any(isinstance(v, (list, Mapping, bool)) for v in held):
            continue
        if "amount" not in parts.values() and _mostly(held, _is_amount):
            parts[key] = "amount"
        elif "unit" not in parts.values() and are_units(held):
            parts[key] = "unit"
        elif _mostly(held, lambda v: isinstance(v, str) and any(c.isalpha() for c in v)):
            foods = sum(map(known_food, held)) / len(held)
            different = len(set(held)) / len(entries)
            texts[key] = sum(map(len, held)) / len(held) + 100 * (different + foods)
    if texts and "name" in parts.values():
        parts |= dict.fromkeys(texts, "note")
    elif texts:
        food = max(texts, key=texts.__getitem__)
        parts |= {key: "name" if key == food else "note" for key in texts}
    return parts


def are_units(values: Sequence[Any]) -> bool:
    """Whether half of some short texts are units, the others may be those of another language."""
    short = all(isinstance(v, str) and len(v) <= _LONGEST_UNIT for v in values)
    return short and sum(map(_is_unit, values)) >= _KNOWN_UNITS * len(values)


def _mostly(values: Sequence[Any], holds: Any) -> bool:
    return sum(map(bool, map(holds, values))) >= _MOST * len(values)


def _is_amount(value: Any) -> bool:
    """Whether a value is a number, or an amount with its unit."""
    if not isinstance(value, str):
        return isinstance(value, (int, float))
    if _DAY.match(value):
        return False
    alone = bool(pattern("amount_alone").match(value.strip()))
    return alone or (any(map(str.isnumeric, value)) and _measures(value))


def _is_unit(value: Any) -> bool:
    """Whether the line reader takes a text for a unit or a size."""
    return isinstance(value, str) and not any(map(str.isdigit, value)) and _measures(f"2 {value}")


def _measures(text: str) -> bool:
    """Whether the line reader takes a short text for an amount with a unit or a size."""
    from pipeline.lines import parse  # here: few files are asked for what they hold

    line = parse(f"{text} flour") if len(text) <= _LONGEST_UNIT else parse("")
    return line.name == "flour" and any(m.unit != "piece" or m.size for m in line.measures)
