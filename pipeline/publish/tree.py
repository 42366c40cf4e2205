"""Corrected numbers in JSON: schema.org recipes and recipes in the form of our own."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple

from pipeline.intake.by_content import flat
from pipeline.intake.columns import NutrientColumn, column_among, nutrient_column
from pipeline.intake.pages import schema_org
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.structured import own_form
from pipeline.intake.structured.documents import JsonRefusedError, loads
from pipeline.intake.structured.records import recipes_in
from pipeline.intake.structured.yaml_tree import Text, is_null
from pipeline.nutrients import BY_TAG
from pipeline.publish.numbers import (
    Left,
    NotWritableError,
    Original,
    Wanted,
    bare,
    column_for,
    json_number,
    like,
)
from pipeline.publish.restate import with_unit


def edit_json(original: Original, wanted: Wanted) -> bytes:
    """Corrected numbers in JSON, one tree a file or one a line."""
    text = original.text
    try:
        pieces, trees = [text], [loads(text)]
    except JsonRefusedError:
        pieces = text.split("\n")
        trees = [loads(piece) if piece.strip() else None for piece in pieces]
    out, first = [], 0
    for piece, tree in zip(pieces, trees, strict=True):
        first += edit_tree(tree, wanted, first) if piece.strip() else 0
        out.append(dumped(tree, piece) if piece.strip() else piece)
    return "\n".join(out).encode("utf-8")


def edit_tree(tree: Any, wanted: Wanted, first: int) -> int:
    """Set the numbers of the recipes of a JSON tree; returns how many recipes it holds."""
    objects, of_schema_org = recipes_in(tree)
    edit = partial(_edit_schema, nodes=schema_org.by_id(tree)) if of_schema_org else _edit_own
    for at, node in enumerate(objects, start=first):
        if at in wanted:
            edit(node, Left(wanted[at]))
    return len(objects)


def _edit_schema(node: dict[str, Any], left: Left, nodes: Mapping[str, Any]) -> None:
    values = dict(left)
    prefix = "schema:" if "schema:recipeIngredient" in node else ""
    nutrition = node.get(f"{prefix}nutrition")
    if isinstance(nutrition, list):
        nutrition = next((n for n in nutrition if isinstance(n, dict)), None)
    if isinstance(nutrition, dict) and set(nutrition) <= {"@id", "@type"} and "@id" in nutrition:
        nutrition = nodes.get(str(nutrition["@id"]), nutrition)
    if isinstance(nutrition, str):
        node[f"{prefix}nutrition"] = left.text(nutrition)
        if not left:
            return
        nutrition, left = None, Left(values)  # an object takes the place of the text
    if not isinstance(nutrition, dict):
        nutrition = node[f"{prefix}nutrition"] = {"@type": "NutritionInformation"}
    for key, old in list(nutrition.items()):
        known = schema_org.PROPERTIES.get(str(key).rpartition(":")[2])
        if known is None or known[0] not in left:
            continue
        tag, salt = known
        new, written = left.pop(tag), isinstance(old, (str, int, float)) and old != ""
        column = NutrientColumn(tag, "", salt, None)
        nutrition[key] = like(old, column, new) if written else with_unit(new, tag)
    for tag, value in left.items():
        name = BY_TAG[tag].schema_org if tag in BY_TAG else ""
        if name:
            nutrition[prefix + name] = with_unit(value, tag)


def _edit_own(node: dict[str, Any], left: Left) -> None:
    found = restated(node, left)
    for holder, key, new in found.changes:
        holder[key] = new
    if not left:
        return
    node = getattr(node, "origin", node)
    if found.places:
        place = found.places[0]
    elif not isinstance(node, dict):
        raise NotWritableError("its recipes are lists, which have no place for new numbers")
    else:
        place = node if found.flat else node.setdefault("stated", {})
    if not isinstance(place, dict):
        place = node["nutrition"] = {}
    for tag, value in left.items():
        place[column_for(tag)] = json_number(value)


class Restated(NamedTuple):
    """What changes in the tree of a recipe in a form of our own.

    Attributes:
        changes: (holder, key, new): ``holder[key]`` states a number and becomes ``new``.
        places: the objects that its numbers stand in, for those that are not stated yet.
        flat: its own keys that state numbers, where nothing else does.
    """

    changes: list[tuple[Any, Any, Any]]
    places: list[Any]
    flat: Sequence[str]


def restated(recipe: Mapping[str, Any], left: Left, said: Callable[[Any], str] = str) -> Restated:
    """Where a recipe states numbers, and what is to stand there instead.

    Args:
        left: the numbers; those that find their place leave it.
        said: a text of the tree as its file writes it.
    """
    made = Restated([], [], [])
    for place in own_form.stated_in(recipe):
        if place.names:  # a bare list
            at = {name: no for no, name in enumerate(place.names)}
            _restate_amounts(place.holder[place.key], at, left, said, made)
        else:
            _restate(place.holder, place.key, left, said, made)
    node = getattr(recipe, "origin", recipe)
    if made.changes or made.places or not isinstance(node, dict):
        return made
    flat = own_form.flat_numbers(node)
    _restate_amounts(node, {str(key): key for key in flat}, left, said, made)
    return made._replace(flat=list(flat))


def _restate(
    holder: Any, key: Any, left: Left, said: Callable[[Any], str], made: Restated, name: str = ""
) -> None:
    """Restate whatever stands at ``holder[key]``: a text, a list, an object."""
    value = holder[key]
    if isinstance(value, str):
        before = len(left)
        new = left.text(said(value))
        if len(left) < before:
            made.changes.append((holder, key, new))
        return
    told = number_among(value, left, name) if isinstance(value, (list, dict)) else []
    made.changes.extend((value, at, new) for at, new in told)
    if isinstance(value, list) and not told:
        for at in range(len(value)):
            _restate(value, at, left, said, made)
    elif isinstance(value, dict):
        nested = [inner for inner in value if isinstance(value[inner], dict)]
        named = any(nutrient_column(str(inner)) for inner in value)
        if (named and not nutrient_column(str(key))) if told else (named or not nested):
            made.places.append(value)
        for inner in () if told else nested:
            of = str(inner) if nutrient_column(str(inner)) else ""
            _restate(value, inner, left, said, made, of)
        if not told:
            _restate_amounts(value, {str(inner): inner for inner in value}, left, said, made)


def _restate_amounts(
    holder: Any, keys: Mapping[str, Any], left: Left, said: Callable[[Any], str], made: Restated
) -> None:
    """Restate amounts under the names of their nutrients; ``keys``: where each name's stands."""
    stated = set()
    for name, key in keys.items():
        old, column = holder[key], column_among(name, keys)
        if column is None or isinstance(old, (list, dict)):
            continue
        stated.add(column.tag)
        if column.tag in left and not (isinstance(old, Text) and is_null(old)):
            text = isinstance(old, str) and not bare(old)
            new = like(said(old) if text else old, column, left[column.tag])
            made.changes.append((holder, key, new))
    left.done(stated)


def number_among(parts: Any, left: Left, name: str = "") -> list[tuple[Any, Any]]:
    """Where the number of one stated amount stands among its parts, and its new value; taken from ``left``.

    ``name``: of the nutrient, where it is the key of the parts.
    """
    found = read_stated_line(f"{name} {flat(parts)}").found
    numbers = [
        at for at, part in (parts.items() if isinstance(parts, dict) else enumerate(parts))
        if not isinstance(part, (list, dict)) and any(map(str.isdigit, str(part)))
    ]  # fmt: skip
    if not len(found) == len(numbers) == 1 or found[0].tag not in left:
        return []
    named = nutrient_column(str(numbers[0]))
    if named is not None and named.tag != found[0].tag:  # what was found is further inside
        return []
    column = NutrientColumn(found[0].tag, found[0].unit.lower(), found[0].salt, None)
    return [(numbers[0], like(parts[numbers[0]], column, left.pop(found[0].tag)))]


def dumped(tree: Any, like: str) -> str:
    """JSON in the manner of the text it came from: indentation, escapes, last line break."""
    indent = re.search(r"\n([ \t]+)\S", like)
    ascii_only = like.isascii() and "\\u" in like
    step: str | None = indent[1] if indent else None
    spaced = '": ' in like or '":' not in like
    made = json.dumps(
        tree, ensure_ascii=ascii_only, indent=step,
        separators=(",", ": ") if step else ((", ", ": ") if spaced else (",", ":")),
    )  # fmt: skip
    return made + ("\n" if like.endswith("\n") else "")
