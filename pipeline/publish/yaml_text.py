"""Corrected numbers in YAML, front matter included; comments and layout stay."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pipeline.intake.columns import column_among, nutrient_column
from pipeline.intake.structured import own_form, yaml_tree
from pipeline.nutrients import BY_TAG
from pipeline.publish.numbers import (
    Left,
    NotWritableError,
    Original,
    Wanted,
    bare,
    column_for,
    like,
)
from pipeline.publish.restate import shown, with_unit

Edit = tuple[int, int, str]


def edit_yaml(original: Original, wanted: Wanted) -> bytes:
    text = original.text
    return apply_edits(text, yaml_edits(text, wanted)).encode("utf-8")


def yaml_edits(text: str, wanted: Wanted, offset: int = 0) -> list[Edit]:
    """Replacements that put the numbers into a YAML text; comments and layout stay."""
    edits: list[Edit] = []
    position = 0
    try:
        documents = yaml_tree.load_documents(text)
    except yaml_tree.YamlRefusedError as fault:
        raise NotWritableError(fault.what) from fault
    for document in documents:
        found, schema = own_form.recipes_in(document)
        for node in found:
            if position in wanted and isinstance(node, yaml_tree.Mapping):
                edits.extend(_yaml_node(text, node, Left(wanted[position]), schema))
            position += 1
    return [(start + offset, end + offset, new) for start, end, new in edits]


def _yaml_node(text: str, node: yaml_tree.Mapping, left: Left, schema: bool) -> list[Edit]:
    edits: list[Edit] = []
    places: list[yaml_tree.Mapping] = []
    for key, value in node.items():
        if own_form.holds_stated(key, value):
            _yaml_value(text, value, left, edits, places)
    flat = 0 if places or edits else _yaml_amounts(text, own_form.flat_numbers(node), left, edits)
    if not left:
        return edits

    def entry(tag: str) -> str:
        if schema and tag in BY_TAG and BY_TAG[tag].schema_org:
            return f"{BY_TAG[tag].schema_org}: {with_unit(left[tag], tag)}"
        return f"{column_for(tag)}: {shown(left[tag])}"

    if places:
        place = places[0]
        last = max((v.end for v in place.values() if isinstance(v, yaml_tree.Text)), default=0)
        if last and place.flow:
            edits.append((last, last, "".join(f", {entry(t)}" for t in left)))
        elif last:
            first = next(iter(place.key_text.values()))
            margin = " " * _column_of(text, first.start)
            end = _line_end(text, last)
            edits.append((end, end, "".join(f"\n{margin}{entry(t)}" for t in left)))
        return edits
    margin = " " * _column_of(text, next(iter(node.key_text.values())).start)
    if flat and not node.flow:
        end = _line_end(text, flat)
        edits.append((end, end, "".join(f"\n{margin}{entry(t)}" for t in left)))
        return edits
    if node.flow:
        raise NotWritableError("a recipe in flow style has no place for new numbers")
    end = len(text[: node.end].rstrip())
    block = f"\n{margin}{'nutrition' if schema else 'stated'}:"
    edits.append((end, end, block + "".join(f"\n{margin}  {entry(t)}" for t in left)))
    return edits


def _yaml_value(
    text: str, value: Any, left: Left, edits: list[Edit],
    places: list[yaml_tree.Mapping],
) -> None:  # fmt: skip
    if isinstance(value, yaml_tree.Text):
        before = len(left)
        new = left.text(text[value.start : value.end])
        if len(left) < before:
            edits.append((value.start, value.end, new))
    elif isinstance(value, list):
        for one in value:
            _yaml_value(text, one, left, edits, places)
    elif isinstance(value, yaml_tree.Mapping):
        nested = [v for v in value.values() if isinstance(v, yaml_tree.Mapping)]
        if not nested or any(nutrient_column(str(k)) for k in value):
            places.append(value)
        for old_value in value.values():
            if isinstance(old_value, yaml_tree.Mapping):
                _yaml_value(text, old_value, left, edits, places)
        _yaml_amounts(text, value, left, edits)


def _yaml_amounts(text: str, values: Mapping[str, Any], left: Left, edits: list[Edit]) -> int:
    """Restate ``key: amount`` pairs; what they hold leaves ``left``. Returns the end of the last."""
    last = 0
    stated: set[str] = set()
    for key, old_value in values.items():
        column = column_among(key, values)
        if column is None or not isinstance(old_value, yaml_tree.Text):
            continue
        stated.add(column.tag)
        last = max(last, old_value.end)
        if column.tag not in left or yaml_tree.is_null(old_value):
            continue
        raw = text[old_value.start : old_value.end]
        whole = bare(str(old_value))
        quote = raw[:1] if whole and old_value.quoted else ""
        new = quote + like(str(old_value) if whole else raw, column, left[column.tag]) + quote
        edits.append((old_value.start, old_value.end, new))
    left.done(stated)
    return last


def _column_of(text: str, at: int) -> int:
    return at - (text.rfind("\n", 0, at) + 1)


def _line_end(text: str, at: int) -> int:
    end = text.find("\n", at)
    return end if end >= 0 else len(text)


def apply_edits(text: str, edits: Iterable[Edit]) -> str:
    """``text`` with each (start, end) replaced; the later first, so that offsets hold."""
    out, rest = [], len(text)
    for start, end, new in sorted(edits, key=lambda e: (e[0], e[1]), reverse=True):
        out += [text[end:rest], new]
        rest = start
    return "".join([text[:rest], *reversed(out)])
