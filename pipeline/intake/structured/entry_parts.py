"""Ingredients of a tree whose keys are in no table: lists in lists, and entries in parts.

What a key holds follows from its values over all entries of the list: numbers are amounts, words that
the line reader takes for a unit are units, the longest texts are the foods.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.intake.columns import entry_keys, field_of, nutrient_column, plain
from pipeline.intake.entries import render
from pipeline.intake.patterns import pattern

#: Share of the values of a key that must be of one sort.
_MOST = 0.8
_LONGEST_UNIT = 14
_MAX_DEPTH = 4
_PAIR = ("food", "amount")
#: Parts of an entry that is a list, fewer than: food, amount, unit, notes.
_MOST_PARTS = 6


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
        known = {key for field in ("ingredient", "text", "group") for key in entry_keys(field)}
        named = any(str(key).lower() in known for key in value)
        return [_pair(*one) for one in value.items()] if not named and _are_pairs(value) else value
    if not isinstance(value, list) or not value:
        return value
    if all(isinstance(one, (list, tuple)) and len(one) == len(_PAIR) for one in value):
        pairs = dict(value) if all(isinstance(one[0], str) for one in value) else {}
        return [_pair(*one) for one in value] if pairs and _are_pairs(pairs) else value
    if all(isinstance(one, (list, tuple)) and 1 < len(one) < _MOST_PARTS for one in value):
        entries = _named([{str(no): part for no, part in enumerate(one)} for one in value])
        return entries if "name" in entries[0] else value
    if not all(isinstance(one, Mapping) for one in value):
        return value
    if all(len(one) == 1 and not isinstance(next(iter(one.values())), list) for one in value):
        return value  # YAML: "- tofu: 300 g"
    if all(_list_key(one) for one in value):
        return [_group(one, depth) for one in value]
    return _named(value)


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


def _named(entries: Sequence[Mapping[str, Any]]) -> Sequence[Mapping[str, Any]]:
    """Entries with the names of their parts, unless these are known or there is nothing to tell."""
    lowered = [{str(k).lower(): v for k, v in one.items()} for one in entries]
    texts = entry_keys("text")
    readable = sum(bool(render(one)) or any(one.get(k) for k in texts) for one in lowered)
    if readable > len(entries) / 2:
        return entries
    parts = _parts([{str(k): v for k, v in one.items()} for one in entries])
    if "name" not in parts.values():
        return entries
    named = []
    for one in entries:
        made = copy.copy(one) if isinstance(one, dict) else {}
        made.clear()
        notes = [str(v) for k, v in one.items() if parts.get(str(k)) == "note" and v]
        made.update(
            {parts[str(k)]: v for k, v in one.items() if parts.get(str(k), "note") != "note"}
        )
        if notes:
            made["note"] = ", ".join(notes)
        named.append(made)
    return named


def _parts(entries: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """Key to the part of an ingredient that it holds."""
    keys = list(dict.fromkeys(key for one in entries for key in one))
    values = {key: [one[key] for one in entries if one.get(key) not in (None, "")] for key in keys}
    parts: dict[str, str] = {}
    texts: dict[str, float] = {}
    for key in keys:
        held = values[key]
        if not held or any(isinstance(v, (list, Mapping, bool)) for v in held):
            continue
        if "amount" not in parts.values() and _mostly(held, _is_amount):
            parts[key] = "amount"
        elif "unit" not in parts.values() and _mostly(held, _is_unit):
            parts[key] = "unit"
        elif _mostly(held, lambda v: isinstance(v, str)):
            texts[key] = sum(map(len, held)) / len(held) + 100 * len(held) / len(entries)
    if texts:
        food = max(texts, key=texts.__getitem__)
        parts |= {key: "name" if key == food else "note" for key in texts}
    return parts


def _mostly(values: Sequence[Any], holds: Any) -> bool:
    return sum(map(bool, map(holds, values))) >= _MOST * len(values)


def _is_amount(value: Any) -> bool:
    if isinstance(value, str):
        return bool(pattern("amount_alone").match(value.strip()))
    return isinstance(value, (int, float))


def _is_unit(value: Any) -> bool:
    """Whether the line reader takes a text for a unit or a size."""
    from pipeline.lines import parse  # here: few files are asked for what they hold

    if not isinstance(value, str) or len(value) > _LONGEST_UNIT or any(c.isdigit() for c in value):
        return False
    line = parse(f"2 {value} flour")
    return line.name == "flour" and any(m.unit != "piece" or m.size for m in line.measures)
