"""Recipes that stand as running text in the values of data: posts of an export, notes of a plan.

What the keys of the data give comes first. The texts of every object from which no recipe was read are
then read as the cards (or, with markup, the pages) that they are, and so are those of a recipe that
its keys give no lines; the other keys of the object complete a recipe that stands alone in it.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from itertools import islice
from typing import Any

from pipeline.foods.words import singular
from pipeline.intake.by_content import may_be_title
from pipeline.intake.facts_line import yield_line
from pipeline.intake.model import RawRecipe
from pipeline.intake.pages.schema_org import MAX_DEPTH, is_recipe
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.structured.own_form import meaning_of, read_own
from pipeline.intake.text.card import read_cards
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.evidence import BETTER, sound, worth
from pipeline.intake.text.features import names_food
from pipeline.intake.text.plain_lines import card_lines

#: The format of such a recipe, see ``tables.RECIPE``.
FORMAT = "text-values"
#: Words that a recipe with its numbers has at the least.
_LEAST_WORDS = 8
_MARKUP = re.compile(
    r"</?(?:p|br|div|h[1-6]|ul|ol|li|table|tr|td|span|strong|em|b|i|section)\b[^<>]*>", re.I
)
_NUMBER = re.compile(r"\d+|[½¼¾⅓⅔⅛]")
_WORD = re.compile(r"[^\W\d_]{3,}")
#: Numbers of a text that tells a recipe, at the least.
_LEAST_NUMBERS = 2
#: Of the lines of a recipe that is told twice, those that stand in both.
_SAME_LINES = 2 / 3
#: Recipes of one name, or of the same numbers, that are compared.
_MOST_ALIKE = 8


def with_texts(
    tree: Any,
    nodes: Sequence[Mapping[str, Any]],
    recipes: Sequence[RawRecipe],
    line_of: Callable[[str], int | None],
) -> list[RawRecipe]:
    """The recipes that the keys of a tree give, and behind them those that only its texts tell.

    Args:
        tree: of JSON, YAML or XML, or the rows of a table as objects.
        nodes: the parts of it that are ``recipes`` by their keys, in the same order.
        line_of: line of the file that a text begins in; None where that is not known.
    """
    known = {id(getattr(n, "origin", n)): one for n, one in zip(nodes, recipes, strict=True)}
    lined = {at: one for at, one in known.items() if one.lines}
    alike = _Alike(lined)
    for node, one in zip(nodes, recipes, strict=True):
        _complete(one, getattr(node, "origin", node), line_of)
    instead: dict[int, RawRecipe] = {}
    more: list[RawRecipe] = []
    for node in _objects(tree, lined):
        if len(held := _held(node, lined)) == 1:
            _complete(held[0], node, line_of)
        told = _recipes_of(node, line_of)
        if lined:
            told = [one for one in told if sound(one) and not alike.has(one, node)]
        if len(told) == 1 and (bare := known.get(id(node))) is not None:
            told[0].position = bare.position
            instead[id(bare)] = told.pop()
        more += told
    found = [instead.get(id(one), one) for one in recipes]
    if not lined and (more or instead):  # what is named beside a text without its own is no recipe
        found = [one for one in found if one.lines]
    for position, one in enumerate(more, start=len(recipes)):
        one.position = position
    return [*found, *more]


class _Alike:
    """Recipes that the keys of a tree gave, by what a text would tell of them again."""

    def __init__(self, lined: Mapping[int, RawRecipe]) -> None:
        self._lined = lined
        self._by_head: defaultdict[Any, list[RawRecipe]] = defaultdict(list)
        for one in lined.values():
            for head in _heads(one):
                self._by_head[head].append(one)

    def has(self, told: RawRecipe, node: Mapping[str, Any]) -> bool:
        """Whether a recipe of the texts of ``node`` is one of them: most of its lines are."""
        named = [one for head in _heads(told) for one in self._by_head[head][:_MOST_ALIKE]]
        return any(_is_same(told, one) for one in (*_held(node, self._lined), *named))


def _held(node: Mapping[str, Any], lined: Mapping[int, RawRecipe]) -> list[RawRecipe]:
    """The recipes that are values of an object, or in a list that is one."""
    values = [v for value in node.values() for v in (value if isinstance(value, list) else [value])]
    return [one for value in values if (one := lined.get(id(value)))]


def _complete(recipe: RawRecipe, node: Any, line_of: Callable[[str], int | None]) -> None:
    """Let the texts beside a list of ingredients say what the recipe makes and states, where no key does."""
    if not recipe.lines or (recipe.stated and not math.isnan(recipe.servings)):
        return
    head = [CardLine(1, recipe.title, begins=True, role="title")]
    head += [CardLine(1, line.text, role="item") for line in recipe.lines]
    for key, text in _texts(node) if isinstance(node, dict) else ():
        if meaning_of(key) or not _may_tell(text):
            continue
        told = _cards([*head, CardLine(1, ""), *_lines(text)], line_of(text))
        if len(told) != 1 or len(told[0].lines) != len(recipe.lines):
            continue
        if told[0].stated and not recipe.stated:
            recipe.stated, recipe.format = told[0].stated, FORMAT
        if math.isnan(recipe.servings):
            recipe.servings, recipe.serving_word = told[0].servings, told[0].serving_word
            recipe.told, recipe.readings = told[0].told, told[0].readings


def _heads(recipe: RawRecipe) -> list[Any]:
    """The name of a recipe and its numbers."""
    stated = frozenset((s.nutrient, s.amount, s.basis) for s in recipe.stated)
    return [key for key in (recipe.title.lower(), stated) if key]


def _is_same(told: RawRecipe, other: RawRecipe) -> bool:
    """Whether most lines of a recipe have an amount and a word in common with those of another, and no
    stated number says that it is another."""
    stated = {(s.nutrient, s.basis): s.amount for s in other.stated}
    if any(stated.get((s.nutrient, s.basis), s.amount) != s.amount for s in told.stated):
        return False
    lines = [pairs for line in told.lines if (pairs := _pairs(line.text))]
    pairs_of_other = {pair for line in other.lines for pair in _pairs(line.text)}
    shared = sum(not pairs.isdisjoint(pairs_of_other) for pairs in lines)
    return shared >= _SAME_LINES * len(lines)


def _pairs(line: str) -> set[tuple[str, str]]:
    words = {singular(word) for word in _WORD.findall(line.lower())}
    return {(number, word) for number in _NUMBER.findall(line) for word in words}


def _recipes_of(node: Mapping[str, Any], line_of: Callable[[str], int | None]) -> list[RawRecipe]:
    """The recipes of the text of an object that says most, and those of others that are not told in it:
    one text may be there in two forms."""
    titles = (text for key, text in _texts(node) if meaning_of(key) == "title")
    title = next((text for text in titles if may_be_title(text)), "")
    heads = dict.fromkeys(((title,), ("",), _beside(node, title)))
    facts = {fact for head in heads for fact in head[1:]}
    at = {text: line_of(text) for _, text in _texts(node) if _may_tell(text) or text in facts}
    told: dict[str, list[RawRecipe]] = {}
    for key, text in _texts(node):
        if not _may_tell(text):
            continue
        named = [(key,)] if may_be_title(key) and not meaning_of(key) else []
        read: list[RawRecipe] = []
        for head in (*heads, *named):  # what may be its name has to say more than the text alone
            other = head[0] not in ("", title)
            named_itself = read and all(names_food(one.title) for one in read)
            if other and not head[1:] and named_itself and not names_food(head[0]):
                continue
            found = _read(text, head, at)
            if worth(found) > worth(read) + BETTER * other:
                read = found
        if read:
            told[key] = read
    first = max(told, key=lambda key: worth(told[key]), default="")
    found = told.pop(first, [])
    more = [one for read in told.values() for one in read if _is_another(one, found)]
    if len(found) == 1 and not more:
        rest = {k: v for k, v in node.items() if k != first and meaning_of(k)}
        keyed = read_own(rest, format=FORMAT, position=0)
        keyed.title, keyed.problems = "", []
        found[0].fill(keyed)
    return [*found, *more]


def _is_another(recipe: RawRecipe, told: Sequence[RawRecipe]) -> bool:
    """Whether a recipe with its numbers is none of those that another text tells."""
    return bool(recipe.stated) and sound(recipe) and not any(_is_same(recipe, one) for one in told)


def _beside(node: Mapping[str, Any], title: str) -> tuple[str, ...]:
    """The title of an object, or what may be one, and the texts of it that state yield or numbers."""
    texts = [text for key, text in _texts(node) if not meaning_of(key)]
    facts = [
        text for text in texts
        if "\n" not in text and not _MARKUP.search(text)
        and (yield_line(text) or read_stated_line(text).certain)
    ]  # fmt: skip
    named = [text for text in texts if may_be_title(text) and text not in facts]
    best = max(named, key=lambda text: (names_food(text), " " in text), default="")  # not "food"
    return (title or best, *facts)


def _read(text: str, head: Sequence[str], at: Mapping[str, int | None]) -> list[RawRecipe]:
    """The recipes of one text below a title and facts; what it says stands ``at`` the text's line."""
    title, lines = head[0], _lines(text)
    facts = [fact for fact in head[1:] if fact != text]
    if title:
        above = (CardLine(1, said) for fact in facts for said in (fact, ""))
        lines = [CardLine(1, title, level=1), CardLine(1, ""), *above, *lines]
    recipes = _cards(lines, at[text])
    for number in (number for recipe in recipes for number in recipe.stated):
        number.source_line = at[next((fact for fact in facts if number.text in fact), text)]
    return recipes


def _lines(text: str) -> list[CardLine]:
    """The lines of a text, or of the page that it is."""
    if len(_MARKUP.findall(text)) > 1:
        from pipeline.intake.documents import page_lines

        return page_lines(text)
    return card_lines(text)


def _cards(lines: Sequence[CardLine], at: int | None) -> list[RawRecipe]:
    """The recipes of lines that all stand in one place of the file."""
    recipes = read_cards(lines, "", format=FORMAT).recipes
    for recipe in recipes:
        recipe.source_line = at
        for line in recipe.lines:
            line.source_line = at
        for number in recipe.stated:
            number.source_line = at
    return recipes


def _objects(tree: Any, read: Container[int]) -> Iterator[dict[str, Any]]:
    """Objects of a tree with texts, in its order; one that stands for its one text is none.

    Args:
        read: ``id`` of the parts that recipes were read from. Of these only the lists of objects count
            that stand under keys without a meaning.
    """
    pending: list[tuple[Any, int, bool]] = [(tree, 0, False)]
    while pending:
        node, depth, inside = pending.pop()
        inside = inside or id(node) in read
        if isinstance(node, list) and _text_of(node) is not None:
            node = {"": node}
        if isinstance(node, dict) and inside:
            node = [] if is_recipe(node) else [v for k, v in node.items() if not meaning_of(str(k))]
            lists = [one for v in node if isinstance(v, list) for one in v if isinstance(one, dict)]
            pending += [(child, depth + 1, False) for child in reversed(lists)]
            node = [value for value in node if isinstance(value, dict)]
        elif isinstance(node, dict):
            if any(_may_tell(text) for _, text in _texts(node)):
                yield node
            node = [value for value in node.values() if _text_of(value) is None]
        if isinstance(node, list) and depth < MAX_DEPTH:
            pending += [(child, depth + 1, inside) for child in reversed(node)]


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
    if isinstance(value, list) and len(value) > 1 and all(isinstance(one, str) for one in value):
        return "\n".join(value)
    return value if isinstance(value, str) else None


def _may_tell(text: str) -> bool:
    """Whether a text is long enough, and has the numbers, for a recipe."""
    if len(text.split(None, _LEAST_WORDS)) < _LEAST_WORDS:
        return False
    numbers = islice(_NUMBER.finditer(text), _LEAST_NUMBERS)
    return sum(1 for _ in numbers) == _LEAST_NUMBERS
