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
NAMES_KEPT, FOODS_KEPT = 8, 10


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
    weights = load_model().rank
    best: dict[int, Ranked] = {}
    food_fits: dict[int, _FoodFit] = {-1: _NO_FOOD}

    def consider(
        food: int, sense: Sense | None, name: Phrase | None, by_name: _NameFit = _NO_NAME
    ) -> None:
        by_food = food_fits.get(food)
        if by_food is None:
            by_food = food_fits[food] = _food_fit(asked, index, food)
        features = _features(asked, index, food, sense, name, by_name, by_food)
        score = float(sum(map(mul, weights, features)))
        key = food if food >= 0 else -1 - (sense.row if sense else 0)
        known = best.get(key)
        if known is None or known.score < score:
            best[key] = Ranked(food, score, features, sense, name)

    exact = [
        food for food in sorted(asked.verbatim)
        if index.foods.answers[food] or index.foods.sources[food] == index.home
    ]  # fmt: skip
    if exact and (query.in_parts or len(asked.all_words) >= LONG):
        for food in exact:  # a table's own name, typed as the table writes it: no other is meant
            consider(food, None, None)
        return _ranking(best.values(), content, query, index)
    inside = names_inside(query, index)
    whole = phrase
    if phrase not in index.names:
        whole = tuple(w for w in phrase if w not in index.knowledge.harmless)
    settled = whole in index.names and whole not in without and not _says_more(asked, index)
    if settled and all(sense.food < 0 for sense in index.names[whole]):
        inside = [whole]  # known to be lacking: a shorter name inside is another food
    likely_names = inside if settled else (*inside, *index.names_like(phrase, NAMES_KEPT))
    for name in dict.fromkeys(likely_names):
        if name not in without:
            by_name = _name_fit(asked, index, name)
            for sense in index.names[name]:
                consider(sense.food, sense, name, by_name)
    likely = index.foods_like(asked.all_words, keep, besides_home=settled)
    for food in dict.fromkeys((*sorted(asked.verbatim), *likely)):
        consider(food, None, None)
    return _ranking(best.values(), content, query, index, settled=settled)


def _says_more(asked: _Asked, index: Index) -> bool:
    """True when the line says more of the food than a name and states: words of descriptions."""
    query = asked.query
    said = asked.said
    return any(
        w not in said and w in index.postings and (w,) not in index.knowledge.state_phrases
        for w in asked.all_words
    ) or bool(query.cocoa_pct)


def rescored(ranking: Ranking, weights: tuple[float, ...], query: Query, index: Index) -> Ranking:
    """The same candidates by other weights (for fitting)."""
    scored = (
        c._replace(score=float(sum(map(mul, weights, c.features)))) for c in ranking.candidates
    )
    return _ranking(scored, ranking.content, query, index, settled=ranking.settled)


def _ranking(
    scored: Iterable[Ranked], content: tuple[int, ...], query: Query, index: Index, *,
    settled: bool = False,
) -> Ranking:  # fmt: skip
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
    return Ranking(ordered, content, leftover, settled)


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
    heard: tuple[tuple[str, float, float], ...]  # words of the line, their weight and need
    states: frozenset[str]  # asked for, fat apart where a number says it
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
            tuple(
                (w, index.word_weight(w) if w in everything else 0.0, index.need.get(w, 0.0))
                for w in dict.fromkeys((*everything, *query.rest))
            ),
            query.states if query.fat_pct is None else query.states - FAT_WORDS,
            index.described(query.rest or phrase),
        )  # fmt: skip


class _NameFit(NamedTuple):
    """What a name has in common with the line, whichever food it proposes."""

    named: frozenset[str]
    cover: float
    said: float
    whole: float
    unsaid: float
    missing: float
    head: float
    told: frozenset[str]  # states that the name itself says, and nothing else on the line


_NO_NAME = _NameFit(frozenset(), 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, frozenset())


def _name_fit(asked: _Asked, index: Index, name: Phrase) -> _NameFit:
    query = asked.query
    named = frozenset(name)
    cover = sum(v for w, v in asked.weights.items() if w in named) / asked.total
    said = unsaid = 0.0
    for w in named:
        if w in asked.said:
            said += index.word_weight(w)
        else:
            unsaid += index.telling(w)
    said /= index.name_weight(name)
    missing = 0.0
    for w in asked.every:
        if w not in named:
            missing += index.telling(w)
    whole = 0.0
    if not missing and said > 0.999 and _in_order(name, query.phrase):
        whole = len(name) / max(len(name), asked.spoken)
    told: frozenset[str] = frozenset()
    if query.said_at:
        inside = [s for at, s in query.said_at if query.phrase[at] in named]
        apart = [s for at, s in query.said_at if query.phrase[at] not in named]
        told = frozenset().union(*inside) - frozenset().union(*apart)
    head = 1.0 if name[-1] == asked.head else 0.5 if asked.head in named else 0.0
    return _NameFit(
        named, cover, said, whole, min(2.0, unsaid), min(2.0, missing), head, told
    )  # fmt: skip


class _FoodFit(NamedTuple):
    """What a food's description has in common with the line, whatever name proposes it."""

    own_head: float = 0.0
    table_head: float = 0.0
    alike: float = 0.0
    verbatim: float = 0.0
    unsaid_head: float = 0.0
    unsaid: float = 0.0


_NO_FOOD = _FoodFit()


def _food_fit(asked: _Asked, index: Index, food: int) -> _FoodFit:
    own, heads = index.food_words[food], index.table_heads[food]
    own_head = 1.0 if asked.head in heads else 0.5 if asked.head in own else 0.0
    table_head = sum(w in asked.said for w in heads) / len(heads) if heads else 0.0
    unsaid_head, unsaid = index.needs[food]
    shared = 0.0
    for w, weight, need in asked.heard:
        if w in own:
            shared += weight
            if w in heads:
                unsaid_head -= need
            else:
                unsaid -= need
    alike = 2.0 * shared / (asked.all_weight + index.own_weight[food])
    verbatim = 0.0
    if food in asked.verbatim:  # remarks of the line stand in the description too
        alike = 1.0
        verbatim = min(1.0, 0.5 * (len(asked.all_words) - 1))
    return _FoodFit(
        own_head, table_head, alike, verbatim,
        min(3.0, max(0.0, unsaid_head)), min(3.0, max(0.0, unsaid)),
    )  # fmt: skip


def _features(
    asked: _Asked, index: Index, food: int, sense: Sense | None, name: Phrase | None,
    by_name: _NameFit, by_food: _FoodFit,
) -> Features:  # fmt: skip
    query, named = asked.query, by_name.named
    own = index.food_words[food] if food >= 0 else frozenset()
    after = both = own_cover = unexplained = rest_missing = 0.0
    for w, v in asked.weights.items():
        if w in own:
            own_cover += v
            both += v
        elif w in named or w in NEUTRAL:
            both += v
        else:
            unexplained += index.strangeness(w)
    for w, v in asked.telling:
        if w not in own and w not in named:
            rest_missing += v
    if name and by_name.head < 1.0:
        phrase = query.phrase
        last = max((at for at in asked.content if phrase[at] in named), default=-1)
        after = sum(
            asked.weights[phrase[at]] for at in asked.content
            if last < at <= asked.head_at and phrase[at] not in own
        ) / asked.total  # fmt: skip
    facet_states = index.foods.states[food] if food >= 0 else frozenset()
    states = asked.states
    if by_name.told:  # a state that the name itself says is no further wish
        offered = sense.states if sense is not None else frozenset()
        states = states - (by_name.told - offered - facet_states)
    fully = by_name.said > 0.999
    key = (states, food, sense.row if sense is not None else -1, name, fully)
    fit = index.fits.get(key)
    if fit is None:
        family = index.names[name] if name else ()
        fit = index.fits[key] = state_fit(states, facet_states, sense, family, fully_said=fully)
    default = fit.ordinary
    if food >= 0 and (query.fat_pct is not None or query.cocoa_pct is not None):
        default = 0.0  # what the line says of fat or cocoa decides, not what is usual
    brand = 0.0
    if food >= 0 and name is None and index.foods.branded[food]:
        brand = float(not index.brand_words[food] & asked.said)
    return Features(
        by_name.cover, by_name.said, by_name.whole, by_name.unsaid, by_name.missing, by_name.head,
        after, both / asked.total, own_cover / asked.total, by_food.own_head, by_food.table_head,
        by_food.alike, by_food.verbatim, by_food.unsaid_head, by_food.unsaid,
        min(3.0, unexplained), min(2.0, rest_missing), index.usual[food] if food >= 0 else 0.0,
        fit.answered, fit.contradicted, fit.unanswered, fit.cooked_unasked, fit.kept_unasked,
        fit.kind_unasked, default, _fat_off(query, index, food, sense),
        float(food >= 0 and index.foods.survey[food]), brand,
        float(name is not None), float(food < 0),
        by_name.said * by_name.cover * by_name.head if food < 0 else 0.0,
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
