"""Corrected numbers in JSON: schema.org recipes and recipes in the form of our own."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import partial
from typing import Any

from pipeline.intake.by_content import flat
from pipeline.intake.columns import NutrientColumn, column_among, nutrient_column
from pipeline.intake.pages import schema_org
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.structured import own_form
from pipeline.intake.structured.documents import loads
from pipeline.intake.structured.records import recipes_in
from pipeline.nutrients import BY_TAG
from pipeline.publish.numbers import (
    Left,
    NotWritableError,
    Original,
    Wanted,
    column_for,
    json_number,
    like,
)
from pipeline.publish.restate import with_unit


def edit_json(original: Original, wanted: Wanted) -> bytes:
    text = original.text
    try:
        tree = loads(text)
    except Exception as fault:
        edited = _json_lines(text, wanted)
        if edited is None:
            raise NotWritableError("the file is no longer JSON") from fault
        return edited.encode("utf-8")
    edit_tree(tree, wanted, 0)
    return dumped(tree, text).encode("utf-8")


def _json_lines(text: str, wanted: Wanted) -> str | None:
    out, at = [], 0
    for line in text.split("\n"):
        if line.strip():
            try:
                tree = loads(line)
            except Exception:
                return None
            at += edit_tree(tree, wanted, at)
            line = dumped(tree, line)
        out.append(line)
    return "\n".join(out)


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
    place: dict[str, Any] | None = None
    for stated in own_form.stated_in(node):
        old = stated.holder[stated.key]
        if stated.names:
            named = dict(zip(stated.names, old, strict=True))
            _edit_own_mapping(named, left)
            old[:] = named.values()
            continue
        holder: Any = old if isinstance(old, list) else stated.holder
        places: Any = enumerate(old) if isinstance(old, list) else [(stated.key, old)]
        for at, one in places:
            if isinstance(one, str):
                holder[at] = left.text(one)
            elif isinstance(one, list) or (holder is old and not own_form.holds_numbers(one)):
                _edit_parts(one, left)
            elif (
                isinstance(one, dict) and not own_form.holds_numbers(one) and _edit_parts(one, left)
            ):
                continue
            elif isinstance(one, dict):
                place = place if place is not None else one
                _edit_own_mapping(one, left)
    if not left:
        return
    if place is None:
        node = getattr(node, "origin", node)
        if not isinstance(node, dict):
            raise NotWritableError("its recipes are lists, which have no place for new numbers")
        place = node.setdefault("stated", {})
        if not isinstance(place, dict):
            place = node["nutrition"] = {}
    for tag, value in left.items():
        place[column_for(tag)] = json_number(value)


def _edit_parts(parts: Any, left: Left, name: str = "") -> bool:
    """Set the number among the parts of one stated amount, ["kcal", 320]; whether there is one."""
    told = number_among(parts, left, name)
    for at, new in told:
        parts[at] = new
    return bool(told)


def number_among(parts: Any, left: Left, name: str = "") -> list[tuple[Any, Any]]:
    """Where the number of one stated amount stands among its parts, and its new value; taken from ``left``.

    ``name``: of the nutrient, where it is the key of the parts.
    """
    found = read_stated_line(f"{name} {flat(parts)}").found
    numbers = [
        at for at, part in (parts.items() if isinstance(parts, dict) else enumerate(parts))
        if isinstance(part, (int, float)) or (isinstance(part, str) and any(map(str.isdigit, part)))
    ]  # fmt: skip
    if not len(found) == len(numbers) == 1 or found[0].tag not in left:
        return []
    column = NutrientColumn(found[0].tag, found[0].unit.lower(), found[0].salt, None)
    return [(numbers[0], like(parts[numbers[0]], column, left.pop(found[0].tag)))]


def _edit_own_mapping(stated: dict[str, Any], left: Left) -> None:
    done = set()
    for key, old in list(stated.items()):
        if isinstance(old, dict):
            if not (nutrient_column(str(key)) and _edit_parts(old, left, str(key))):
                _edit_own_mapping(old, left)
            continue
        column = column_among(str(key), stated)
        if column is None or column.tag not in left:
            continue
        stated[key] = like(old, column, left[column.tag])
        done.add(column.tag)
    left.done(done)


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
