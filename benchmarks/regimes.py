"""The questions matching is fitted and judged on, each kind with its own truth.

``everyday``   labelled lines as they are
``held out``   the same lines, the one name that each of them uses taken out of the words files
``cut short``  the same lines, one word of their name cut to its first three to six letters
``names``      names of the words files themselves, each held out in turn; right is the food they
               name, or one within the rule that shares a head word
``unknown``    names with one telling word replaced by a made-up one: no food is right
``made-up``    a made-up word in front of a name, as a brand would stand: the food stays right
``self``       descriptions of the table typed behind "100 g": as written, without commas, with the
               parts in another order, with the maker left out, with one part left out
The rule: within 10 % (or 8 kcal) of energy and 15 % (or 1 g) of protein, per 100 g.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from labels import Label, read_labels
from synthetic import food_words

from pipeline.foods.words import words
from pipeline.lines import parse_many
from pipeline.lines.model import ParsedLine
from pipeline.match.concepts import Resolver
from pipeline.match.facets import brand_names
from pipeline.match.index import Index
from pipeline.match.knowledge import AbsentRow, NameRow, Phrase
from pipeline.match.near import near
from pipeline.match.query import Query, query_of
from pipeline.match.rank import names_inside

_PARTS = re.compile(r",(?![^()]*\))")
WAYS = ("as written", "without commas", "another order", "maker left out", "one part left out")


@dataclass(frozen=True)
class Question:
    """One thing asked of the matcher and what would be right.

    Attributes:
        kind: ``everyday``, ``held out``, ``names`` or ``self: WAY``.
        group: questions of one group stay in one fold (a food group, or the line).
        line: the parsed line.
        query: what is asked of the index.
        without: names taken out.
        right: whether a food (position in ``Foods``) is a right answer.
        lacking: no food of the table is right.
        kept: True for lines that are only counted (even numbers of the outside set).
    """

    kind: str
    group: str
    line: ParsedLine
    query: Query
    without: frozenset[Phrase]
    right: Callable[[int], bool]
    lacking: bool = False
    kept: bool = False


def same_food(index: Index, target: int) -> Callable[[int], bool]:
    """The food itself, or one within the rule that shares a word of its head."""
    heads = frozenset(index.table_heads[target])
    macros = index.foods.macros

    def right(food: int) -> bool:
        if food == target:
            return True
        return food >= 0 and near(target, food, macros) and bool(heads & index.words_of(food))

    return right


def of_labels(
    labels: Sequence[Label], index: Index, source: str, *, kept_even: bool = False
) -> Iterator[Question]:
    """Everyday lines, and the same with their one name held out."""
    place = {
        code: at
        for at, code in enumerate(index.foods.codes)
        if index.foods.sources[at] == index.home
    }
    for label, line in zip(labels, parse_many([x.text for x in labels]), strict=True):
        if line.kind != "food" or not line.name:
            continue
        accept = (
            frozenset({-1})  # known to be lacking: the answer that is none
            if label.lacking
            else frozenset(place[c] for c in label.accept if c in place)
        )
        query = query_of(line, index)
        kept = kept_even and not label.odd
        group = f"{source} {label.line_id}"
        yield Question(
            "everyday", group, line, query, frozenset(), accept.__contains__, label.lacking, kept
        )
        inside = names_inside(query, index)
        if not label.lacking and inside:
            yield Question(
                "held out", group, line, query, frozenset(inside[:1]), accept.__contains__,
                kept=kept,
            )  # fmt: skip


def first_letters(word: str, rnd: random.Random) -> str:
    """A word cut to its first three to six letters."""
    return word[: rnd.randint(3, min(6, len(word) - 3))]


def consonants(word: str, rnd: random.Random) -> str:
    """A word without its vowels, of two like consonants one or both: "btr", "bttr"."""
    short = word[0] + re.sub("[aeiou]", "", word[1:])
    return re.sub(r"(.)\1", r"\1", short) if rnd.random() < 0.5 else short


def shortened(
    labels: Sequence[Label], index: Index, source: str, rnd: random.Random,
    short_of: Callable[[str, random.Random], str],
) -> Iterator[Question]:  # fmt: skip
    """Everyday lines that have a food, one long word of the name written shorter, which is no word
    itself; the plural keeps its s half of the time."""
    for question in of_labels([x for x in labels if not x.lacking], index, source):
        name = question.line.name.split()
        long = [w for w in name if len(w) > 6 and w.isalpha() and w in question.line.text.lower()]
        if question.kind != "everyday" or not long:
            continue
        word = rnd.choice(long)
        short = short_of(word, rnd)
        if len(short) < 3 or short in index.vocabulary or (short,) in index.names:
            continue
        if word.endswith("s") and not short.endswith("s") and rnd.random() < 0.5:
            short += "s"
        text = re.sub(rf"\b{word}\b", short, question.line.text, count=1, flags=re.IGNORECASE)
        line = parse_many([text])[0]
        yield replace(question, kind="shortened", line=line, query=query_of(line, index))


def of_names(index: Index, count: int, rnd: random.Random) -> Iterator[Question]:
    """Names of the words files, each held out; without a state, or with one its row asks for."""
    resolver = Resolver(
        food_words(index), [float(v) for v in index.foods.macros[:, 2]], index.foods.survey,
        [at for at, s in enumerate(index.foods.sources) if s == index.home],
    )  # fmt: skip
    asked: list[tuple[NameRow | AbsentRow, int, Phrase]] = [
        (row, resolver.find(row.concept), phrase)
        for row in index.knowledge.names
        for phrase in row.phrases
    ]
    asked += [(row, -1, phrase) for row in index.knowledge.absent for phrase in row.phrases]
    for row, at, phrase in rnd.sample(asked, count):
        text = " ".join(phrase)
        if isinstance(row, AbsentRow):
            line = ParsedLine(text, "food", name=text, rest=text)
        else:
            states = frozenset(
                [rnd.choice(sorted(row.states))] if row.states and not row.default else []
            )
            line = ParsedLine(
                text, "food", name=text, states=states,
                fat_pct=None if row.default else row.fat_pct, rest=text,
            )  # fmt: skip
        query = query_of(line, index)
        yield Question(
            "names", index.foods.categories[at] if at >= 0 else f"lacking {row.phrases[0]}", line,
            query, frozenset({phrase, query.phrase}),
            same_food(index, at) if at >= 0 else (-1).__eq__, at < 0,
        )  # fmt: skip


#: From this share of pairs on, a word makes another food of a name (``Index.telling``).
TELLING = 0.55


def _made_up(rnd: random.Random) -> str:
    """A word of no language, two to four syllables."""
    syllables = (
        rnd.choice("bdfgklmnprstvz") + rnd.choice("aeiou") for _ in range(rnd.randint(2, 4))
    )
    return "".join(syllables) + rnd.choice("lmnrtx")


def of_unknown(index: Index, count: int, rnd: random.Random) -> Iterator[Question]:
    """Names that hold a word nobody knows, in place of one that makes the food or in front."""
    senses = {p: index.columns.senses(at) for at, p in enumerate(index.name_list)}
    every = [p for p, meant in senses.items() if len(p) > 1 and meant[0].food >= 0]
    for phrase in rnd.sample(every, count):
        telling = [at for at, w in enumerate(phrase) if index.telling(w) >= TELLING]
        if telling:
            said = list(phrase)
            said[rnd.choice(telling)] = _made_up(rnd)
            text = " ".join(said)
            line = parse_many([f"100 g {text}"])[0]
            yield Question(
                "unknown", text, line, query_of(line, index), frozenset(),
                lambda food: food < 0, True,
            )  # fmt: skip
        text = f"{_made_up(rnd)} {' '.join(phrase)}"
        line = parse_many([f"100 g {text}"])[0]
        usual = next((s.food for s in senses[phrase] if s.default), senses[phrase][0].food)
        if usual >= 0:
            yield Question(
                "made-up", text, line, query_of(line, index), frozenset(), same_food(index, usual)
            )


def rewritten(description: str, maker: str, way: str, rnd: random.Random) -> str:
    """A description in another way of writing; ``WAYS`` lists them."""
    parts = [part.strip() for part in _PARTS.split(description)]
    if way == "without commas":
        return " ".join(parts)
    if way == "another order":
        rnd.shuffle(parts)
    elif way == "maker left out":
        names = {*brand_names(description), *words(maker)}
        kept = " ".join(w for w in description.split() if w.strip(",()'’S") not in names)
        return re.sub(r"(?:\s*,)+", ",", kept).strip(" ,") or description
    elif way == "one part left out" and len(parts) > 2:
        parts.pop(rnd.randrange(1, len(parts)))
    return ", ".join(parts)


def of_table(
    index: Index, ways: Sequence[str], rnd: random.Random, count: int = 0, source: str = ""
) -> Iterator[Question]:
    """Descriptions of the table typed as a line; ``count`` of them, or all."""
    foods = index.foods
    every = [at for at in range(len(foods)) if not source or foods.ids[at].startswith(source)]
    for way in ways:
        places = every
        if way == "maker left out":
            places = [at for at in every if brand_names(foods.descriptions[at])]
        if count:
            places = rnd.sample(places, min(count, len(places)))
        asked = [
            (at, rewritten(foods.descriptions[at], foods.makers[at], way, rnd)) for at in places
        ]
        if way == "maker left out":
            asked = [(at, text) for at, text in asked if text != foods.descriptions[at]]
        lines = parse_many([f"100 g {text}" for _, text in asked])
        for (at, _), line in zip(asked, lines, strict=True):
            yield Question(
                f"self: {way}", foods.categories[at], line, query_of(line, index), frozenset(),
                same_food(index, at),
            )  # fmt: skip


def labelled_sets(outside: Path | None) -> list[tuple[str, list[Label], bool]]:
    """The label files at hand: (name, labels, even lines only counted)."""
    own = Path(__file__).parent / "data"
    sets = [(p.stem, read_labels(p), False) for p in sorted(own.glob("lines_*.csv"))]
    if outside is not None and outside.is_file():
        sets.append(("outside", read_labels(outside), True))
    return sets


__all__ = [
    "WAYS", "Question", "labelled_sets", "of_labels", "of_names", "of_table", "rewritten",
    "same_food",
]  # fmt: skip
