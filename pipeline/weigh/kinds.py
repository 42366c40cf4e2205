"""Kinds of food by their words: how rows of the shared tables say what they are about.

A row's ``food`` cell is a small pattern over singular words. ``butter|spread nut|peanut -milk``
asks for one word of each group and none of those with a minus; ``@spice`` asks for the first word
of the food's group in the composition table, ``=italian`` for a word that the line itself says,
``~us`` or ``~uk`` for signs of the market the line was written for (``shared/market_words.csv``).
Words come from the line's name, from its states and notes, and from the table's description of
the food; the last word of a name and the first part of a description weigh most, because they
name the thing itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Generic, TypeVar

from pipeline.foods import read_description, singular, words
from pipeline.weigh.words import word_list

#: What a word counts for, by where it stands.
NAME_HEAD, NAME_KIND, NAME_WORD = 4.0, 2.4, 1.4
FOOD_HEAD, FOOD_WORD, STATE, NOTE, GROUP = 1.6, 0.8, 1.0, 0.8, 1.5


@lru_cache(maxsize=10_000)
def food_words(description: str, category: str) -> Mapping[str, float]:
    """What the words of a description count for: its head and first kind, its other parts, its
    group. Words in brackets and of clauses ("with pork") say what else there is and do not count.
    """
    read = read_description(description)
    found: dict[str, float] = {}
    aside = {*read.also, *read.beside, *read.denied}
    for token in read.words:
        if token not in aside:
            found[token] = FOOD_WORD
    for token in (*read.head, *read.group, *read.kind[:1], *" ".join(read.part[:1]).split()):
        found[token] = FOOD_HEAD
    if category:
        found["@" + words(category)[0]] = GROUP
    return found


def line_words(
    name: str, states: Iterable[str] = (), notes: str = "", part: str = ""
) -> dict[str, float]:
    """What the words of a line count for: the head of its name most, then the rest."""
    found: dict[str, float] = {}
    if notes:
        parts = word_list("part")  # in a note: what is done with them
        for token in words(notes):
            if token not in parts:
                found[token] = NOTE
    for state in states:
        found[state] = found["=" + state] = STATE
    tokens = words(name)
    if part:
        tokens = (*tokens, part)
    for token in tokens:
        found[token] = NAME_WORD
    if tokens:
        found[tokens[-1]] = NAME_HEAD
        if len(tokens) > 1 and (tokens[-1] in word_list("form_noun") or part):
            found[tokens[-2]] = NAME_HEAD
        elif len(tokens) > 1 and tokens[-1] in word_list("kind_noun"):
            found[tokens[-2]] = NAME_KIND
    for token in tokens:
        found["=" + token] = found[token]
    return found


def _stem(word: str) -> str:
    """A pattern's word; ``=italian`` must stand on the line itself, not only in the table."""
    return "=" + singular(word[1:]) if word.startswith("=") else singular(word)


@dataclass(frozen=True, slots=True)
class Pattern:
    """One parsed ``food`` cell: every slot needs one of its words, no word of ``without``."""

    slots: tuple[tuple[str, ...], ...]
    without: tuple[str, ...]

    @classmethod
    def parse(cls, text: str) -> Pattern:
        """Read a cell; words are made singular, so a table may write either form."""
        slots: list[tuple[str, ...]] = []
        without: list[str] = []
        for token in text.split():
            if token.startswith("-"):
                without.append(_stem(token[1:]))
            else:
                slots.append(tuple(_stem(word) for word in token.split("|") if word))
        return cls(tuple(slots), tuple(without))

    def score(self, bag: Mapping[str, float]) -> float:
        """How well it fits; 0 when a slot is empty, a barred word stands there, or no word that
        it asks for names the thing itself."""
        total = 0.0
        names_it = False
        used = ""
        for slot in self.slots:
            best = 0.0
            which = ""
            for word in slot:
                weight = bag.get(word, 0.0)
                if weight > best:
                    best, which = weight, word
            if not best:
                return 0.0
            names_it = names_it or best >= GROUP
            total += 0.3 if which == used else best + 0.3  # a word counts once
            used = which
        if not names_it:
            return 0.0
        for word in self.without:
            if bag.get(word, 0.0) > NOTE:
                return 0.0
        return total


Row = TypeVar("Row")


class KindTable(Generic[Row]):
    """Rows found by the words of a line and of its food; the best fitting, then the first.

    Attributes:
        anything: rows for any food.
    """

    def __init__(self, rows: Iterable[tuple[str, Row]]) -> None:
        self._rows = list(rows)

    @cached_property
    def anything(self) -> list[Row]:
        return [row for _, pattern, row in self._patterns if not pattern.slots]

    @cached_property
    def _patterns(self) -> list[tuple[int, Pattern, Row]]:
        """The rows in their order; read when first asked, for a run weighs with few of the tables."""
        return [(place, Pattern.parse(text), row) for place, (text, row) in enumerate(self._rows)]

    @cached_property
    def _by_word(self) -> dict[str, list[tuple[int, Pattern, Row]]]:
        """The rows under the words of their narrowest slot."""
        found: dict[str, list[tuple[int, Pattern, Row]]] = {}
        for one in self._patterns:
            for word in min(one[1].slots, key=len, default=()):
                found.setdefault(word, []).append(one)
        return found

    def ranked(self, bag: Mapping[str, float]) -> list[tuple[float, Row]]:
        """Every row that fits with its score, best first; rows for any food are not among them."""
        found: dict[int, tuple[float, Row]] = {}
        for word in self._by_word.keys() & bag.keys():
            for place, pattern, row in self._by_word[word]:
                if place not in found:
                    score = pattern.score(bag)
                    if score:
                        found[place] = (score, row)
        return [hit for _, hit in sorted(found.items(), key=lambda item: (-item[1][0], item[0]))]

    def best(self, bag: Mapping[str, float]) -> Row | None:
        """The best fitting row, None when none fits."""
        ranked = self.ranked(bag)
        return ranked[0][1] if ranked else None
