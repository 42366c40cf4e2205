"""Everything looked up while matching, built once a snapshot: words, postings, names, facets."""

from __future__ import annotations

import math
import re
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from pipeline.match.facets import COOKED, NEUTRAL, Facets, facets
from pipeline.match.foods import Foods
from pipeline.match.knowledge import Knowledge, NameRow, Phrase
from pipeline.match.words import words

#: Longest name in words that is looked for inside a phrase.
LONGEST_NAME = 8


class Sense(NamedTuple):
    """One meaning of a name: a food in some states, or a food the table lacks.

    Attributes:
        food: position in ``Foods``, or -1 when the table lacks it.
        states: states under which it is meant; empty when any.
        default: meant when the line says no state.
        fat_pct: g fat per 100 g when names are told apart by fat, else NaN.
        row: which row of the names tables (absent rows count on from the last).
        doubt: see ``NameRow``.
    """

    food: int
    states: frozenset[str]
    default: bool
    fat_pct: float
    row: int
    doubt: str = ""


@dataclass(slots=True)
class Index:
    """See the module. ``names`` maps a phrase to its senses; ``postings`` a word to foods."""

    foods: Foods
    knowledge: Knowledge
    facets: list[Facets]
    food_words: list[frozenset[str]]
    names: dict[Phrase, tuple[Sense, ...]]
    postings: dict[str, tuple[npt.NDArray[np.int32], npt.NDArray[np.float32]]]
    weight: dict[str, float]
    burden: npt.NDArray[np.float32]
    vocabulary: dict[str, float]
    unknown_weight: float
    cocoa: dict[int, list[tuple[float, float]]]
    table_heads: list[Phrase]
    state_words: dict[str, tuple[Phrase, ...]] = field(init=False)

    def __post_init__(self) -> None:
        words_of: defaultdict[str, list[Phrase]] = defaultdict(list)
        for phrase, states in self.knowledge.state_phrases.items():
            for state in states:
                words_of[state].append(phrase)
        self.state_words = {s: tuple(sorted(p)) for s, p in words_of.items()}

    def rare(self, word: str) -> bool:
        """True for a word that no name and at most two descriptions use: perhaps a slip."""
        return self.vocabulary.get(word, 0.0) < 1.2

    def word_weight(self, word: str) -> float:
        """Rarity of a word over foods and names: ln(foods / foods with it); rarest when unknown."""
        return self.weight.get(word, self.unknown_weight)


def build_index(foods: Foods, knowledge: Knowledge) -> Index:
    """Build the index over a snapshot's foods and the names tables (about half a second)."""
    position: dict[str, int] = {}
    for at, code in enumerate(foods.codes):
        position.setdefault(code, at)  # of several sources the preferred one stands first
    read = [facets(d, m) for d, m in zip(foods.descriptions, foods.makers, strict=True)]
    canonical = knowledge.canonical
    food_words: list[frozenset[str]] = []
    head_words: list[frozenset[str]] = []
    heads: list[Phrase] = []
    for facet, common in zip(read, foods.common_names, strict=True):
        head = canonical(facet.head)
        heads.append(head)
        head_words.append(frozenset(head))
        every = {*head, *facet.head, *canonical(facet.tail), *facet.tail, *words(common)}
        food_words.append(frozenset(every))

    names: defaultdict[Phrase, list[Sense]] = defaultdict(list)
    for row, name_row in enumerate(knowledge.names):
        at = position.get(name_row.code, -1)
        if at < 0:
            continue  # the snapshot in use lacks this food; the table's own test names such rows
        fat = math.nan if name_row.fat_pct is None else name_row.fat_pct
        sense = Sense(at, name_row.states, name_row.default, fat, row, name_row.doubt)
        for phrase in name_row.phrases:
            names[phrase].append(sense)
    _lend_states(knowledge, position, names)
    for row, gone in enumerate(knowledge.absent, start=knowledge.name_rows):
        sense = Sense(-1, frozenset(), True, math.nan, row)
        for phrase in gone.phrases:
            names[phrase].append(sense)

    seen: Counter[str] = Counter()
    for own in food_words:
        seen.update(own)
    named: Counter[str] = Counter(w for phrase in names for w in set(phrase))
    total = len(foods) + 1.0
    weight = {
        w: math.log(total / min(total - 1, seen[w] + 2.0 * named[w] + 1.0)) for w in {*seen, *named}
    }
    unknown = math.log(total)

    postings: defaultdict[str, list[tuple[int, float]]] = defaultdict(list)
    burden = np.zeros(len(foods), dtype=np.float32)
    for at, own in enumerate(food_words):
        for w in sorted(own):  # a set's order differs from run to run, and sums with it
            neutral = w in NEUTRAL
            in_head = w in head_words[at]
            postings[w].append((at, weight[w] * (1.6 if in_head else 1.0)))
            if not neutral:
                burden[at] += weight[w] * (1.3 if in_head else 0.5)
        burden[at] += 3.0 * read[at].brand
        burden[at] -= 0.8 * foods.survey[at]
    packed = {
        w: (
            np.fromiter((p for p, _ in got), dtype=np.int32, count=len(got)),
            np.fromiter((v for _, v in got), dtype=np.float32, count=len(got)),
        )
        for w, got in postings.items()
    }
    vocabulary: dict[str, float] = {}
    for w, n in seen.items():
        vocabulary[w] = math.log1p(n)
    for w, n in named.items():
        vocabulary[w] = vocabulary.get(w, 0.0) + 2 + math.log1p(n)
    return Index(
        foods=foods, knowledge=knowledge, facets=read, food_words=food_words,
        names={p: tuple(s) for p, s in names.items()}, postings=packed, weight=weight, burden=burden,
        vocabulary=vocabulary, unknown_weight=unknown,
        cocoa=_cocoa(foods.descriptions),
        table_heads=[tuple(w for w in head if w not in NEUTRAL) for head in heads],
    )  # fmt: skip


#: Kinds of state in which rows of one food stand in for each other's missing names.
_LENT = (
    COOKED,
    frozenset({"canned", "drained", "jarred"}),
    frozenset({"peeled"}),
)
#: Rows told apart by fat lend only when their fat is this near, g per 100 g.
_FAT_NEAR = 4.0


def _lend_states(
    knowledge: Knowledge, position: dict[str, int], names: defaultdict[Phrase, list[Sense]]
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
    for row in rows:
        if not row.default or row.code not in position:
            continue
        sharing = Counter(o for p in row.phrases for o in holders[p] if not rows[o].default)
        for kind in _LENT:
            if row.states & kind:
                continue
            best = max(
                (
                    (shared / len(rows[o].phrases), shared, -o)
                    for o, shared in sharing.items()
                    if rows[o].states & kind
                    and rows[o].code in position
                    and _fat_near(row, rows[o])
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
        names[phrase].append(Sense(position[row.code], row.states, False, fat, at, row.doubt))


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
