"""The index worked out of a snapshot's foods and the words files, once a snapshot."""

from __future__ import annotations

import math
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from pipeline.foods.words import words
from pipeline.match.columns import Sense, columns_of
from pipeline.match.concepts import Resolver
from pipeline.match.facets import NEUTRAL, brand_names, head_and_tail
from pipeline.match.foods import Floats, Foods
from pipeline.match.index import USUAL_NAMES, Index, Postings, home_of
from pipeline.match.knowledge import ENGLISH, Knowledge, NameRow, Phrase, replace_phrases
from pipeline.match.near import near
from pipeline.match.states import COOKED

#: A word of the head of a description weighs so much more than one after it.
_HEAD_WEIGHT = 1.6


def build_index(foods: Foods, knowledge: Knowledge) -> Index:
    """Build the index over a snapshot's foods and the names tables (about half a second)."""
    home = home_of(foods.sources)
    food_words, heads = _described(foods, knowledge, home)
    at_home = [at for at, source in enumerate(foods.sources) if source == home]
    fat = [float(v) for v in foods.macros[:, 2]]
    resolver = Resolver(food_words, fat, foods.survey, at_home)
    found = [resolver.find(row.concept) for row in knowledge.names]
    names = _names(knowledge, found)
    # names of other languages add words of their own and weigh nothing in English
    others = {p for r in knowledge.names if r.language != ENGLISH for p in r.phrases}
    telling = {
        p: [w for w in dict.fromkeys(p) if p not in others or w in knowledge.foreign]
        for p in names
    }  # fmt: skip
    seen = _seen(foods, food_words, home)
    named = Counter(w for own in telling.values() for w in own)
    named.update(w for w in knowledge.foreign if w not in named)
    total = len(at_home) + 1.0
    weight = {
        w: math.log(total / min(total - 1, seen[w] + 2.0 * named[w] + 1.0)) for w in {*seen, *named}
    }
    postings, burden = _postings(foods, food_words, heads, weight, home)
    brand_words = [
        frozenset(w for b in brand_names(d) for w in words(b)) | frozenset(words(m))
        for d, m in zip(foods.descriptions, foods.makers, strict=True)
    ]
    by_words, unbranded = _by_words(foods, knowledge, brand_words)
    table_heads = [tuple(w for w in head if w not in NEUTRAL) for head in heads]
    need, strange, said_of = _said_freely(knowledge, found, food_words)
    columns = columns_of(
        food_words=food_words, table_heads=table_heads, names=names, weight=weight,
        unknown_weight=math.log(total), need=need, strange=strange,
        contrast=_contrasts({p: s for p, s in names.items() if p not in others}, foods.macros),
        usual=[math.log1p(said_of[at]) / math.log1p(USUAL_NAMES) for at in range(len(foods))],
        known=sorted(NEUTRAL),
    )  # fmt: skip
    return Index(
        foods=foods, knowledge=knowledge, columns=columns,
        names={p: at for at, p in enumerate(names)}, postings=postings, burden=burden,
        vocabulary=_vocabulary(seen, named),
        brand_words={at: said for at, said in enumerate(brand_words) if said},
        by_words=by_words, by_words_unbranded=unbranded,
        tables=_places((s, at) for at, s in enumerate(foods.sources) if foods.answers[at]),
        home=home,
        nearest=[resolver.find(a.nearest) if a.nearest.words else -1 for a in knowledge.absent],
        name_postings={
            w: np.array(at, dtype=np.int32)
            for w, at in _places((w, at) for at, p in enumerate(names) for w in telling[p]).items()
        },
        cocoa=_cocoa(foods.descriptions), table_heads=table_heads,
    )  # fmt: skip


def _places(pairs: Iterable[tuple[str, int]]) -> dict[str, list[int]]:
    """The places of each word or table, in order."""
    places: defaultdict[str, list[int]] = defaultdict(list)
    for key, at in pairs:
        places[key].append(at)
    return dict(places)


def _described(
    foods: Foods, knowledge: Knowledge, home: str
) -> tuple[list[frozenset[str]], list[Phrase]]:
    """The words of each food, and those of the head of its description."""
    canonical = knowledge.canonical
    spoken = _languages(foods, knowledge, home)
    food_words: list[frozenset[str]] = []
    heads: list[Phrase] = []
    for description, common, source in zip(
        foods.descriptions, foods.common_names, foods.sources, strict=True
    ):
        first, rest = head_and_tail(description)
        in_english = knowledge.said.get(spoken.get(source, ENGLISH), {})
        head = canonical(replace_phrases(first, in_english))
        behind = canonical(replace_phrases(rest, in_english))
        heads.append(head)
        food_words.append(frozenset({*head, *first, *behind, *rest, *canonical(words(common))}))
    return food_words, heads


def _sense(row: NameRow, at: int, food: int, *, default: bool) -> Sense:
    fat = math.nan if row.fat_pct is None else row.fat_pct
    return Sense(food, row.states, default, fat, at, row.doubt)


def _names(knowledge: Knowledge, found: list[int]) -> dict[Phrase, list[Sense]]:
    """What each name means: foods of the table, in the order of the rows, then lacking ones."""
    names: defaultdict[Phrase, list[Sense]] = defaultdict(list)
    for at, (row, food) in enumerate(zip(knowledge.names, found, strict=True)):
        if food >= 0:  # else the table in use lacks it
            for phrase in row.phrases:
                names[phrase].append(_sense(row, at, food, default=row.default))
    for phrase, at in _lent_states(knowledge, found):
        names[phrase].append(_sense(knowledge.names[at], at, found[at], default=False))
    for at, gone in enumerate(knowledge.absent, start=knowledge.name_rows):
        for phrase in gone.phrases:
            names[phrase].append(Sense(-1, frozenset(), True, math.nan, at))
    return names


def _seen(foods: Foods, food_words: list[frozenset[str]], home: str) -> Counter[str]:
    """How many foods of the home table have each word; words that only other tables use by those."""
    seen: Counter[str] = Counter()
    beside: Counter[str] = Counter()
    for own, source in zip(food_words, foods.sources, strict=True):
        (seen if source == home else beside).update(own)
    seen.update({w: n for w, n in beside.items() if w not in seen})
    return seen


def _vocabulary(seen: Counter[str], named: Counter[str]) -> dict[str, float]:
    """How well known each word is; one that a name holds by two more."""
    vocabulary = {w: math.log1p(n) for w, n in seen.items()}
    for w, n in named.items():
        vocabulary[w] = vocabulary.get(w, 0.0) + 2 + math.log1p(n)
    return vocabulary


def _postings(
    foods: Foods, food_words: list[frozenset[str]], heads: list[Phrase],
    weight: Mapping[str, float], home: str,
) -> tuple[Postings, np.ndarray]:  # fmt: skip
    """Foods by word, with what the word weighs in them, and what all words of a food weigh."""
    postings: defaultdict[str, list[tuple[int, float]]] = defaultdict(list)
    burden = np.zeros(len(foods), dtype=np.float32)
    for at, own in enumerate(food_words):
        for w in sorted(own):  # a set's order differs from run to run, and sums with it
            value = weight[w] * (_HEAD_WEIGHT if w in heads[at] else 1.0)
            postings[w].append((at, value))
            burden[at] += value
        if not foods.answers[at] and foods.sources[at] != home:
            burden[at] = math.inf  # no answer: nothing is like it
    return {
        w: (np.array([p for p, _ in got], np.int32), np.array([v for _, v in got], np.float32))
        for w, got in postings.items()
    }, burden


class _ByWords(NamedTuple):
    """Foods by all the words of their descriptions, and by those words without the maker's."""

    whole: dict[str, tuple[int, ...]]
    unbranded: dict[str, tuple[int, ...]]


def _by_words(foods: Foods, knowledge: Knowledge, brand_words: list[frozenset[str]]) -> _ByWords:
    whole: defaultdict[str, list[int]] = defaultdict(list)
    unbranded: defaultdict[str, list[int]] = defaultdict(list)
    for at, description in enumerate(foods.descriptions):
        every = sorted(knowledge.canonical(words(description)))
        whole[" ".join(every)].append(at)
        plain = [w for w in every if w not in brand_words[at]]
        if plain and len(plain) < len(every):
            unbranded[" ".join(plain)].append(at)
    return _ByWords(*({w: tuple(at) for w, at in of.items()} for of in (whole, unbranded)))


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


def _lent_states(knowledge: Knowledge, found: list[int]) -> list[tuple[Phrase, int]]:
    """Let a cooked, tinned or peeled row answer all names of the raw row it shares names with.

    The names tables list the commonest names on every row and the rest on the ordinary one only;
    "breakfast sausage links, cooked" means the cooked row all the same. The row that shares the
    largest part of its names with the ordinary one lends; a name that has such a row keeps it.

    Returns:
        Names, each with the row that answers it too.
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
    return lent


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
