"""Corrected numbers in YAML, front matter included, and in XML; comments and layout stay."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from pipeline.intake.structured import own_form, xml_tree, yaml_tree
from pipeline.intake.structured.records import recipes_in
from pipeline.nutrients import BY_TAG
from pipeline.publish.numbers import Left, NotWritableError, Original, Wanted, bare, column_for
from pipeline.publish.restate import shown, with_unit
from pipeline.publish.tree import Restated, restated

Edit = tuple[int, int, str]


def edit_yaml(original: Original, wanted: Wanted) -> bytes:
    text = original.text
    return apply_edits(text, yaml_edits(text, wanted)).encode("utf-8")


def yaml_edits(text: str, wanted: Wanted, offset: int = 0) -> list[Edit]:
    """Replacements that put the numbers into a YAML text; comments and layout stay."""
    edits: list[Edit] = []
    position = 0
    for document in yaml_tree.load_documents(text):
        found, schema = recipes_in(document)
        for node in found:
            if position in wanted:
                edits.extend(_yaml_node(text, node, Left(wanted[position]), schema))
            position += 1
    return [(start + offset, end + offset, new) for start, end, new in edits]


def edit_xml(original: Original, wanted: Wanted) -> bytes:
    """Corrected numbers in XML: the text of the element or attribute that states each is changed."""
    text = original.text
    edits: list[Edit] = []
    for position, node in enumerate(recipes_in(xml_tree.load_xml(text))[0]):
        if position in wanted:
            edits += _edits(text, restated(node, Left(wanted[position]), _written_in(text)))
    if not edits or not all(end for _, end, _ in edits):
        raise NotWritableError("its numbers stand in no text of their own, or not as they read")
    return apply_edits(text, edits).encode("utf-8")


def _written_in(text: str) -> Callable[[yaml_tree.Text], str]:
    """What a text of the tree looks like in its file."""
    return lambda value: text[value.start : value.end]


def _edits(text: str, found: Restated) -> list[Edit]:
    """The changes of a tree as those of its text; what was quoted stays quoted."""
    made = []
    for holder, key, new in found.changes:
        old = holder[key]
        quote = text[old.start] if old.quoted and bare(str(new)) else ""
        made.append((old.start, old.end, f"{quote}{new}{quote}"))
    return made


def _yaml_node(text: str, recipe: Mapping[str, Any], left: Left, schema: bool) -> list[Edit]:
    node = getattr(recipe, "origin", recipe)
    found = restated(recipe, left, _written_in(text))
    edits, places = _edits(text, found), found.places
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
    if found.flat:
        end, new = _line_end(text, max(node[key].end for key in found.flat)), block(margin)
    else:
        end, head = len(text[: node.end].rstrip()), "stated"
        head = "nutrition" if schema or head in node else head
        new = f"\n{margin}{head}:{block(f'{margin}  ')}"
    return [*edits, (end, end, new)]


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
