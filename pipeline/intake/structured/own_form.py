"""Steelyard's own form of a recipe, in YAML or JSON, as ``shared/recipe.schema.json`` describes it.

Reading is lenient, so that one wrong value never loses a recipe.
"""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

from pipeline.intake.amounts import read_amount
from pipeline.intake.by_content import flat
from pipeline.intake.columns import (
    NutrientColumn,
    basis_above,
    basis_of,
    columns_among,
    field_of,
    fields_of,
    is_not_judged,
    nutrient_column,
    plain,
)
from pipeline.intake.entries import Entries, FindLine, clean
from pipeline.intake.model import Basis, RawRecipe, cut
from pipeline.intake.numbers import Roles
from pipeline.intake.pages.schema_org import (
    add_stated,
    apply_serving_size,
    identifier,
    method_of,
    names,
    peek,
    read_nutrition_text,
    set_yield,
    set_yield_weight,
    text_of,
    title_of,
)
from pipeline.intake.servings import read_serving_size
from pipeline.intake.stated_line import own_basis, read_stated_line
from pipeline.intake.structured.entry_parts import OTHER_NUMBERS, foods_among, ingredient_entries
from pipeline.intake.structured.yaml_tree import is_null
from pipeline.nutrients import NET_CARBS_TAG
from pipeline.problems import Problem, input_problem
from pipeline.resources import shared_path


@cache
def _schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of one recipe of our form."""
    found: dict[str, Any] = json.loads(shared_path("recipe.schema.json").read_text("utf-8"))
    return found


@cache
def _known() -> frozenset[str]:
    """Keys that are read."""
    read = (key for key, field in fields_of("key").items() if field not in ("unread", "method"))
    return frozenset(_schema()["properties"]) | frozenset(read)


@dataclass(frozen=True, slots=True)
class _Key:
    """What the key of a recipe's object means.

    Attributes:
        name: in the form of ``plain``.
        target: the key of our form that it stands for.
        basis: what numbers under it are for.
        per_one: an object under it holds the numbers of one piece ("per fritter").
        tag: nutrient that a number directly under it would be of; "" for none.
        known: whether it is a key that is read.
    """

    name: str
    target: str
    basis: Basis | None
    per_one: bool
    tag: str
    known: bool

    def holds_stated(self, value: Any) -> bool:
        one = self.per_one and (
            isinstance(value, Mapping)
            or (isinstance(value, str) and read_stated_line(value).certain)
        )
        return self.target == "stated" or one


@lru_cache(maxsize=4096)
def _key(key: str) -> _Key:
    name = plain(key)
    known = name in _known()
    column = None if known else nutrient_column(key)
    return _Key(
        name, field_of(name, "key") or name, basis_above(name), name.startswith("per_"),
        column.tag if column else "", known,
    )  # fmt: skip


def holds_stated(key: str, value: Any) -> bool:
    """Whether stated numbers are under a key: "macros", "nutrition per slice", "per fritter"."""
    return _key(key).holds_stated(value)


def meaning_of(key: str) -> str:
    """The key of our form that a key stands for; "" for one that is not read."""
    found = _key(key)
    return found.target if found.known or found.tag or found.target != found.name else ""


def is_known(key: str) -> bool:
    """Whether a key is one of our form, or stands for one."""
    return _key(key).known or _key(key).target != _key(key).name


#: Values of one object beside its lists and objects; no recipe of people has as many.
_MOST_VALUES = 500


def is_overfull(node: Mapping[str, Any]) -> bool:
    """Whether an object holds more values of its own than any recipe does."""
    if len(node) <= _MOST_VALUES:
        return False
    return sum(not isinstance(v, (Mapping, list)) for v in node.values()) > _MOST_VALUES


def looks_own(node: Mapping[str, Any]) -> bool:
    """True for a mapping with ingredients, or with a title and stated numbers, by its keys."""
    if is_overfull(node):
        return False
    keys = {_key(str(k)).target for k in node}
    listed = [v for k, v in node.items() if _key(str(k)).target == "ingredients"]
    if any(not isinstance(v, str) or _PARTS.search(v) for v in listed):
        return True
    close = difflib.get_close_matches("ingredients", [k for k in keys if len(k) < 20], 1, 0.8)
    return "title" in keys and (bool(close) or bool(keys & {"stated", "servings"}))


#: What parts the ingredients of a text; a text without is one of them: {"ingredient": "oats"}.
_PARTS = re.compile(r"[\n;|,]")


@dataclass(slots=True)
class Place:
    """Where stated numbers stand in a tree, under a key that may be any.

    Attributes:
        holder, key: the value is ``holder[key]``.
        basis: what the key says they are for.
        read: what is read in its place: itself, its text, or those of its keys that state numbers.
        names: of the numbers of a bare list, in its order.
    """

    holder: Any
    key: Any
    basis: Basis | None
    read: Any
    names: tuple[str, ...] = ()


class Own(dict[str, Any]):
    """A recipe of our form that was made of values under any keys.

    Attributes:
        origin: the part of the tree that it was made of.
        stated: places of its stated numbers.
        problems: notes of what was told by content.
        rest: what no reader takes for a fact: whether it stands near the list, its key, itself.
        guessed: the key of its title, where no name says so; "" where one does.
        keyed: its title is a key above its list.
        lists: of ingredients that it was made of.
    """

    def __init__(self, origin: Any) -> None:
        super().__init__()
        self.origin = origin
        self.line: int | None = getattr(origin, "line", None)
        self.stated: list[Place] = []
        self.problems: list[Problem] = []
        self.rest: list[tuple[bool, str, Any]] = []
        self.guessed = ""
        self.keyed = False
        self.lists = 0

    def give(self, field: str, value: Any, *, sure: bool = False) -> None:
        """Set a field that has no value yet; ``sure``: also one that has."""
        if sure or field not in self:
            self[field] = value


def stated_in(node: Mapping[str, Any]) -> list[Place]:
    """The places of a recipe's stated numbers."""
    if isinstance(node, Own):
        return node.stated
    return [
        Place(node, key, _key(str(key)).basis, value)
        for key, value in node.items() if _key(str(key)).holds_stated(value)
    ]  # fmt: skip


def read_own(
    node: Mapping[str, Any],
    *,
    format: str,
    position: int,
    find_line: FindLine | None = None,
) -> RawRecipe:
    """One recipe of our form; total: what is wrong is a problem, what is right is kept."""
    given: dict[str, Any] = {}
    stated = stated_in(node)
    own_numbers = flat_numbers(node)
    recipe = RawRecipe("", format, position)
    recipe.source_line = getattr(node, "line", None)
    method: Any = None
    for written, value in node.items():
        key = _key(str(written))
        if key.target == "method" and is_null(method):
            method = value
        if key.holds_stated(value):
            continue
        if key.target not in given or key.name == key.target:
            given[key.target] = value
        if key.target == key.name and not key.known and written not in own_numbers:
            recipe.problems += unknown_key(str(written))
            if difflib.get_close_matches(key.name, ["ingredients"], 1, 0.8):
                given.setdefault("ingredients", value)
    recipe.problems += getattr(node, "problems", [])
    recipe.title = title_of(_scalar(given.get("title")))
    if find_line is not None and recipe.title:
        recipe.source_line = peek(find_line)(str(given.get("title"))) or recipe.source_line
    recipe.own_id = identifier(_scalar(given.get("id")))
    recipe.creator = names(_scalar(given.get("creator")))
    recipe.description = clean(text_of(_scalar(given.get("description"))))
    value = given.get("servings")
    if not is_null(value):
        set_yield(recipe, value, getattr(value, "line", None))
    if not is_null(given.get("yield_g")):
        set_yield_weight(recipe, given["yield_g"], getattr(given["yield_g"], "line", None))
    recipe.method = "" if is_null(method) else method_of(method)
    entries = Entries(find_line)
    entries.add(ingredient_entries(given.get("ingredients")))
    recipe.lines = entries.lines
    recipe.problems.extend(entries.problems)
    for place in stated:
        _read_stated(recipe, place.read, place.basis)
        recipe.basis_said = recipe.basis_said and not _of_vessel(place)
    beside = lacking(own_numbers, recipe)
    if beside:
        _read_stated(recipe, beside, next((one.basis for one in recipe.stated), None))
    _check_texts(recipe, given)
    return recipe


def flat_numbers(node: Mapping[str, Any]) -> dict[str, Any]:
    """Numbers that stand among a recipe's own keys: ``calories: 320``, ``protein: 21 g``.

    Empty unless energy or a macronutrient is among them; what they are for (``basis``, ``per``)
    comes with them. They are read where nothing stands under ``stated`` or one of its other names.
    """
    tags = _tags_of(tuple(map(str, node)))
    flat = {
        key: value for key, value in node.items()
        if tags.get(str(key)) and not isinstance(value, (Mapping, list))
    }  # fmt: skip
    if not _MACROS.isdisjoint(tags[str(key)] for key in flat):
        foods = foods_among(node)
        flat = {key: value for key, value in flat.items() if key not in foods}
    if not flat or _MACROS.isdisjoint(tags[str(key)] for key in flat):
        return {}
    return flat | {k: v for k, v in node.items() if _key(str(k)).name in ("basis", "per")}


@lru_cache(maxsize=4096)
def _tags_of(keys: tuple[str, ...]) -> dict[str, str]:
    """The nutrient that each of some keys holds, of those that mean nothing else."""
    columns = columns_among(keys) if len(keys) <= _MOST_VALUES else {}
    return {key: c.tag for key, c in columns.items() if c is not None and not _key(key).known}


def told_numbers(value: Any, depth: int = 0) -> Any:
    """A value in the form that stated numbers are read in, whatever lists and objects hold them: a
    text, an object by nutrient or by what they are for, or a list of these; None for anything else.

    >>> told_numbers({"item": [["kcal", 320], ["fat", "9 g"]]}), told_numbers([{"kcal": 320}, {"fat": 9}])
    ({'item': {'kcal': '320', 'fat': '9 g'}}, {'kcal': 320, 'fat': 9})
    >>> told_numbers({"what": ["kcal", "fat"], "n": [320, 9]}), told_numbers({"kcal": "quick"})
    ({'kcal': 320, 'fat': 9}, None)
    """
    if depth > _MAX_NESTED or is_null(value):
        return None
    if isinstance(value, str):
        return value if read_stated_line(value).certain else None
    if isinstance(value, Mapping):
        return _told_object(value, depth)
    if not isinstance(value, list) or not value:
        return None
    if all(isinstance(one, str) for one in value):
        return value if read_stated_line(", ".join(value)).certain else None
    if named := _named_entries(value):
        return named
    if all(isinstance(one, Mapping) for one in value):
        if len(value) > 1 and all(len(one) == 1 for one in value):
            whole = {key: v for one in value for key, v in one.items()}
            return told_numbers(whole, depth + 1) if len(whole) == len(value) else None
        told = [told_numbers(one, depth + 1) for one in value]
        return told if None not in told else None
    return None


#: Objects and lists around numbers.
_MAX_NESTED = 4


def _told_object(value: Mapping[Any, Any], depth: int) -> Any:
    value = _with_inner(value)
    tags = _tags_of(tuple(map(str, value)))
    macros = {k: v for k, v in value.items() if tags.get(str(k)) in _MACROS}
    if any(_may_state(*one) for one in macros.items()) and not _lists_foods(value, macros):
        return value
    lists = [v for v in value.values() if isinstance(v, list)]
    if len(lists) == len(value) > 1 and len(set(map(len, lists))) == 1:
        named = _named_entries([list(row) for row in zip(*lists, strict=True)])
        return named or None
    inner = {
        key: told for key, v in value.items()
        if isinstance(v, (Mapping, list)) or _key(str(key)).basis
        if (told := told_numbers(v, depth + 1)) is not None
    }  # fmt: skip
    held = sum(isinstance(v, (Mapping, list)) for v in value.values())
    beside = [
        str(k) for k, v in value.items() if not isinstance(v, (Mapping, list)) and k not in inner
    ]
    if not inner or len(inner) < held or not all(map(_beside_numbers, beside)):
        return None
    return {key: inner.get(key, v) for key, v in value.items()}


def _with_inner(value: Mapping[Any, Any]) -> Mapping[Any, Any]:
    """An object of which one key holds the macros, as one object where these tell what is beside them:
    {"kca": 320, "mac": {"pro": 12, "car": 40, "fat": 9}}."""
    held = [k for k, v in value.items() if isinstance(v, Mapping) and _key(str(k)).basis is None]
    if len(held) != 1:
        return value
    whole = {k: v for k, v in value.items() if k not in held} | dict(value[held[0]])
    tags = _tags_of(tuple(map(str, whole)))
    told = [k for k in value if k not in held and tags.get(str(k)) in _MACROS]
    return whole if any(nutrient_column(str(k)) is None for k in told) else value


def _beside_numbers(key: str) -> bool:
    """Whether a key among numbers is of them: a nutrient, or what they are for."""
    known = plain(key) in ("serving_size", *_FOR_WHAT)
    return known or bool(_key(key).tag) or _key(key).basis is not None or is_not_judged(plain(key))


def _may_state(key: Any, amount: Any) -> bool:
    """Whether a value under the name of a nutrient may be its amount."""
    if isinstance(amount, Mapping):
        return bool(_amount_text(amount, nutrient_column(str(key)) or _ANY))
    return not isinstance(amount, (list, bool)) and any(map(str.isdigit, str(amount)))


#: A nutrient that the names beside it tell.
_ANY = NutrientColumn("PROCNT", "", False, None)


def _lists_foods(value: Mapping[Any, Any], macros: Mapping[Any, Any]) -> bool:
    """Whether what would be numbers are foods among others: {"sugar": "5 g", "oats": "80 g"}."""
    foods = foods_among(value).keys() - macros.keys()
    return len(foods) >= max(1, len(macros))


def lacking(numbers: Mapping[str, Any], recipe: RawRecipe) -> Mapping[str, Any]:
    """Numbers among a recipe's own keys that nothing else states: its energy beside an object of
    macros; all or none of those that say what they are for themselves."""
    known = {one.nutrient for one in recipe.stated}
    tags = _tags_of(tuple(map(str, numbers)))
    if not known:
        return numbers
    return {} if known & set(tags.values()) else numbers


def _of_vessel(place: Place) -> bool:
    """Whether numbers stand under what holds the dish, or a part of it: "pot", "loaf"."""
    if place.basis is not None or isinstance(place.read, str):
        return False
    return _is_vessel(str(place.key))


def _is_vessel(text: str) -> bool:
    return Roles(plain(text)).search("^ [container whole] $") is not None


#: Keys among stated numbers that say what they are for.
_FOR_WHAT = ("basis", "per", "for")
_MACROS = frozenset(("ENERC_KCAL", "PROCNT", "CHOCDF", NET_CARBS_TAG, "FAT"))


def _scalar(value: Any) -> Any:
    return None if is_null(value) else value


def _read_stated(recipe: RawRecipe, value: Any, basis: Basis | None, depth: int = 0) -> None:
    """Stated numbers in any shape: a free line, an object, objects by basis, or a list of these."""
    if is_null(value) or depth > _MAX_NESTED:
        return
    told = told_numbers(value) if depth == 0 else None
    value = value if told is None else told
    if isinstance(value, str):
        before = len(recipe.stated)
        read_nutrition_text(recipe, str(value), getattr(value, "line", None))
        for one in recipe.stated[before:]:
            one.basis = basis or one.basis
    elif isinstance(value, list):
        for one in value:
            _read_stated(recipe, one, basis, depth + 1)
    elif isinstance(value, Mapping):
        _read_numbers(recipe, value, _basis_of_object(recipe, value, basis), depth)


def _named_entries(value: Sequence[Any]) -> dict[str, Any]:
    """Amounts by their nutrients where each entry of a list says both, {} for any other list.

    >>> _named_entries([{"name": "calories", "value": 400}, ["protein", 35, "g"]])
    {'calories': '400', 'protein': '35 g'}
    """
    rows = [_parts_of_entry(entry) for entry in value]
    if not all(len(row) > 1 for row in rows):
        return {}
    texts = [one for row in rows for one in row if isinstance(one, str) and one[:1].isalpha()]
    columns = columns_among(tuple(dict.fromkeys(texts)))
    found: dict[str, Any] = {}
    for row in rows:
        named = [part for part in row if isinstance(part, str) and columns.get(part)]
        if not named:
            return {}
        amount = sorted((part for part in row if part is not named[0]), key=_follows_number)
        found[named[0]] = " ".join(map(str, amount))
    return found


def _parts_of_entry(entry: Any) -> list[Any]:
    """The single values of an entry of a list; [] for one that holds more."""
    while isinstance(entry, Mapping) and len(entry) == 1:
        entry = next(iter(entry.values()))
    parts = _amounts_first(entry) if isinstance(entry, Mapping) else entry
    if not isinstance(parts, (list, tuple)) or any(isinstance(p, (Mapping, list)) for p in parts):
        return []
    return [part for part in parts if not is_null(part)]


def _follows_number(part: Any) -> bool:
    return not any(map(str.isdigit, str(part)))


def _amounts_first(entry: Mapping[Any, Any]) -> list[Any]:
    """The values of an entry and of the objects in it, of its numbers the one that is its amount."""
    flat = [(k, v) for k, v in entry.items() if not isinstance(v, Mapping)]
    flat += [one for v in entry.values() if isinstance(v, Mapping) for one in v.items()]
    told = [(k, v) for k, v in flat if not OTHER_NUMBERS.search(plain(str(k)))]
    numbers = [k for k, v in told if not _follows_number(v)]
    named = [k for k in numbers if field_of(plain(str(k)), "entry") == "amount"]
    first = [*named, *numbers][:1]
    return [v for k, v in told if k in first or k not in numbers]


def _basis_of_object(
    recipe: RawRecipe, value: Mapping[str, Any], basis: Basis | None
) -> Basis | None:
    """What the numbers of an object are for, by its own keys."""
    by_key = {plain(k): v for k, v in value.items()}
    written = next((by_key[key] for key in _FOR_WHAT if key in by_key), None)
    if isinstance(written, str) and not is_null(written):
        known = basis_of(written) or basis_of(f"per {written}")
        if basis_of(written) is None and _is_vessel(written):
            recipe.basis_said = False
        if known is None and "for" not in by_key:
            recipe.problems.append(
                input_problem(
                    "basis-unknown", source_line=getattr(written, "line", None),
                    written=cut(written, 40),
                )
            )  # fmt: skip
        basis = known or basis
    elif basis is None:
        basis = next(filter(None, map(_said_basis, value.items())), None)
    size = by_key.get("serving_size")
    if isinstance(size, (str, int, float)) and not is_null(size):
        sized = apply_serving_size(recipe, read_serving_size(size), str(size))
        basis = basis or sized
    return basis


def _said_basis(entry: tuple[Any, Any]) -> Basis | None:
    """What a text among stated numbers says that they are for: "the entire loaf, uncut"."""
    key, value = entry
    if not isinstance(value, str) or nutrient_column(str(key)):
        return None
    return read_stated_line(f"{value}: 1 kcal").basis


def _amount_text(value: Mapping[str, Any], column: NutrientColumn | None) -> str:
    """An amount that stands beside its unit, {"value": 659, "unit": "kJ"}; "" for other objects."""
    inner = [nutrient_column(str(key)) for key in value]
    others = any(c is not None and (column is None or c.tag != column.tag or c.unit) for c in inner)
    numbers = sum(any(map(str.isdigit, str(one))) for one in value.values())
    if others or numbers != 1 or any(basis_of(str(key)) for key in value) or column is None:
        return ""
    text = "" if any(isinstance(v, (Mapping, list)) for v in value.values()) else flat(value)
    return text if text and not isinstance(read_amount(text, column.tag), str) else ""


@lru_cache(maxsize=4096)
def _number_columns(keys: tuple[str, ...]) -> tuple[dict[str, NutrientColumn | None], bool]:
    """What each key of an object of numbers holds, and whether one holds energy in kcal.

    Keys that say what the numbers are for are left out.
    """
    columns = {
        key: column
        for key, column in columns_among(keys).items() if plain(key) not in (*_FOR_WHAT, "serving_size")
    }  # fmt: skip
    named = (nutrient_column(plain(key)) for key in keys)
    in_kcal = any(c is not None and c.tag == "ENERC_KCAL" and c.unit != "kj" for c in named)
    return columns, in_kcal


def _read_numbers(
    recipe: RawRecipe, value: Mapping[str, Any], basis: Basis | None, depth: int
) -> None:
    columns, in_kcal = _number_columns(tuple(map(str, value)))
    for key, column in columns.items():
        amount = value[key]
        if is_null(amount):
            continue
        if isinstance(amount, Mapping) and (text := _amount_text(amount, column)):
            amount = text
        elif isinstance(amount, (Mapping, list)):
            _read_stated(recipe, amount, basis_above(key) or basis, depth + 1)
            continue
        line = getattr(amount, "line", None)
        if column is None:
            if isinstance(amount, str) and basis_of(key):  # per serving: 320 kcal, P 12 g
                _read_stated(recipe, amount, basis_of(key), depth + 1)
            elif not isinstance(amount, list) and _said_basis((key, amount)) is None:
                recipe.problems += unknown_key(key, nutrients=True, line=line)
            continue
        if column.unit == "kj" and in_kcal:
            continue
        read = read_amount(amount, column.tag, unit=column.unit, salt=column.salt)
        for_what = own_basis(amount) or column.basis or basis or "per_serving"
        add_stated(recipe, column.tag, read, for_what, str(amount), key, line)


def unknown_key(key: str, *, nutrients: bool = False, line: int | None = None) -> list[Problem]:
    """What to say of a key that is not known: the one it may have been meant for, or that a number
    under it was not read; nothing of any other."""
    known = list(_schema()["$defs"]["OwnStated"]["properties"]) if nutrients else sorted(_known())
    close = difflib.get_close_matches(plain(key), known, 1, 0.8)
    if close:
        why = "it was not read" if close[0] != "ingredients" else 'it was read as "ingredients"'
        return [
            input_problem(
                "unknown-key", source_line=line, key=cut(key, 40), why=why, close=close[0]
            )
        ]
    if nutrients and not is_not_judged(plain(key)):
        return [input_problem("unknown-key/stated", source_line=line, key=cut(key, 40))]
    return []


def _check_texts(recipe: RawRecipe, given: Mapping[str, Any]) -> None:
    """Say where a value that should be text is none; of all else the readers say it."""
    for key in ("title", "description"):
        value = given.get(key)
        missing = key == "title" and not recipe.title  # reported by the collection
        told = key == "title" and isinstance(value, (Mapping, list))  # {"rendered": "Soup"}
        if not isinstance(value, str) and not is_null(value) and not (missing or told):
            recipe.problems.append(
                input_problem("form-invalid", key=key, written=cut(str(value), 40))
            )
