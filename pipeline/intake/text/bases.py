"""Recipes of a text that others of it are built on: "Base, plus" above the list of a bowl.

A list that says neither what it makes nor what is in it is a recipe only where another recipe of the
same text names it; one that nothing names is reported, never dropped in silence. A line that names
another recipe of the text, and says nothing else, belongs to the list it stands above or in.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence

from pipeline.foods.title_words import key_of, title_key
from pipeline.intake.entries import is_heading
from pipeline.intake.model import RawLine, RawRecipe, cut
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.features import known_food
from pipeline.intake.text.line_kinds import BULLET, measures, unmarked
from pipeline.lines import parse
from pipeline.problems import Problem, input_problem
from pipeline.resources import word_lists

#: Words of a line that names a recipe, at most.
_MOST_WORDS = 8
#: Characters of a line that are looked at, lines of a list, and recipes of a text, at least.
_LONG, _LEAST_LINES, _LEAST_RECIPES = 140, 2, 2
_LISTS = word_lists("match_words.csv")
#: What a line that names a recipe and nothing else may say beside its name.
_BESIDE = frozenset((*_LISTS["built_on"], *_LISTS["preposition"]))


def with_bases(
    kept: list[RawRecipe], others: Sequence[RawRecipe], lines: Sequence[CardLine]
) -> tuple[list[RawRecipe], list[Problem]]:
    """Recipes with the lines that name another of them, and the lists that only such lines make recipes.

    Args:
        kept: the recipes of a text.
        others: lists of the same text that were taken for no recipes.
        lines: the text.

    Returns:
        The recipes in the order of the text, and a problem for each list that no recipe names.
    """
    taken = {line.source_line for one in kept for line in one.lines}
    others = [
        one for one in others
        if one.title and taken.isdisjoint(line.source_line for line in one.lines)
        and sum(measures(line.text[:_LONG]) for line in one.lines) >= _LEAST_LINES
    ]  # fmt: skip
    if not kept or len(kept) + len(others) < _LEAST_RECIPES:
        return kept, []
    lists = {id(one) for one in others}
    recipes = sorted((*kept, *others), key=_begin)
    titles = _Titles(recipes)
    bulleted = {line.no for line in lines if BULLET.match(line.text)}
    named = [
        set() if id(recipe) in lists else titles.in_list(at, bulleted)
        for at, recipe in enumerate(recipes)
    ]
    for at, line in _outside(recipes, lines):
        base = titles.named(line.text, at) if id(recipes[at]) not in lists else None
        if base is not None and base not in named[at]:
            named[at].add(base)
            _insert(recipes[at], RawLine(_as_item(unmarked(line.text)), "", line.no))
    used = set().union(*named)
    unnamed = [one for at, one in enumerate(recipes) if id(one) in lists and at not in used]
    left = {id(one) for one in unnamed}
    return [one for one in recipes if id(one) not in left], [
        input_problem(
            "list-without-recipe", source_line=one.source_line, title=cut(one.title, 60),
            lines=len(one.lines), named=cut(one.title, 30),
        )
        for one in unnamed
    ]  # fmt: skip


def _begin(recipe: RawRecipe) -> int:
    return recipe.source_line or 0


def _outside(
    recipes: Sequence[RawRecipe], lines: Sequence[CardLine]
) -> Iterator[tuple[int, CardLine]]:
    """The lines above or between those of the list of a recipe, with the place of that recipe."""
    begins = list(map(_begin, recipes))
    places = [{line.source_line or 0 for line in one.lines} for one in recipes]
    ends = [max(of_one, default=0) for of_one in places]
    for line in lines:
        at = bisect_right(begins, line.no) - 1
        if at >= 0 and begins[at] < line.no < ends[at] and line.no not in places[at]:
            yield at, line


class _Titles:
    """The recipes of a text, found by the words of their titles; each by its place among them."""

    def __init__(self, recipes: Sequence[RawRecipe]) -> None:
        self._recipes = recipes
        self._whole: dict[tuple[str, ...], list[int]] = {}
        self._with: dict[str, set[int]] = {}
        for at, recipe in enumerate(recipes):
            key = title_key(recipe.title)
            self._whole.setdefault(key, []).append(at)
            for word in key:
                self._with.setdefault(word, set()).add(at)

    def in_list(self, own: int, bulleted: set[int]) -> set[int]:
        """Recipes that the list or the sections of one name; a line that does is an item of the list,
        whatever it is called ("- Base")."""
        found: set[int] = set()
        for line in self._recipes[own].lines:
            base = self.named(line.text, own)
            if base is None:
                continue
            item = line.source_line in bulleted or not all(map(_tells, line.text.split()))
            if item and _is_heading(line.text):
                line.text = _as_item(line.text)
            found.add(base)
        return found

    def named(self, text: str, own: int) -> int | None:
        """The one other recipe whose whole title is all that a text names, or a part of it that no food
        is called; None where there is none."""
        if len(text.split()) > _MOST_WORDS or self._with.keys().isdisjoint(key_of(text)):
            return None
        said = tuple(
            word for word in key_of(_food_of(text)) if word not in _BESIDE and not word.isdigit()
        )
        whole = [at for at in self._whole.get(said, ()) if at != own]
        if whole or not said or known_food(" ".join(said)):
            return whole[0] if len(whole) == 1 else None
        with_all = set.intersection(*(self._with.get(word, set()) for word in said)) - {own}
        return with_all.pop() if len(with_all) == 1 else None


def _food_of(text: str) -> str:
    """A text without the amount that it begins with: of "one box from the tray" the tray."""
    line = parse(text)
    return line.name if line.name and line.measures else text


def _as_item(text: str) -> str:
    """A line that names a recipe as an item of a list: a heading ("Base") gets a count."""
    written = text.split()
    while len(written) > 1 and not _tells(written[-1]):
        written.pop()
    while len(written) > 1 and not _tells(written[0]) and not parse(text).measures:
        written.pop(0)
    item = " ".join(written).strip(" ,;:+")
    return f"1 × {item}" if _is_heading(item) else item


def _is_heading(text: str) -> bool:
    """Whether a text by itself is read as the heading of a part."""
    return parse(text).kind == "heading"


def _tells(word: str) -> bool:
    return any(one not in _BESIDE for one in key_of(word))


def _insert(recipe: RawRecipe, line: RawLine) -> None:
    """Put a line where it stood, above the heading of what follows."""
    places = [one.source_line or 0 for one in recipe.lines]
    at = next((at for at, no in enumerate(places) if no > (line.source_line or 0)), len(places))
    while at and is_heading(recipe.lines[at - 1].text):
        at -= 1
    recipe.lines.insert(at, line)
