"""The index as arrays: words, names and foods by number, so that a batch of lines is arithmetic."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from pipeline.match.knowledge import Phrase

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

#: Cost of a word that no name uses and the food does not explain.
UNKNOWN_STRANGE = 1.0
#: Contrast of a word that no pair of names shows.
UNKNOWN_CONTRAST = 0.6
#: Stands in ``Columns.name_words`` after the last word of a name; no word has this number.
NO_WORD = -1


class Meaning(NamedTuple):
    """What one row of a name says of states, beside the other rows of the same name.

    Attributes:
        states: states under which the row is meant; empty when any.
        default: meant when the line says no state.
        lacking: the row names a food that the table lacks.
        elsewhere: states of the other rows.
        usual: states of the ordinary rows.
    """

    states: frozenset[str]
    default: bool
    lacking: bool
    elsewhere: frozenset[str]
    usual: frozenset[str]


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


@dataclass
class Columns:
    """Columns over words, over (food, word), over names and over the senses of names.

    The last entry of a column over words is that of a word nothing knows; its number is
    ``len(words)``.

    Attributes:
        words: every word of descriptions and names; its place is its number.
        weight, need, strange, contrast: the statistics of ``Index``, filled up for words without.
        telling: ``contrast`` of words that descriptions use and pairs of names show, else 0.
        food_word: ascending, ``food * (len(words) + 1) + word`` of each word of each food.
        in_head: how often that word stands in the head of that food.
        head_size: words in the head of each food.
        own_weight: sum of the weights of a food's words.
        needs: shape (foods, 2), sum of needs over the head and over the other words.
        usual: how many names cooks have for a food (log), 0 to 1.
        name_words: shape (names, most words), each word of a name once, then ``NO_WORD``.
        name_last: the last word of a name.
        name_weight: sum of the weights of a name's words.
        sense_start: first sense of each name, and the end of the last.
        sense_food, sense_row, sense_fat: see ``Sense``.
        sense_meaning: which of ``meanings`` a sense has.
        sense_doubt: which of ``doubts``.
    """

    words: list[str]
    weight: Floats
    need: Floats
    strange: Floats
    contrast: Floats
    telling: Floats
    food_word: Ints
    in_head: Floats
    head_size: Floats
    own_weight: Floats
    needs: Floats
    usual: Floats
    name_words: Ints
    name_last: Ints
    name_weight: Floats
    sense_start: Ints
    sense_food: Ints
    sense_row: Ints
    sense_fat: Floats
    sense_meaning: Ints
    sense_doubt: Ints
    meanings: list[Meaning]
    doubts: list[str]

    def senses(self, name: int) -> tuple[Sense, ...]:
        """The meanings of a name, by its number."""
        return tuple(map(self.sense, range(self.sense_start[name], self.sense_start[name + 1])))

    def sense(self, at: int) -> Sense:
        """One meaning, by its number."""
        meaning = self.meanings[self.sense_meaning[at]]
        return Sense(
            int(self.sense_food[at]), meaning.states, meaning.default, float(self.sense_fat[at]),
            int(self.sense_row[at]), self.doubts[self.sense_doubt[at]],
        )  # fmt: skip

    def holds(self, foods: Ints, words: Ints) -> tuple[npt.NDArray[np.bool_], Floats]:
        """Whether each food has the word beside it, and how often its head says it."""
        key = foods * (len(self.words) + 1) + words
        at = np.minimum(np.searchsorted(self.food_word, key), len(self.food_word) - 1)
        held = self.food_word[at] == key
        return held, np.where(held, self.in_head[at], 0.0)


def columns_of(
    *,
    food_words: Sequence[frozenset[str]],
    table_heads: Sequence[Phrase],
    names: Mapping[Phrase, Sequence[Sense]],
    weight: Mapping[str, float],
    unknown_weight: float,
    need: Mapping[str, float],
    strange: Mapping[str, float],
    contrast: Mapping[str, float],
    usual: Sequence[float],
    known: Sequence[str],
) -> Columns:
    """Turn what an index says of words, names and foods into columns.

    Args:
        food_words, table_heads: words of each food, and those of its head.
        names: each name with its senses.
        weight, unknown_weight, need, strange, contrast: statistics of words.
        usual: of each food.
        known: further words that have a number.
    """
    described = {w for own in food_words for w in own}
    words = sorted({*described, *weight, *strange, *known, *(w for p in names for w in p)})
    number = {w: at for at, w in enumerate(words)}

    def column(values: Mapping[str, float], unknown: float) -> Floats:
        return np.array([*(values.get(w, unknown) for w in words), unknown])

    def needs(own: frozenset[str], head: Phrase) -> tuple[float, float]:
        behind = own.difference(head)
        return sum(need[w] for w in sorted(own - behind)), sum(need[w] for w in sorted(behind))

    weights = column(weight, unknown_weight)
    food_word, in_head = _words_of_foods(food_words, table_heads, number)
    return Columns(
        words=words, weight=weights, need=column(need, 0.0),
        strange=column(strange, UNKNOWN_STRANGE), contrast=column(contrast, UNKNOWN_CONTRAST),
        telling=column({w: v for w, v in contrast.items() if w in described}, 0.0),
        food_word=food_word, in_head=in_head,
        head_size=np.array([len(head) for head in table_heads], float),
        own_weight=np.array([sum(weight[w] for w in sorted(own)) for own in food_words]),
        needs=np.array(list(map(needs, food_words, table_heads))).reshape(-1, 2),
        usual=np.array(usual, float),
        **_name_columns(list(names), number, weights), **_sense_columns(list(names.values())),
    )  # fmt: skip


def _words_of_foods(
    food_words: Sequence[frozenset[str]], table_heads: Sequence[Phrase], number: Mapping[str, int]
) -> tuple[Ints, Floats]:
    """``food_word`` and ``in_head`` of ``Columns``."""
    size = len(number) + 1
    heads = [
        (at * size + number[w], head.count(w)) for at, head in enumerate(table_heads)
        for w in dict.fromkeys(head)
    ]  # fmt: skip
    food_word = np.array(
        sorted(at * size + number[w] for at, own in enumerate(food_words) for w in own), np.int64
    )
    in_head = np.zeros(len(food_word))
    if heads:
        in_head[np.searchsorted(food_word, [key for key, _ in heads])] = [n for _, n in heads]
    return food_word, in_head


def _name_columns(
    names: Sequence[Phrase], number: Mapping[str, int], weights: Floats
) -> dict[str, Any]:
    unique = [[number[w] for w in dict.fromkeys(p)] for p in names]
    longest = max(map(len, unique), default=1)
    padded = [u + [NO_WORD] * (longest - len(u)) for u in unique]
    return {
        "name_words": np.array(padded, np.int64).reshape(-1, longest),
        "name_last": np.array([number[p[-1]] for p in names], np.int64),
        "name_weight": np.array([sum(weights[u]) or 1.0 for u in unique]),
    }


def _sense_columns(of_names: Sequence[Sequence[Sense]]) -> dict[str, Any]:
    senses = [sense for of_name in of_names for sense in of_name]
    meaning_of = [meaning for of_name in of_names for meaning in _meanings(of_name)]
    meanings = {meaning: at for at, meaning in enumerate(dict.fromkeys(meaning_of))}
    doubts = {doubt: at for at, doubt in enumerate(dict.fromkeys(s.doubt for s in senses))}
    return {
        "sense_start": np.cumsum([0, *map(len, of_names)]),
        "sense_food": np.array([s.food for s in senses], np.int64),
        "sense_row": np.array([s.row for s in senses], np.int64),
        "sense_fat": np.array([s.fat_pct for s in senses], float),
        "sense_meaning": np.array([meanings[meaning] for meaning in meaning_of], np.int64),
        "sense_doubt": np.array([doubts[s.doubt] for s in senses], np.int64),
        "meanings": list(meanings), "doubts": list(doubts),
    }  # fmt: skip


def _meanings(senses: Sequence[Sense]) -> list[Meaning]:
    none: frozenset[str] = frozenset()
    usual = none.union(*(s.states for s in senses if s.default))
    return [
        Meaning(
            s.states, s.default, s.food < 0,
            none.union(*(other.states for other in senses if other is not s)), usual,
        )
        for s in senses
    ]  # fmt: skip
