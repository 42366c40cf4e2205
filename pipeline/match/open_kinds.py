"""Which products the words of a line leave open: "salmon, raw" is farmed or wild.

The food chosen for a line is often one kind of several that its words name alike. The kinds differ
in nothing but words of kind that the line does not say: same table, same head, part, state, form,
packing medium and fat in the food profile. A kind counts for as many names as the words files
have for it, so that the one people talk of weighs more. One whose description says nothing beyond
that of the food chosen has no name only because both answer to the same words ("tofu, firm", set
with one salt or with two): where it differs, it counts for as much as that food.

Kinds are open only where every word of the line that names stands in the description: a cook's own
word for one kind ("skyr", "portobello" of brown mushrooms) leaves nothing open.
"""

from __future__ import annotations

from pipeline.match.facets import NEUTRAL
from pipeline.match.index import Index
from pipeline.match.near import near
from pipeline.match.query import Query

#: How many kinds are kept, the likeliest first.
KINDS_KEPT = 12
#: Kinds that hold a smaller share than this are left out.
LEAST_SHARE = 0.01


def open_kinds(query: Query, food: int, index: Index) -> tuple[tuple[int, float], ...]:
    """The other kinds that a line may mean when ``food`` is its reading.

    Args:
        food: position of the food chosen for it.

    Returns:
        (position, share) of each other kind, the likeliest first; the shares and that of ``food``
        itself make 1. Empty when the words leave nothing open.
    """
    mine = index.kind_of(food)
    beside = index.kinds_beside(food) if mine else []
    if not beside:
        return ()
    own, harmless = index.words_of(food), index.knowledge.harmless
    for at, w in enumerate(query.phrase):
        if w not in own and at not in query.said_states and w not in harmless:
            return ()
    said = {*query.phrase, *query.rest}
    named = mine & said
    if named == mine:
        return ()
    own_names = max(1.0, index.names_of(food))
    likely = [
        (names or own_names, other)
        for other, names, kind in beside
        if named <= kind and (kind - mine).isdisjoint(said) and (names or _twin(other, food, index))
    ]
    whole = sum(n for n, _ in likely) + own_names
    likely.sort(key=lambda pair: (-pair[0], pair[1]))
    return tuple((other, n / whole) for n, other in likely[:KINDS_KEPT] if n / whole >= LEAST_SHARE)


def _twin(other: int, food: int, index: Index) -> bool:
    """Whether a food answers to the words of ``food`` as well and yet is another in its macros."""
    said = index.words_of(other) - NEUTRAL
    return said <= index.words_of(food) and not near(other, food, index.foods.macros)
