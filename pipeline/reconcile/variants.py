"""Other foods that a line may have been looked up as: neighbours in the space of food profiles.

A profile (:mod:`pipeline.foods`) parts the name of a food from its states. Two foods whose names
agree and whose states differ are a raw/cooked pair; whose names agree, whose state is the same and
whose values differ are variants of one product (fat level, sweetening, what it is packed in).
"""

from __future__ import annotations

import marshal
import math
from collections import Counter
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any, Literal, NamedTuple, TypeVar

import numpy as np

from pipeline import kept
from pipeline.foods import Profile, profile
from pipeline.foods.composition import COOKED
from pipeline.reconcile.arrays import codes_of, ranges
from pipeline.resources import shared_rows

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from pipeline.reconcile.arrays import Bools, Ints, Vector

State = Literal["raw", "cooked", ""]
_STATES: tuple[State, ...] = ("", "raw", "cooked")
VariantKind = Literal["raw_cooked_slip", "product_variant"]

#: What each state of keeping that two foods do not share takes from their likeness: a fresh food, its
#: canned and its dried form are less alike than two fresh ones.
_PER_KEPT_STATE = 0.1
#: A head or group with this many foods is a shelf, not a food; the next words name it.
_BROAD_HEAD = 60
#: What words count for by where they stand: the head, the rest of the name, brackets and clauses.
_HEAD, _NAME, _ASIDE = 2.0, 1.0, 0.3
#: Likeness of foods of two food groups counts for less, and only under one head: coconut milk and
#: the drink of that name, but no milk chocolate for milk and no cracker for its mozzarella.
_OTHER_GROUP = 0.8

#: Likeness from which on another food is a neighbour.
_LEAST_LIKENESS = 0.45

#: Macros in which two foods count as the same for this purpose.
_SAME_VALUE = 0.06


@dataclass(frozen=True, slots=True)
class Variant:
    """Another food that may have been looked up for a line.

    Attributes:
        index: row of the food in ``Variants``.
        kind: raw_cooked_slip or product_variant.
        weight: belief among the variants of the same food and kind; they sum to 1.
    """

    index: int
    kind: VariantKind
    weight: float


class _Answer(NamedTuple):
    """Variants of one food: other food, whether raw for cooked, belief."""

    other: Ints
    raw: Bools
    belief: Vector


_NO_ANSWER = _Answer(np.empty(0, np.int64), np.empty(0, np.bool_), np.empty(0))


#: Head, group, kind, states without those of packing, form and fat of a food.
_PackName = tuple[
    tuple[str, ...], tuple[str, ...], tuple[str, ...], frozenset[str], str, float | None
]


_Name = TypeVar("_Name")
#: Attributes of ``Variants`` that are made from others when asked for.
_MADE = ("_pack_name", "_packed", "_by_kind")


class Neighbour(NamedTuple):
    """What the comparison needs of a profile."""

    head: tuple[str, ...]
    group: tuple[str, ...]
    kind: tuple[str, ...]
    part: tuple[str, ...]  # "part_breast": a kidney is no kidney bean
    aside: tuple[str, ...]  # words in brackets and behind "with"
    states: frozenset[str]
    form: str
    fat_pct: float | None

    @classmethod
    def of(cls, read: Profile) -> Neighbour:
        """From a profile."""
        return cls(
            read.head, read.group, read.kind, tuple(f"part_{w.replace(' ', '_')}" for w in read.part),
            (*read.also, *read.beside),
            read.states, read.form, None if read.fat_pct is None else read.fat_pct[0],
        )  # fmt: skip

    @classmethod
    def of_row(cls, row: Sequence[str | float | None], description: str) -> Neighbour:
        """From a row of ``sql/reconcile_profile.sql``; a food without a profile is read again."""
        if row[0] is None:
            return cls.of(profile(description))
        head, group, kind, part, aside, states = (tuple(str(text).split()) for text in row[:6])
        form, fat = row[6:8]
        return cls(
            head, group, kind, part, aside, frozenset(states), str(form or ""),
            None if fat is None else float(fat),
        )  # fmt: skip


def state_of(states: frozenset[str]) -> State:
    """Raw or dry, cooked (canned pulses and vegetables too), or neither given."""
    if "raw" in states or "dry" in states:
        return "raw"
    return "cooked" if states & COOKED or "canned" in states else ""


@cache
def _words(role: str) -> frozenset[str]:
    """States and forms that the comparison of foods treats alike (shared/variant_words.csv).

    Args:
        role: ``product``: states in which products of one food differ, and that raw and cooked share;
            ``keeping``; ``packing``: states of packing and salting, which the macros do not follow
            from; ``form``: forms that name the food as its words do.
    """
    return frozenset(r["word"] for r in shared_rows("variant_words.csv") if r["role"] == role)


@cache
def _synonyms() -> dict[str, str]:
    """Words of one thing that tables call by two names."""
    rows = shared_rows("variant_words.csv")
    return {row["word"]: row["same_as"] for row in rows if row["role"] == "synonym"}


def _same(words: Iterable[str]) -> tuple[str, ...]:
    synonyms = _synonyms()
    return tuple(synonyms.get(w, w) for w in words)


class Variants:
    """Index of a snapshot's foods by the words that name them; answers are kept.

    Args:
        food: FOOD rows: food_id, description, category.
        values: one row per food in the same order, columns as ``nutrient_tags``; NaN where missing.
        nutrient_tags: tagnames of the columns of ``values``; ENERC_KCAL, PROCNT, CHOCDF and FAT
            must be among them.
        neighbours: what each food's profile says, in the same order.
    """

    def __init__(
        self,
        food: pd.DataFrame,
        values: NDArray[np.float64],
        nutrient_tags: list[str],
        neighbours: Sequence[Neighbour],
    ) -> None:
        self.food_ids: list[str] = food["food_id"].tolist()
        self.descriptions: list[str] = food["description"].tolist()
        self.values = values
        self.at: dict[str, int] = {f: i for i, f in enumerate(self.food_ids)}
        self._category = codes_of(food["category"])
        macros = [nutrient_tags.index(t) for t in ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT")]
        self._kcal_parts = values[:, macros] * np.array([1.0, 4.0, 4.0, 9.0])
        self.state = np.array([], dtype=object)
        self._core: dict[int, dict[str, float]] = {}
        self._pack_names = b""
        self._postings: dict[str, tuple[NDArray[np.int64], NDArray[np.float64]]] = {}
        self._build(neighbours)
        self._answers: dict[int, _Answer] = {}
        self._likeness: dict[tuple[int, int], float] = {}

    def _build(self, neighbours: Sequence[Neighbour]) -> None:
        """Weigh each naming word by its rarity.

        Words of the head count double; where a head gathers many foods (Cheese, Beef) the word
        after it does. Words in brackets and clauses explain, and count little.
        """
        gathered_under = Counter(n.head for n in neighbours)
        cores: list[dict[str, float]] = []
        attributes: list[frozenset[str]] = []
        names: list[_PackName] = []
        for n in neighbours:
            name = (n.head, n.group, n.kind, n.states - _words("packing"), n.form, n.fat_pct)
            names.append(name)
            fat = frozenset() if n.fat_pct is None else frozenset({f"fat {n.fat_pct:g}"})
            attributes.append(n.states & _words("product") | fat)
            broad = gathered_under[n.head] >= _BROAD_HEAD
            core = dict.fromkeys(_same(n.aside), _ASIDE)
            core |= dict.fromkeys(_same(n.group), _NAME)
            core |= dict.fromkeys(_same(n.kind), _NAME)
            core |= dict.fromkeys(n.part, _NAME)
            if n.form in _words("form"):
                core[f"form {n.form}"] = _NAME
            if broad:
                core |= dict.fromkeys(_same((n.part + n.kind)[:1]), _HEAD)
            core |= dict.fromkeys(_same(n.head), _NAME if broad else _HEAD)
            cores.append(core)
        self._pack_names = marshal.dumps(names)
        states = [state_of(n.states) for n in neighbours]
        self.state = np.array(states, dtype=object)
        self._state = np.array([_STATES.index(s) for s in states], dtype=np.int64)
        self._head = codes_of([" ".join(_same(n.head)) for n in neighbours])
        self._attributes = _marks(attributes)
        self._kept = _marks([n.states & _words("keeping") for n in neighbours])
        foods = len(cores)
        rarity = {
            word: math.log(foods / n)
            for word, n in Counter(w for core in cores for w in core).items()
        }
        postings: dict[str, list[tuple[int, float]]] = {}
        weights = []
        for i, core in enumerate(cores):
            weighed = {w: k * rarity[w] for w, k in core.items()}
            length = math.sqrt(sum(v * v for v in weighed.values())) or 1.0
            weights.append({w: v / length for w, v in weighed.items()})
            for word, value in weights[-1].items():
                postings.setdefault(word, []).append((i, value))
        self._core = dict(enumerate(weights))
        self._postings = {
            word: (np.array([i for i, _ in rows]), np.array([v for _, v in rows]))
            for word, rows in postings.items()
        }

    def plain(self) -> dict[str, Any]:
        """Everything the index holds, as plain values to be kept; see ``of_plain``."""
        postings = {w: (kept.packed(a), kept.packed(b)) for w, (a, b) in self._postings.items()}
        core = {at: marshal.dumps(words) for at, words in self._core.items()}
        own = ("at", "_core", "_postings", "_answers", "_likeness", *_MADE)
        return {
            **kept.state(self, own), "_postings": ("value", postings), "_core": ("value", core),
        }  # fmt: skip

    @classmethod
    def of_plain(cls, plain: dict[str, Any]) -> Variants:
        """The index that gave these values."""
        out = cls.__new__(cls)
        kept.restored(out, plain)
        out.at = {f: i for i, f in enumerate(out.food_ids)}
        out._postings = kept.Lazily(
            out._postings, lambda pair: (kept.unpacked(pair[0]), kept.unpacked(pair[1]))
        )
        out._core = kept.Lazily(out._core, marshal.loads)
        out._answers, out._likeness = {}, {}
        return out

    @cached_property
    def _pack_name(self) -> list[_PackName]:
        """What each food is called, packing apart; few runs ask, so it is read when one does."""
        names: list[_PackName] = marshal.loads(self._pack_names)
        return names

    @cached_property
    def _packed(self) -> dict[_PackName, list[int]]:
        """Foods of one name."""
        return _gathered(self._pack_name)

    @cached_property
    def _by_kind(self) -> dict[tuple[object, ...], list[int]]:
        """Foods that differ in words of kind alone."""
        return _gathered(self._kind_name(at) for at in range(len(self._pack_name)))

    def and_own(
        self, food_ids: list[str], descriptions: list[str], values: NDArray[np.float64]
    ) -> Variants:
        """The same index with a creator's own foods after it; they have no variants by name."""
        out = copy(self)
        out.food_ids = [*self.food_ids, *food_ids]
        out.descriptions = [*self.descriptions, *descriptions]
        out.values = np.vstack([self.values, values])
        out.at = {f: i for i, f in enumerate(out.food_ids)}
        out.state = np.append(self.state, np.array([""] * len(food_ids), dtype=object))
        return out

    def packed_otherwise(self, index: int) -> list[int]:
        """Foods of the same name and states, packed in another way: drained, in brine, vacuum."""
        if index >= len(self._core) or not self._kept[index].any():
            return []
        return [
            at for at in self._packed[self._pack_name[index]]
            if at != index and self._category[at] == self._category[index]
        ]  # fmt: skip

    def kinds_like(self, index: int) -> list[tuple[int, tuple[str, ...]]]:
        """Foods that differ in words of kind alone, each with those words; the food itself first.

        Empty when the food is no kind itself: plain pasta is what pasta means.
        """
        if index >= len(self._core) or not self._pack_name[index][2]:
            return []
        kinds = {at: tuple(self._pack_name[at][2]) for at in self._by_kind[self._kind_name(index)]}
        rest = [(at, words) for at, words in kinds.items() if at != index and words]
        return [(index, kinds[index]), *rest]

    def _kind_name(self, index: int) -> tuple[object, ...]:
        head, group, _, states, form, fat = self._pack_name[index]
        return (head, group, states, form, fat, int(self._category[index]))

    def similar(self, index: int) -> NDArray[np.float64]:
        """Likeness of every food's name to that of food ``index``, 0 to 1."""
        score = np.zeros(len(self._core))
        for word, value in self._core[index].items():
            rows, values = self._postings[word]
            score[rows] += value * values
        return score

    def likeness(self, index: int, other: int) -> float:
        """Likeness of two foods by name and food group, 0 to 1; 0 for a food of the creator's own."""
        if (index, other) not in self._likeness:
            self._likeness[index, other] = self._alike(index, other)
        return self._likeness[index, other]

    def _alike(self, index: int, other: int) -> float:
        if max(index, other) >= len(self._core):
            return 0.0
        apart = bool(self._category[index] != self._category[other])
        if apart and self._head[index] != self._head[other]:
            return 0.0
        mine, theirs = self._core[index], self._core[other]
        alike = sum(value * theirs.get(word, 0.0) for word, value in mine.items())
        return _OTHER_GROUP * alike if apart else alike

    def of(self, index: int) -> tuple[Variant, ...]:
        """The raw/cooked counterparts and the product variants of a food, likeliest first."""
        kinds: tuple[VariantKind, VariantKind] = ("product_variant", "raw_cooked_slip")
        return tuple(
            Variant(int(other), kinds[int(raw)], float(belief))
            for other, raw, belief in zip(*self._answer(index), strict=True)
        )

    def of_many(self, foods: Ints) -> tuple[Ints, Ints, Bools, Vector]:
        """``of`` for many foods: place in ``foods``, other food, whether raw for cooked, belief."""
        distinct, of = np.unique(foods, return_inverse=True)
        answers = [self._answer(int(food)) for food in distinct]
        sizes = np.array([len(a.other) for a in answers], dtype=np.int64)
        if not sizes.sum():
            answers, sizes = [_NO_ANSWER], np.zeros(max(len(distinct), 1), dtype=np.int64)
        many = sizes[of]
        rows = ranges((np.cumsum(sizes) - sizes)[of], many)
        other, raw, belief = (np.concatenate(column)[rows] for column in zip(*answers, strict=True))
        return np.repeat(np.arange(len(foods)), many), other, raw, belief

    def _answer(self, index: int) -> _Answer:
        if index >= len(self._core):
            return _NO_ANSWER  # a food of the creator's own
        if index not in self._answers:
            rows, score = self._near(index)
            mine, state = self._state[index], self._state[rows]
            product = (state == mine) | (state == 0) | (mine == 0)
            other = (state == 3 - mine) & (mine != 0)
            kept = (self._kept[rows[product]] != self._kept[index]).sum(axis=1)
            apart = self._apart(index, rows[other])
            found = [
                self._pick(index, rows[other], score[other] - apart, 6),
                self._pick(index, rows[product], score[product] - _PER_KEPT_STATE * kept, 12),
            ]
            raw = np.repeat([True, False], [len(picked) for picked, _ in found])
            picked, belief = (np.concatenate(column) for column in zip(*found, strict=True))
            self._answers[index] = _Answer(picked, raw, belief)
        return self._answers[index]

    def in_other_states(self, index: int) -> Ints:
        """The raw counterparts of a cooked food and the other way round, likeliest first."""
        answer = self._answer(index)
        return answer.other[answer.raw]

    def _near(self, index: int) -> tuple[Ints, Vector]:
        """The foods near enough to be taken for this one, and the likeness of each."""
        every = self.similar(index)
        rows = np.flatnonzero(every >= _LEAST_LIKENESS)
        rows = rows[rows != index]
        apart = self._category[rows] != self._category[index]
        alike = np.where(self._head[rows] == self._head[index], _OTHER_GROUP, 0.0)
        score = np.where(apart, every[rows] * alike, every[rows])
        near = score >= _LEAST_LIKENESS
        return rows[near], score[near]

    def _apart(self, index: int, others: Ints) -> Vector:
        """The same fat level, with or without skin, comes first among raw and cooked."""
        mine, theirs = self._attributes[index], self._attributes[others]
        every = (mine | theirs).sum(axis=1)
        shared = (mine & theirs).sum(axis=1)
        return np.asarray(
            np.where(every > 0, 0.2 * (1 - shared / np.maximum(every, 1)), 0.0), dtype=np.float64
        )

    def _pick(self, index: int, rows: Ints, score: Vector, keep: int) -> tuple[Ints, Vector]:
        """The likeliest of these foods with belief in each; those of equal values once."""
        if not len(rows):
            return _NO_ANSWER.other, _NO_ANSWER.belief
        best = np.argsort(-score, kind="stable")[:60]
        best = best[np.isfinite(self._kcal_parts[rows[best]]).all(axis=1)]
        # kcal of every macro, of the food itself first: equal within a few per cent is no variant
        parts = self._kcal_parts[np.append(index, rows[best])]
        kcal = np.maximum(parts[:, 0], 1.0)
        open_ = np.ones(len(parts), dtype=np.bool_)
        chosen: list[int] = []
        at = 0
        while len(chosen) <= keep and open_[at]:
            chosen.append(at)
            off = np.abs(parts - parts[at]).max(axis=1)
            open_[off <= _SAME_VALUE * np.maximum(kcal, kcal[at])] = False
            open_[at] = False
            at = int(open_.argmax())
        picked = np.array(chosen[1:], dtype=np.int64) - 1
        likeness = score[best[picked]]
        belief = np.exp(6.0 * (likeness - likeness[:1]))
        return rows[best[picked]], belief / belief.sum()


def _gathered(names: Iterable[_Name]) -> dict[_Name, list[int]]:
    """The places of each name."""
    places: dict[_Name, list[int]] = {}
    for at, name in enumerate(names):
        places.setdefault(name, []).append(at)
    return places


def _marks(sets: Sequence[frozenset[str]]) -> NDArray[np.bool_]:
    """(sets, words): which words stand in each set."""
    column = {word: n for n, word in enumerate(sorted(frozenset().union(*sets)))}
    out = np.zeros((len(sets), len(column)), dtype=np.bool_)
    for row, words in enumerate(sets):
        out[row, [column[word] for word in words]] = True
    return out
