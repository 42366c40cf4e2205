"""``steelyard foods``: the table searched with a cook's words."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.lines.model import ParsedLine
from pipeline.match.index import Index
from pipeline.match.query import query_of
from pipeline.match.rank import rank


@dataclass(frozen=True, slots=True)
class FoundFood:
    """A food of the table; values per 100 g, NaN when the table does not give them."""

    food_id: str
    description: str
    category: str
    kcal: float
    protein_g: float
    fat_g: float
    carb_g: float


def search(
    index: Index, words: str, states: frozenset[str] = frozenset(), limit: int = 15
) -> list[FoundFood]:
    """Foods that the words may mean, the likeliest first; a food_id or code finds itself.

    Args:
        words: a food name as a cook writes it, a ``food_id``, or a source code.
        states: canonical states, see shared/states.csv.
        limit: how many at most.
    """
    foods = index.foods
    exact = [
        at for at, (i, c) in enumerate(zip(foods.ids, foods.codes, strict=True)) if words in (i, c)
    ]
    if not exact:
        query = query_of(ParsedLine(words, "food", name=words, states=states), index)
        exact = [c.food for c in rank(query, index, keep=max(limit, 14)).candidates if c.food >= 0]
    return [
        FoundFood(
            foods.ids[at],
            foods.descriptions[at],
            foods.categories[at],
            *(float(v) for v in foods.macros[at]),
        )
        for at in exact[:limit]
    ]
