"""Steelyard's own form of a recipe, in YAML or JSON: the reader and the JSON Schema.

The models (``own_model.py``) say what is right; reading is lenient, so that one wrong value never
loses a recipe.
``shared/recipe.schema.json`` is written from the models (``recipe_schema``) and a test keeps the
two the same.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

from pipeline.intake.amounts import read_amount
from pipeline.intake.columns import (
    basis_of,
    column_among,
    field_of,
    fields_of,
    is_not_judged,
    nutrient_column,
    plain,
)
from pipeline.intake.entries import Entries, FindLine, clean
from pipeline.intake.model import Basis, RawRecipe, cut
from pipeline.intake.pages.schema_org import (
    add_stated,
    apply_serving_size,
    identifier,
    method_of,
    names,
    peek,
    read_nutrition_text,
    set_yield,
    text_of,
    title_of,
)
from pipeline.intake.servings import read_serving_size
from pipeline.intake.structured.yaml_tree import Text, is_null
from pipeline.nutrients import NET_CARBS_TAG
from pipeline.problems import Problem


def recipe_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of one recipe of our form."""
    from pipeline.intake.structured.own_model import OwnRecipe  # here: pydantic costs 0.1 s

    return OwnRecipe.model_json_schema()


def target_of(key: str) -> str:
    """The key of our form that ``key`` stands for: "macros" is ``stated``."""
    name = plain(key)
    return field_of(name, "key") or name


@cache
def _known() -> frozenset[str]:
    """Keys that are read."""
    from pipeline.intake.structured.own_model import OwnRecipe  # here: pydantic costs 0.1 s

    told = (key for key, field in fields_of("key").items() if field not in ("unread", "method"))
    return frozenset(OwnRecipe.model_fields) | frozenset(told)


def holds_stated(key: str, value: Any) -> bool:
    """Whether stated numbers are under a key: "macros", "nutrition per slice", "per fritter"."""
    per_one = isinstance(value, Mapping) and plain(key).startswith("per_")
    return target_of(key) == "stated" or per_one


def own_objects(tree: Any) -> Iterator[Mapping[str, Any]]:
    """Recipes of our form in a tree, in their order, wherever they stand; none within another."""
    pending: list[tuple[Any, int]] = [(tree, 0)]
    while pending:
        node, depth = pending.pop()
        if isinstance(node, Mapping):
            if looks_own(node):
                yield node
                continue
            node = list(node.values())
        if isinstance(node, list) and depth < _MAX_DEPTH:
            pending.extend((child, depth + 1) for child in reversed(node))


#: Levels of lists and objects around a recipe.
_MAX_DEPTH = 8


def looks_own(node: Mapping[str, Any]) -> bool:
    """True for a mapping with ingredients, or with a title and stated numbers."""
    keys = {target_of(k) for k in node}
    if "ingredients" in keys:
        return True
    close = difflib.get_close_matches("ingredients", [k for k in keys if len(k) < 20], 1, 0.8)
    return "title" in keys and (bool(close) or bool(keys & {"stated", "servings"}))


def read_own(
    node: Mapping[str, Any],
    *,
    format: str,
    position: int,
    find_line: FindLine | None = None,
) -> RawRecipe:
    """One recipe of our form; total: what is wrong is a problem, what is right is kept."""
    given: dict[str, Any] = {}
    stated: list[tuple[Basis | None, Any]] = []
    flat = flat_numbers(node)
    recipe = RawRecipe("", format, position)
    recipe.source_line = getattr(node, "line", None)
    for key, value in node.items():
        name = plain(key)
        target = target_of(name)
        if holds_stated(str(key), value):
            stated.append((basis_of(name), value))
            continue
        if target not in given or name == target:
            given[target] = value
        if target == name and name not in _known() and key not in flat:
            _unknown_key(recipe, str(key), name)
            if difflib.get_close_matches(name, ["ingredients"], 1, 0.8):
                given.setdefault("ingredients", value)
    recipe.title = title_of(_scalar(given.get("title")))
    if find_line is not None and recipe.title:
        recipe.source_line = peek(find_line)(str(given.get("title"))) or recipe.source_line
    recipe.own_id = identifier(_scalar(given.get("id")))
    recipe.creator = names(_scalar(given.get("creator")))
    recipe.description = clean(text_of(_scalar(given.get("description"))))
    if not is_null(given.get("servings")):
        value = given["servings"]
        set_yield(recipe, value, getattr(value, "line", None))
    _set_yield_weight(recipe, given.get("yield_g"))
    written = next(
        (v for k, v in node.items() if target_of(k) == "method" and not is_null(v)), None
    )
    recipe.method = method_of(written)
    entries = Entries(find_line)
    entries.add(given.get("ingredients"))
    recipe.lines = entries.lines
    recipe.problems.extend(entries.problems)
    for basis, value in stated:
        _read_stated(recipe, value, basis)
    if flat and not recipe.stated:
        _read_stated(recipe, flat, None)
    _validate(recipe, given, [value for _, value in stated])
    return recipe


def flat_numbers(node: Mapping[str, Any]) -> dict[str, Any]:
    """Numbers that stand among a recipe's own keys: ``calories: 320``, ``protein: 21 g``.

    Empty unless energy or a macronutrient is among them; what they are for (``basis``, ``per``)
    comes with them. They are read where nothing stands under ``stated`` or one of its other names.
    """
    flat = {
        key: value for key, value in node.items()
        if not isinstance(value, (Mapping, list)) and nutrient_column(str(key)) is not None
        and plain(key) not in _known()
    }  # fmt: skip
    told = {column.tag for key in flat if (column := nutrient_column(str(key))) is not None}
    if not told & {"ENERC_KCAL", "PROCNT", "CHOCDF", NET_CARBS_TAG, "FAT"}:
        return {}
    return flat | {k: v for k, v in node.items() if plain(k) in ("basis", "per")}


def _scalar(value: Any) -> Any:
    return None if is_null(value) else value


def _set_yield_weight(recipe: RawRecipe, value: Any) -> None:
    if is_null(value):
        return
    read = read_amount(value, "WATER", unit="g")  # any mass in grams
    grams = read.amount if not isinstance(read, str) else math.nan
    if isinstance(value, str) and "kg" in value.lower():
        from pipeline.intake.servings import read_yield

        grams = read_yield(value).yield_g
    if grams > 0:
        recipe.yield_g = grams
    else:
        recipe.problems.append(
            Problem(
                "yield-invalid",
                f'the weight of the whole "{cut(str(value), 40)}" is no positive number of grams',
                "the yield stays open",
                "write grams, such as yield_g: 1200",
                source_line=getattr(value, "line", None),
                severity="warning",
            )
        )


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
        _read_numbers(recipe, value, _basis_said(recipe, value, basis), depth)


def _basis_said(recipe: RawRecipe, value: Mapping[str, Any], basis: Basis | None) -> Basis | None:
    """What the numbers of an object are for, by its own keys."""
    by_key = {plain(k): v for k, v in value.items()}
    said = by_key.get("basis", by_key.get("per"))
    if isinstance(said, str) and not is_null(said):
        known = basis_of(said)
        if known is None:
            recipe.problems.append(
                Problem(
                    "basis-unknown",
                    f'the basis "{cut(said, 40)}" is not known',
                    "the numbers were read as per serving",
                    "write per_serving, per_recipe or per_100g",
                    source_line=getattr(said, "line", None),
                    severity="warning",
                )
            )
        basis = known or basis
    size = by_key.get("serving_size")
    if isinstance(size, (str, int, float)) and not is_null(size):
        sized = apply_serving_size(recipe, read_serving_size(size), str(size))
        basis = basis or sized
    return basis


def _read_numbers(
    recipe: RawRecipe, value: Mapping[str, Any], basis: Basis | None, depth: int
) -> None:
    energy_in_kcal = any(
        (c := nutrient_column(plain(k))) and c.tag == "ENERC_KCAL" and c.unit != "kj" for k in value
    )
    for key, amount in value.items():
        if is_null(amount) or plain(key) in ("basis", "per", "serving_size"):
            continue
        if isinstance(amount, Mapping):
            _read_stated(recipe, amount, basis_of(str(key)) or basis, depth + 1)
            continue
        column = column_among(str(key), value)
        line = getattr(amount, "line", None)
        if column is None:
            if not isinstance(amount, list):
                _unknown_key(recipe, str(key), plain(key), nutrients=True, line=line)
            continue
        if column.unit == "kj" and energy_in_kcal:
            continue
        read = read_amount(amount, column.tag, unit=column.unit, salt=column.salt)
        for_what = column.basis or basis or "per_serving"
        add_stated(recipe, column.tag, read, for_what, str(amount), str(key), line)


def _unknown_key(
    recipe: RawRecipe, key: str, name: str, *, nutrients: bool = False, line: int | None = None
) -> None:
    from pipeline.intake.structured.own_model import OwnStated  # here: pydantic costs 0.1 s

    known = list(OwnStated.model_fields) if nutrients else sorted(_known())
    close = difflib.get_close_matches(name, known, 1, 0.8)
    if close:
        recipe.problems.append(
            Problem(
                "unknown-key",
                f'the key "{cut(key, 40)}" is not known',
                "it was not read" if close[0] != "ingredients" else 'it was read as "ingredients"',
                f'did you mean "{close[0]}"?',
                source_line=line,
                severity="warning",
            )
        )
    elif nutrients and not is_not_judged(name):
        recipe.problems.append(
            Problem(
                "unknown-key",
                f'the key "{cut(key, 40)}" among the stated numbers is not known',
                "it was not read",
                "name it kcal, protein_g, carbs_g, fat_g, or as shared/recipe.schema.json does",
                source_line=line,
                severity="note",
            )
        )


def _validate(recipe: RawRecipe, given: Mapping[str, Any], stated: list[Any]) -> None:
    """Say where the file leaves the published form, unless the reader already said so."""
    from pydantic import ValidationError  # here: it costs 0.1 s

    from pipeline.intake.structured.own_model import OwnRecipe

    candidate = {k: v for k, v in given.items() if not is_null(v)}
    if len(stated) == 1:
        candidate["stated"] = stated[0]
    if isinstance(candidate.get("ingredients"), str):
        candidate["ingredients"] = [candidate["ingredients"]]
    try:
        OwnRecipe.model_validate(candidate)
        return
    except ValidationError as fault:
        errors = fault.errors(include_url=False)
    said = {p.code for p in recipe.problems}
    for error in errors[:20]:
        place = error["loc"][0] if error["loc"] else ""
        if place in ("ingredients", "stated", "id", "creator", "servings", "yield_g"):
            continue  # read leniently above, with problems of their own
        if (place == "title" and not recipe.title) or "form" in said:
            continue  # said by the collection: a recipe without a title
        at = ".".join(str(part) for part in error["loc"])
        value = given.get(str(place))
        recipe.problems.append(
            Problem(
                "form-invalid",
                f'"{at}" is not as the recipe form wants it: {error["msg"].lower()}',
                "it was read as far as it could be",
                "see shared/recipe.schema.json",
                source_line=value.line if isinstance(value, Text) else None,
                severity="warning",
            )
        )
