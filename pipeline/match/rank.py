"""Which foods a query may mean, and how well each fits: candidates, features, score.

Candidates come from two places: the cook's names of the words files (whole, or sharing most of
their weight with the line, so that a name nobody listed is found by its siblings) and the table's
own descriptions (words weighed by rarity). All are scored by the same few features, whose weights
``benchmarks/fit_match.py`` fits with the names held out; they stand in ``shared/match_model.json``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from operator import mul
from typing import NamedTuple

from pipeline.match.facets import NEUTRAL
from pipeline.match.index import LONGEST_NAME, Index, Sense
from pipeline.match.knowledge import Phrase
from pipeline.match.model_file import load_model
from pipeline.match.query import GLUE, PREPOSITIONS, Query
from pipeline.match.states import FAT_WORDS, state_fit

#: How many names and how many descriptions of a query are looked at closely.
NAMES_KEPT, FOODS_KEPT = 8, 14


#: From so many words on a line that is a description word for word means that food.
LONG = 4


class Features(NamedTuple):
    """How one candidate fits; each about 0 to 1, named for what it says in ``--explain``."""

    name_cover: float = 0.0  # share of the phrase's weight that a name of the food covers
    name_said: float = 0.0  # share of that name's weight that the line says
    whole_name: float = 0.0  # 1 when name and phrase are the same words, less for idle words
    name_unsaid: float = 0.0  # telling words of the name that the line does not say
    name_missing: float = 0.0  # telling words of the line that the name does not hold
    name_head: float = 0.0  # 1 when the phrase's last noun is the name's last word, half: inside
    after_head: float = 0.0  # words left over after the name: perhaps the true head
    word_cover: float = 0.0  # share of the phrase that name or description words cover together
    own_cover: float = 0.0  # share of it that the description alone covers
    own_head: float = 0.0  # 1 when the last noun stands in the description's head, half: behind
    table_head: float = 0.0  # share of the description's head that the phrase says
    extra_head: float = 0.0  # rare words of the description's head that nobody asked for
    extra: float = 0.0  # rare words further back that nobody asked for
    alike: float = 0.0  # how alike the whole line and the whole description are, word for word
    verbatim: float = (
        0.0  # the line's words are the description's, in whatever order: 1 from three on
    )
    unsaid_head: float = 0.0  # words of its head that cooks would say, and this line does not
    unsaid: float = 0.0  # the same further back
    unexplained: float = 0.0  # words of the line that cooks would not say of it
    rest_missing: float = 0.0  # telling words anywhere on the line that it does not explain
    usual: float = 0.0  # how many names cooks have for it (log)
    state_yes: float = 0.0  # the line's states that the candidate answers
    state_no: float = 0.0  # states that contradict
    state_open: float = 0.0  # states that nothing of the food answers
    cooked_unasked: float = 0.0
    kept_unasked: float = 0.0  # dried, canned, juice ... and nobody said so
    kind_unasked: float = 0.0  # with skin, in oil ... and nobody said so
    default: float = 0.0  # the ordinary meaning of the name when no state is said
    fat_off: float = 0.0  # how far from the fat asked for
    survey: float = 0.0
    brand: float = 0.0  # a brand nobody asked for
    by_name: float = 0.0  # 1 when a name proposes it
    lacking: float = 0.0  # 1 for a food known to be lacking from the table
    lacking_said: float = 0.0  # how much of its name the line says, head and all


def score_of(features: Features) -> float:
    """The weighted sum of the features."""
    return float(sum(map(mul, load_model().rank, features)))


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


def head_of(query: Query, index: Index) -> str:
    """The word that names the thing: the last noun before "in", "with" and their like."""
    at = _content(query, index)[1]
    return query.phrase[at] if at >= 0 else ""


def names_inside(query: Query, index: Index) -> list[Phrase]:
    """Names inside the phrase: the longest ones, and shorter ones that only drop words that say a
    state ("bone-in chicken breast" holds "chicken breast")."""
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
    return [phrase[a:b] for a, b in found]


def rank(
    query: Query, index: Index, without: frozenset[Phrase] = frozenset(), keep: int = FOODS_KEPT
) -> Ranking:
    """Score every food the query may mean.

    Args:
        query: what is looked for.
        index: where.
        without: names left out, as if no words file held them (for measuring).
        keep: how many foods found by description only are looked at.
    """
    phrase = query.phrase
    content, head = _content(query, index)
    if not content:  # only harmless words: let them speak rather than say nothing
        content = tuple(range(len(phrase)))
        head = len(phrase) - 1
    asked = _Asked.of(query, index, content, head)
    best: dict[int, Ranked] = {}

    def consider(food: int, sense: Sense | None, name: Phrase | None) -> None:
        features = _features(asked, index, food, sense, name)
        ranked = Ranked(food, score_of(features), features, sense, name)
        key = food if food >= 0 else -1 - (sense.row if sense else 0)
        if key not in best or best[key].score < ranked.score:
            best[key] = ranked

    exact = [
        food for food in sorted(asked.verbatim)
        if index.foods.answers[food] or index.foods.sources[food] == index.home
    ]  # fmt: skip
    if exact and (query.in_parts or len(asked.all_words) >= LONG):
        for food in exact:  # a table's own name, typed as the table writes it: no other is meant
            consider(food, None, None)
        return _ranking(best.values(), content, query, index)
    for name in dict.fromkeys((*names_inside(query, index), *index.names_like(phrase, NAMES_KEPT))):
        if name not in without:
            for sense in index.names[name]:
                consider(sense.food, sense, name)
    likely = index.foods_like(asked.all_words, keep)
    for food in dict.fromkeys((*sorted(asked.verbatim), *likely)):
        consider(food, None, None)
    return _ranking(best.values(), content, query, index)


def rescored(ranking: Ranking, weights: tuple[float, ...], query: Query, index: Index) -> Ranking:
    """The same candidates by other weights (for fitting)."""
    scored = (
        c._replace(score=float(sum(map(mul, weights, c.features)))) for c in ranking.candidates
    )
    return _ranking(scored, ranking.content, query, index)


def _ranking(
    scored: Iterable[Ranked], content: tuple[int, ...], query: Query, index: Index
) -> Ranking:
    phrase = query.phrase
    ordered = tuple(sorted(scored, key=lambda r: (-r.score, r.food)))
    leftover: tuple[str, ...] = ()
    if ordered:
        top = ordered[0]
        own = index.food_words[top.food] if top.food >= 0 else frozenset()
        named = frozenset(top.name or ())
        leftover = tuple(
            phrase[at] for at in content
            if at not in query.said_states
            and phrase[at] not in named
            and phrase[at] not in own
            and phrase[at] not in NEUTRAL
        )  # fmt: skip
    return Ranking(ordered, content, leftover)


@dataclass(frozen=True, slots=True)
class _Asked:
    """A query made ready for many candidates."""

    query: Query
    content: tuple[int, ...]  # positions that name (states apart)
    every: frozenset[str]  # words that carry meaning, states included
    head: str
    head_at: int
    weights: dict[str, float]  # of the naming words
    total: float
    said: frozenset[str]  # every word of the phrase
    all_words: tuple[str, ...]  # of the whole line, remarks apart
    all_weight: float
    spoken: int  # words of the phrase, those that only join apart
    telling: tuple[tuple[str, float], ...]  # words of the whole line that descriptions use
    verbatim: frozenset[int]  # foods whose descriptions are these words

    @classmethod
    def of(cls, query: Query, index: Index, content: tuple[int, ...], head: int) -> _Asked:
        phrase = query.phrase
        naming = tuple(at for at in content if at not in query.said_states) or content
        weights = {phrase[at]: index.word_weight(phrase[at]) for at in naming}
        mended = dict(query.mended)
        everything = tuple(
            w
            for w in dict.fromkeys((*phrase, *(mended.get(w, w) for w in query.rest)))
            if w not in query.noted
        )
        return cls(
            query, naming, frozenset(phrase[at] for at in content),
            phrase[head] if head >= 0 else "", head, weights,
            sum(weights.values()) or 1.0, frozenset(phrase), everything,
            sum(index.word_weight(w) for w in everything),
            sum(w not in GLUE for w in phrase),
            tuple(
                (w, index.contrast[w])
                for w in everything
                if w in index.postings and w in index.contrast
            ),
            index.described(query.rest or phrase),
        )  # fmt: skip


def _features(
    asked: _Asked, index: Index, food: int, sense: Sense | None, name: Phrase | None
) -> Features:
    query, weights, total = asked.query, asked.weights, asked.total
    own = index.food_words[food] if food >= 0 else frozenset()
    named = frozenset(name) if name else frozenset()
    name_cover = name_said = whole = name_head = after = unsaid_name = missing = 0.0
    if name:
        name_cover = sum(v for w, v in weights.items() if w in named) / total
        weight = index.name_weight(name)
        name_said = sum(index.word_weight(w) for w in named if w in asked.said) / weight
        name_head = 1.0 if name[-1] == asked.head else 0.5 if asked.head in named else 0.0
        unsaid_name = sum(index.telling(w) for w in named if w not in asked.said)
        missing = sum(index.telling(w) for w in asked.every if w not in named)
        whole = 0.0
        if not missing and name_said > 0.999 and _in_order(name, query.phrase):
            whole = len(name) / max(len(name), asked.spoken)
        if name_head < 1.0:
            last = max((at for at in asked.content if query.phrase[at] in named), default=-1)
            after = sum(
                weights[query.phrase[at]] for at in asked.content
                if last < at <= asked.head_at and query.phrase[at] not in own
            ) / total  # fmt: skip
    both = own_cover = unexplained = 0.0
    for w, v in weights.items():
        if w in own:
            own_cover += v
            both += v
        elif w in named or w in NEUTRAL:
            both += v
        else:
            unexplained += index.strangeness(w)
    rest_missing = sum(v for w, v in asked.telling if w not in own and w not in named)
    unsaid = unsaid_head = 0.0
    extra = extra_head = table_head = own_head = alike = 0.0
    if food >= 0:
        heads = index.table_heads[food]
        if asked.head in heads:
            own_head = 1.0
        elif asked.head in own:
            own_head = 0.5
        if heads:
            table_head = sum(w in asked.said for w in heads) / len(heads)
        shared = sum(index.word_weight(w) for w in asked.all_words if w in own)
        alike = 2.0 * shared / (asked.all_weight + index.own_weight[food])
        if food in asked.verbatim:  # remarks of the line stand in the description too
            alike = 1.0
        for w, telling in index.telling_words[food]:
            if w not in asked.said and w not in query.rest:
                if w in heads:
                    unsaid_head += index.need[w]
                    if telling and w not in named:
                        extra_head += index.word_weight(w)
                else:
                    unsaid += index.need[w]
                    if telling and w not in named:
                        extra += index.word_weight(w)
    states = query.states if query.fat_pct is None else query.states - FAT_WORDS
    facet_states = index.foods.states[food] if food >= 0 else frozenset()
    if name and query.said_at:  # a state that the name itself says is no further wish
        told = [s for at, s in query.said_at if query.phrase[at] in named]
        apart = [s for at, s in query.said_at if query.phrase[at] not in named]
        inside_only = frozenset().union(*told) - frozenset().union(*apart)
        offered = sense.states if sense is not None else frozenset()
        states = states - (inside_only - offered - facet_states)
    family = index.names[name] if name else ()
    fit = state_fit(states, facet_states, sense, family, fully_said=name_said > 0.999)
    default = fit.ordinary
    if food >= 0 and (query.fat_pct is not None or query.cocoa_pct is not None):
        default = 0.0  # what the line says of fat or cocoa decides, not what is usual
    brand = float(food >= 0 and index.foods.branded[food] and name is None)
    if brand and index.brand_words[food] & asked.said:
        brand = 0.0
    return Features(
        name_cover, name_said, whole, min(2.0, unsaid_name), min(2.0, missing), name_head, after,
        both / total, own_cover / total, own_head,
        table_head, min(3.0, extra_head / index.unknown_weight),
        min(3.0, extra / index.unknown_weight), alike,
        min(1.0, 0.5 * (len(asked.all_words) - 1)) if food in asked.verbatim else 0.0,
        min(3.0, unsaid_head), min(3.0, unsaid), min(3.0, unexplained), min(2.0, rest_missing),
        index.usual[food] if food >= 0 else 0.0,
        fit.answered, fit.contradicted, fit.unanswered, fit.cooked_unasked, fit.kept_unasked,
        fit.kind_unasked, default, _fat_off(query, index, food, sense),
        float(food >= 0 and index.foods.survey[food]), brand,
        float(name is not None), float(food < 0),
        name_said * name_cover * name_head if food < 0 else 0.0,
    )  # fmt: skip


def _in_order(name: Phrase, phrase: Phrase) -> bool:
    size = len(name)
    return any(phrase[at : at + size] == name for at in range(len(phrase) - size + 1))


def _fat_off(query: Query, index: Index, food: int, sense: Sense | None) -> float:
    off = 0.0
    if food < 0:
        return off
    if query.fat_pct is not None:
        fat = sense.fat_pct if sense is not None else math.nan  # as the packs of that name say
        if not math.isfinite(fat):
            fat = float(index.foods.macros[food, 2])
        if math.isfinite(fat):
            off = min(2.0, abs(query.fat_pct - fat) / max(2.0, 0.3 * query.fat_pct))
    if query.cocoa_pct is not None and food in index.cocoa:
        asked = query.cocoa_pct
        off += min(abs(asked - max(lo, min(hi, asked))) for lo, hi in index.cocoa[food]) / 10
        off += 0.3 * (len(index.cocoa[food]) > 1)
    return off
