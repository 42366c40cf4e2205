"""Which foods a query may mean, and how well each fits: candidates, features, score.

Candidates come from two places: the cook's names of the words files (whole, or sharing most of
their weight with the line, so that a name nobody listed is found by its siblings) and the table's
own descriptions (words weighed by rarity). All are scored by the same few features, whose weights
``benchmarks/fit_match.py`` fits with the names held out; they are in ``shared/match_model.json``.
Many queries are ranked at once (``rank_all``): the features are arrays over all their candidates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pipeline.match.columns import Floats, Ints, Sense
from pipeline.match.facets import NEUTRAL
from pipeline.match.features import (
    Asked,
    Candidates,
    Features,
    Lines,
    NameFits,
    features_of,
    made_ready,
)
from pipeline.match.index import LONGEST_NAME, Index
from pipeline.match.knowledge import JOINING, PREPOSITIONS, Phrase
from pipeline.match.model_file import load_model
from pipeline.match.query import Query

#: How many names and how many descriptions of a query are looked at closely.
NAMES_KEPT, FOODS_KEPT = 8, 10
#: From so many words on a line that is a description word for word means that food.
LONG = 4
#: Queries ranked by one set of arrays: enough to make numpy's calls cheap, few enough for its cache.
AT_ONCE = 1_000


class Ranked(NamedTuple):
    """One scored candidate. ``food`` is a position in ``Foods``, -1 for a lacking food."""

    food: int
    score: float
    features: Features
    sense: Sense | None
    name: Phrase | None


@dataclass(frozen=True, slots=True)
class Ranking:
    """All scored candidates of a query, best first, and what the phrase left unexplained.

    Attributes:
        candidates: best first; one entry per food.
        content: positions of the phrase's words that carry meaning.
        leftover: words that the best candidate does not explain.
        settled: a name of the words files is the whole line, so that no other was looked for.
    """

    candidates: tuple[Ranked, ...]
    content: tuple[int, ...]
    leftover: tuple[str, ...]
    settled: bool = False

    @property
    def known(self) -> bool:
        """Whether the best candidate is what a known name that is the whole line means."""
        return self.settled and self.candidates[0].name is not None


def _content(query: Query, index: Index) -> tuple[tuple[int, ...], int]:
    """Positions of meaningful words, and the position of the head word (-1 when none)."""
    harmless, said = index.knowledge.harmless, query.said_states
    keep: list[int] = []
    naming = before = cut = -1  # the last one that names, the last one at all, the preposition
    for at, w in enumerate(query.phrase):
        if w in JOINING:
            if at and cut < 0 and w in PREPOSITIONS and at not in said:
                cut = at
        elif w not in harmless:
            keep.append(at)
            if cut < 0:
                before = at
                naming = at if at not in said else naming
    head = naming if naming >= 0 else before if before >= 0 else keep[-1] if keep else -1
    return tuple(keep), head


def head_of(query: Query, index: Index) -> str:
    """The word that names the thing: the last noun before "in", "with" and their like."""
    at = _content(query, index)[1]
    return query.phrase[at] if at >= 0 else ""


def names_inside(query: Query, index: Index) -> list[Phrase]:
    """Names inside the phrase: the longest ones, and shorter ones that only drop words that say a
    state ("bone-in chicken breast" holds "chicken breast")."""
    phrase, said, names = query.phrase, query.said_states, index.names
    if 0 not in said and phrase in names:
        return [phrase]
    found: list[tuple[int, int]] = []
    begun = index.starts_of_names
    starts = [at for at, w in enumerate(phrase) if w in begun]
    for size in range(min(LONGEST_NAME, len(phrase)), 0, -1):
        for start in starts:
            end = start + size
            if end > len(phrase):
                break
            if phrase[start:end] in names and not any(
                a <= start
                and end <= b
                and not (b == end and all(at in said for at in range(a, start)))
                for a, b in found
            ):
                found.append((start, end))
    return [phrase[a:b] for a, b in found]


class _Found(NamedTuple):
    """Where candidates of one query come from, in the order in which they are considered."""

    names: Sequence[Phrase]
    foods: Sequence[int]
    settled: bool = False


def _found(
    asked: Sequence[Asked], index: Index, without: Sequence[frozenset[Phrase]], keep: int
) -> list[_Found]:
    """The names and descriptions that each query may mean."""
    found = [_by_name(a, index, left) for a, left in zip(asked, without, strict=True)]
    open_ = [at for at, one in enumerate(found) if one is not None and not one.settled]
    like = index.names_like([asked[at].query.phrase for at in open_], NAMES_KEPT)
    likest = dict(zip(open_, like, strict=True))
    out = []
    for at, (a, one, left) in enumerate(zip(asked, found, without, strict=True)):
        if one is None:  # a table's own name, typed as the table writes it
            out.append(_Found((), _described(a, index)))
            continue
        names = list(dict.fromkeys((*one.names, *likest.get(at, ()))))
        foods = index.foods_like(a.words, keep, besides_home=one.settled)
        if a.verbatim:
            foods = list(dict.fromkeys((*sorted(a.verbatim), *foods)))
        names = [n for n in names if n not in left] if left else names
        out.append(_Found(names, foods, one.settled))
    return out


def _described(asked: Asked, index: Index) -> list[int]:
    """Foods that may answer and whose descriptions are the words of a query."""
    foods = index.foods
    return [
        food for food in sorted(asked.verbatim)
        if foods.answers[food] or foods.sources[food] == index.home
    ]  # fmt: skip


def _by_name(asked: Asked, index: Index, without: frozenset[Phrase]) -> _Found | None:
    """The names inside the phrase of a query, None where it is a description of a table."""
    query, phrase = asked.query, asked.query.phrase
    if asked.verbatim and (query.in_parts or len(asked.words) >= LONG) and _described(asked, index):
        return None
    inside = names_inside(query, index)
    whole, harmless = phrase, index.knowledge.harmless
    if phrase not in index.names and not harmless.isdisjoint(phrase):
        whole = tuple([w for w in phrase if w not in harmless])
    settled = whole in index.names and whole not in without and not _says_more(asked, index)
    if settled and index.lacks(whole):
        inside = [whole]  # known to be lacking: a shorter name inside is another food
    return _Found(inside, (), settled)


def _says_more(asked: Asked, index: Index) -> bool:
    """True when the line says more of the food than a name and states: words of descriptions."""
    query, states = asked.query, index.knowledge.state_phrases
    return bool(query.cocoa_pct) or (
        bool(query.rest)  # else all words are those of the phrase
        and any(
            w not in query.phrase and w in index.postings and (w,) not in states
            for w in asked.words
        )
    )


@dataclass(frozen=True, slots=True)
class Rankings:
    """The scored candidates of many queries: query after query, the best first.

    Attributes:
        index: where they were looked for.
        asked: the queries.
        line: place of the query of each candidate.
        food, sense: see ``Candidates``; each food stands once a query.
        name: number of the name that proposes it, -1 when none does.
        score: shape (candidates,).
        features: shape (features, candidates).
        start: first candidate of each query, and the end of the last.
        settled, leftover: of each query; see ``Ranking``.
    """

    index: Index
    asked: Sequence[Asked]
    line: Ints
    food: Ints
    sense: Ints
    name: Ints
    score: Floats
    features: Floats
    start: Ints
    settled: Sequence[bool]
    leftover: Sequence[tuple[str, ...]]

    def ranking(self, line: int) -> Ranking:
        """The candidates of one query."""
        columns = self.index.columns
        candidates = tuple(
            Ranked(
                int(self.food[at]), float(self.score[at]),
                Features._make(self.features[:, at].tolist()),
                columns.sense(self.sense[at]) if self.sense[at] >= 0 else None,
                self.index.name_list[self.name[at]] if self.name[at] >= 0 else None,
            )
            for at in range(self.start[line], self.start[line + 1])
        )  # fmt: skip
        return Ranking(
            candidates, self.asked[line].content, self.leftover[line], self.settled[line]
        )


def rank(
    query: Query, index: Index, without: frozenset[Phrase] = frozenset(), keep: int = FOODS_KEPT
) -> Ranking:
    """Score every food one query may mean; see ``rank_all``."""
    return rank_all([query], index, [without], keep).ranking(0)


def rank_all(
    queries: Sequence[Query], index: Index, without: Sequence[frozenset[Phrase]] = (),
    keep: int = FOODS_KEPT,
) -> Rankings:  # fmt: skip
    """Score every food that queries may mean.

    Args:
        without: for each query names left out, as if no words file held them (for measuring).
        keep: how many foods found by description only are looked at.
    """
    asked = [_asked(query, index) for query in queries]
    found = _found(asked, index, without or [frozenset()] * len(asked), keep)
    names = [index.names[name] for one in found for name in one.names]
    name = np.array(names, np.int64)
    of_name = np.repeat(np.arange(len(found)), [len(one.names) for one in found])
    foods = np.array([food for one in found for food in one.foods], np.int64)
    of_food = np.repeat(np.arange(len(found)), [len(one.foods) for one in found])
    lines = Lines.of(asked, index)
    fits = NameFits.of(asked, lines, index, of_name, name)
    candidates = _candidates(index, of_name, name, of_food, foods)
    features = features_of(asked, lines, index, candidates, fits)
    score = np.zeros(len(candidates.line))
    for weight, column in zip(load_model().rank, features, strict=True):
        score += weight * column
    best = _best_first(index, candidates, score)
    line, food = candidates.line[best], candidates.food[best]
    name = np.append(name, -1)[candidates.named[best]]
    start = np.searchsorted(line, np.arange(len(asked) + 1))
    return Rankings(
        index, asked, line, food, candidates.sense[best], name, score[best], features[:, best],
        start, [one.settled for one in found], leftovers(asked, index, food, name, start),
    )  # fmt: skip


def leftovers(
    asked: Sequence[Asked], index: Index, food: Ints, name: Ints, start: Ints
) -> list[tuple[str, ...]]:
    """Words of each query that its best candidate does not explain; see ``Rankings``."""
    found = np.flatnonzero(np.diff(start))
    best = start[found]
    left: list[tuple[str, ...]] = [()] * len(asked)
    for at, *best_of in zip(found.tolist(), food[best].tolist(), name[best].tolist(), strict=True):
        left[at] = _leftover(asked[at], index, *best_of)
    return left


def _leftover(asked: Asked, index: Index, food: int, name: int) -> tuple[str, ...]:
    """Words of a query that a candidate does not explain."""
    query = asked.query
    named = index.name_list[name] if name >= 0 else ()
    words = [
        w for at in asked.content
        if (w := query.phrase[at]) not in named and at not in query.said_states
    ]  # fmt: skip
    if not words:
        return ()
    own = index.words_of(food) if food >= 0 else frozenset()
    return tuple([w for w in words if w not in own and w not in NEUTRAL])


def _asked(query: Query, index: Index) -> Asked:
    content, head = _content(query, index)
    if not content:  # only harmless words: let them speak rather than say nothing
        content, head = tuple(range(len(query.phrase))), len(query.phrase) - 1
    return made_ready(query, index, content, head)


def _candidates(index: Index, of_name: Ints, name: Ints, of_food: Ints, foods: Ints) -> Candidates:
    """Every sense of every name, then every food: all that is to be scored."""
    start = index.columns.sense_start
    first, count = start[name], start[name + 1] - start[name]
    entry = np.repeat(np.arange(len(name)), count)
    sense = np.arange(len(entry)) - np.repeat(np.cumsum(count) - count - first, count)
    none = np.full(len(foods), -1)
    return Candidates(
        np.concatenate([of_name[entry], of_food]),
        np.concatenate([index.columns.sense_food[sense], foods]),
        np.concatenate([sense, none]), np.concatenate([entry, none]),
    )  # fmt: skip


def _best_first(index: Index, found: Candidates, score: Floats) -> Ints:
    """Candidates by query and score, of those that mean one food the best, of equals the first."""
    lacking = np.append(index.columns.sense_row, 0)[found.sense]
    key = np.where(found.food >= 0, found.food, -1 - lacking)
    order = np.lexsort((-score, key, found.line))
    line, key = found.line[order], key[order]
    new = np.ones(len(order), bool)
    new[1:] = (line[1:] != line[:-1]) | (key[1:] != key[:-1])
    first = np.minimum.reduceat(order, np.flatnonzero(new)) if len(order) else order
    best = order[new]
    return best[np.lexsort((first, found.food[best], -score[best], found.line[best]))]
