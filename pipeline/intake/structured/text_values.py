"""Recipes that stand as running text in the values of data: posts of an export, notes of a plan.

Where no key holds ingredients, the texts of an object are read as the cards (or, with markup, the
pages) that they are; the other keys of the object complete a recipe that stands alone in it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from pipeline.intake.by_content import may_be_title
from pipeline.intake.facts_line import yield_line
from pipeline.intake.model import RawRecipe
from pipeline.intake.pages.schema_org import MAX_DEPTH
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.structured import own_form
from pipeline.intake.text.card import card_lines, read_cards
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.evidence import leaves_doubt, worth

#: The format of such a recipe, see ``tables.RECIPE``.
FORMAT = "text-values"
#: Words that a recipe with its numbers has at the least.
_LEAST_WORDS = 8
_MARKUP = re.compile(
    r"</?(?:p|br|div|h[1-6]|ul|ol|li|table|tr|td|span|strong|em|b|i|section)\b[^<>]*>", re.I
)


def recipes_in_texts(tree: Any, line_of: Callable[[str], int | None]) -> list[RawRecipe]:
    """Recipes in the texts of a tree's objects, in the order of the tree.

    Args:
        tree: of JSON or YAML, or the rows of a table as objects.
        line_of: line of the file that a text begins in; None where that is not known.
    """
    found: list[RawRecipe] = []
    for node in _objects(tree):
        for recipe in _recipes_of(node, line_of):
            recipe.position = len(found)
            found.append(recipe)
    return found


def worth_reading(recipes: Sequence[RawRecipe]) -> bool:
    """Whether texts may hold more than what the keys of the data gave: no recipe with its lines."""
    return not any(recipe.lines for recipe in recipes) and leaves_doubt(recipes)


def _recipes_of(node: Mapping[str, Any], line_of: Callable[[str], int | None]) -> list[RawRecipe]:
    """The recipes of the text of an object that says most; one text may be told in two forms."""
    titles = (text for key, text in _texts(node) if own_form.meaning_of(key) == "title")
    title = next(titles, "")
    heads = dict.fromkeys(((title,), ("",), _beside(node, title)))
    facts = {fact for head in heads for fact in head[1:]}
    at = {text: line_of(text) for _, text in _texts(node) if _is_long(text) or text in facts}
    best: list[RawRecipe] = []
    key_of_best = ""
    for key, text in _texts(node):
        if not _is_long(text):
            continue
        for head in heads:
            recipes = _read(text, head, at)
            if worth(recipes) > max(0.0, worth(best)):
                best, key_of_best = recipes, key
    if len(best) == 1:
        rest = {k: v for k, v in node.items() if k != key_of_best and own_form.meaning_of(k)}
        told = own_form.read_own(rest, format=FORMAT, position=0)
        told.title, told.problems = "", []
        best[0].fill(told)
    return best


def _beside(node: Mapping[str, Any], title: str) -> tuple[str, ...]:
    """The title of an object, or what may be one, and the texts of it that state yield or numbers."""
    texts = [text for key, text in _texts(node) if not own_form.meaning_of(key)]
    facts = [
        text for text in texts
        if "\n" not in text and not _MARKUP.search(text)
        and (yield_line(text) or read_stated_line(text).certain)
    ]  # fmt: skip
    named = (text for text in texts if may_be_title(text) and text not in facts)
    return (title or next(named, ""), *facts)


def _read(text: str, head: Sequence[str], at: Mapping[str, int | None]) -> list[RawRecipe]:
    """The recipes of one text below a title and facts; what it says stands ``at`` the text's line."""
    if len(_MARKUP.findall(text)) > 1:
        from pipeline.intake.documents import page_lines

        lines = page_lines(text)
    else:
        lines = card_lines(text)
    title = head[0]
    facts = [fact for fact in head[1:] if fact != text]
    if title:
        above = (CardLine(1, said) for fact in facts for said in (fact, ""))
        lines = [CardLine(1, title, level=1), CardLine(1, ""), *above, *lines]
    recipes = read_cards(lines, "", format=FORMAT).recipes
    for recipe in recipes:
        recipe.source_line = at[text]
        for part in recipe.lines:
            part.source_line = at[text]
        for number in recipe.stated:
            number.source_line = at[next((fact for fact in facts if number.text in fact), text)]
    return recipes


def _objects(tree: Any) -> Iterator[dict[str, Any]]:
    """Objects of a tree with texts, in its order; one that stands for its one text is none."""
    pending: list[tuple[Any, int]] = [(tree, 0)]
    while pending:
        node, depth = pending.pop()
        if isinstance(node, dict):
            if any(_is_long(text) for _, text in _texts(node)):
                yield node
            node = [value for value in node.values() if _text_of(value) is None]
        if isinstance(node, list) and depth < MAX_DEPTH:
            pending += [(child, depth + 1) for child in reversed(node)]


def _texts(node: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Keys of an object and the texts under them."""
    for key, value in node.items():
        text = _text_of(value)
        if text is not None:
            yield str(key), text


def _text_of(value: Any) -> str | None:
    """A text, or the one that an object holds beside numbers and flags; None for anything else."""
    if isinstance(value, dict):
        told = [one for one in value.values() if isinstance(one, str)]
        plain = not any(isinstance(one, (dict, list)) for one in value.values())
        return told[0] if len(told) == 1 and plain and len(value) < _LEAST_WORDS else None
    return value if isinstance(value, str) else None


def _is_long(text: str) -> bool:
    return len(text.split(None, _LEAST_WORDS)) >= _LEAST_WORDS
