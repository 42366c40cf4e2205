"""Steelyard's own form of a recipe, in YAML or JSON, as ``shared/recipe.schema.json`` describes it.

Reading is lenient, so that one wrong value never loses a recipe.
"""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

from pipeline.intake.amounts import read_amount
from pipeline.intake.by_content import holds_lines, may_be_title, read_by_content
from pipeline.intake.columns import (
    NutrientColumn,
    basis_of,
    column_among,
    field_of,
    fields_of,
    head_words,
    is_not_judged,
    nutrient_column,
    plain,
)
from pipeline.intake.entries import Entries, FindLine, clean, render
from pipeline.intake.model import Basis, RawRecipe, cut
from pipeline.intake.pages.schema_org import (
    MAX_DEPTH,
    add_stated,
    apply_serving_size,
    identifier,
    is_recipe,
    method_of,
    names,
    objects_in,
    peek,
    read_nutrition_text,
    set_yield,
    set_yield_weight,
    text_of,
    title_of,
)
from pipeline.intake.servings import read_serving_size, read_yield
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.structured.entry_parts import foods_among, ingredient_entries, leaves
from pipeline.intake.structured.yaml_tree import is_null
from pipeline.nutrients import NET_CARBS_TAG
from pipeline.problems import input_problem
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
        name, field_of(name, "key") or name, basis_of(name), name.startswith("per_"),
        column.tag if column else "", known,
    )  # fmt: skip


def holds_stated(key: str, value: Any) -> bool:
    """Whether stated numbers are under a key: "macros", "nutrition per slice", "per fritter"."""
    return _key(key).holds_stated(value)


def meaning_of(key: str) -> str:
    """The key of our form that a key stands for; "" for one that is not read."""
    found = _key(key)
    return found.target if found.known or found.tag or found.target != found.name else ""


def recipes_in(tree: Any) -> tuple[list[dict[str, Any]], bool]:
    """The recipes of a tree and whether they are schema.org's; without any, those of our form.

    They stand in the order of the document, wherever they are; those of our form hold no others.
    """
    found = list(objects_in(tree, is_recipe, MAX_DEPTH, nested=True))
    if found:
        return found, True
    return list(objects_in(tree, looks_own, _MAX_LEVELS, nested=False)), False


#: Levels of lists and objects around a recipe.
_MAX_LEVELS = 8


def looks_own(node: Mapping[str, Any]) -> bool:
    """True for a mapping with ingredients, or with a title and stated numbers."""
    keys = {_key(str(k)).target for k in node}
    if "ingredients" in keys:
        return True
    close = difflib.get_close_matches("ingredients", [k for k in keys if len(k) < 20], 1, 0.8)
    if _foods_of(node):
        return True
    if "title" not in keys and _name_by_content(node) is None:
        return False
    return bool(close) or bool(keys & {"stated", "servings"}) or _list_of_lines(node) is not None


def _foods_of(node: Mapping[str, Any]) -> dict[str, Any]:
    """Foods with their amounts that are keys of a recipe's own object, beside its energy."""
    energy = any(_key(str(key)).tag == "ENERC_KCAL" for key in node)
    return foods_among(node) if energy else {}


def _list_of_lines(node: Mapping[str, Any]) -> str | None:
    """The key of an unknown name under which ingredients with their amounts stand; None for none."""
    return next(
        (
            key for key, value in node.items()
            if isinstance(value, (list, Mapping)) and holds_lines(_texts_of(value))
            and not _key(str(key)).known and _key(str(key)).target == _key(str(key)).name
        ),
        None,
    )  # fmt: skip


def _texts_of(value: Any) -> list[Any]:
    """Texts of what may be a list of ingredients; entries in parts as one text each."""
    return [
        _entry_text(leaf) if isinstance(leaf, Mapping) else leaf
        for leaf in leaves(ingredient_entries(value))
    ]


def _entry_text(entry: Mapping[str, Any]) -> Any:
    if len(entry) == 1:  # YAML: "- tofu: 300 g"
        return " ".join(f"{amount} {food}" for food, amount in entry.items())
    return render({str(k).lower(): v for k, v in entry.items()}) or entry


def _name_by_content(node: Mapping[str, Any]) -> str | None:
    """The first key of an unknown name under which a text stands that may be a title."""
    return next(
        (
            key for key, value in node.items()
            if may_be_title(value) and not (k := _key(str(key))).known and k.target == k.name
            and not k.tag and k.basis is None and not read_stated_line(value).certain
        ),
        None,
    )  # fmt: skip


#: A number beyond this is no count of servings or pieces of a recipe.
_MOST_SERVINGS = 100


def _count_by_content(node: Mapping[str, Any]) -> str | None:
    """ "for" with a number of servings, or the one key of an unknown name with a small whole number."""
    for key, value in node.items():
        if plain(str(key)) in head_words("for") and isinstance(value, (str, int)):
            return None if math.isnan(read_yield(value).servings) else key
    found = [
        key for key, value in node.items()
        if isinstance(value, int) and not isinstance(value, bool) and 0 < value <= _MOST_SERVINGS
        and not _key(str(key)).known and not _key(str(key)).tag
        and _key(str(key)).target == _key(str(key)).name
    ]  # fmt: skip
    return found[0] if len(found) == 1 else None


def keys_of(tree: Any) -> dict[int, str]:
    """The key that each object of a tree stands under, by the object's ``id``."""
    found: dict[int, str] = {}
    pending, depth = [tree] if isinstance(tree, (dict, list)) else [], 0
    while pending and depth < _MAX_LEVELS:
        for node in pending:
            if isinstance(node, dict):
                found |= {id(v): str(key) for key, v in node.items() if isinstance(v, dict)}
        pending = [
            v for node in pending
            for v in (node.values() if isinstance(node, dict) else node) if isinstance(v, (dict, list))
        ]  # fmt: skip
        depth += 1
    return found


def read_own(
    node: Mapping[str, Any],
    *,
    format: str,
    position: int,
    find_line: FindLine | None = None,
    name: str = "",
) -> RawRecipe:
    """One recipe of our form; total: what is wrong is a problem, what is right is kept.

    ``name`` is the key that it stands under, its title where it has none of its own.
    """
    given: dict[str, Any] = {}
    stated: list[tuple[Basis | None, Any]] = []
    flat = flat_numbers(node)
    recipe = RawRecipe("", format, position)
    recipe.source_line = getattr(node, "line", None)
    method: Any = None
    for written, value in node.items():
        key = _key(str(written))
        if key.target == "method" and is_null(method):
            method = value
        if key.holds_stated(value):
            stated.append((key.basis, value))
            continue
        if key.target not in given or key.name == key.target:
            given[key.target] = value
        if key.target == key.name and not key.known and written not in flat:
            _unknown_key(recipe, str(written), key.name)
            if difflib.get_close_matches(key.name, ["ingredients"], 1, 0.8):
                given.setdefault("ingredients", value)
    _told_by_content(recipe, node, given, name)
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
    for basis, value in stated:
        _read_stated(recipe, value, basis)
    if not stated:  # under a name that says nothing
        unnamed = (v for k, v in node.items() if not _key(str(k)).known and isinstance(v, Mapping))
        _read_stated(recipe, next((v for v in unnamed if _holds_numbers(v)), None), None)
    if flat and not recipe.stated:
        _read_stated(recipe, flat, None)
    _check_texts(recipe, given)
    return recipe


def _told_by_content(
    recipe: RawRecipe, node: Mapping[str, Any], given: dict[str, Any], name: str
) -> None:
    """Add ingredients, title and servings that stand under names in no table, with a note of each."""
    if "title" not in given and may_be_title(name):
        given["title"] = name
    for field, find in (
        ("ingredients", _list_of_lines), ("title", _name_by_content), ("servings", _count_by_content),
    ):  # fmt: skip
        if field not in given and (key := find(node)) is not None:
            given[field] = node[key]
            recipe.problems.append(read_by_content(key, field))
    if "ingredients" not in given and (foods := _foods_of(node)):
        given["ingredients"] = foods
        recipe.problems.append(read_by_content(", ".join(foods)))


def flat_numbers(node: Mapping[str, Any]) -> dict[str, Any]:
    """Numbers that stand among a recipe's own keys: ``calories: 320``, ``protein: 21 g``.

    Empty unless energy or a macronutrient is among them; what they are for (``basis``, ``per``)
    comes with them. They are read where nothing stands under ``stated`` or one of its other names.
    """
    flat = {
        key: value for key, value in node.items()
        if _key(str(key)).tag and not isinstance(value, (Mapping, list))
    }  # fmt: skip
    if not _MACROS.isdisjoint(_key(str(key)).tag for key in flat):
        flat = {key: value for key, value in flat.items() if key not in _foods_of(node)}
    if not flat or _MACROS.isdisjoint(_key(str(key)).tag for key in flat):
        return {}
    return flat | {k: v for k, v in node.items() if _key(str(k)).name in ("basis", "per")}


def _holds_numbers(value: Mapping[str, Any]) -> bool:
    """Whether stated numbers are in an object, or in those that it holds for each basis."""
    below = (v for k, v in value.items() if isinstance(v, Mapping) and _key(str(k)).basis)
    return bool(flat_numbers(value)) or any(map(flat_numbers, below))


_MACROS = frozenset(("ENERC_KCAL", "PROCNT", "CHOCDF", NET_CARBS_TAG, "FAT"))


def _scalar(value: Any) -> Any:
    return None if is_null(value) else value


def _read_stated(recipe: RawRecipe, value: Any, basis: Basis | None, depth: int = 0) -> None:
    """Stated numbers in any shape: a free line, an object, objects by basis, or a list of these."""
    if is_null(value) or depth > 3:
        return
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


def _basis_of_object(
    recipe: RawRecipe, value: Mapping[str, Any], basis: Basis | None
) -> Basis | None:
    """What the numbers of an object are for, by its own keys."""
    by_key = {plain(k): v for k, v in value.items()}
    written = by_key.get("basis", by_key.get("per"))
    if isinstance(written, str) and not is_null(written):
        known = basis_of(written)
        if known is None:
            recipe.problems.append(
                input_problem(
                    "basis-unknown", source_line=getattr(written, "line", None),
                    written=cut(written, 40),
                )
            )  # fmt: skip
        basis = known or basis
    size = by_key.get("serving_size")
    if isinstance(size, (str, int, float)) and not is_null(size):
        sized = apply_serving_size(recipe, read_serving_size(size), str(size))
        basis = basis or sized
    return basis


@lru_cache(maxsize=4096)
def _number_columns(keys: tuple[str, ...]) -> tuple[dict[str, NutrientColumn | None], bool]:
    """What each key of an object of numbers holds, and whether one holds energy in kcal.

    Keys that say what the numbers are for are left out.
    """
    columns = {
        key: column_among(key, keys)
        for key in keys if plain(key) not in ("basis", "per", "serving_size")
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
        if isinstance(amount, Mapping):
            _read_stated(recipe, amount, basis_of(key) or basis, depth + 1)
            continue
        line = getattr(amount, "line", None)
        if column is None:
            if isinstance(amount, str) and basis_of(key):  # per serving: 320 kcal, P 12 g
                _read_stated(recipe, amount, basis_of(key), depth + 1)
            elif not isinstance(amount, list):
                _unknown_key(recipe, key, plain(key), nutrients=True, line=line)
            continue
        if column.unit == "kj" and in_kcal:
            continue
        read = read_amount(amount, column.tag, unit=column.unit, salt=column.salt)
        for_what = column.basis or basis or "per_serving"
        add_stated(recipe, column.tag, read, for_what, str(amount), key, line)


def _unknown_key(
    recipe: RawRecipe, key: str, name: str, *, nutrients: bool = False, line: int | None = None
) -> None:
    known = list(_schema()["$defs"]["OwnStated"]["properties"]) if nutrients else sorted(_known())
    close = difflib.get_close_matches(name, known, 1, 0.8)
    if close:
        recipe.problems.append(
            input_problem(
                "unknown-key", source_line=line, key=cut(key, 40),
                why="it was not read" if close[0] != "ingredients" else 'it was read as "ingredients"',
                close=close[0],
            )
        )  # fmt: skip
    elif nutrients and not is_not_judged(name):
        recipe.problems.append(
            input_problem("unknown-key/stated", source_line=line, key=cut(key, 40))
        )


def _check_texts(recipe: RawRecipe, given: Mapping[str, Any]) -> None:
    """Say where a value that should be text is none; of all else the readers say it."""
    for key in ("title", "description"):
        value = given.get(key)
        missing = key == "title" and not recipe.title  # reported by the collection
        if not isinstance(value, str) and not is_null(value) and not missing:
            recipe.problems.append(
                input_problem("form-invalid", key=key, written=cut(str(value), 40))
            )
