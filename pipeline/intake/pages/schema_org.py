"""schema.org/Recipe objects, wherever they came from: JSON-LD, microdata, RDFa, front matter."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from pipeline.intake.amounts import Amount, read_amount
from pipeline.intake.by_content import best_title, may_be_title
from pipeline.intake.columns import nutrient_column
from pipeline.intake.entries import Entries, FindLine, clean
from pipeline.intake.model import Basis, RawRecipe, RawStated, cut
from pipeline.intake.servings import (
    ServingSize,
    read_serving_size,
    read_yield,
    readings,
    told_together,
)
from pipeline.intake.stated_line import read_stated_line
from pipeline.nutrients import NUTRIENTS
from pipeline.problems import input_problem

MAX_DEPTH = 200

#: schema.org property to tagname; the second says that the amount is salt.
PROPERTIES: dict[str, tuple[str, bool]] = {
    n.schema_org: (n.tag, False) for n in NUTRIENTS if n.schema_org
} | {"saltContent": ("NA", True)}


def objects_in(
    tree: Any, wanted: Callable[[dict[str, Any]], bool], max_depth: int, *, nested: bool
) -> Iterator[dict[str, Any]]:
    """Objects of a tree that are wanted, in document order.

    Args:
        tree: of JSON or YAML.
        wanted: whether an object is one of them.
        max_depth: levels of lists and objects that are entered.
        nested: whether those within another one count too.
    """
    pending: list[tuple[Any, int]] = [(tree, 0)]
    while pending:
        node, depth = pending.pop()
        if isinstance(node, dict):
            if wanted(node):
                yield node
                if not nested:
                    continue
            node = list(node.values())
        if isinstance(node, list) and depth < max_depth:
            pending += [
                (child, depth + 1) for child in reversed(node) if isinstance(child, (dict, list))
            ]


def is_recipe(node: Mapping[str, Any]) -> bool:
    """True for an object typed Recipe, or with the properties only a recipe has."""
    kind = node.get("@type", node.get("type"))
    for one in kind if isinstance(kind, list) else (kind,):
        if isinstance(one, str) and one.rpartition("/")[2].rpartition(":")[2] == "Recipe":
            return not set(node) <= {"@type", "@id", "type", "id", "url", "@context"}  # a reference
    return "recipeIngredient" in node or "schema:recipeIngredient" in node


def by_id(tree: Any) -> dict[str, dict[str, Any]]:
    """Objects of a graph by ``@id``, so that references can be followed."""
    found: dict[str, dict[str, Any]] = {}
    pending, depth = [tree], 0
    while pending and depth < MAX_DEPTH:
        children: list[Any] = []
        for node in pending:
            if isinstance(node, dict):
                own = node.get("@id")
                if isinstance(own, str) and len(node) > 1:
                    found.setdefault(own, node)
                children.extend(v for v in node.values() if isinstance(v, (dict, list)))
            else:
                children.extend(v for v in node if isinstance(v, (dict, list)))
        pending, depth = children, depth + 1
    return found


def read_recipe(
    node: Mapping[str, Any],
    *,
    format: str,
    position: int,
    nodes: Mapping[str, Mapping[str, Any]] | None = None,
    find_line: FindLine | None = None,
) -> RawRecipe:
    """One Recipe object; total: what cannot be read is a problem of the recipe.

    Args:
        node: the object; prefixed keys (``schema:name``) are read too.
        format: name of the format for ``tables.RECIPE``.
        position: 0-based place in the file.
        nodes: objects of the same graph by ``@id``.
        find_line: line of a text in the file, searched forward.
    """
    nodes = nodes or {}
    if any(":" in key for key in node):
        node = {key.rpartition("/")[2].rpartition(":")[2]: v for key, v in node.items()}
    recipe = RawRecipe(title_of(node.get("name", node.get("headline", node.get("title")))),
                       format, position)  # fmt: skip
    if find_line is not None and recipe.title:
        recipe.source_line = peek(find_line)(str(node.get("name", "")))
    recipe.own_id = identifier(node.get("identifier", node.get("id")))
    recipe.creator = names(node.get("author", node.get("creator")), nodes)
    recipe.description = clean(text_of(node.get("description")))
    set_yield(recipe, node.get("recipeYield", node.get("yield", node.get("servings"))))
    recipe.method = method_of(node.get("recipeInstructions", node.get("instructions")))
    entries = Entries(find_line)
    raw = node.get("recipeIngredient")
    if raw is None or raw == []:
        raw = node.get("ingredients", raw)
    entries.add(raw)
    recipe.lines = entries.lines
    recipe.problems.extend(entries.problems)
    nutrition = node.get("nutrition")
    for one in nutrition if isinstance(nutrition, list) else [nutrition]:
        if isinstance(one, dict) and set(one) <= {"@id", "@type"} and "@id" in one:
            one = nodes.get(str(one["@id"]), one)
        if isinstance(one, Mapping):
            read_nutrition(recipe, one, find_line)
        elif isinstance(one, str):
            read_nutrition_text(recipe, one)
    return recipe


def read_nutrition(
    recipe: RawRecipe, node: Mapping[str, Any], find_line: FindLine | None = None
) -> None:
    """Add what a NutritionInformation object states; ``servingSize`` decides the basis."""
    size = read_serving_size(node.get("servingSize"))
    basis = apply_serving_size(recipe, size, str(node.get("servingSize") or ""))
    for key, value in node.items():
        name = str(key).rpartition(":")[2]
        column = nutrient_column(name) if name not in PROPERTIES else None
        known = (column.tag, column.salt) if column else PROPERTIES.get(name)
        if known is None or value is None or value == "" or value == []:
            continue
        if isinstance(value, list):
            value = value[0]
        if isinstance(value, Mapping):
            value = f"{value.get('value', '')} {value.get('unitText', value.get('unitCode', ''))}"
        tag, salt = known
        read = read_amount(value, tag, unit=column.unit if column else "", salt=salt)
        line = peek(find_line)(value) if find_line is not None and isinstance(value, str) else None
        add_stated(recipe, tag, read, basis, str(value), str(key), line)


def read_nutrition_text(recipe: RawRecipe, text: str, line: int | None = None) -> None:
    """Add what a free-form text states, line by line ("412 kcal, P 32 g"), basis as it says."""
    basis: Basis = "per_serving"
    for offset, part in enumerate(text.split("\n")):
        read = read_stated_line(part)
        if read.basis is not None:
            basis = read.basis
        at = line + offset if line is not None else None
        for found in read.found:
            add_stated(recipe, found.tag, Amount(found.amount, found.step, found.text), basis,
                       found.text, found.tag, at)  # fmt: skip
    if text.strip() and not recipe.stated:
        add_stated(recipe, "ENERC_KCAL", "it names no amount", basis, text, "nutrition", line)


def add_stated(
    recipe: RawRecipe,
    tag: str,
    read: Amount | str,
    basis: Basis,
    written: str,
    name: str,
    line: int | None = None,
) -> None:
    """Add one stated amount, or the problem of one that cannot be read."""
    if isinstance(read, Amount):
        recipe.stated.append(RawStated(tag, read.amount, basis, read.step, read.text, line))
        return
    recipe.problems.append(
        input_problem(
            "stated-unreadable", source_line=line, text=cut(written), nutrient=name,
            written=cut(written, 40), why=read,
        )
    )  # fmt: skip


def apply_serving_size(recipe: RawRecipe, size: ServingSize, written: str) -> Basis:
    """Basis of the numbers; how many servings that makes is read anew (``settle_servings``)."""
    if size.basis in ("per_100g", "per_recipe"):
        if size.volume:
            recipe.problems.append(
                input_problem("stated-per-100-ml", text=cut(written), written=cut(written, 30))
            )
        return "per_100g" if size.basis == "per_100g" else "per_recipe"
    recipe.served = size.word or recipe.served
    settle_servings(recipe, size)
    return "per_serving"


def settle_servings(recipe: RawRecipe, size: ServingSize | None = None) -> None:
    """Read the number of servings from all that was told; ``size``: what the numbers are for."""
    told = recipe.told
    if math.isnan(told.yield_g) and recipe.yield_g > 0:
        told = replace(told, yield_g=recipe.yield_g)
    recipe.readings = readings(told, size)
    if recipe.readings:
        first = recipe.readings[0]
        recipe.servings, recipe.serving_word = first.servings, first.word


def set_yield(recipe: RawRecipe, value: Any, line: int | None = None) -> None:
    """Read servings and yield weight; a count that cannot be is a problem and stays missing."""
    read = read_yield(value)
    recipe.told = told_together(recipe.told, read)
    settle_servings(recipe)
    if not math.isnan(read.yield_g):
        recipe.yield_g = read.yield_g
    written = cut(str(value), 40)
    if read.fault:
        recipe.problems.append(
            input_problem(
                "servings-invalid", source_line=line, text=written, written=written,
                is_wrong=read.fault,
            )
        )  # fmt: skip


def set_dish_weight(recipe: RawRecipe, value: str, line: int | None = None) -> None:
    """Read what stands behind "Cooked weight:": a bare number is grams, whatever else is a yield."""
    set_yield(recipe, f"{value} g" if read_yield(value).kind == "bare" else value, line)


def set_yield_weight(recipe: RawRecipe, value: Any, line: int | None = None) -> None:
    """Read the weight of the whole dish, a bare number as grams; what is none is a problem."""
    read = read_amount(value, "WATER", unit="g")  # any mass in grams
    grams = read.amount if isinstance(read, Amount) else math.nan
    if isinstance(value, str) and "kg" in value.lower():
        grams = read_yield(value).yield_g
    if grams > 0:
        recipe.yield_g = grams
    else:
        written = cut(str(value), 40)
        recipe.problems.append(input_problem("yield-invalid", source_line=line, written=written))


#: Longer methods are cut: what is looked for stands in the steps, not in their comments.
MAX_METHOD = 20_000


def method_of(value: Any, depth: int = 0) -> str:
    """Text of a method: a string, steps, sections of steps, in any nesting; a line a step."""
    if isinstance(value, str):
        return "\n".join(line for part in value.split("\n") if (line := clean(part)))[:MAX_METHOD]
    if isinstance(value, Mapping) and depth < 6:
        by_key = {str(k).lower().lstrip("@"): v for k, v in value.items()}
        text = next((by_key[k] for k in ("text", "step", "description") if by_key.get(k)), None)
        inner = next(
            (by_key[k] for k in ("itemlistelement", "steps", "items") if by_key.get(k)), None
        )
        value = [v for v in (text, inner) if v] or [by_key.get("name") or ""]
    if isinstance(value, (list, tuple)) and depth < 6:
        parts = (method_of(one, depth + 1) for one in value[:500])
        return "\n".join(p for p in parts if p)[:MAX_METHOD]
    return ""


def peek(find_line: FindLine) -> FindLine:
    """The search that does not move on, where the search knows the difference."""
    found: FindLine = getattr(find_line, "peek", find_line)
    return found


def title_of(value: Any) -> str:
    """A clean title; "" when there is none. Of the texts of an object without a key that says which,
    the one that may best be a title: {"type": "plain", "text": "Pea soup"}."""
    if isinstance(value, Mapping) and value.keys().isdisjoint(("@value", "name", "value")):
        texts = [one for one in value.values() if may_be_title(one)]
        value = best_title(texts, ()) or value
    return clean(text_of(value)).strip("*_#: ")[:300]


def text_of(value: Any) -> str:
    """Text of a value that should be a string: the first of a list, the ``@value`` of an object, or
    what else an object says first."""
    if isinstance(value, list):
        value = value[0] if value else ""
    if isinstance(value, Mapping):
        first = next((one for one in value.values() if isinstance(one, str)), "")
        value = value.get("@value", value.get("name", value.get("value", first)))
    if value is None or isinstance(value, (dict, list, bool)):
        return ""
    return str(value)


def identifier(value: Any) -> str:
    """The recipe's own id: a string, a number, or the value of a PropertyValue."""
    if isinstance(value, list):
        value = value[0] if value else ""
    if isinstance(value, Mapping):
        value = value.get("value", value.get("@value", ""))
    return " ".join(text_of(value).split())[:200]


def names(value: Any, nodes: Mapping[str, Mapping[str, Any]] | None = None) -> str:
    """Names of people, joined by ", "; references within a graph are followed."""
    found: list[str] = []
    for one in value if isinstance(value, list) else [value]:
        if isinstance(one, Mapping):
            if "name" not in one and nodes and "@id" in one:
                one = nodes.get(str(one["@id"]), one)
            one = one.get("name", "")
        name = clean(text_of(one))
        if name and name not in found:
            found.append(name)
    return ", ".join(found)[:200]
