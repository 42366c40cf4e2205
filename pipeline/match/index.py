"""Everything looked up while matching: words, postings, names, facets; ``build`` makes it."""

from __future__ import annotations

import math
import re
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from pipeline.match.columns import Columns, Sense
from pipeline.match.facets import NEUTRAL
from pipeline.match.foods import Foods
from pipeline.match.knowledge import LONGEST_SAID, Knowledge, Phrase
from pipeline.match.states import StateFit

#: Foods by word, ascending, and what the word weighs in each.
Postings = Mapping[str, tuple[npt.NDArray[np.int32], npt.NDArray[np.float32]]]
#: A food with so many names is as usual as can be.
USUAL_NAMES = 60
#: Longest name in words that is looked for inside a phrase.
LONGEST_NAME = 8

_VOWEL = re.compile("[aeiou]")
#: Of consonants of one sound the first of two; "ck" counts as "k".
_TWICE = re.compile(r"c(?=k)|(.)(?=\1)")


def consonants(word: str) -> str:
    """The first letter and the consonants of a word; two of one sound side by side count once."""
    return _TWICE.sub("", word[:1] + _VOWEL.sub("", word[1:]))


def _holds(word: str, letters: str) -> bool:
    """Whether the letters stand in the word, in their order."""
    rest = iter(word)
    return all(letter in rest for letter in letters)


@dataclass
class Index:
    """See the module. ``names`` maps a phrase to its senses; ``postings`` a word to foods."""

    foods: Foods
    knowledge: Knowledge
    columns: Columns
    names: dict[Phrase, int]  # the number of each name in ``columns``
    postings: Postings
    burden: npt.NDArray[np.float32]
    vocabulary: dict[str, float]
    brand_words: dict[int, frozenset[str]]  # of foods that name a maker
    by_words: dict[str, tuple[int, ...]]  # foods by all words of the description, sorted
    by_words_unbranded: dict[str, tuple[int, ...]]  # the same less a maker's name
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
    #: Whether a word is spelt as foods and names spell it, for the words met so far; see ``spelling``.
    plain_words: dict[str, bool] = field(init=False, default_factory=dict)
    #: Words that an abbreviation may stand for, found so far; see ``spelling``.
    written_out: dict[str, list[str]] = field(init=False, default_factory=dict)
    #: Words of lines with the word of kitchen work that each is a slip for, "" for most.
    work_meant: dict[str, str] = field(init=False, default_factory=dict)
    _own: dict[int, frozenset[str]] = field(init=False, default_factory=dict)
    _kinds: dict[int, frozenset[str]] = field(init=False, default_factory=dict)
    _after: dict[str, list[str]] = field(init=False, default_factory=dict)
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
    def state_starts(self) -> dict[str, int]:
        """First words of the words for states, each with how many words are looked up."""
        longest: dict[str, int] = {}
        for phrase in self.knowledge.state_phrases:
            longest[phrase[0]] = max(longest.get(phrase[0], 0), min(len(phrase), LONGEST_SAID))
        return longest

    @cached_property
    def word_at(self) -> dict[str, int]:
        """The number of each word in ``columns``."""
        return {w: at for at, w in enumerate(self.columns.words)}

    @cached_property
    def name_list(self) -> list[Phrase]:
        """The names by number."""
        return list(self.names)

    @cached_property
    def spelling(self) -> Mapping[str, float]:
        """The words that a word may be a slip of: the vocabulary, and regional words ("courgette"),
        each as usual as what it means."""
        words = dict(self.vocabulary)
        for (first, *more), meant in self.knowledge.variants.items():
            if not more and meant and first not in self.knowledge.foreign:
                words.setdefault(first, min(self.vocabulary.get(word, 0.0) for word in meant))
        return words

    def held_by(self, word: str) -> int:
        """How many names hold a word, or what it means."""
        meant = self.knowledge.canonical((word,))
        return min((len(self.name_postings.get(one, ())) for one in meant), default=0)

    def spelt_like(self, word: str, edits: int) -> list[str]:
        """Words of ``spelling`` whose length and letters allow them to be so many edits away."""
        words, letters, start = self._by_size
        last = len(start) - 1
        first = start[min(max(len(word) - edits, 0), last)]
        end = start[min(len(word) + edits + 1, last)]
        apart = letters[first:end] ^ _letters(word)  # an edit takes a letter and brings another
        fits = _bits()[apart & 0xFFFF] + _bits()[apart >> 16] <= 2 * edits
        return [words[first + at] for at in fits.nonzero()[0].tolist()]

    @cached_property
    def _by_size(self) -> tuple[list[str], npt.NDArray[np.uint32], list[int]]:
        """Words of ``spelling`` by their length, the letters of each, and where a length begins."""
        words = sorted(self.spelling, key=len)
        sizes = np.array([len(w) for w in words])
        start = np.searchsorted(sizes, np.arange(max(sizes, default=0) + 2)).tolist()
        return words, np.array([_letters(w) for w in words], np.uint32), start

    @cached_property
    def single_names(self) -> frozenset[str]:
        """Names of one word."""
        return frozenset(name[0] for name in self.names if len(name) == 1)

    def words_after(self, first: str) -> list[str]:
        """The second words of names of two words that begin with a word."""
        after = self._after.get(first)
        if after is None:
            names = (self.name_list[at] for at in self.name_postings.get(first, ()))
            after = self._after[first] = [p[1] for p in names if len(p) == 2 and p[0] == first]
        return after

    def longer_than(self, begin: str) -> list[str]:
        """Words of ``spelling`` that begin with some letters and go on."""
        words = self._in_order
        first, end = bisect_right(words, begin), bisect_left(words, begin + chr(0x10FFFF))
        return words[first:end]

    def written_without_vowels(self, word: str) -> list[str]:
        """Words of ``spelling`` that a word has the consonants of, and some vowels at most: "brst",
        "brccli". With vowels, it has five letters and lacks two at least: of one letter it is a slip."""
        with_vowels = _VOWEL.search(word) is not None
        if len(word) < (5 if with_vowels else 3) or not word.isalpha() or _VOWEL.match(word):
            return []
        least = len(word) + (2 if with_vowels else 1)
        return [
            w for w in self._by_consonants.get(consonants(word), ())
            if len(w) >= least and _holds(w, word)
        ]  # fmt: skip

    @cached_property
    def _by_consonants(self) -> dict[str, list[str]]:
        by_consonants: defaultdict[str, list[str]] = defaultdict(list)
        for word in self.spelling:
            by_consonants[consonants(word)].append(word)
        return by_consonants

    @cached_property
    def _in_order(self) -> list[str]:
        return sorted(self.spelling)

    @cached_property
    def by_first_letter(self) -> dict[str, list[str]]:
        """Words of ``spelling`` by their first letter."""
        by_letter: defaultdict[str, list[str]] = defaultdict(list)
        for word in self.spelling:
            by_letter[word[0]].append(word)
        return dict(by_letter)

    @cached_property
    def starts_of_names(self) -> frozenset[str]:
        """First words of names."""
        return frozenset(name[0] for name in self.names)

    @cached_property
    def ends_of_names(self) -> frozenset[Phrase]:
        """Names without their first word."""
        return frozenset(name[1:] for name in self.names)

    @cached_property
    def names_but_state(self) -> frozenset[Phrase]:
        """Names without the words for a state that they begin or end with."""
        said = self.knowledge.state_phrases
        starts: defaultdict[str, set[int]] = defaultdict(set)  # sizes of phrases by first word
        ends: defaultdict[str, set[int]] = defaultdict(set)
        for phrase in said:
            starts[phrase[0]].add(len(phrase))
            ends[phrase[-1]].add(len(phrase))
        found: set[Phrase] = set()
        for name in self.names:
            if name[0] in starts:
                found.update(name[n:] for n in starts[name[0]] if name[:n] in said)
            if name[-1] in ends:
                found.update(name[:-n] for n in ends[name[-1]] if name[-n:] in said)
        found.discard(())
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
        return self.spelling.get(word, 0.0) < 1.2

    def telling(self, word: str) -> float:
        """How often the word makes another food of a name, 0 to 1."""
        return float(self.columns.contrast[self.number_of(word)])

    def number_of(self, word: str) -> int:
        """Place of a word in the columns; unknown words share the last."""
        return self.word_at.get(word, len(self.word_at))

    def names_of(self, food: int) -> float:
        """How many names the words files have for a food."""
        return math.expm1(float(self.columns.usual[food]) * math.log1p(USUAL_NAMES))

    def kinds_beside(self, food: int) -> list[tuple[int, float, frozenset[str]]]:
        """The foods of the same table that differ from one in kind alone, with how many names each
        has and its words of kind; a maker's product that has one stands beside others only."""
        beside = self._beside.get(food)
        if beside is None:
            foods, families = self.foods, self._families
            beside = self._beside[food] = [
                (other, self.names_of(other), self.kind_of(other))
                for other in families[foods.families[food]]
                if other != food and foods.answers[other]
                and (not foods.branded[other] or (foods.branded[food] and self.names_of(other) > 0))
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
            once = {w: self.word_weight(w) for w in phrase}
            for w, weight in once.items():
                if w in self.name_postings:  # a list names a place once
                    shared[self.name_postings[w]] += weight
            hits = (shared != 0.0).nonzero()[0]
            of_both = weights[hits] + sum(once.values())
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
        hits = (shared > 0).nonzero()[0]
        own = self.burden[hits] + (sum(map(self.word_weight, asked)) or 1.0)
        likeness = 2.0 * shared[hits] / own
        if len(blocks) == 1 and blocks == self._blocks:
            cuts = [(0, len(hits))]
        else:
            cuts = np.searchsorted(hits, blocks).tolist()
        found = [hits[a:b][_top(likeness[a:b], keep)] for a, b in cuts]
        return [at for of_block in found for at in of_block.tolist()]

    def word_weight(self, word: str) -> float:
        """Rarity of a word over foods and names: ln(foods / foods with it); rarest when unknown."""
        return self._weight_of.get(word, self._weight_unknown)

    @cached_property
    def _weight_of(self) -> dict[str, float]:
        return dict(zip(self.columns.words, self.columns.weight.tolist(), strict=False))

    @cached_property
    def _weight_unknown(self) -> float:
        return float(self.columns.weight[-1])


@cache
def _bits() -> npt.NDArray[np.uint8]:
    """How many bits each number of 16 bits has."""
    return np.array([n.bit_count() for n in range(1 << 16)], np.uint8)


def _letters(word: str) -> int:
    """The letters of a word, a bit each; letters far apart in Unicode may share one."""
    bits = 0
    for letter in word:
        bits |= 1 << (ord(letter) & 31)
    return bits


def _top(values: npt.NDArray[np.floating], keep: int) -> npt.NDArray[np.int64]:
    """Places of the ``keep`` largest values, the largest first, of equal ones the first."""
    last = -values
    if len(last) <= keep:
        return last.argsort(kind="stable")
    first = last.argpartition(keep)[:keep]
    return first[np.lexsort((first, last[first]))]


#: Tables whose descriptions the words files were written beside, the best known first.
HOMES = ("sr28", "sr_legacy")


def home_of(sources: Sequence[str]) -> str:
    """The table that names are resolved in: USDA's standard reference, as every snapshot holds it
    at least to lend measures; else the first."""
    present = set(sources)
    return next((home for home in HOMES if home in present), sources[0] if sources else "")
