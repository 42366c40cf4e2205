"""How much of what a reading claims is borne out: what decides between several readings of one text."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Sequence

from pipeline.foods.words import singular
from pipeline.intake.columns import nutrient_named
from pipeline.intake.entries import is_heading
from pipeline.intake.model import RawRecipe
from pipeline.intake.numbers import Roles
from pipeline.intake.stated_line import KCAL_OF, borne_out
from pipeline.intake.text.features import names_food, of_item
from pipeline.intake.text.line_kinds import MAYBE_STATED, looks_like_ingredient, states, tells
from pipeline.nutrients import NET_CARBS_TAG

#: No title, that of a script's recipe without a name, or one of several recipes.
UNTITLED = re.compile(r"(?:recipe \d+)?$|.*\brecipes\b", re.IGNORECASE)
_LONG = 140
#: By how much a second reading has to explain more.
BETTER = 0.5
_LEAST_LINES = 2
#: Lines between a title and its list, at most, of which nobody wonders.
_NEAR = 5
#: A line counts as an amount and a food, or as none; what is less than either is a bare food.
_GOOD = 0.5
_MAX_WHOLE = 120
_COUNTED = "[number count] size? [word slice item whole container small thing]{1,2} $"
_FOODS_ON_A_LINE = 2


def leaves_doubt(recipes: Sequence[RawRecipe]) -> bool:
    """Whether another reading of a text may be better: a recipe lacks a part, or has one twice."""
    return not recipes or any(
        UNTITLED.match(one.title) or len(one.lines) < _LEAST_LINES or not one.stated
        or math.isnan(one.servings)
        or states_twice(one)
        or any(_is_no_line(line.text) for line in one.lines)
        or _of_numbers(one) < 2.0
        or not names_food(one.title)
        or _stands_far(one)
        or _lists_below(one)
        for one in recipes
    )  # fmt: skip


def states_twice(recipe: RawRecipe) -> bool:
    """Whether a recipe has two numbers for one thing: of two recipes, perhaps."""
    in_kcal = [one for one in recipe.stated if not one.in_kj]
    stated = [s for s in recipe.stated if not s.in_kj or not any(map(s.is_same, in_kcal))]
    return len({(s.nutrient, s.basis) for s in stated}) < len(stated)


def _stands_far(recipe: RawRecipe) -> bool:
    """Whether the title stands many lines above its list, where another may be nearer."""
    first = next((line.source_line for line in recipe.lines if line.source_line), 0)
    return bool(recipe.source_line) and first - (recipe.source_line or 0) > _NEAR


def _lists_below(recipe: RawRecipe) -> bool:
    """Whether the method holds lines of ingredients: the list goes on below a step."""
    steps = [s for s in recipe.method.split("\n") if looks_like_ingredient(s) and not tells(s)]
    return any(item > _GOOD for item in _items(steps))


def _is_no_line(text: str) -> bool:
    """Whether a text is anything but one ingredient: a sentence, a list."""
    return len(text) > _MAX_WHOLE or not (looks_like_ingredient(text) or is_heading(text))


def worth(recipes: Sequence[RawRecipe]) -> float:
    """What speaks for recipes as they were read: each well-read part counts about one."""
    return sum(map(_worth, recipes))


def better(other: Sequence[RawRecipe], first: Sequence[RawRecipe]) -> bool:
    """Whether a second reading is to stand: it explains more, by far unless only titles differ.

    Where both find the same recipes, the lines of the first stand if they are lines of ingredients:
    two foods on one line are no reason to cut it (a whole list on one is), nor is one that names
    what an earlier line made.
    Nor does a reading stand that finds the same recipes and leaves words of their lines out.
    """
    steps = sum(c.isalnum() for recipe in other for c in recipe.method)
    if list(map(_head, other)) == list(map(_head, first)) and (
        all(map(_stands, first, other)) or _letters(other) + steps < _letters(first)
    ):
        return False
    parts = [[([line.text for line in r.lines], r.stated) for r in read] for read in (other, first)]
    return worth(other) > worth(first) + (0.0 if parts[0] == parts[1] else BETTER) + _lost(
        first, other
    )


def _lost(first: Sequence[RawRecipe], other: Sequence[RawRecipe]) -> int:
    """How many weighed lines of a reading are neither lines nor steps of another."""
    from pipeline.lines import parse_many

    kept = _squashed(text for one in other for text in (*(x.text for x in one.lines), one.method))
    weighed = [
        line.text for line in parse_many([x.text[:_LONG] for one in first for x in one.lines])
        if line.name and any(m.kind in ("mass", "volume") for m in line.measures)
    ]  # fmt: skip
    return sum(_squashed([text]) not in kept and not states(text) for text in weighed)


def _squashed(texts: Iterable[str]) -> str:
    return " ".join("".join(filter(str.isalnum, text)) for text in texts)


def _stands(recipe: RawRecipe, other: RawRecipe) -> bool:
    """Whether the lines of a recipe may stay as they were read beside another reading of it."""
    as_many = len(other.lines) <= _FOODS_ON_A_LINE * len(recipe.lines)
    return as_many and sound(recipe, least=1) and not _lists_below(recipe)


def _head(recipe: RawRecipe) -> tuple[object, ...]:
    """What a recipe says of itself beside its lines; None for what is not said."""
    makes = [None if math.isnan(x) else x for x in (recipe.servings, recipe.yield_g)]
    return recipe.title, makes, [(s.nutrient, s.amount, s.basis) for s in recipe.stated]


def _letters(recipes: Sequence[RawRecipe]) -> int:
    return sum(c.isalnum() for one in recipes for line in one.lines for c in line.text)


def sound(recipe: RawRecipe, *, least: int = _LEAST_LINES) -> bool:
    """Whether a recipe stands by itself: a title, and more lines of an amount and a known food than others.

    ``least``: of how many such lines, at the least.
    """
    good, bad = understood(recipe)
    return bool(recipe.title) and good >= max(least, bad)


def understood(recipe: RawRecipe) -> tuple[int, int]:
    """How many lines are an amount and a known food, and how many are plainly none."""
    texts = [line.text for line in recipe.lines if not is_heading(line.text)]
    items = _items(texts)
    return sum(item > _GOOD for item in items), sum(item < -_GOOD for item in items)


def _items(texts: Sequence[str]) -> list[float]:
    from pipeline.lines import parse_many

    return [of_item(line) for line in parse_many([text[:_LONG] for text in texts])]


def _worth(recipe: RawRecipe) -> float:
    texts = [line.text for line in recipe.lines if not is_heading(line.text)]
    lines = _of_lines(texts) - 2.0 * sum(_counts_what_is_made(recipe, text) for text in texts)
    numbers = _of_numbers(recipe)
    title = recipe.title.strip()
    named = not (UNTITLED.match(title) or nutrient_named(title)) and not (
        any(c.isdigit() for c in title) and _measures(title)
    )
    score = (
        lines
        + numbers
        - 0.2 * _stands_far(recipe)
        + (1.0 + 0.5 * names_food(title) if named else -1.5)
    )
    makes = not math.isnan(recipe.servings) or not math.isnan(recipe.yield_g)
    divided = any(one.basis == "per_serving" for one in recipe.stated)  # worth nothing undivided
    score += (2.0 if divided else 1.0) * makes
    return score + (2.0 if lines > 1 and numbers > 0 else -2.0)


def _of_lines(texts: Sequence[str]) -> float:
    score = 0.0
    for at, (text, item) in enumerate(zip(texts, _items(texts), strict=True)):
        if MAYBE_STATED.search(text) and states(text):
            score -= 3.0
        elif text in texts[:at] and not any(map(str.isnumeric, text)):
            score -= 1.0  # what stands beside many foods, as their shop does, is none
        else:
            item = item if len(text) <= _LONG else -1.0
            score += 1.0 if item > 1 else 0.2 if item > 0 else -1.0
    return score


def _counts_what_is_made(recipe: RawRecipe, text: str) -> bool:
    """Whether a text counts what the recipe makes: "3 muffins" of "Oat muffins"."""
    made = {
        singular(word.lower())
        for word in (*recipe.serving_word.split(), *recipe.title.split()[-1:])
    }
    line = Roles(text)
    return line.search(_COUNTED) is not None and singular(line.words[-1]) in made


def _measures(text: str) -> bool:
    from pipeline.lines import parse

    return bool(parse(text).measures)


def _of_numbers(recipe: RawRecipe) -> float:
    """Stated numbers: whole ones that give their energy count, and one number said twice does not."""
    stated = {(one.basis, one.nutrient): one.amount for one in recipe.stated}
    energies = Counter(
        one.basis for at, one in enumerate(recipe.stated)
        if one.nutrient == "ENERC_KCAL" and not any(map(one.is_same, recipe.stated[:at]))
    )  # fmt: skip
    score = -3.0 * sum(count - 1 for count in energies.values())
    for basis in {basis for basis, _ in stated}:
        energy = stated.get((basis, "ENERC_KCAL"))
        macros = {tag: stated.get((basis, tag)) for tag in KCAL_OF}
        if macros["CHOCDF"] is None:
            macros["CHOCDF"] = stated.get((basis, NET_CARBS_TAG))
        told = {tag: value for tag, value in macros.items() if value is not None}
        score += 0.5 * len(told) + 1.0 * (energy is not None)
        if energy and len(told) == len(KCAL_OF):
            score += 1.0 if borne_out(told | {"ENERC_KCAL": energy}) else -1.0
    return score
