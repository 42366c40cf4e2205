"""Where a line of a document stands, in the words its readers use."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from pipeline.intake.model import RawRecipe, Read
from pipeline.problems import Problem, input_problem


def renumber(read: Read, place: Callable[[int], int]) -> None:
    """Number the lines of recipes and problems by ``place`` of the number they have."""

    def of(no: int | None) -> int | None:
        return None if no is None else place(no)

    rows = [row for table in read.apart for row in table.rows]
    for recipe in [*read.recipes, *rows]:
        recipe.source_line = of(recipe.source_line)
        for line in recipe.lines:
            line.source_line = of(line.source_line)
        for stated in recipe.stated:
            stated.source_line = of(stated.source_line)
        recipe.problems = [replace(p, source_line=of(p.source_line)) for p in recipe.problems]
    read.problems = [replace(p, source_line=of(p.source_line)) for p in read.problems]


def text_boxes(count: int, source: str) -> list[Problem]:
    """What is said of text boxes: they stand beside the text, nobody knows where in it."""
    if not count:
        return []
    said = "a text box" if count == 1 else f"{count} text boxes"
    return [input_problem("text-boxes-left-out", source=source, boxes=said)]


def take(read: Read, found: Read) -> None:
    """Add what a part of a document gave to the rest."""
    for recipe in found.recipes:
        recipe.position = len(read.recipes)
        read.recipes.append(recipe)
    read.problems.extend(found.problems)
    read.apart.extend(found.apart)
    read.listed.extend(found.listed)


def untitled(recipe: RawRecipe) -> bool:
    """Whether a recipe begins without a title, so that it stands before it."""
    return not recipe.title
