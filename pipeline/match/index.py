"""Everything looked up while matching, built once a snapshot: words, postings, names, facets."""

from __future__ import annotations

import math
import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from pipeline.foods.words import words
from pipeline.match.columns import Columns, Sense, columns_of
from pipeline.match.concepts import Resolver
from pipeline.match.facets import NEUTRAL, brand_names, head_and_tail
from pipeline.match.foods import Floats, Foods
from pipeline.match.knowledge import (
    ENGLISH,
    Knowledge,
    NameRow,
    Phrase,
    replace_phrases,
)
from pipeline.match.near import near
from pipeline.match.states import COOKED, StateFit

#: A food with so many names is as usual as can be.
_USUAL_NAMES = 60
#: Longest name in words that is looked for inside a phrase.
LONGEST_NAME = 8


@dataclass
class Index:
    """See the module. ``names`` maps a phrase to its senses; ``postings`` a word to foods."""

    foods: Foods
    knowledge: Knowledge
    columns: Columns
    names: dict[Phrase, int]  # the number of each name in ``columns``
    postings: dict[str, tuple[npt.NDArray[np.int32], npt.NDArray[np.float32]]]
    burden: npt.NDArray[np.float32]
    vocabulary: dict[str, float]
    brand_words: dict[int, frozenset[str]]  # of foods that name a maker
    by_words: dict[str, tuple[int, ...]]
    by_words_unbranded: dict[str, tuple[int, ...]]
    name_postings: dict[str, npt.NDArray[np.int32]]
    tables: dict[str, list[int]]  # foods that may answer, a table each, the preferred first
    home: str  # the table that names are resolved in, whether or not its foods may answer
    nearest: list[int]  # of each lacking food, the one to show; -1 when none
    cocoa: dict[int, list[tuple[float, float]]]
    table_heads: list[Phrase]
    #: Fits of states computed so far; see rank.
    fits: dict[object, StateFit] = field(init=False, default_factory=dict)
    #: Names read so far; see ``query``.
    names_read: dict[object, Any] = field(init=False, default_factory=dict)
    _own: dict[int, frozenset[str]] = field(init=False, default_factory=dict)
    _kinds: dict[int, frozenset[str]] = field(init=False, default_factory=dict)
    _beside: dict[int, list[tuple[int, float, frozenset[str]]]] = field(
        init=False, default_factory=dict
    )
    _blocks: list[tuple[int, int]] = field(init=False)  # first and end of each table's foods
    _beside_home: list[tuple[int, int]] = field(init=False)  # the same without the home table

    def __post_init__(self) -> None:
        sources = self.foods.sources
        cuts = [0, *(at for at in range(1, len(sources)) if sources[at] != sources[at - 1])]
        self._blocks = list(zip(cuts, [*cuts[1:], len(sources)], strict=True))
        self._beside_home = [b for b in self._blocks if sources[b[0]] != self.home]

    @cached_property
    def state_words(self) -> dict[str, tuple[Phrase, ...]]:
        """The words for each state."""
        words_of: defaultdict[str, list[Phrase]] = defaultdict(list)
        for phrase, states in self.knowledge.state_phrases.items():
            for state in states:
                words_of[state].append(phrase)
        return {s: tuple(sorted(p)) for s, p in words_of.items()}

    @cached_property
    def state_starts(self) -> frozenset[str]:
        """First words of the words for states."""
        return frozenset(phrase[0] for phrase in self.knowledge.state_phrases)

    @cached_property
    def word_at(self) -> dict[str, int]:
        """The number of each word in ``columns``."""
        return {w: at for at, w in enumerate(self.columns.words)}

    @cached_property
    def name_list(self) -> list[Phrase]:
        """The names by number."""
        return list(self.names)

    def spelt_like(self, word: str, edits: int) -> list[str]:
        """Words of the vocabulary whose length allows them to be so many edits away."""
        sizes = range(len(word) - edits, len(word) + edits + 1)
        return [w for size in sizes for w in self._by_size.get(size, ())]

    @cached_property
    def _by_size(self) -> dict[int, list[str]]:
        by_size: defaultdict[int, list[str]] = defaultdict(list)
        for word in self.vocabulary:
            by_size[len(word)].append(word)
        return dict(by_size)

    @cached_property
    def single_names(self) -> frozenset[str]:
        """Names of one word."""
        return frozenset(name[0] for name in self.names if len(name) == 1)

    @cached_property
    def by_first_letter(self) -> dict[str, list[str]]:
        """Words of the vocabulary by their first letter."""
        by_letter: defaultdict[str, list[str]] = defaultdict(list)
        for word in self.vocabulary:
            by_letter[word[0]].append(word)
        return dict(by_letter)

    @cached_property
    def ends_of_names(self) -> frozenset[Phrase]:
        """Names without their first word."""
        return frozenset(name[1:] for name in self.names)

    @cached_property
    def names_but_state(self) -> frozenset[Phrase]:
        """Names without the words for a state that they begin or end with."""
        said = self.knowledge.state_phrases
        ends = frozenset(phrase[-1] for phrase in said)
        longest = max(map(len, said), default=0)
        found: set[Phrase] = set()
        for name in self.names:
            sizes = range(1, min(len(name), longest + 1))
            if name[0] in self.state_starts:
                found.update(name[n:] for n in sizes if name[:n] in said)
            if name[-1] in ends:
                found.update(name[:-n] for n in sizes if name[-n:] in said)
        return frozenset(found)

    def senses(self, name: Phrase) -> tuple[Sense, ...]:
        """The meanings of a name."""
        return self.columns.senses(self.names[name])

    def lacks(self, name: Phrase) -> bool:
        """Whether all that a name means is lacking from the table."""
        return self._lacking_names[self.names[name]]

    @cached_property
    def _lacking_names(self) -> list[bool]:
        columns = self.columns
        lacking: list[bool] = np.logical_and.reduceat(
            columns.sense_food < 0, columns.sense_start[:-1]
        ).tolist()
        return lacking

    def words_of(self, food: int) -> frozenset[str]:
        """The words of a food's description and of its common name."""
        own = self._own.get(food)
        if own is None:
            columns, size = self.columns, len(self.columns.words) + 1
            first, end = np.searchsorted(columns.food_word, (food * size, (food + 1) * size))
            numbers = columns.food_word[first:end] - food * size
            own = self._own[food] = frozenset(columns.words[at] for at in numbers.tolist())
        return own

    def rare(self, word: str) -> bool:
        """True for a word that no name and at most two descriptions use: perhaps a slip."""
        return self.vocabulary.get(word, 0.0) < 1.2

    def described(self, said: Phrase) -> frozenset[int]:
        """Foods whose whole descriptions are these words, in whatever order."""
        return frozenset(self.by_words.get(" ".join(sorted(said)), ()))

    def is_description(self, said: Phrase) -> bool:
        """Whether these words are the whole description of a food, in whatever order."""
        return " ".join(sorted(said)) in self.by_words

    def of_makers(self, said: Phrase) -> tuple[int, ...]:
        """Products whose descriptions are these words and a maker's name."""
        return self.by_words_unbranded.get(" ".join(sorted(said)), ())

    def telling(self, word: str) -> float:
        """How often the word makes another food of a name, 0 to 1."""
        return float(self.columns.contrast[self.number_of(word)])

    def number_of(self, word: str) -> int:
        """Place of a word in the columns; unknown words share the last."""
        return self.word_at.get(word, len(self.word_at))

    def names_of(self, food: int) -> float:
        """How many names the words files have for a food."""
        return math.expm1(float(self.columns.usual[food]) * math.log1p(_USUAL_NAMES))

    def kinds_beside(self, food: int) -> list[tuple[int, float, frozenset[str]]]:
        """The foods of the same table that differ from one in kind alone and that people name, with
        how many names each has and its words of kind; a maker's product stands beside others only."""
        beside = self._beside.get(food)
        if beside is None:
            foods, families = self.foods, self._families
            beside = self._beside[food] = [
                (other, self.names_of(other), self.kind_of(other))
                for other in families[foods.families[food]]
                if other != food and foods.answers[other] and self.names_of(other) > 0
                and (not foods.branded[other] or foods.branded[food])
            ]  # fmt: skip
        return beside

    @cached_property
    def _families(self) -> dict[int, list[int]]:
        families: defaultdict[int, list[int]] = defaultdict(list)
        for at, family in enumerate(self.foods.families):
            families[family].append(at)
        return dict(families)

    @cached_property
    def state_sets(self) -> tuple[list[frozenset[str]], npt.NDArray[np.int64]]:
        """The different sets of states of foods, and which of them each food has."""
        number = {states: at for at, states in enumerate(dict.fromkeys(self.foods.states))}
        return list(number), np.array([number[s] for s in self.foods.states], np.int64)

    @cached_property
    def neutral(self) -> npt.NDArray[np.bool_]:
        """For each word of ``columns`` whether it is ``NEUTRAL``."""
        return np.array([*(w in NEUTRAL for w in self.columns.words), False])

    def kind_of(self, food: int) -> frozenset[str]:
        """The words of kind of a food, as cooks write them."""
        kind = self._kinds.get(food)
        if kind is None:
            kind = frozenset(self.knowledge.canonical(tuple(sorted(self.foods.kinds[food]))))
            self._kinds[food] = kind
        return kind

    def names_like(self, phrases: Sequence[Phrase], keep: int) -> list[list[Phrase]]:
        """For each phrase the names that share most of their weight with it, the likest first."""
        weights = self.columns.name_weight.astype(np.float32)
        shared, found = np.zeros(len(self.names)), []
        for phrase in phrases:
            once = dict.fromkeys(phrase)
            for w in once:
                if w in self.name_postings:  # a list names a place once
                    shared[self.name_postings[w]] += self.word_weight(w)
            hits = np.flatnonzero(shared != 0.0)
            of_both = weights[hits] + sum(map(self.word_weight, once))
            best = _top(2.0 * shared[hits] / of_both, keep)
            found.append([self.name_list[at] for at in hits[best].tolist()])
            shared[hits] = 0.0
        return found

    def alike(self, asked: Phrase, own: frozenset[str], at: int) -> float:
        """How alike words asked and a food's own words are, 0 to 1, rare words counting more."""
        shared = sum(self.word_weight(w) for w in asked if w in own)
        return (
            2.0
            * shared
            / (sum(map(self.word_weight, asked)) + float(self.columns.own_weight[at]) or 1.0)
        )

    def foods_like(
        self, asked: Phrase, keep: int, within: tuple[int, int] | None = None, *,
        besides_home: bool = False,
    ) -> list[int]:  # fmt: skip
        """The foods whose descriptions share most of their weight with the words asked.

        Args:
            asked: the words.
            keep: how many of each table.
            within: first and end of the one table wanted; all of them by default.
            besides_home: leave out the table that names are resolved in.
        """
        blocks = [within] if within else self._beside_home if besides_home else self._blocks
        if not blocks:
            return []
        shared = np.zeros(len(self.foods), dtype=np.float32)
        for w in asked:
            if w in self.postings:
                at, value = self.postings[w]
                shared[at] += value
        likeness = 2.0 * shared / (self.burden + (sum(map(self.word_weight, asked)) or 1.0))
        return [first + at for first, end in blocks for at in _top(likeness[first:end], keep)]

    def word_weight(self, word: str) -> float:
        """Rarity of a word over foods and names: ln(foods / foods with it); rarest when unknown."""
        return float(self.columns.weight[self.number_of(word)])


def _top(values: npt.NDArray[np.floating], keep: int) -> list[int]:
    """Places of the ``keep`` largest values above 0, the largest first."""
    hit = np.flatnonzero(values > 0)
    if len(hit) > keep:
        hit = hit[np.argpartition(-values[hit], keep)[:keep]]
    best: list[int] = hit[np.lexsort((hit, -values[hit]))].tolist()
    return best


#: Tables whose descriptions the words files were written beside, the best known first.
HOMES = ("sr28", "sr_legacy")


def home_of(sources: Sequence[str]) -> str:
    """The table that names are resolved in: USDA's standard reference, as every snapshot holds it
    at least to lend measures; else the first."""
    present = set(sources)
    return next((home for home in HOMES if home in present), sources[0] if sources else "")


def build_index(foods: Foods, knowledge: Knowledge) -> Index:
    """Build the index over a snapshot's foods and the names tables (about half a second)."""
    canonical = knowledge.canonical
    food_words: list[frozenset[str]] = []
    head_words: list[frozenset[str]] = []
    heads: list[Phrase] = []
    home = home_of(foods.sources)
    spoken = _languages(foods, knowledge, home)
    for description, common, source in zip(
        foods.descriptions, foods.common_names, foods.sources, strict=True
    ):
        first, rest = head_and_tail(description)
        in_english = knowledge.said.get(spoken.get(source, ENGLISH), {})
        head = canonical(replace_phrases(first, in_english))
        heads.append(head)
        head_words.append(frozenset(head))
        behind = canonical(replace_phrases(rest, in_english))
        food_words.append(frozenset({*head, *first, *behind, *rest, *canonical(words(common))}))
    at_home = [at for at, source in enumerate(foods.sources) if source == home]
    tables: dict[str, list[int]] = {}
    for at, source in enumerate(foods.sources):
        if foods.answers[at]:
            tables.setdefault(source, []).append(at)

    resolver = Resolver(food_words, [float(v) for v in foods.macros[:, 2]], foods.survey, at_home)
    found = [resolver.find(row.concept) for row in knowledge.names]
    names: defaultdict[Phrase, list[Sense]] = defaultdict(list)
    for row, name_row in enumerate(knowledge.names):
        at = found[row]
        if at < 0:
            continue  # the table in use lacks this food
        fat = math.nan if name_row.fat_pct is None else name_row.fat_pct
        sense = Sense(at, name_row.states, name_row.default, fat, row, name_row.doubt)
        for phrase in name_row.phrases:
            names[phrase].append(sense)
    _lend_states(knowledge, found, names)
    for row, gone in enumerate(knowledge.absent, start=knowledge.name_rows):
        sense = Sense(-1, frozenset(), True, math.nan, row)
        for phrase in gone.phrases:
            names[phrase].append(sense)

    need, strange, said_of = _said_freely(knowledge, found, food_words)
    seen: Counter[str] = Counter()
    for at in at_home:
        seen.update(food_words[at])
    beside: Counter[str] = Counter()  # words that only other tables use
    for at, own in enumerate(food_words):
        if foods.sources[at] != home:
            beside.update(w for w in own if w not in seen)
    seen.update(beside)
    # names of other languages add words of their own and weigh nothing in English
    others = {p for r in knowledge.names if r.language != ENGLISH for p in r.phrases}
    telling = {p: [w for w in dict.fromkeys(p) if p not in others or w in knowledge.foreign]
               for p in names}  # fmt: skip
    named: Counter[str] = Counter(w for own in telling.values() for w in own)
    named.update(w for w in knowledge.foreign if w not in named)
    total = len(at_home) + 1.0
    weight = {
        w: math.log(total / min(total - 1, seen[w] + 2.0 * named[w] + 1.0)) for w in {*seen, *named}
    }

    postings: defaultdict[str, list[tuple[int, float]]] = defaultdict(list)
    burden = np.zeros(len(foods), dtype=np.float32)
    for at, own in enumerate(food_words):
        for w in sorted(own):  # a set's order differs from run to run, and sums with it
            value = weight[w] * (1.6 if w in head_words[at] else 1.0)
            postings[w].append((at, value))
            burden[at] += value
        if not foods.answers[at] and foods.sources[at] != home:
            burden[at] = math.inf  # no answer: nothing is like it
    brand_words = [
        frozenset(w for b in brand_names(d) for w in words(b)) | frozenset(words(m))
        for d, m in zip(foods.descriptions, foods.makers, strict=True)
    ]
    by_words: defaultdict[str, list[int]] = defaultdict(list)
    unbranded: defaultdict[str, list[int]] = defaultdict(list)
    for at, description in enumerate(foods.descriptions):
        every = sorted(canonical(words(description)))
        by_words[" ".join(every)].append(at)
        plain = tuple(w for w in every if w not in brand_words[at])
        if plain and len(plain) < len(every):
            unbranded[" ".join(plain)].append(at)
    name_postings: defaultdict[str, list[int]] = defaultdict(list)
    for at, phrase in enumerate(names):
        for w in telling[phrase]:
            name_postings[w].append(at)
    vocabulary: dict[str, float] = {}
    for w, n in seen.items():
        vocabulary[w] = math.log1p(n)
    for w, n in named.items():
        vocabulary[w] = vocabulary.get(w, 0.0) + 2 + math.log1p(n)
    table_heads = [tuple(w for w in head if w not in NEUTRAL) for head in heads]
    return Index(
        foods=foods, knowledge=knowledge,
        columns=columns_of(
            food_words=food_words, table_heads=table_heads, names=names, weight=weight,
            unknown_weight=math.log(total), need=need, strange=strange,
            contrast=_contrasts({p: s for p, s in names.items() if p not in others}, foods.macros),
            usual=[math.log1p(said_of[at]) / math.log1p(_USUAL_NAMES) for at in range(len(foods))],
            known=sorted(NEUTRAL),
        ),
        names={p: at for at, p in enumerate(names)},
        postings={
            w: (np.array([p for p, _ in got], np.int32), np.array([v for _, v in got], np.float32))
            for w, got in postings.items()
        },
        burden=burden, vocabulary=vocabulary,
        brand_words={at: said for at, said in enumerate(brand_words) if said},
        by_words={w: tuple(at) for w, at in by_words.items()},
        by_words_unbranded={w: tuple(at) for w, at in unbranded.items()},
        tables=tables, home=home,
        nearest=[resolver.find(a.nearest) if a.nearest.words else -1 for a in knowledge.absent],
        name_postings={w: np.array(p, dtype=np.int32) for w, p in name_postings.items()},
        cocoa=_cocoa(foods.descriptions),
        table_heads=table_heads,
    )  # fmt: skip


def _languages(foods: Foods, knowledge: Knowledge, home: str) -> dict[str, str]:
    """The language of each table whose descriptions a words file explains better than the words of
    the reference table do; tables in English, or in a language without a file, are left out."""
    english = {
        w for text, source in zip(foods.descriptions, foods.sources, strict=True)
        if source == home for w in words(text) if len(w) > _SHORT
    }  # fmt: skip
    tables: defaultdict[str, list[Phrase]] = defaultdict(list)
    for text, source in zip(foods.descriptions, foods.sources, strict=True):
        if source != home and knowledge.said:
            tables[source].append(words(text))
    spoken: dict[str, str] = {}
    for source, texts in tables.items():
        explained = {ENGLISH: sum(not english.isdisjoint(text) for text in texts)}
        for language, said in knowledge.said.items():
            explained[language] = sum(replace_phrases(text, said) != text for text in texts)
        best = max(explained, key=lambda language: explained[language])
        if best != ENGLISH:
            spoken[source] = best
    return spoken


#: Words up to this long ("in", "mit") are much the same in many languages and prove none.
_SHORT = 3
#: Names counted for each word before any is seen, and the share of them that say it.
_PRIOR_NAMES, _PRIOR_SAID, _PRIOR_FREE = 4.0, 0.35, 0.35


#: Pairs counted for each word before any is seen, and the share of them that differ.
_PRIOR_PAIRS, _PRIOR_DIFFER = 2.0, 0.6


def _contrasts(names: Mapping[Phrase, Sequence[Sense]], macros: Floats) -> dict[str, float]:
    """How often a word makes another food of a name, over names that differ by that word alone.

    "canned", "vegan" and "powder" do, "organic" and "fresh" do not. Two lacking foods count as
    different: nothing is known of them.
    """

    def usual(name: Phrase) -> int:
        senses = names[name]
        return next((s.food for s in senses if s.default), senses[0].food)

    pairs: Counter[str] = Counter()
    differ: Counter[str] = Counter()
    for name in names:
        for at, word in enumerate(name):
            shorter = name[:at] + name[at + 1 :]
            if shorter in names:
                pairs[word] += 1
                differ[word] += not near(usual(name), usual(shorter), macros)
    return {
        w: (differ[w] + _PRIOR_PAIRS * _PRIOR_DIFFER) / (n + _PRIOR_PAIRS) for w, n in pairs.items()
    }


def _said_freely(
    knowledge: Knowledge, found: list[int], food_words: list[frozenset[str]]
) -> tuple[dict[str, float], dict[str, float], Counter[int]]:
    """What cooks say and leave unsaid, counted over the words files.

    Returns:
        need: for each word of descriptions, -ln of how often a name of a food so described leaves
            it out: high for "juice" and "oil", near 0 for "broilers" and "commercial".
        strange: for each word of names, -ln of how often it is said of foods whose description
            lacks it: high for "tofu", near 0 for "good" and for words cooks have of their own.
        said_of: how many names each food has.
    """
    held: Counter[str] = Counter()
    said: Counter[str] = Counter()
    used: Counter[str] = Counter()
    free: Counter[str] = Counter()
    said_of: Counter[int] = Counter()
    for row, at in zip(knowledge.names, found, strict=True):
        if at < 0 or row.language != ENGLISH:
            continue
        own = food_words[at]
        said_of[at] += len(row.phrases)
        share = 1.0 / len(row.phrases) ** 0.5  # a row of forty names is no forty witnesses
        for phrase in row.phrases:
            spoken = {*phrase, *row.states} if not row.default else set(phrase)
            for w in own:
                held[w] += share
                said[w] += share * (w in spoken)
            for w in set(phrase):
                used[w] += share
                free[w] += share * (w not in own)
    every = {w for own in food_words for w in own}
    need = {
        w: -math.log(1 - (said[w] + _PRIOR_NAMES * _PRIOR_SAID) / (held[w] + _PRIOR_NAMES))
        for w in every
    }
    strange = {
        w: -math.log((free[w] + _PRIOR_NAMES * _PRIOR_FREE) / (used[w] + _PRIOR_NAMES))
        for w in used
    }
    return need, strange, said_of


#: Kinds of state in which rows of one food stand in for each other's missing names.
_LENT = (
    COOKED,
    frozenset({"canned", "drained", "jarred"}),
    frozenset({"peeled"}),
)
#: Rows told apart by fat lend only when their fat is this near, g per 100 g.
_FAT_NEAR = 4.0


def _lend_states(
    knowledge: Knowledge, found: list[int], names: defaultdict[Phrase, list[Sense]]
) -> None:
    """Let a cooked, tinned or peeled row answer all names of the raw row it shares names with.

    The names tables list the commonest names on every row and the rest on the ordinary one only;
    "breakfast sausage links, cooked" means the cooked row all the same. The row that shares the
    largest part of its names with the ordinary one lends; a name that has such a row keeps it.
    """
    rows = knowledge.names
    holders: defaultdict[Phrase, list[int]] = defaultdict(list)
    for at, row in enumerate(rows):
        for phrase in row.phrases:
            holders[phrase].append(at)
    lent: list[tuple[Phrase, int]] = []
    for row, food in zip(rows, found, strict=True):
        if not row.default or food < 0:
            continue
        sharing = Counter(o for p in row.phrases for o in holders[p] if not rows[o].default)
        for kind in _LENT:
            if row.states & kind:
                continue
            best = max(
                (
                    (shared / len(rows[o].phrases), shared, -o)
                    for o, shared in sharing.items()
                    if rows[o].states & kind and found[o] >= 0 and _fat_near(row, rows[o])
                ),
                default=None,
            )
            if best is None:
                continue
            lent += [
                (p, -best[2])
                for p in row.phrases
                if not any(rows[o].states & kind for o in holders[p])
            ]
    for phrase, at in lent:
        row = rows[at]
        fat = math.nan if row.fat_pct is None else row.fat_pct
        names[phrase].append(Sense(found[at], row.states, False, fat, at, row.doubt))


def _fat_near(a: NameRow, b: NameRow) -> bool:
    return a.fat_pct is None or b.fat_pct is None or abs(a.fat_pct - b.fat_pct) <= _FAT_NEAR


_COCOA = re.compile(r"(\d+)\s*-\s*(\d+)\s*% (?:cacao|cocoa)")


def _cocoa(descriptions: list[str]) -> dict[int, list[tuple[float, float]]]:
    """Foods whose name gives cocoa solids as a range, and the ranges."""
    return {
        at: [(float(a), float(b)) for a, b in _COCOA.findall(text)]
        for at, text in enumerate(descriptions)
        if "cacao" in text or "cocoa solids" in text
    }
