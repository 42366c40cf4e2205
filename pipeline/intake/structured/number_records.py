"""Numbers of recipes in a tree that hold no ingredients: objects by title, or a list of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pipeline.intake.by_content import may_be_title
from pipeline.intake.columns import basis_of, nutrient_column
from pipeline.intake.entries import FindLine
from pipeline.intake.model import Apart, RawRecipe
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.structured import own_form
from pipeline.intake.structured.number_lists import NumberLists
from pipeline.intake.structured.records import by_recipe, facts_of

#: Levels of lists and objects around the numbers.
_MAX_LEVELS = 8
#: Objects beside one another that state numbers, at least.
_LEAST_ROWS = 2


def numbers_in(
    tree: Any, format: str, recipes: Sequence[RawRecipe], find_line: FindLine | None = None
) -> list[Apart]:
    """The numbers of recipes that stand together in a tree, each with its title or id.

    Args:
        tree: of JSON, YAML or XML.
        format: name of the format.
        recipes: what else was made of the tree; those without lines go where rows are joined.
        find_line: gives lines of JSON.
    """
    found = []
    tree = by_recipe(tree)
    bare = NumberLists(tree)
    for nodes in _lists(tree, 0):
        told = facts_of(nodes, bare)
        rows = [
            own_form.read_own(node, format=format, position=0, find_line=find_line) for node in told
        ]
        for row, node in zip(rows, nodes, strict=True):
            row.source_line = row.source_line or getattr(node.get("title"), "line", None)
            row.problems = []
        told_of = [row for row in rows if row.title or row.own_id]
        found.append([row for row in told_of if row.stated or not math.isnan(row.servings)])
    unlisted = [one for one in recipes if not one.lines]
    return [Apart(rows, unlisted) for rows in found if len(rows) >= _LEAST_ROWS]


def _lists(node: Any, depth: int) -> Iterator[list[Mapping[str, Any]]]:
    """Lists of objects of numbers without ingredients, their titles among their own keys."""
    if depth > _MAX_LEVELS or not isinstance(node, (Mapping, list)):
        return
    if isinstance(node, Mapping) and any(
        own_form.meaning_of(str(k)) == "ingredients" for k in node
    ):
        return
    children = node.items() if isinstance(node, Mapping) else (("", one) for one in node)
    values = list(children)
    rows = [row for key, value in values if (row := _row(key, value)) is not None]
    if len(rows) >= _LEAST_ROWS:
        yield rows
        return
    for _, value in values:
        yield from _lists(value, depth + 1)


def _row(key: Any, value: Any) -> Mapping[str, Any] | None:
    """What states the numbers of one recipe, with its title; None for any other value."""
    key = key if isinstance(key, str) else str(key)  # it may know its line
    named = may_be_title(key) and nutrient_column(key) is None and basis_of(key) is None
    if isinstance(value, str):
        return (
            {"title": key, "stated": value} if named and read_stated_line(value).certain else None
        )
    if not isinstance(value, Mapping) or own_form.is_overfull(value):
        return None
    meant = {own_form.meaning_of(str(k)) for k in value}
    if "ingredients" in meant:
        return None
    if meant & {"title", "id"} or not named:
        return value
    return {"title": key, **value} if _states(value) else None


def _states(value: Mapping[str, Any]) -> bool:
    """Whether an object holds the numbers of a recipe."""
    return own_form.told_numbers(value) is not None or any(
        own_form.holds_stated(str(k), v) for k, v in value.items()
    )
