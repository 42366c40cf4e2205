"""Saved web pages: the JSON-LD in their scripts, and recipes marked up in the page itself."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from functools import partial
from typing import Any

from pipeline.intake.files import LineIndex
from pipeline.intake.model import RawRecipe, Read, cut, guarded
from pipeline.intake.pages import schema_org
from pipeline.intake.structured.documents import JsonRefusedError, loads, recipes_of
from pipeline.problems import Problem, input_problem

_COMMENT = re.compile(r"^\s*(?:<!--|//\s*<!\[CDATA\[|<!\[CDATA\[|/\*\s*<!\[CDATA\[\s*\*/)\s*")
_COMMENT_END = re.compile(r"(?:-->|//\s{0,20}\]\]>|\]\]>|/\*\s{0,20}\]\]>\s{0,20}\*/)\s{0,20};?$")
_TRAILING_COMMA = re.compile(r",(\s*[}\]])")


_TAG = re.compile(r"<(/?)([a-zA-Z][a-zA-Z0-9]*)")
_OPEN_ENDED = frozenset(
    ("p", "li", "td", "tr", "th", "dt", "dd", "option", "br", "img", "meta", "link", "input", "hr")
)
#: Elements within elements; browsers stop at a tenth of it, and parsing takes its square.
MAX_DEPTH = 5_000


def too_deep(text: str) -> bool:
    """Whether a page nests its elements deeper than ``MAX_DEPTH``."""
    if text.count("<") < MAX_DEPTH:
        return False
    depth = 0
    for closing, name in _TAG.findall(text):
        if name.lower() in _OPEN_ENDED:
            continue
        depth = max(depth - 1, 0) if closing else depth + 1
        if depth > MAX_DEPTH:
            return True
    return False


def read_page(text: str, source: str) -> Read:
    """Recipes of an HTML page; never raises. A page without a recipe gives none."""
    read = Read(found="a web page")
    if too_deep(text):
        read.problems.append(input_problem("page-too-deep", source=source, levels=MAX_DEPTH))
        return read
    from selectolax.lexbor import LexborHTMLParser

    tree: Any = LexborHTMLParser(text)
    faults: list[Problem] = []
    at = 0
    for script in tree.css("script"):
        if "ld+json" not in (script.attributes.get("type") or "").lower():
            continue
        raw = script.text(deep=True) or ""
        at_now = text.find(raw[:200], at) if raw.strip() else -1
        at = at_now if at_now >= 0 else at
        try:
            parsed = loads_leniently(raw)
        except JsonRefusedError as fault:
            line = text.count("\n", 0, at) + max(fault.line, 1)
            faults.append(
                replace(
                    fault.problem, source=source, source_line=line, text=cut(raw[:200]),
                    what=fault.what.replace("the file is", "a script of the page is", 1),
                    why="that script was not read", fix="save the page again, or fix the script",
                    severity="error" if "recipe" in raw.lower() else "warning",
                )
            )  # fmt: skip
            continue
        read.recipes.extend(
            recipes_of(parsed, text, schema_format="html", own_format="html", start=at,
                       position=len(read.recipes))
        )  # fmt: skip
    if not read.recipes:
        read.recipes.extend(_marked_up(tree, text))
    read.problems.extend(faults)
    return read


def loads_leniently(raw: str) -> Any:
    """JSON of a script as pages hold it: in comments, with trailing commas, twice escaped."""
    text = _COMMENT.sub("", raw).strip()
    text = text[:-80] + _COMMENT_END.sub("", text[-80:])  # it is looked for at the end alone
    try:
        return loads(text)
    except JsonRefusedError:
        for mended in (
            _TRAILING_COMMA.sub(r"\1", text),
            _TRAILING_COMMA.sub(r"\1", html.unescape(text)) if "&quot;" in text else text,
        ):
            try:
                return loads(mended)
            except JsonRefusedError:
                continue
        raise


# --- recipes marked up in the page itself ----------------------------------------------------

_VOCABULARIES = (
    # how an item, a property and a nested item are marked
    ("itemtype", "itemprop", "itemscope"),
    ("typeof", "property", "typeof"),
)
_LISTS = frozenset({"recipeIngredient", "author", "recipeYield"})
_CLASSES = {
    "p-name": "name", "fn": "name", "p-ingredient": "recipeIngredient",
    "ingredient": "recipeIngredient", "p-yield": "recipeYield", "yield": "recipeYield",
    "p-author": "author", "p-summary": "description", "e-nutrition": "nutrition",
    "p-nutrition": "nutrition", "nutrition": "nutrition",
}  # fmt: skip


def _marked_up(tree: Any, text: str) -> list[RawRecipe]:
    """Recipes in microdata, RDFa or microformat classes."""
    objects: list[dict[str, Any]] = []
    for type_key, property_key, scope_key in _VOCABULARIES:
        for item in tree.css(f"[{type_key}]"):
            if _is_type(item.attributes.get(type_key), "Recipe"):
                objects.append(_properties(item, type_key, property_key, scope_key, 0))
        if objects:
            break
    if not objects:
        objects = [_by_classes(item) for item in tree.css(".h-recipe, .hrecipe")]
    index = LineIndex(text)
    return [
        guarded(
            partial(
                schema_org.read_recipe, node, format="html", position=at,
                find_line=lambda s: index.find(s, html.escape(s)),
            ),
            "html",
            at,
        )
        for at, node in enumerate(n for n in objects if n)
    ]  # fmt: skip


def _is_type(value: str | None, name: str) -> bool:
    return any(one.rpartition("/")[2].rpartition(":")[2] == name for one in (value or "").split())


def _properties(
    item: Any, type_key: str, property_key: str, scope_key: str, depth: int
) -> dict[str, Any]:
    """Properties of one item; an item inside it is a property of its own, not of the outer."""
    found: dict[str, Any] = {}
    pending = list(reversed(list(item.iter(include_text=False))))
    while pending:
        node = pending.pop()
        names = (node.attributes.get(property_key) or "").split()
        nested = scope_key in node.attributes
        if names:
            value: Any
            if nested and depth < 4:
                value = _properties(node, type_key, property_key, scope_key, depth + 1)
                if not value:
                    value = _value(node)
            else:
                value = _value(node)
            for name in names:
                _put(found, name.rpartition("/")[2].rpartition(":")[2], value)
        if not nested:
            pending.extend(reversed(list(node.iter(include_text=False))))
    return found


def _put(found: dict[str, Any], name: str, value: Any) -> None:
    name = "recipeIngredient" if name == "ingredients" else name  # its older name
    if name in _LISTS:
        found.setdefault(name, []).append(value)
    elif name not in found:
        found[name] = value


def _value(node: Any) -> str:
    content = node.attributes.get("content")
    if content:
        return str(content)
    return " ".join((node.text(deep=True, separator=" ") or "").split())


def _by_classes(item: Any) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for css_class, name in _CLASSES.items():
        for node in item.css(f".{css_class}"):
            _put(found, name, _value(node))
    return found
