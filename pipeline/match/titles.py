"""Lines that name another recipe of the collection: "2 portions of the base dressing".

A title is often the plain name of a food ("Corn tortillas"), so a line means a recipe only when it
says so (``refers``), or when the recipe is of the same creator; a recipe of the same file or folder
of which nobody is named is meant too, where the table knows no such food for certain. What a line says
is recognised here; which recipe it means is decided for all lines at once by ``sql/read_uses.sql``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pipeline.foods.words import words
from pipeline.phrases import Column, phrases
from pipeline.resources import word_lists

if TYPE_CHECKING:
    from pipeline.lines.model import ParsedLine

_LISTS = {name: frozenset(own) for name, own in word_lists("match_words.csv").items()}
#: Units that only a dish is counted in; a line with one may name a title in part.
DISH_UNITS = _LISTS["dish_unit"]


def refers(texts: list[str]) -> list[str]:
    """What each line says of having been made: "share" ("500 g of the sauce"), "recipe" ("the
    dressing", "see recipe"), "own" ("our stock", "homemade stock"), or "".
    """
    column, said_by = Column.coded(np.arange(len(texts)), texts), phrases("title_phrases.csv")
    recipe, no_recipe = said_by["recipe"], said_by["no_recipe"].pattern
    pointed = column.has(recipe)
    said = np.where(column.has(said_by["own"]), "own", "").astype(object)
    said[column.where(lambda text: recipe.found(no_recipe.sub(" ", text)), pointed)] = "recipe"
    said[column.has(said_by["share"])] = "share"
    return [str(one) for one in said]


def counting_word(line: ParsedLine) -> str:
    """What a line counts in ("scoop" of "2 scoops filling"); "" for a weight, a volume or a bare number."""
    first = line.measures[0] if line.measures else None
    if (
        first is None
        or first.unit == "piece"
        or first.kind in ("mass", "volume", "share", "length")
    ):
        return ""
    return first.unit


def portion_of(served: object) -> str:
    """What a recipe is portioned into, one of it: "bag" of "8 freezer bags", "" where it is not said."""
    said = words(served) if isinstance(served, str) else ()
    return said[-1] if said else ""
