"""Corrected numbers in YAML, front matter included, and in XML; comments and layout stay."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pipeline.intake.columns import column_among, nutrient_column
from pipeline.intake.structured import own_form, xml_tree, yaml_tree
from pipeline.intake.structured.records import recipes_in
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
from pipeline.publish.tree import number_among

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
        found, schema = recipes_in(document)
        for node in found:
            if position in wanted:
                edits.extend(_yaml_node(text, node, Left(wanted[position]), schema))
            position += 1
    return [(start + offset, end + offset, new) for start, end, new in edits]


def edit_xml(original: Original, wanted: Wanted) -> bytes:
    """Corrected numbers in XML: the text of the element or attribute that states each is changed."""
    text = original.text
    try:
        tree = xml_tree.load_xml(text)
    except xml_tree.XmlRefusedError as fault:
        raise NotWritableError(fault.what) from fault
    edits: list[Edit] = []
    for position, node in enumerate(recipes_in(tree)[0]):
        if position in wanted:
            edits += _restated(text, node, Left(wanted[position]))[0]
            if not all(end for _, end, _ in edits):
                raise NotWritableError("a number of it is not written as it reads")
    if not edits:
        raise NotWritableError("its numbers stand in no text of their own")
    return apply_edits(text, edits).encode("utf-8")


def _restated(
    text: str, recipe: Mapping[str, Any], left: Left
) -> tuple[list[Edit], list[yaml_tree.Mapping], int]:
    """Edits of the numbers that a recipe states, the objects they stand in, and the end of the last
    of those among its own keys."""
    edits: list[Edit] = []
    places: list[yaml_tree.Mapping] = []
    for place in own_form.stated_in(recipe):
        _yaml_value(text, place.holder[place.key], left, edits, places)
    node = getattr(recipe, "origin", recipe)
    flat = 0 if places or edits else _yaml_amounts(text, own_form.flat_numbers(node), left, edits)
    return edits, places, flat


def _yaml_node(text: str, recipe: Mapping[str, Any], left: Left, schema: bool) -> list[Edit]:
    node = getattr(recipe, "origin", recipe)
    edits, places, flat = _restated(text, recipe, left)
    if not left:
        return edits
    told = isinstance(recipe, own_form.Own) and recipe.stated and not (edits or places)
    if told or not isinstance(node, yaml_tree.Mapping):
        raise NotWritableError("its numbers stand in lists that cannot be changed")

    def entry(tag: str) -> str:
        if schema and tag in BY_TAG and BY_TAG[tag].schema_org:
            return f"{BY_TAG[tag].schema_org}: {with_unit(left[tag], tag)}"
        return f"{column_for(tag)}: {shown(left[tag])}"

    def block(margin: str) -> str:
        return "".join(f"\n{margin}{entry(t)}" for t in left)

    if places:
        inner = places[0]
        last = max((v.end for v in inner.values() if isinstance(v, yaml_tree.Text)), default=0)
        if last and inner.flow:
            edits.append((last, last, "".join(f", {entry(t)}" for t in left)))
        elif last:
            first = next(iter(inner.key_text.values()))
            margin = " " * _column_of(text, first.start)
            end = _line_end(text, last)
            edits.append((end, end, block(margin)))
        return edits
    margin = " " * _column_of(text, next(iter(node.key_text.values())).start)
    if node.flow:
        raise NotWritableError("a recipe in flow style has no place for new numbers")
    if flat:
        end, new = _line_end(text, flat), block(margin)
    else:
        end, head = len(text[: node.end].rstrip()), "nutrition" if schema else "stated"
        new = f"\n{margin}{head}:{block(f'{margin}  ')}"
    return [*edits, (end, end, new)]


def _yaml_value(
    text: str, value: Any, left: Left, edits: list[Edit],
    places: list[yaml_tree.Mapping], name: str = "",
) -> None:  # fmt: skip
    if isinstance(value, yaml_tree.Text):
        before = len(left)
        new = left.text(text[value.start : value.end])
        if len(left) < before:
            edits.append((value.start, value.end, new))
    elif isinstance(value, list):
        for one in value:
            _yaml_value(text, one, left, edits, places)
    elif isinstance(value, yaml_tree.Mapping) and (told := number_among(value, left, name)):
        edits += [(value[at].start, value[at].end, str(new)) for at, new in told]
    elif isinstance(value, yaml_tree.Mapping):
        nested = [v for v in value.values() if isinstance(v, yaml_tree.Mapping)]
        if not nested or any(nutrient_column(str(k)) for k in value):
            places.append(value)
        for key, old_value in value.items():
            if isinstance(old_value, yaml_tree.Mapping):
                name = str(key) if nutrient_column(str(key)) else ""
                _yaml_value(text, old_value, left, edits, places, name)
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
