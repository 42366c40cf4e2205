"""Which line texts and recipes a change of the answers or the pantry touches."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pipeline.memory.accepted import names_of
from pipeline.memory.decisions import Decisions, same_text
from pipeline.reading import read_lines
from pipeline.web.model import line_key

if TYPE_CHECKING:
    from pipeline.memory.pantry import Pantry
    from pipeline.reading import Tools
    from pipeline.web.line_index import LineIndex
    from pipeline.web.rerun import RecipeNow

#: Scopes of answers that are not about lines.
NOT_OF_LINES = ("recipe", "habit")


def texts_answered(before: Decisions, after: Decisions, lines: LineIndex) -> set[str]:
    """Keys of the texts about which the answer is another one now."""
    old, new = before.by_subject, after.by_subject
    return {
        key
        for subject in old.keys() | new.keys()
        if old.get(subject) != new.get(subject) and subject[0] not in NOT_OF_LINES
        for key in lines.about(*subject)
    }


def recipes_accepted(
    before: Decisions, after: Decisions, recipes: dict[str, RecipeNow]
) -> set[str]:
    """Recipes whose accepted difference changed."""
    old, new = before.recipes, after.recipes
    changed = {key for key in old.keys() | new.keys() if old.get(key) != new.get(key)}
    if not changed:
        return set()
    return {
        r for r, now in recipes.items()
        if now.about.get("accepted")
        or changed & set(map(same_text, names_of(r, now.title, str(now.about["source"] or ""))))
    }  # fmt: skip


def texts_of_pantry(
    before: Pantry, after: Pantry, lines: LineIndex, recipes: dict[str, RecipeNow], tools: Tools
) -> set[str]:
    """Keys of the texts that are read otherwise with another pantry, or whose food has new values.

    Args:
        before, after: the pantries.
        recipes: as judged with ``before``.
        tools: with ``after``.
    """
    foods = {
        food_id
        for food_id in before.by_id.keys() | after.by_id.keys()
        if before.by_id.get(food_id) != after.by_id.get(food_id)
    }
    was: dict[str, dict[str, Any]] = {
        line_key(row["text"]): row for recipe in recipes.values() for row in recipe.lines
    }
    words = {
        word
        for food_id in foods
        for pantry in (before, after)
        if (food := pantry.by_id.get(food_id)) is not None
        for name in (food.name, *food.aliases)
        for word in tools.matcher.words_of(name)
    }
    keys = [
        key for key, parsed in lines.parsed.items()
        if parsed.kind == "food"
        and ((row := was.get(key)) is None or row["food_id"] in foods
             or not words.isdisjoint(tools.matcher.words_in(parsed)))
    ]  # fmt: skip
    touched = set()
    for key, read in zip(keys, read_lines([lines.texts[k] for k in keys], tools), strict=True):
        line = was.get(key)
        if (  # a line that is not there yet has nothing to compare
            line is None
            or line["food_id"] in foods
            or line["food_id"] != read.match.food_id
            or line["grams"] != read.weight.grams
            or line["status"] != read.match.status
        ):
            touched.add(key)
    return touched
