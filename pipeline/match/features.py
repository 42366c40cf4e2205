"""How well foods fit what lines ask: the features of all candidates of many lines, as arrays.

Every line is a column of words ("slots"); what a candidate shares with it is then a few sums over the
slots, of all candidates at once. Sums run over the slots in the order of the line, so that a line
has the same features whatever lines stand beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from pipeline.match.columns import Columns, Floats, Ints
from pipeline.match.knowledge import GLUE
from pipeline.match.states import FAT_WORDS, state_fit

if TYPE_CHECKING:
    from pipeline.match.index import Index
    from pipeline.match.query import Query

Flags = npt.NDArray[np.bool_]


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


class Asked(NamedTuple):
    """One query made ready.

    Attributes:
        slots: place in ``heard`` of each word of the phrase.
        content: positions of the phrase's words that carry meaning.
        naming: those of them that name, states apart.
        head: position of the last noun, -1 when none.
        words: words of the whole line, remarks apart.
        heard: the same and its remarks.
        verbatim: foods whose descriptions are these words.
    """

    query: Query
    slots: Sequence[int]
    content: tuple[int, ...]
    naming: tuple[int, ...]
    head: int
    words: tuple[str, ...]
    heard: tuple[str, ...]
    verbatim: frozenset[int]


def made_ready(query: Query, index: Index, content: tuple[int, ...], head: int) -> Asked:
    """A query made ready, given the words of it that count."""
    said = query.said_states
    naming = tuple(at for at in content if at not in said) if said else content
    phrase, rest = query.phrase, query.rest
    slot = {w: at for at, w in enumerate(dict.fromkeys(phrase))}
    slots = range(len(phrase)) if len(slot) == len(phrase) else [slot[w] for w in phrase]
    words = heard = tuple(slot)
    if rest:
        corrected = dict(query.corrected)
        read = (corrected.get(w, w) for w in rest)
        words = tuple(dict.fromkeys((*words, *(w for w in read if w not in query.noted))))
        heard = tuple(dict.fromkeys((*words, *rest)))
    return Asked(
        query, slots, content, naming or content, head, words, heard,
        frozenset(index.by_words.get(query.sorted_words, ())),
    )  # fmt: skip


#: As usual as a food can be, of which cooks have half as many names again as ``USUAL_NAMES``.
_MOST_USUAL = 1.1


@dataclass(slots=True)
class Lines:
    """Many queries as columns: shape (slots, lines) for words, (positions, lines) for the phrase.

    Attributes:
        word: number of the word in each slot; unknown words and empty slots share the last.
        weight: of the words of the whole line, else 0.
        need: see ``Columns``.
        naming: weight of the naming words, else 0.
        strange: cost of each naming word when nothing explains it, else 0.
        contrast: of words that carry meaning, else 0.
        telling: of words of the whole line, else 0.
        said: the slot is a word of the phrase.
        neutral: the slot is a word that neither helps nor hurts.
        total, all_weight: sums of ``naming`` and ``weight``.
        head: number of the head word, -1 when none.
        spoken: words of the phrase, those that only join apart.
        place: slot of each position of the phrase that names, -1 for others.
        head_at: position of the head.
    """

    word: Ints
    weight: Floats
    need: Floats
    naming: Floats
    strange: Floats
    contrast: Floats
    telling: Floats
    said: Flags
    neutral: Flags
    total: Floats
    all_weight: Floats
    head: Ints
    spoken: Floats
    place: Ints
    head_at: Ints

    @classmethod
    def of(cls, asked: Sequence[Asked], index: Index) -> Lines:
        """Turn queries into columns."""
        columns, number = index.columns, index.word_at
        unknown, size = len(number), np.arange(len(asked))
        heard = np.array([len(a.heard) for a in asked], np.int64)
        slots = np.arange(max(heard, default=0))[:, None]
        shape = len(slots), len(asked)
        word = np.full(shape, unknown, np.int64)
        word.T[heard[:, None] > slots.T] = [number.get(w, unknown) for a in asked for w in a.heard]
        content, naming = np.zeros(shape, bool), np.zeros(shape, bool)
        content[_places([a.content for a in asked], asked)] = True
        names = _places([a.naming for a in asked], asked)
        naming[names] = True
        place = np.full((max((len(a.slots) for a in asked), default=0), len(asked)), -1)
        place[[p for a in asked for p in a.naming], names[1]] = names[0]
        head_at = np.array([a.head for a in asked], np.int64)
        head = np.array([a.slots[a.head] if a.head >= 0 else -1 for a in asked], np.int64)
        head = np.where(head >= 0, word[head, size], -1) if len(slots) else head
        whole = slots < np.array([len(a.words) for a in asked])
        weight = columns.weight[word]
        whole_weight, naming_weight = np.where(whole, weight, 0.0), np.where(naming, weight, 0.0)
        total = _over_slots(naming_weight)
        return cls(
            word=word, weight=whole_weight, need=np.where(word < unknown, columns.need[word], 0.0),
            naming=naming_weight, strange=np.where(naming, columns.strange[word], 0.0),
            contrast=np.where(content, columns.contrast[word], 0.0),
            telling=np.where(whole, columns.telling[word], 0.0),
            said=slots < np.array([len(set(a.slots)) for a in asked]),  # the phrase comes first
            neutral=index.neutral[word],
            total=np.where(total == 0.0, 1.0, total), all_weight=_over_slots(whole_weight),
            head=head, place=place, head_at=head_at,
            spoken=np.array([sum(w not in GLUE for w in a.query.phrase) for a in asked], float),
        )  # fmt: skip


def _places(positions: Sequence[Sequence[int]], asked: Sequence[Asked]) -> tuple[Ints, Ints]:
    """Slot and line of words given by their positions in the phrases."""
    slot = [a.slots[p] for a, own in zip(asked, positions, strict=True) for p in own]
    line = np.repeat(np.arange(len(asked)), [len(own) for own in positions])
    return np.array(slot, np.int64), line


def _where(of_line: list[bool], line: Ints) -> Flags:
    """What holds of each line, for every entry of a line."""
    return np.array(of_line, bool)[line]


def _over_slots(values: Floats) -> Floats:
    """Sums over the slots, one after the other."""
    out = np.zeros(values.shape[1])
    for row in values:
        out += row
    return out


@dataclass(slots=True)
class NameFits:
    """What names have in common with lines: one entry per (line, name); see ``Features``."""

    held: Flags  # (slots, entries): the word in that slot is one of the name
    cover: Floats
    said: Floats
    whole: Floats
    unsaid: Floats
    missing: Floats
    head: Floats
    told: dict[int, frozenset[str]]  # states that the name says, and nothing else on the line

    @classmethod
    def of(
        cls, asked: Sequence[Asked], lines: Lines, index: Index, line: Ints, name: Ints
    ) -> NameFits:
        """Compare each name with its line."""
        columns = index.columns
        own = columns.name_words[name]
        held = np.zeros((len(lines.word), len(line)), bool)
        cover, missing = np.zeros(len(line)), np.zeros(len(line))
        spoken = np.zeros(own.shape, bool)
        for k in range(len(held)):
            same = own == lines.word[k, line][:, None]
            held[k] = same.any(axis=1)
            cover += np.where(held[k], lines.naming[k, line], 0.0)
            missing += np.where(held[k], 0.0, lines.contrast[k, line])
            spoken |= same & lines.said[k, line][:, None]
        real = own >= 0
        said = np.where(spoken, columns.weight[own], 0.0).sum(axis=1) / columns.name_weight[name]
        unsaid = np.where(real & ~spoken, columns.contrast[own], 0.0).sum(axis=1)
        whole = np.zeros(len(line))
        full = np.flatnonzero((missing == 0.0) & (said > FULLY))
        of_line = zip(line[full].tolist(), name[full].tolist(), strict=True)
        named = [(asked[at].query.phrase, index.name_list[of]) for at, of in of_line]
        size = np.array([len(its) if in_order(its, own) else 0 for own, its in named], float)
        whole[full] = size / np.maximum(np.maximum(size, lines.spoken[line[full]]), 1.0)
        head = lines.head[line]
        heads = np.where(
            (columns.name_last[name] == head), 1.0,
            np.where((own == head[:, None]).any(axis=1) & (head >= 0), 0.5, 0.0),
        )  # fmt: skip
        told = {}
        for at in np.flatnonzero(_where([bool(a.query.said_at) for a in asked], line)):
            only = _only_by_name(asked[line[at]].query, frozenset(index.name_list[name[at]]))
            if only:
                told[int(at)] = only
        return cls(
            held, cover / lines.total[line], said, whole, np.minimum(2.0, unsaid),
            np.minimum(2.0, missing), heads, told,
        )  # fmt: skip


#: The line says every word of a name when it says this much of its weight.
FULLY = 0.999


def _only_by_name(query: Query, named: frozenset[str]) -> frozenset[str]:
    inside = [s for at, s in query.said_at if query.phrase[at] in named]
    apart = [s for at, s in query.said_at if query.phrase[at] not in named]
    return frozenset().union(*inside) - frozenset().union(*apart)


def in_order(said: tuple[str, ...], words: tuple[str, ...]) -> bool:
    """Whether the words stand side by side in ``words``, in this order."""
    size = len(said)
    return (
        words[-size:] == said
        or any(  # as a rule they are the last ones
            words[at : at + size] == said for at in range(len(words) - size)
        )
    )


@dataclass(slots=True)
class Candidates:
    """Foods that lines may mean, one entry per (line, food, sense); -1 stands for none.

    Attributes:
        line: place of the line.
        food: position of the food, -1 for one that the table lacks.
        sense: the meaning of a name that proposes it (``Columns``).
        named: the entry of ``NameFits``.
    """

    line: Ints
    food: Ints
    sense: Ints
    named: Ints


class _Shared(NamedTuple):
    """What each candidate shares with the words of its line."""

    own: Flags  # (slots, candidates): the food's description holds the word
    by_name: Flags  # (slots, candidates): the name holds it
    own_cover: Floats
    both: Floats
    unexplained: Floats
    missing: Floats
    weight: Floats
    in_head: Floats
    unsaid_head: Floats
    unsaid: Floats
    own_head: Floats


def _shared_words(lines: Lines, columns: Columns, found: Candidates, names: NameFits) -> _Shared:
    """Compare the words of each line, slot by slot, with its candidates."""
    line, size = found.line, len(found.line)
    has_food = found.food >= 0
    food, head = np.where(has_food, found.food, 0), lines.head[line]
    held_by_name = np.zeros((len(lines.word), size), bool)
    if len(names.cover):
        held_by_name = names.held[:, found.named] & (found.named >= 0)
    own = np.zeros_like(held_by_name)
    own_cover, both, unexplained, missing, weight, in_head = (np.zeros(size) for _ in range(6))
    unsaid_head, unsaid = columns.needs[food, 0].copy(), columns.needs[food, 1].copy()
    own_head = np.zeros(size)
    for k in range(len(lines.word)):
        word = lines.word[k, line]
        own[k], times = columns.holds(food, word)
        own[k] &= has_food
        times = np.where(has_food, times, 0.0)
        naming = lines.naming[k, line]
        explained = own[k] | held_by_name[k]
        own_cover += np.where(own[k], naming, 0.0)
        both += np.where(explained | lines.neutral[k, line], naming, 0.0)
        unexplained += np.where(explained | lines.neutral[k, line], 0.0, lines.strange[k, line])
        missing += np.where(explained, 0.0, lines.telling[k, line])
        weight += np.where(own[k], lines.weight[k, line], 0.0)
        need = lines.need[k, line]
        unsaid_head -= np.where(times > 0, need, 0.0)
        unsaid -= np.where(own[k] & (times == 0), need, 0.0)
        in_head += np.where(lines.said[k, line], times, 0.0)
        own_head = np.where(own[k] & (word == head), np.where(times > 0, 1.0, 0.5), own_head)
    return _Shared(
        own, held_by_name, own_cover, both, unexplained, missing, weight, in_head,
        unsaid_head, unsaid, own_head,
    )  # fmt: skip


def features_of(
    asked: Sequence[Asked], lines: Lines, index: Index, found: Candidates, names: NameFits
) -> Floats:
    """``Features`` of every candidate: shape (features, candidates)."""
    columns, line = index.columns, found.line
    has_food, has_name = found.food >= 0, found.named >= 0
    food = np.where(has_food, found.food, 0)

    def by_name(values: Floats) -> Floats:
        return np.where(has_name, values[found.named] if len(values) else 0.0, 0.0)

    def of_food(values: Floats) -> Floats:
        return np.where(has_food, values, 0.0)

    shared = _shared_words(lines, columns, found, names)
    total = lines.total[line]
    alike = 2.0 * shared.weight / (lines.all_weight[line] + columns.own_weight[food])
    verbatim = np.zeros(len(line))
    for at in np.flatnonzero(_where([bool(a.verbatim) for a in asked], line)):
        if found.food[at] in asked[line[at]].verbatim:  # its remarks stand in the description too
            alike[at] = 1.0
            verbatim[at] = min(1.0, 0.5 * (len(asked[line[at]].words) - 1))
    fits = _state_fits(asked, index, found, names)
    default = fits[6]
    numbers = np.array([(a.query.fat_pct, a.query.cocoa_pct) != (None, None) for a in asked], bool)
    default[has_food & numbers[line]] = 0.0  # what the line says of fat or cocoa decides
    said, cover, name_head = by_name(names.said), by_name(names.cover), by_name(names.head)
    after_head = _after_head(
        lines, found, shared.by_name, shared.own, has_name & (name_head < 1.0)
    )  # fmt: skip
    values = {
        "name_cover": cover, "name_said": said, "whole_name": by_name(names.whole),
        "name_unsaid": by_name(names.unsaid), "name_missing": by_name(names.missing),
        "name_head": name_head, "after_head": after_head,
        "word_cover": shared.both / total, "own_cover": shared.own_cover / total,
        "own_head": shared.own_head,
        "table_head": of_food(shared.in_head / np.maximum(1.0, columns.head_size[food])),
        "alike": of_food(alike), "verbatim": verbatim,
        "unsaid_head": of_food(np.clip(shared.unsaid_head, 0.0, 3.0)),
        "unsaid": of_food(np.clip(shared.unsaid, 0.0, 3.0)),
        "unexplained": np.minimum(3.0, shared.unexplained),
        "rest_missing": np.minimum(2.0, shared.missing),
        "usual": np.minimum(_MOST_USUAL, of_food(columns.usual[food])),
        "state_yes": fits[0], "state_no": fits[1], "state_open": fits[2],
        "cooked_unasked": fits[3], "kept_unasked": fits[4], "kind_unasked": fits[5],
        "default": default, "fat_off": _fat_off(asked, index, found),
        "survey": of_food(np.array(index.foods.survey, float)[food]),
        "brand": _unasked_brand(asked, index, found),
        "by_name": has_name.astype(float), "lacking": (~has_food).astype(float),
        "lacking_said": np.where(has_food, 0.0, said * cover * name_head),
    }  # fmt: skip
    return np.array([values[name] for name in Features._fields])


def _unasked_brand(asked: Sequence[Asked], index: Index, found: Candidates) -> Floats:
    """1 for a food of a brand that the line does not say."""
    out = np.zeros(len(found.line))
    branded = np.array(index.foods.branded, bool)[np.maximum(found.food, 0)]
    for at in np.flatnonzero(branded & (found.food >= 0) & (found.named < 0)):
        brand = index.brand_words.get(int(found.food[at]), frozenset())
        out[at] = brand.isdisjoint(asked[found.line[at]].query.phrase)
    return out


def _after_head(lines: Lines, found: Candidates, named: Flags, own: Flags, wanted: Flags) -> Floats:
    """Share of the line after the last word of a name, up to the last noun, that nothing of the
    food explains."""
    out = np.zeros(len(found.line))
    at = np.flatnonzero(wanted)
    line = found.line[at]
    place = lines.place[:, line]
    there = place >= 0
    slot = np.where(there, place, 0)
    last = np.full(len(at), -1)
    for p in range(len(place)):
        last = np.where(there[p] & named[slot[p], at], p, last)
    behind = np.zeros(len(at))
    for p in range(len(place)):
        counts = there[p] & (p > last) & (p <= lines.head_at[line]) & ~own[slot[p], at]
        behind += np.where(counts, lines.naming[slot[p], line], 0.0)
    out[at] = behind / lines.total[line]
    return out


def _state_fits(asked: Sequence[Asked], index: Index, found: Candidates, names: NameFits) -> Floats:
    """``states.StateFit`` of every candidate: shape (7, candidates)."""
    columns, fits = index.columns, index.fits
    wished: dict[frozenset[str], int] = {}
    of_line = [
        wished.setdefault(
            a.query.states if a.query.fat_pct is None else a.query.states - FAT_WORDS, len(wished)
        )
        for a in asked
    ]
    wish = np.array(of_line, np.int64)[found.line]
    sets, of_food = index.state_sets
    shown = np.where(found.food >= 0, of_food[found.food], len(sets))
    sets = [*sets, frozenset()]
    meaning = np.where(found.sense >= 0, columns.sense_meaning[found.sense], -1)
    for at in np.flatnonzero(np.isin(found.named, list(names.told))).tolist():
        # a state that the name itself says is no further wish
        by_name = names.told[int(found.named[at])] - columns.meanings[meaning[at]].states
        states = list(wished)[wish[at]] - (by_name - sets[shown[at]])
        wish[at] = wished.setdefault(states, len(wished))
    fully = (found.named >= 0) & (np.append(names.said, 0.0)[found.named] > FULLY)
    key = ((wish * len(sets) + shown) * (len(columns.meanings) + 1) + meaning + 1) * 2 + fully
    _, first, which = np.unique(key, return_index=True, return_inverse=True)
    wishes, values = list(wished), []
    cases = (wish[first], shown[first], meaning[first], fully[first])
    for asks, its_states, sense, whole in zip(*(c.tolist() for c in cases), strict=True):
        case = wishes[asks], sets[its_states], sense, whole
        if case not in fits:
            its = columns.meanings[case[2]] if case[2] >= 0 else None
            fits[case] = state_fit(case[0], case[1], its, fully_said=case[3])
        values.append(fits[case])
    return np.array(values, float).reshape(-1, 7)[which].T.copy()


def _fat_off(asked: Sequence[Asked], index: Index, found: Candidates) -> Floats:
    """How far each food is from the fat and the cocoa asked for, 0 when none is."""
    fat = np.array([np.nan if a.query.fat_pct is None else a.query.fat_pct for a in asked])
    wanted = fat[found.line]
    off = np.zeros(len(found.line))
    at = np.flatnonzero((found.food >= 0) & np.isfinite(wanted))
    of_name = np.where(found.sense[at] >= 0, index.columns.sense_fat[found.sense[at]], np.nan)
    its = np.where(np.isfinite(of_name), of_name, index.foods.macros[found.food[at], 2])
    far = np.abs(wanted[at] - its) / np.maximum(2.0, 0.3 * wanted[at])
    off[at] = np.where(np.isfinite(its), np.minimum(2.0, far), 0.0)
    for one in np.flatnonzero(_where([a.query.cocoa_pct is not None for a in asked], found.line)):
        ranges = index.cocoa.get(int(found.food[one]))
        cocoa = asked[found.line[one]].query.cocoa_pct
        if ranges and cocoa is not None:
            off[one] += min(abs(cocoa - max(lo, min(hi, cocoa))) for lo, hi in ranges) / 10
            off[one] += 0.3 * (len(ranges) > 1)
    return off
