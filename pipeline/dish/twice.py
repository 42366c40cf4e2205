"""Lines that are counted elsewhere, or not at all: intermediates, alternatives, optional lines."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache, partial
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from pipeline.dish.model import KEPT, Dish, Dishes, DishLine, LineUse
from pipeline.lines.use_words import dish_phrase, plain_words, use_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from pipeline.phrases import Bools

_SECTION_GLUE = frozenset(
    {"for", "the", "a", "to", "make", "of", "and", "ingredients", "your", "recipe", "homemade"}
)
#: A section used to less than this share is not used up.
_USED_UP = 0.7
_HEADINGS = ("or_heading", "first_option", "later_option")


def optional_or_other(dishes: Dishes) -> Iterator[LineUse]:
    """Optional lines and alternatives of all recipes, see ``if_added``."""
    text, food = dishes.text, dishes.is_food
    hint = text.holds(dish_phrase("optional_hint").needles)
    hint &= text.holds(dish_phrase("optional_part").needles)
    says = text.where(lambda t: use_words(t).optional, hint)
    says |= dishes.section.has(dish_phrase("optional_section"))
    for name in ("or_line", "or_end"):
        says |= text.has(dish_phrase(name))
    says &= food
    for name in _HEADINGS:
        says |= text.where(partial(_heading, name), ~food)
    for dish in dishes.some(dishes.any_line(says)):
        yield from if_added(dish)


def counted_twice(dishes: Dishes) -> Iterator[LineUse]:
    """Lines of all recipes that use what earlier lines make, see ``made_of_lines``."""
    food = dishes.is_food
    refers = dishes.text.has(dish_phrase("above"), food) | dishes.text.has(
        dish_phrase("rest"), food
    )
    made = dishes.text.has(dish_phrase("made"), food)
    heads, _ = pd.factorize(
        np.array([d.partition(",")[0].lower() for d in dishes.description.values])
    )
    asked = dishes.any_line(refers)
    asked |= _several(dishes.of[food], dishes.section.codes[food], len(dishes.ids))
    known = food & (dishes.grams > 0)
    food_of_recipe = dishes.of * len(heads) + heads[dishes.description.codes]
    both = np.intersect1d(food_of_recipe[known & made], food_of_recipe[known & ~made])
    asked[both // max(len(heads), 1)] = True
    for dish in dishes.some(asked):
        yield from made_of_lines(dish)


def _several(groups: NDArray[np.intp], values: NDArray[np.intp], count: int) -> Bools:
    """Which of ``count`` groups have more than one value."""
    span = values.max(initial=0) + 1
    found: Bools = np.bincount(np.unique(groups * span + values) // span, minlength=count) > 1
    return found


def _heading(phrase: str, text: str) -> bool:
    return dish_phrase(phrase).found(text.strip().rstrip(":"))


def if_added(dish: Dish) -> Iterator[LineUse]:
    """Optional lines and alternatives: not in the sums, their energy is the range's upper end."""
    alternative, one_only, seen_option, or_above = "", False, False, False
    for line in dish.lines:
        if not line.is_food:
            seen_option = seen_option or _heading("first_option", line.text)
            later = seen_option and _heading("later_option", line.text)
            alternative = "an alternative" if _heading("or_heading", line.text) or later else ""
            one_only = alternative != "" and not line.text.strip().endswith(":") and not later
            continue
        why = alternative
        if one_only:
            alternative, one_only = "", False
        words = line.words
        if not why and (or_above or words.says("or_line")):
            why = "an alternative"
        or_above = words.says("or_end")
        if or_above and words.says("of_choice"):  # the lines that follow are that choice
            why, or_above = "an alternative", False
        if not why and (words.optional or dish_phrase("optional_section").found(line.section)):
            why = "optional"
        if why:
            use = "optional" if why == "optional" else "if_added"
            yield LineUse(dish.recipe_id, line.line_no, use, "line", 0.0, 0.0, 1.0, why)


def made_of_lines(dish: Dish) -> Iterator[LineUse]:
    """Lines that use what earlier lines make ("tangzhong from above"), and the lines used in part."""
    foods = dish.foods()
    sections = {line.section for line in foods}
    refers = (line.words.says(p) for line in foods for p in ("above", "rest"))
    if len(sections) < 2 and not any(refers):
        yield from _again(dish, foods)
        return
    used: dict[str, list[DishLine]] = {}
    for at, line in enumerate(foods):
        before = foods[:at]
        source = _source(line, before)
        if source is None:
            continue
        used.setdefault(source, []).append(line)
        what = f'of "{source}"' if source else "of the lines above"
        yield _made(dish, line, what)
    for source, lines in used.items():
        yield from _used_in_part(dish, source, lines)
    elsewhere = {line.line_no for lines in used.values() for line in lines}
    yield from _again(dish, [f for f in foods if f.line_no not in elsewhere])


def _made(dish: Dish, line: DishLine, what: str) -> LineUse:
    return LineUse(dish.recipe_id, line.line_no, "made", "line", 0.0, 0.0, 0.0,
                   f"made {what}, counted there")  # fmt: skip


def _source(line: DishLine, before: Sequence[DishLine]) -> str | None:
    """The section (or "" for all lines above) that makes what a line uses; None for no use."""
    if not before:
        return None
    words = line.words
    above, rest = words.says("above"), words.says("rest")
    others = dict.fromkeys(b.section for b in before if b.section != line.section)
    if not others and not above and not rest:
        return None
    name, refers = words.name, above or rest or words.says("refers")
    for section in others:
        key = [_stem(w) for w in plain_words(section) if w not in _SECTION_GLUE]
        if not key:
            continue
        if name and _stem(name[-1]) == key[-1]:
            whole = set(key) <= set(map(_stem, name))
            unknown = len(name) == 1 and not line.description  # "Tangzhong"
            if whole and (len(key) > 1 or refers or unknown):
                return section
        if (above or rest) and words.from_the(key[-1]):
            return section
    if above and (words.says("all_above") or not line.description):
        return ""
    rest = rest and not _measured(line)
    if not above and not rest:
        return None
    earlier = [b for b in before if b.head and b.head == line.head]
    if earlier:
        return earlier[-1].section
    return "" if rest else None


@lru_cache(maxsize=KEPT)
def _stem(word: str) -> str:
    return re.sub(r"(?:ed|s)$", "", word)


def _measured(line: DishLine) -> bool:
    return line.unit != "" and line.grams > 0


def _used_in_part(dish: Dish, source: str, lines: list[DishLine]) -> Iterator[LineUse]:
    """The lines of a section that is not used up, when what is used of it has a weight."""
    if any(line.words.says("rest") or not line.grams > 0 for line in lines):
        return
    first = min(line.line_no for line in lines)
    parts = [
        f for f in dish.foods()
        if f.line_no < first and (f.section == source if source else True)
    ]  # fmt: skip
    whole = sum(p.grams for p in parts if p.grams > 0)
    if not whole or any(not p.grams > 0 and p.basis != "open" for p in parts):
        return
    share = sum(line.grams for line in lines) / whole
    if share >= _USED_UP:
        return
    low, high = 0.75 * share, min(1.0, 1.35 * share)
    best, most = (
        (share, high) if source else (1.0, 1.0)
    )  # all lines above: some may be used as they are
    for part in parts:
        yield LineUse(dish.recipe_id, part.line_no, "share", "line", best, low, most,
                      f"{share:.0%} of what these lines make is used")  # fmt: skip


def _again(dish: Dish, foods: Sequence[DishLine]) -> Iterator[LineUse]:
    """ "1½ cups butter", then browned butter in several places that together are as much."""
    if not any(line.words.says("made") for line in foods):
        return
    groups: dict[str, list[DishLine]] = {}
    for line in foods:
        if line.head and line.grams > 0:
            groups.setdefault(line.head, []).append(line)
    for lines in groups.values():
        made = [line for line in lines if line.words.says("made")]
        plain = [line for line in lines if not line.words.says("made")]
        if not made or not plain:
            continue
        first = plain[0]
        later = [m for m in made if m.line_no > first.line_no]
        ratio = sum(m.grams for m in later) / first.grams
        apart = all(m.section != first.section for m in later)
        if later and 0.75 <= ratio <= 1.1 and (len(later) > 1 or (apart and ratio >= 0.9)):
            for line in later:
                yield _made(dish, line, f'of "{first.text[:40]}"')
