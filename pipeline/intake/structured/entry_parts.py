"""Ingredients of a tree: lists in lists, and entries in parts, whatever their keys.

What a key holds follows from its values over all entries of the list, and from its name where that
is known: numbers are amounts, or weights where they are those of the amounts; words that the line
reader takes for a unit are units; the texts that name most foods are the foods.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from itertools import chain, pairwise
from statistics import median
from types import MappingProxyType
from typing import Any

from pipeline.intake.by_content import are_lines
from pipeline.intake.columns import column_among, entry_keys, field_of, nutrient_column, plain
from pipeline.intake.patterns import pattern
from pipeline.intake.text.inline_list import list_in_line

#: Share of the values of a key that must be of one sort.
_MOST = 0.8
#: The same of units that the line reader knows; those of other languages stand beside them, and
#: sizes and weights of one: "ea (400 g)".
_KNOWN_UNITS = 0.5
_LONGEST_UNIT = 14
_MAX_DEPTH = 4
#: A day: three numbers that one mark joins. No amount is written so.
_DAY = re.compile(r"\s*\d+([-/.])\d+\1\d+\b")
#: Parts of an entry that is a list, fewer than: food, amount, unit, notes.
_MOST_PARTS = 6
#: Marks that set the parts of an entry apart, and no text of one line has otherwise.
_APART = ("~", "|", ";", "^", "¦", "\t", "::", "//", " / ", "#", "*", ">", "=")
#: Values from which on equal ones say that a key holds no part of its entries.
_LEAST_ALIKE = 3
#: Numbers without a unit are grams where half of them are larger.
GRAMS_FROM = 15.0
#: Names of numbers that are none of an ingredient.
OTHER_NUMBERS = re.compile(r"(?:^|_)(?:id|pk|index|idx|sku|step|order|position|rank|line)$|^n[or]$")
_COSTS = re.compile(r"[$£€¥]|price|cost", re.IGNORECASE)
#: Most of a unit that a line of a recipe takes, and least: what tells an amount from other numbers.
_USUAL = {"mass": (5.0, 3000.0), "volume": (0.1, 12.0), "": (0.1, 40.0)}


def ingredient_entries(value: Any, depth: int = 0) -> Any:
    """Ingredients in the form that ``Entries.add`` reads; what is read as it stands stays as it is.

    Lists within lists, or under keys of an object, become groups under their headings; entries in
    parts get the names of these parts.

    >>> ingredient_entries([{"qty": 4, "u": "tbsp", "what": "oil"}, {"qty": 3, "u": None, "what": "eggs"}])
    [{'amount': 4, 'unit': 'tbsp', 'name': 'oil'}, {'amount': 3, 'unit': None, 'name': 'eggs'}]
    >>> ingredient_entries({"batter": ["2 eggs"], "filling": ["150 g ham"]})
    [{'heading': 'batter', 'ingredients': ['2 eggs']}, {'heading': 'filling', 'ingredients': ['150 g ham']}]
    >>> ingredient_entries({"what": ["oil", "eggs"], "much": [4, 3], "u": ["tbsp", ""]})
    [{'name': 'oil', 'amount': 4, 'unit': 'tbsp'}, {'name': 'eggs', 'amount': 3, 'unit': ''}]
    """
    if depth > _MAX_DEPTH:
        return value
    if isinstance(value, str):
        return _split(value)
    if isinstance(value, Mapping):
        return _of_object(value, depth)
    if not isinstance(value, list) or not value:
        return value
    if all(isinstance(one, (list, tuple)) for one in value):
        return _of_rows(value)
    if all(isinstance(one, str) for one in value):
        return _parted(value)
    if not all(isinstance(one, Mapping) for one in value):
        return value
    if all(len(one) == 1 and _scalar(next(iter(one.values()))) for one in value):
        return value  # YAML: "- tofu: 300 g"
    if len(value) > 1 and len({tuple(one) for one in value}) == 1 == len(value[0]):
        return ingredient_entries([inner for one in value for inner in one.values()], depth + 1)
    if all(_list_key(one) is not None for one in value):
        return [_group(one, depth) for one in value]
    return named_parts(value)


def _split(text: str) -> Any:
    """The lines of a text that holds several, by its line breaks or by the marks between them."""
    if "\n" in text.strip():
        return text.strip().split("\n")
    parts = [part.strip() for part in text.split(";")]
    return parts if len(parts) > 1 and are_lines(parts) else list_in_line(text) or text


def _of_object(value: Mapping[Any, Any], depth: int) -> Any:
    """Ingredients under the keys of an object: foods, groups, or columns of one list."""
    inner = sum(isinstance(v, Mapping) for v in value.values())
    if 0 < inner < len(value) and (flat := _flat(value)) and are_pairs(flat):
        value = flat  # {"rice": {"amount": 300, "unit": "g"}, "oil": "2 tbsp"}
    held = list(value.values())
    if len(held) == 1 and isinstance(held[0], (list, Mapping)):
        (key, inner), *_ = value.items()
        entries = ingredient_entries(inner, depth + 1)
        if isinstance(inner, Mapping) or _wraps(key, inner):
            return entries
        return [{"heading": str(key), "ingredients": entries}]
    if len(held) > 1 and all(isinstance(one, list) for one in held):
        return _of_columns(value) or _groups(value, depth)
    known = {key for field in ("ingredient", "text", "group") for key in entry_keys(field)}
    named = any(str(key).lower() in known for key in value)
    if not named and len(value) > 1 and all(isinstance(v, Mapping) for v in held):
        if not any(_flat(one) is None or _list_key(one) or foods_among(one) for one in held):
            return named_parts([{"name": key, **one} for key, one in value.items()])
        return [
            _group(one, depth) if _list_key(one) is not None
            else {"heading": str(key), "ingredients": ingredient_entries(one, depth + 1)}
            for key, one in value.items()
        ]  # fmt: skip
    if named or not are_pairs(value):
        return value
    grams = _are_grams([one for one in held if one not in (None, "")])
    return [
        _pair(food, f"{amount} g" if grams and amount else amount) for food, amount in value.items()
    ]


def _wraps(key: Any, listed: Any) -> bool:
    """Whether the one key of an object only holds its list, as a tag or a word of lists does."""
    tags = all(isinstance(one, Mapping) and key in one for one in listed)
    return tags or str(key).lower() in (*entry_keys("group"), *entry_keys("ingredient"))


def _of_columns(value: Mapping[Any, Any]) -> Sequence[Any]:
    """Entries of lists of one length that hold their foods, their amounts, their units; () for none."""
    lengths = set(map(len, value.values()))
    if len(lengths) != 1 or lengths == {0} or not all(map(_scalar, chain(*value.values()))):
        return ()
    rows = [dict(zip(value, row, strict=True)) for row in zip(*value.values(), strict=True)]
    told = set(parts_of(rows).values())
    return named_parts(rows) if "name" in told and len(told) > 1 else ()


def _of_rows(value: Sequence[Sequence[Any]]) -> Sequence[Any]:
    """Entries that are lists of their parts, below a list of the names of these or not."""
    width = max(map(len, value))
    if not 1 < width < _MOST_PARTS or not all(_scalar(p) for one in value for p in one):
        return value
    head, *rest = value
    names = [plain(part) for part in head if isinstance(part, str)]
    if len(rest) > 1 and len(set(names)) == width and not any(map(_is_amount, head)):
        named = sum(field_of(name, "entry") is not None for name in names)
        if named or parts_of(_numbered(rest)).keys() != parts_of(_numbered(value)).keys():
            entries = named_parts([dict(zip(names, one, strict=False)) for one in rest])
            return entries if "name" in entries[0] else value
    entries = named_parts(_numbered(value))
    return entries if "name" in entries[0] else value


def _numbered(rows: Sequence[Sequence[Any]]) -> list[dict[str, Any]]:
    return [{str(no): part for no, part in enumerate(one)} for one in rows]


def _scalar(value: Any) -> bool:
    return not isinstance(value, (list, Mapping, tuple))


def _parted(texts: list[str]) -> Sequence[Any]:
    """Texts whose parts one mark sets apart in all of them, as entries: "800 g~beef mince~raw".

    As they are where a part by itself is a line of the list ("1 cup | 240 ml milk").
    """
    for mark in _APART if len(texts) > 1 else ():
        if mark in texts[0] and all(0 < text.count(mark) < _MOST_PARTS - 1 for text in texts):
            entries = named_parts(_numbered([list(map(str.strip, t.split(mark))) for t in texts]))
            foods = [str(one.get("name", "")) for one in entries]
            if all(foods) and "amount" in entries[0] and not are_lines(foods):
                return entries
    return texts


def foods_among(node: Mapping[str, Any]) -> dict[str, Any]:
    """Keys of a recipe's object that are foods, their amounts as values; {} where hardly any is.

    >>> foods_among({"for": 4, "barley": "250 g", "feta": "120 g", "kcal": 390})
    {'barley': '250 g', 'feta': '120 g'}
    """
    foods = {
        key: value for key, value in node.items()
        if isinstance(value, (str, int, float)) and not isinstance(value, bool)
        and _is_food(str(key))
    }  # fmt: skip
    macros = sum(nutrient_column(str(key)) is not None for key in foods)
    sure = len(foods) - macros
    return foods if sure > 1 and sure > macros and are_pairs(foods) else {}


@lru_cache(maxsize=4096)
def _is_food(key: str) -> bool:
    """Whether a key is a food, and no name of a field."""
    from pipeline.intake.text.features import known_food  # here: few objects are asked

    return known_food(key) and field_of(plain(key), "key") is None


def are_pairs(value: Mapping[Any, Any]) -> bool:
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


def _list_key(entry: Mapping[str, Any]) -> Any:
    """The one key of an object that holds a list, a text of several lines or an object of foods, beside
    texts; None for any other object."""
    found = [key for key, value in entry.items() if _is_listed(value)]
    plain = all(isinstance(v, str) or v is None for k, v in entry.items() if k not in found)
    return found[0] if len(found) == 1 and plain else None


def _is_listed(value: Any) -> bool:
    if isinstance(value, Mapping):
        inside = _flat({0: value}) is None
        return inside or (len(value) > 1 and are_pairs(value) and _holds_foods(value))
    if isinstance(value, str):
        return len(parts := _split(value)) > 1 and not isinstance(parts, str) and are_lines(parts)
    return isinstance(value, list)


def _holds_foods(value: Mapping[Any, Any]) -> bool:
    from pipeline.intake.text.features import known_food  # here: few objects are asked

    return any(known_food(str(key)) for key in value)


def _group(entry: Mapping[str, Any], depth: int) -> dict[str, Any]:
    at = _list_key(entry)
    alone = len(entry) == 1 and str(at).lower() not in entry_keys("group")  # "For the sauce": [...]
    texts = (v for v in entry.values() if isinstance(v, str) and v.strip())
    heading = str(at) if alone else next(texts, "")
    listed = entry[at]
    while isinstance(listed, Mapping) and len(listed) == 1:
        listed = next(iter(listed.values()))
    entries = ingredient_entries(listed, depth + 1)
    return {"heading": heading, "ingredients": entries if isinstance(entries, list) else [entries]}


def _flat(entry: Mapping[Any, Any]) -> Any:
    """An entry whose parts are single values: {"value": 2, "unit": "cups"} becomes "2 cups", and
    {"id": 7, "name": "rice"} "rice". None where a part is a list, or holds more."""
    made: dict[Any, Any] = {}
    for key, value in entry.items():
        if isinstance(value, Mapping):
            value = _told(value)
            if value is None:
                return None
        elif not _scalar(value):
            return None
        made[key] = value
    return made


def _told(value: Mapping[Any, Any]) -> Any:
    """What an object of single values says: its number and the first of its texts; None for more."""
    held = {k: v for k, v in value.items() if v not in (None, "") and not isinstance(v, bool)}
    if not all(map(_scalar, held.values())):
        return None
    if len(held) > 1:
        held = {k: v for k, v in held.items() if not OTHER_NUMBERS.search(plain(k))}
    numbers = [v for v in held.values() if _is_number(v)]
    texts = [v for v in held.values() if not _is_number(v)]
    if len(numbers) > 1:
        return None
    told = [*numbers, *texts[:1]]
    return told[0] if len(told) == 1 else " ".join(map(str, told))


def named_parts(
    entries: Sequence[Mapping[str, Any]], known: Mapping[str, str] = MappingProxyType({})
) -> Sequence[Mapping[str, Any]]:
    """Entries with the names of their parts, unless these are known or there is nothing to tell.

    ``known``: parts of keys that something else tells, see ``parts_of``.
    """
    if not known and _are_named(entries):
        return entries
    flat = [_flat(one) for one in entries]
    if any(one is None for one in flat):
        return entries
    flat = [{str(k): v for k, v in one.items()} for one in flat]
    parts = parts_of(flat, known)
    if "name" not in parts.values():
        return entries
    named = []
    for one, told in zip(entries, flat, strict=True):
        made = copy.copy(one) if isinstance(one, dict) else {}
        made.clear()
        made.update(_entry_of(told, parts))
        named.append(made)
    return named


def _are_named(entries: Sequence[Mapping[str, Any]]) -> bool:
    """Whether the names of keys say all that entries hold: no amount or unit is under another."""
    keys = {str(key).lower(): value for one in entries for key, value in one.items()}
    told = {field_of(plain(key), "entry") for key in keys}
    whole = [v for k, v in keys.items() if field_of(plain(k), "entry") == "text"]
    if whole and (len(keys) == 1 or are_lines([str(v) for v in whole])):
        return True
    if any(isinstance(v, Mapping) for one in entries for v in one.values()):
        return False
    measured = {"amount", "unit"} <= told or ("grams" in told and None not in told)
    return "ingredient" in told and measured


def _entry_of(told: Mapping[str, Any], parts: Mapping[str, str]) -> dict[str, Any]:
    """One entry under the names of its parts."""
    made: dict[str, Any] = {}
    notes: list[str] = []
    for key, value in told.items():
        part = parts.get(key)
        if part is None:
            continue
        sized = any(map(str.isdigit, str(value)))  # "ea (400 g)"
        if part == "note" or (part == "unit" and sized and not _is_unit(value)):
            notes += [str(value)] if value not in (None, "") else []
        elif part.startswith("in "):
            if value not in (None, ""):
                made["amount"], made["unit"] = value, part.removeprefix("in ").strip() or None
        else:
            made[part] = value
    if notes:
        made["note"] = ", ".join(notes)
    return made


def parts_of(
    entries: Sequence[Mapping[str, Any]], known: Mapping[str, str] = MappingProxyType({})
) -> dict[str, str]:
    """Key to the part of an ingredient that it holds: name, amount, unit, grams, note, text, or
    "in UNIT" for a key that holds the amounts of one unit. Keys of other things are left out.

    ``known``: parts of keys that something else tells, as the header of a table does.
    """
    keys = list(dict.fromkeys(key for one in entries for key in one))
    return _Columns({key: [one.get(key) for one in entries] for key in keys}, known).parts()


class _Columns:
    """The values of each key of some entries, blank ones None."""

    def __init__(self, columns: Mapping[str, Sequence[Any]], known: Mapping[str, str]) -> None:
        self._all = {
            key: [None if isinstance(v, str) and not v.strip() else v for v in values]
            for key, values in columns.items()
            if all(_scalar(v) and not isinstance(v, bool) for v in values) and any(
                v not in (None, "") for v in values
            )
        }  # fmt: skip
        self._known = {key: part for key, part in known.items() if key in self._all}
        self._names = {key: _part_named(key) for key in self._all}

    def parts(self) -> dict[str, str]:
        """See ``parts_of``."""
        told = dict(self._known)
        numbers = [k for k in self._all if k not in told and self._are_numbers(k)]
        single = self._of_units(numbers) if not {"amount", "unit"} & {*told.values()} else {}
        if unit := self._unit(told, numbers):
            told[unit] = "unit"
        elif single:
            told |= single
        texts = [k for k in self._all if k not in told and k not in numbers and self._are_texts(k)]
        lines = [k for k in texts if self._are_lines(k)]
        foods = [k for k in texts if k not in lines]
        if "name" not in told.values() and foods:
            told[max(foods, key=self._food_worth)] = "name"
        if not any(part.startswith("in ") for part in told.values()):
            told |= self._amounts(numbers, told)
        measured = {"amount", "grams"} & {*told.values()} or single
        if lines and (not measured or "name" not in told.values()):
            told = {k: p for k, p in told.items() if p not in ("name", "unit", "amount")}
            told[lines[0]] = "name"
        unknown = None if all(self._names.get(k) is None for k in told) else "note"
        sized = [k for k in numbers if k not in told and not any(map(_is_number, self._held(k)))]
        return told | {
            key: "note"
            for key in (*texts, *sized)
            if key not in told
            and key not in lines
            and self._names[key] in (unknown, "note")
            and (self._names[key] or self._distinct(key))
        }

    def _held(self, key: str) -> list[Any]:
        return [v for v in self._all[key] if v is not None]

    def _distinct(self, key: str) -> bool:
        """Whether most values of a key are its own: no group, no aisle."""
        held = self._held(key)
        return len(held) < _LEAST_ALIKE or 2 * len(set(held)) > len(held)

    def _are_numbers(self, key: str) -> bool:
        other = OTHER_NUMBERS.search(plain(key)) or _COSTS.search(key)
        nutrient = column_among(key, self._all)
        if other or (nutrient is not None and not _is_unit(key)):
            return False
        named = self._names[key] in ("amount", "grams")
        return _mostly(self._held(key), _is_amount, _KNOWN_UNITS if named else _MOST)

    def _are_texts(self, key: str) -> bool:
        return _mostly(
            self._held(key), lambda v: isinstance(v, str) and any(c.isalpha() for c in v)
        )

    def _are_lines(self, key: str) -> bool:
        held = self._held(key)
        return self._names[key] != "note" and len(held) > 1 and are_lines([str(v) for v in held])

    def _food_worth(self, key: str) -> float:
        from pipeline.intake.text.features import known_food  # here: few files have such entries

        held = self._held(key)
        foods = sum(map(known_food, held)) / len(held)
        different = len(set(held)) / len(next(iter(self._all.values())))
        named = {"ingredient": 2.0, None: 0.0}.get(self._names[key], -0.5)
        return foods + different + named + sum(map(len, held)) / len(held) / 1000

    def _unit(self, told: Mapping[str, str], numbers: Sequence[str]) -> str | None:
        if "unit" in told.values():
            return None
        units = [
            key for key in self._all
            if key not in told and key not in numbers and are_units(self._held(key))
        ]  # fmt: skip
        bare = any(_mostly(self._held(key), _is_number, _KNOWN_UNITS) for key in numbers)
        units = [key for key in units if bare or self._names[key] == "unit"]
        return max(units, key=lambda key: self._names[key] == "unit", default=None)

    def _of_units(self, numbers: Sequence[str]) -> dict[str, str]:
        """Keys that hold the amounts of one unit each, which is their name or behind it."""
        found = {
            key: unit
            for key in numbers
            if (unit := unit_behind(key)) is not None and all(map(_is_number, self._held(key)))
        }
        blank = sum(None in self._all[key] for key in found)
        if not found or (len(found) > 1 and not blank):
            return {}
        if len(found) == 1 and (blank or len(numbers) > 1) and _is_mass(*found.values()):
            return {}  # beside amounts of their own
        return {key: f"in {unit}" for key, unit in found.items()}

    def _amounts(self, numbers: Sequence[str], told: Mapping[str, str]) -> dict[str, str]:
        """The key of amounts, and that of the weights beside them."""
        free = [key for key in numbers if key not in told]
        unit = next((key for key, part in told.items() if part == "unit"), None)
        named = any(self._names.get(key) == "ingredient" for key in told)
        found: dict[str, str] = {}
        grams = [key for key in free if self._names[key] == "grams"]
        if "amount" not in told.values():
            worth = {key: self._amount_worth(key, unit) for key in free if key not in grams}
            best = max(worth, key=worth.__getitem__, default=None)
            if best is not None and self._may_be_amount(best, unit, named):
                found[best] = "amount"
        amount = next((key for key, part in {**told, **found}.items() if part == "amount"), None)
        if not grams and amount is not None and unit is not None:
            grams = [key for key in free if key != amount and self._weighs(key, amount, unit)]
        if grams and "grams" not in told.values():
            found[grams[0]] = "grams"
        elif amount in found and unit is None and self._bare_grams(str(amount)):
            found[str(amount)] = "grams"
        return found

    def _amount_worth(self, key: str, unit: str | None) -> float:
        values = self._all[key]
        units = self._all[unit] if unit else [None] * len(values)
        usual = [_is_usual(v, u) for v, u in zip(values, units, strict=True) if v is not None]
        measured = sum(isinstance(v, str) and any(map(str.isalpha, v)) for v in self._held(key))
        named = 2.0 * (self._names[key] == "amount")
        other = _counts_up(self._held(key)) or _mostly(self._held(key), _is_price)
        return named + sum(usual) / len(usual) + measured / len(usual) - 2.0 * other

    def _may_be_amount(self, key: str, unit: str | None, named: bool) -> bool:
        """Whether numbers beside foods are amounts: by their name, their units, or as none of these is
        known by its name."""
        held = self._held(key)
        if self._names[key] == "amount" or unit is not None or not named:
            return not (self._names[key] is None and unit is None and _counts_up(held))
        varied = len(set(map(str, held))) > 1
        return (varied and _are_grams(held)) or any(not _is_number(v) for v in held)

    def _bare_grams(self, key: str) -> bool:
        return self._names[key] != "amount" and _are_grams(self._held(key))

    def _weighs(self, key: str, amount: str, unit: str) -> bool:
        """Whether a key holds the weights of the amounts: the same numbers where the unit is a gram."""
        rows = zip(self._all[key], self._all[amount], self._all[unit], strict=True)
        told = [(_number(w), _number(a)) for w, a, u in rows if u and _is_mass(str(u)) and w and a]
        same = sum(w == a for w, a in told)
        return bool(told) and same >= _MOST * len(told)


@lru_cache(maxsize=4096)
def _part_named(key: str) -> str | None:
    """The part of an ingredient that a key holds by its name; "" for anything else that is known."""
    name = plain(key)
    field = field_of(name, "entry") or field_of(name, "column")
    if field in ("ingredient", "title"):
        return "ingredient"
    return field


@lru_cache(maxsize=4096)
def unit_behind(key: str) -> str | None:
    """The unit that is a key's name, or ends it: "g", "ml", "amount_tsp"; "" for pieces, None for none."""
    words = plain(key).split("_")
    if len(words) > 1 and field_of("_".join(words[:-1]), "entry") not in (
        "amount",
        "grams",
        "unit",
    ):
        return None
    if words[-1] in ("pieces", "piece", "pcs", "each", "count", "whole"):
        return "" if len(words) > 1 or words[-1] != "count" else None
    return words[-1] if _is_unit(words[-1]) else None


def _is_mass(unit: str) -> bool:
    return unit.strip().lower().rstrip(".") in ("g", "gr", "gram", "grams", "gms", "grammes")


def _is_number(value: Any) -> bool:
    if isinstance(value, (int, float)):
        return not isinstance(value, bool)
    return isinstance(value, str) and bool(re.fullmatch(r"\s*[\d½¼¾⅓⅔⅛][\d\s.,/½¼¾⅓⅔⅛]*", value))


def _number(value: Any) -> float:
    try:
        return float(value)
    except (TypeError, ValueError):
        return float("nan")


def _are_grams(values: Sequence[Any]) -> bool:
    """Whether numbers are grams, as no unit says: half of them are more than anybody counts."""
    numbers = [_number(v) for v in values if _is_number(v)]
    numbers = [n for n in numbers if n == n]
    return len(numbers) == len(values) > 0 and median(numbers) >= GRAMS_FROM


def _is_usual(value: Any, unit: Any) -> bool:
    """Whether recipes take as much of a unit."""
    number = _number(value)
    if number != number:
        return isinstance(value, str)
    text = str(unit or "").strip().lower()
    kind = "mass" if text in ("g", "ml") or _is_mass(text) else "volume" if text else ""
    least, most = _USUAL[kind]
    return least <= number <= most


def _is_price(value: Any) -> bool:
    """Whether a number is written as prices are, to the cent."""
    return re.fullmatch(r"\d+\.\d\d", str(value).strip()) is not None


def _counts_up(values: Sequence[Any]) -> bool:
    """Whether numbers are those of their rows: 1, 2, 3."""
    numbers = [_number(v) for v in values]
    return len(numbers) > 2 and all(b - a == 1 for a, b in pairwise(numbers))


def are_units(values: Sequence[Any]) -> bool:
    """Whether half of some short texts are units, the others may be those of another language."""
    short = all(isinstance(v, str) and len(v) <= _LONGEST_UNIT for v in values)
    return short and bool(values) and sum(map(_is_unit, values)) >= _KNOWN_UNITS * len(values)


def _mostly(values: Sequence[Any], holds: Callable[[Any], Any], share: float = _MOST) -> bool:
    return bool(values) and sum(map(bool, map(holds, values))) >= share * len(values)


def _is_amount(value: Any) -> bool:
    """Whether a value is a number, or an amount with its unit."""
    if not isinstance(value, str):
        return isinstance(value, (int, float)) and not isinstance(value, bool)
    return _amount_text(value)


@lru_cache(maxsize=8192)
def _amount_text(value: str) -> bool:
    if _DAY.match(value):
        return False
    if not any(map(str.isnumeric, value)) or value.rstrip().endswith("%"):
        return False
    if pattern("amount_alone").match(value.strip()):
        from pipeline.intake.text.features import known_food  # here: few files are asked

        return not any(map(str.isalpha, value)) or _measures(value) or not known_food(value)
    return _measures(value)


def _is_unit(value: Any) -> bool:
    """Whether the line reader takes a text for a unit or a size."""
    return isinstance(value, str) and not any(map(str.isdigit, value)) and _measures(f"2 {value}")


@lru_cache(maxsize=8192)
def _measures(text: str) -> bool:
    """Whether the line reader takes a short text for an amount with a unit or a size."""
    from pipeline.lines import parse  # here: few files are asked for what they hold

    line = parse(f"{text} flour") if len(text) <= _LONGEST_UNIT else parse("")
    return line.name == "flour" and any(m.unit != "piece" or m.size for m in line.measures)
