"""Corrected numbers in JSON: schema.org recipes and recipes in the form of our own."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from typing import Any

from pipeline.intake.columns import NutrientColumn, column_among
from pipeline.intake.pages import schema_org
from pipeline.intake.structured import own_form
from pipeline.intake.structured.documents import loads
from pipeline.nutrients import BY_TAG
from pipeline.publish.numbers import (
    NotWritableError,
    Original,
    Wanted,
    column_for,
    edit_text,
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
        if not line.strip():
            out.append(line)
            continue
        try:
            tree = loads(line)
        except Exception:
            return None
        at += edit_tree(tree, wanted, at)
        out.append(dumped(tree, line))
    return "\n".join(out)


def edit_tree(tree: Any, wanted: Wanted, first: int) -> int:
    """Set the numbers of the recipes of a JSON tree; returns how many recipes it holds."""
    objects: list[Any] = list(schema_org.recipe_objects(tree))
    if objects:
        nodes = schema_org.by_id(tree)
        for at, node in enumerate(objects, start=first):
            if at in wanted:
                _edit_schema(node, nodes, wanted[at])
        return len(objects)
    objects = list(own_form.own_objects(tree))
    for at, node in enumerate(objects, start=first):
        if at in wanted:
            _edit_own(node, wanted[at])
    return len(objects)


def _edit_schema(
    node: dict[str, Any], nodes: Mapping[str, Any], values: Mapping[str, float]
) -> None:
    prefix = "schema:" if "schema:recipeIngredient" in node else ""
    nutrition = node.get(f"{prefix}nutrition")
    if isinstance(nutrition, list):
        nutrition = next((n for n in nutrition if isinstance(n, dict)), None)
    if isinstance(nutrition, dict) and set(nutrition) <= {"@id", "@type"} and "@id" in nutrition:
        nutrition = nodes.get(str(nutrition["@id"]), nutrition)
    if isinstance(nutrition, str):
        edited, done = edit_text(nutrition, values)
        node[f"{prefix}nutrition"] = edited
        if done >= set(values):
            return
        nutrition = None
    if not isinstance(nutrition, dict):
        nutrition = node[f"{prefix}nutrition"] = {"@type": "NutritionInformation"}
    left = dict(values)
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


def _edit_own(node: dict[str, Any], values: Mapping[str, float]) -> None:
    left = dict(values)
    place: dict[str, Any] | None = None
    for key, old in list(node.items()):
        if not own_form.holds_stated(str(key), old):
            continue
        for holder, at, one in _places(node, key, old):
            if isinstance(one, str):
                holder[at], done = edit_text(one, left)
                left = {t: v for t, v in left.items() if t not in done}
            elif isinstance(one, dict):
                place = place if place is not None else one
                _edit_own_mapping(one, left)
    if not left:
        return
    if place is None:
        place = node.setdefault("stated", {})
        if not isinstance(place, dict):
            place = node["nutrition"] = {}
    for tag, value in left.items():
        place[column_for(tag)] = json_number(value)


def _places(node: dict[str, Any], key: str, old: Any) -> Iterable[tuple[Any, Any, Any]]:
    if isinstance(old, list):
        return [(old, at, one) for at, one in enumerate(old)]
    return [(node, key, old)]


def _edit_own_mapping(stated: dict[str, Any], left: dict[str, float]) -> None:
    done = set()
    for key, old in list(stated.items()):
        if isinstance(old, dict):
            _edit_own_mapping(old, left)
            continue
        column = column_among(str(key), stated)
        if column is None or column.tag not in left:
            continue
        stated[key] = like(old, column, left[column.tag])
        done.add(column.tag)
    for tag in done:
        left.pop(tag, None)


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
