"""Recipes of a text that others of it are built on: "Base, plus" above the list of a bowl.

A list that says neither what it makes nor what is in it is a recipe only where another recipe of the
same text names it; one that nothing names is reported, never dropped in silence. A line that names
another recipe of the text, and says nothing else, belongs to the list it stands above or in.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

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
_LEAST_LINES = 2
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
        and _measured(one) >= _LEAST_LINES
    ]  # fmt: skip
    if not kept or len(kept) + len(others) < 2:
        return kept, []
    all_of_them = sorted((*kept, *others), key=lambda one: one.source_line or 0)
    named: set[int] = set()
    for recipe in kept:
        named |= _name_in(recipe, all_of_them, lines)
    bases = [one for one in others if id(one) in named]
    return [one for one in all_of_them if one in kept or one in bases], [
        input_problem(
            "list-without-recipe", source_line=one.source_line, title=cut(one.title, 60),
            lines=len(one.lines), named=cut(one.title, 30),
        )
        for one in others if id(one) not in named
    ]  # fmt: skip


def _measured(recipe: RawRecipe) -> int:
    return sum(measures(line.text[:140]) for line in recipe.lines)


def _name_in(
    recipe: RawRecipe, recipes: Sequence[RawRecipe], lines: Sequence[CardLine]
) -> set[int]:
    """``id`` of the recipes that lines of a recipe name; lines that stood outside its list are added."""
    keys = {id(one): title_key(one.title) for one in recipes if one is not recipe}
    bulleted = {line.no for line in lines if BULLET.match(line.text)}
    for line in recipe.lines:
        item = line.source_line in bulleted or not all(map(_tells, line.text.split()))
        if item and _is_heading(line.text) and _named(line.text, keys):
            line.text = _as_item(line.text)  # of the list, whatever it is called
    named = {id_ for line in recipe.lines if (id_ := _named(line.text, keys))}
    sections = {line.section for line in recipe.lines if line.section}
    made_here = {id_ for section in sections if (id_ := _named(section, keys))}
    starts = [one.source_line or 0 for one in recipes]
    begin = recipe.source_line or 0
    after = bisect_right(starts, begin)
    end = starts[after] if after < len(starts) else float("inf")
    last = max((one.source_line or 0 for one in recipe.lines), default=0)
    taken = {one.source_line for one in recipe.lines}
    for card_line in lines:
        text, no = card_line.text, card_line.no
        if not begin < no < min(end, last) or no in taken:
            continue
        id_ = _named(text, keys)
        if id_ and id_ not in named | made_here:
            named.add(id_)
            _insert(recipe, RawLine(_as_item(unmarked(text)), "", no))
    return named


def _named(text: str, keys: dict[int, tuple[str, ...]]) -> int:
    """``id`` of the one recipe whose whole title is all that a text names, or a part of it that no food
    is called; 0 for none."""
    if len(text.split()) > _MOST_WORDS:
        return 0
    said = tuple(
        word for word in key_of(_food_of(text)) if word not in _BESIDE and not word.isdigit()
    )
    if not said:
        return 0
    whole = [id_ for id_, key in keys.items() if key == said]
    if whole or known_food(" ".join(said)):
        return whole[0] if len(whole) == 1 else 0
    parts = [id_ for id_, key in keys.items() if set(said) <= set(key)]
    return parts[0] if len(parts) == 1 else 0


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
    at = next(
        (
            at
            for at, one in enumerate(recipe.lines)
            if (one.source_line or 0) > (line.source_line or 0)
        ),
        len(recipe.lines),
    )
    while at and is_heading(recipe.lines[at - 1].text):
        at -= 1
    recipe.lines.insert(at, line)
