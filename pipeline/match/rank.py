"""Which foods a query may mean, and how well each fits: candidates, features, score.

Candidates come from two places: the names tables (the longest name inside the phrase, its head at
the end) and the table's own descriptions (words weighed by rarity). All are scored by the same few
features, so a better description can win over a shorter name.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from operator import mul
from typing import NamedTuple

import numpy as np

from pipeline.match.facets import NEUTRAL
from pipeline.match.index import LONGEST_NAME, Index, Sense
from pipeline.match.knowledge import Phrase
from pipeline.match.query import GLUE, PREPOSITIONS, Query
from pipeline.match.states import FAT_WORDS, STATE_WORDS, state_fit

STRUCTURE_KEEP = 14
#: Share of its weight that a word keeps when it only says a state the parser has read.
STATE_WORD = 0.35


class Features(NamedTuple):
    """How one candidate fits; each about 0 to 1, named for what it says in ``--explain``."""

    name_cover: float = 0.0  # share of the phrase's weight that a name of the food covers
    word_cover: float = 0.0  # share of it covered by name or description words together
    head: float = 0.0  # 1 when the food is named by the phrase's last noun
    table_head: float = 0.0  # share of the description's first segment that the phrase says
    whole_name: float = 0.0  # 1 when the name is the whole phrase
    extra: float = 0.0  # weight of description words that nobody asked for, in rare words
    after_head: float = 0.0  # words left over after the name: perhaps the true head
    state_yes: float = 0.0  # the line's states that the candidate answers
    state_no: float = 0.0  # states that contradict
    default: float = 0.0  # the ordinary meaning of the name when no state is said
    fat_off: float = 0.0  # how far from the fat asked for
    survey: float = 0.0
    brand: float = 0.0
    lacking: float = 0.0  # 1 for a food known to be lacking from the table


#: Weights of the features in a candidate's score; the same for every line.
WEIGHTS: dict[str, float] = {
    "name_cover": 7.0,
    "word_cover": 5.0,
    "head": 2.5,
    "table_head": 1.5,
    "whole_name": 2.0,
    "extra": -0.9,
    "after_head": -3.0,
    "state_yes": 2.6,
    "state_no": -3.2,
    "default": 1.6,
    "fat_off": -2.5,
    "survey": 0.3,
    "brand": -1.5,
    "lacking": 0.5,
}
_WEIGHTS = tuple(WEIGHTS[name] for name in Features._fields)


def score_of(features: Features) -> float:
    """The weighted sum of the features."""
    return float(sum(map(mul, _WEIGHTS, features)))


class Ranked(NamedTuple):
    """One scored candidate. ``food`` is a position in ``Foods``, -1 for a lacking food."""

    food: int
    score: float
    features: Features
    sense: Sense | None
    span: tuple[int, int] | None


@dataclass(frozen=True, slots=True)
class Ranking:
    """All scored candidates of a query, best first, and what the phrase left unexplained.

    Attributes:
        candidates: best first; one entry a food.
        content: positions of the phrase's words that carry meaning.
        leftover: words that the best candidate does not explain.
    """

    candidates: tuple[Ranked, ...]
    content: tuple[int, ...]
    leftover: tuple[str, ...]


def _content(query: Query, index: Index) -> tuple[tuple[int, ...], int]:
    """Positions of meaningful words, and the position of the head word (-1 when none)."""
    harmless = index.knowledge.harmless
    phrase = query.phrase
    keep = tuple(
        at for at, w in enumerate(phrase)
        if w not in harmless and w not in GLUE and w not in PREPOSITIONS
    )  # fmt: skip
    said = query.said_states
    cut = next(
        (at for at, w in enumerate(phrase) if at and w in PREPOSITIONS and at not in said),
        len(phrase),
    )
    before = [at for at in keep if at < cut]
    naming = [at for at in before if at not in said] or before or list(keep)
    return keep, (naming[-1] if naming else -1)


def _spans(query: Query, index: Index) -> list[tuple[int, int]]:
    """Names inside the phrase as (start, end): the longest ones, and shorter ones that only drop
    words that say a state ("bone-in chicken breast" holds "chicken breast")."""
    phrase, said = query.phrase, query.said_states
    found: list[tuple[int, int]] = []
    for size in range(min(LONGEST_NAME, len(phrase)), 0, -1):
        for start in range(len(phrase) - size + 1):
            if phrase[start : start + size] in index.names and not any(
                a <= start
                and start + size <= b
                and not (b == start + size and all(at in said for at in range(a, start)))
                for a, b in found
            ):
                found.append((start, start + size))
    return found


def rank(query: Query, index: Index, keep: int = STRUCTURE_KEEP) -> Ranking:
    """Score every food the query may mean; ``keep`` of those found by description only."""
    phrase = query.phrase
    content, head = _content(query, index)
    weights = [
        index.word_weight(w) * (STATE_WORD if at in query.said_states else 1.0)
        for at, w in enumerate(phrase)
    ]
    if not content:  # only harmless words: let them speak rather than say nothing
        content = tuple(range(len(phrase)))
        head = len(phrase) - 1
    total = sum(weights[at] for at in content) or 1.0
    spans = _spans(query, index)

    best: dict[int, Ranked] = {}

    def consider(food: int, sense: Sense | None, span: tuple[int, int] | None) -> None:
        features = _features(query, index, content, head, weights, total, food, sense, span)
        ranked = Ranked(food, score_of(features), features, sense, span)
        key = food if food >= 0 else -1 - (sense.row if sense else 0)
        if key not in best or best[key].score < ranked.score:
            best[key] = ranked

    for span in spans:
        for sense in index.names[phrase[span[0] : span[1]]]:
            consider(sense.food, sense, span)
    for food in _by_description(phrase, content, index, keep):
        consider(food, None, None)
    ordered = tuple(sorted(best.values(), key=lambda r: (-r.score, r.food)))
    leftover: tuple[str, ...] = ()
    if ordered:
        top = ordered[0]
        own = index.food_words[top.food] if top.food >= 0 else frozenset()
        inside = set(range(*top.span)) if top.span else set()
        leftover = tuple(
            phrase[at] for at in content
            if at not in inside
            and at not in query.said_states
            and phrase[at] not in own
            and phrase[at] not in NEUTRAL
        )  # fmt: skip
    return Ranking(ordered, content, leftover)


def _by_description(phrase: Phrase, content: tuple[int, ...], index: Index, keep: int) -> list[int]:
    """The foods whose descriptions share most of the phrase's rare words and add least."""
    gathered = np.zeros(len(index.foods), dtype=np.float32)
    touched = False
    for at in dict.fromkeys(content):
        posting = index.postings.get(phrase[at])
        if posting is not None:
            gathered[posting[0]] += posting[1]
            touched = True
    if not touched:
        return []
    hit = np.flatnonzero(gathered)
    value = gathered[hit] - 0.22 * index.burden[hit]
    if len(hit) > keep:
        top = np.argpartition(-value, keep)[:keep]
        hit = hit[top]
    return [int(h) for h in hit]


def _features(
    query: Query, index: Index, content: tuple[int, ...], head: int, weights: list[float],
    total: float, food: int, sense: Sense | None, span: tuple[int, int] | None,
) -> Features:  # fmt: skip
    phrase = query.phrase
    own = index.food_words[food] if food >= 0 else frozenset()
    inside = range(*span) if span else range(0)
    name_weight = sum(weights[at] for at in content if at in inside)
    word_weight = sum(
        weights[at] for at in content
        if at in inside or phrase[at] in own or phrase[at] in NEUTRAL
    )  # fmt: skip
    head_in_name = head in inside
    head_in_own = head >= 0 and phrase[head] in own
    after = 0.0
    if span:
        after = sum(
            weights[at] for at in content
            if span[1] <= at <= head and phrase[at] not in own
        ) / total  # fmt: skip
    extra = 0.0
    table_head = 0.0
    if food >= 0:
        said = set(phrase)
        facet = index.facets[food]
        if span is None:
            extra = sum(
                index.word_weight(w) * (1.0 if w in facet.head else 0.6)
                for w in own
                if w not in said and w not in NEUTRAL and w not in STATE_WORDS
            ) / index.unknown_weight  # fmt: skip
        heads = index.table_heads[food]
        if heads:
            table_head = sum(w in said for w in heads) / len(heads)
    family = index.names[phrase[span[0] : span[1]]] if span else ()
    facet_states = index.facets[food].states if food >= 0 else frozenset()
    states = query.states if query.fat_pct is None else query.states - FAT_WORDS
    if span and query.said_at:  # a state that the name itself says is no further wish
        told = [s for at, s in query.said_at if span[0] <= at < span[1]]
        apart = [s for at, s in query.said_at if not span[0] <= at < span[1]]
        inside_only = frozenset().union(*told) - frozenset().union(*apart)
        offered = sense.states if sense is not None else frozenset()
        states = states - (inside_only - offered - facet_states)
    yes, no, default = state_fit(states, facet_states, sense, family)
    if food >= 0 and (query.fat_pct is not None or query.cocoa_pct is not None):
        default = 0.0  # what the line says of fat or cocoa decides, not what is usual
    fat_off = 0.0
    if query.fat_pct is not None and food >= 0:
        fat = sense.fat_pct if sense is not None else math.nan  # as the packs of that name say
        if not math.isfinite(fat):
            fat = float(index.foods.macros[food, 2])
        if math.isfinite(fat):
            fat_off = min(2.0, abs(query.fat_pct - fat) / max(2.0, 0.3 * query.fat_pct))
    if query.cocoa_pct is not None and food in index.cocoa:
        asked = query.cocoa_pct
        fat_off += min(abs(asked - max(lo, min(hi, asked))) for lo, hi in index.cocoa[food]) / 10
        fat_off += 0.3 * (len(index.cocoa[food]) > 1)
    return Features(
        name_cover=name_weight / total,
        word_cover=word_weight / total,
        head=1.0 if head_in_name else 0.6 if head_in_own else 0.0,
        table_head=table_head if span is None else 1.0,
        whole_name=1.0
        if span and all(at in inside or at in query.said_states for at in content)
        else 0.0,
        extra=extra,
        after_head=after,
        state_yes=yes,
        state_no=no,
        default=default,
        fat_off=fat_off,
        survey=float(food >= 0 and index.foods.survey[food]),
        brand=float(food >= 0 and index.facets[food].brand and span is None),
        lacking=float(food < 0),
    )
