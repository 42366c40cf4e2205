"""Other foods that a line may have been looked up as: neighbours in the space of food profiles.

A profile (:mod:`pipeline.foods`) parts the name of a food from its states. Two foods whose names
agree and whose states differ are a raw/cooked pair; whose names agree, whose state is the same and
whose values differ are variants of one product (fat level, sweetening, what it is packed in).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np

from pipeline import kept
from pipeline.foods import Profile, profile
from pipeline.foods.composition import COOKED

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

State = Literal["raw", "cooked", ""]
_STATES: dict[str, int] = {"": 0, "raw": 1, "cooked": 2}
VariantKind = Literal["raw_cooked_slip", "product_variant"]

#: States that another product of the same food has otherwise, and that raw and cooked share.
_PRODUCT_STATES = frozenset(
    {"fat_free", "low_fat", "reduced_fat", "semi_skimmed", "full_fat", "lean", "extra_lean",
     "sweetened", "unsweetened", "low_sodium", "low_calorie", "skin_on", "skinless", "bone_in",
     "boneless", "in_oil", "in_syrup", "in_juice", "juice"}
)  # fmt: skip
#: States of keeping: a fresh food, its canned and its dried form are less alike than two fresh ones.
_KEPT = frozenset(
    {"dry", "dried", "powdered", "canned", "condensed", "frozen", "smoked", "cured", "pickled",
     "juice", "instant", "breaded"}
)  # fmt: skip
_PER_KEPT_STATE = 0.1
#: States that only tell how a food was packed or salted; the macros of 100 g follow from neither.
_PACKED = frozenset(
    {"drained", "undrained", "rinsed", "whole", "in_brine", "in_water", "salted", "unsalted"}
)  # fmt: skip
#: Forms that name the food as its words do; of the others ("sliced") the values hardly depend.
_TELLING_FORMS = frozenset({"ground", "flour", "meal", "juice", "oil", "paste", "puree", "sauce",
                            "powder", "concentrate", "nectar", "butter", "flakes"})  # fmt: skip
#: A head or group with this many foods is a shelf, not a food; the next words name it.
_BROAD_HEAD = 60
#: What words count for by where they stand: the head, the rest of the name, brackets and clauses.
_HEAD, _NAME, _ASIDE = 2.0, 1.0, 0.3
#: Words of one thing that tables call by two names.
_SAME_WORD = {
    "garbanzo": "chickpea", "yoghurt": "yogurt", "fillet": "filet", "prawn": "shrimp",
    "macaroni": "pasta", "spaghetti": "pasta",
}  # fmt: skip

#: Likeness of foods of two food groups counts for less, and only under one head: coconut milk and
#: the drink of that name, but no milk chocolate for milk and no cracker for its mozzarella.
_OTHER_GROUP = 0.8

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


#: Head, group, kind, states without those of packing, form and fat of a food.
_PackName = tuple[
    tuple[str, ...], tuple[str, ...], tuple[str, ...], frozenset[str], str, float | None
]


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
        """From a row of ``sql/reconcile_profile.sql``; a food without a profile is read anew."""
        if row[0] is None:
            return cls.of(profile(description))
        head, group, kind, part, aside, states = (tuple(str(text).split()) for text in row[:6])
        form, fat = row[6:8]
        return cls(
            head, group, kind, part, aside, frozenset(states), str(form or ""),
            None if fat is None else float(fat),
        )  # fmt: skip


def state_of(states: frozenset[str]) -> State:
    """Raw or dry, cooked (canned pulses and vegetables too), or neither said."""
    if "raw" in states or "dry" in states:
        return "raw"
    return "cooked" if states & COOKED or "canned" in states else ""


def _same(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(_SAME_WORD.get(w, w) for w in words)


class Variants:
    """Index of a snapshot's foods by the words that name them; answers are kept.

    Args:
        food: FOOD rows: food_id, description, category.
        values: one row a food in the same order, columns as ``nutrient_tags``; NaN where missing.
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
        self._category = food["category"].to_numpy(dtype=object)
        macros = [nutrient_tags.index(t) for t in ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT")]
        self._kcal_parts = values[:, macros] * np.array([1.0, 4.0, 4.0, 9.0])
        self.state = np.array([], dtype=object)
        self._head = np.array([], dtype=object)
        self._core: list[dict[str, float]] = []
        self._attributes: list[frozenset[str]] = []
        self._kept: list[frozenset[str]] = []
        self._packed: dict[tuple[object, ...], list[int]] = {}
        self._pack_name: list[_PackName] = []
        self._by_kind: dict[tuple[object, ...], list[int]] = {}
        self._postings: dict[str, tuple[NDArray[np.int64], NDArray[np.float64]]] = {}
        self._build(neighbours)
        self._answers: dict[int, tuple[Variant, ...]] = {}
        self._picked: dict[int, tuple[Variant, ...]] = {}
        self._codes: dict[str, NDArray[np.int64]] = {}
        self._likeness: dict[tuple[int, int], float] = {}

    def _build(self, neighbours: Sequence[Neighbour]) -> None:
        """Weigh each naming word by its rarity.

        Words of the head count double; where a head gathers many foods (Cheese, Beef) the word
        behind it does. Words in brackets and clauses explain, and count little.
        """
        gathered_under = Counter(n.head for n in neighbours)
        cores: list[dict[str, float]] = []
        states: list[State] = []
        for at, n in enumerate(neighbours):
            states.append(state_of(n.states))
            name = (n.head, n.group, n.kind, n.states - _PACKED, n.form, n.fat_pct)
            self._pack_name.append(name)
            self._packed.setdefault(name, []).append(at)
            self._by_kind.setdefault(self._kind_name(at), []).append(at)
            fat = frozenset() if n.fat_pct is None else frozenset({f"fat {n.fat_pct:g}"})
            self._attributes.append(n.states & _PRODUCT_STATES | fat)
            self._kept.append(n.states & _KEPT)
            broad = gathered_under[n.head] >= _BROAD_HEAD
            core = dict.fromkeys(_same(n.aside), _ASIDE)
            core |= dict.fromkeys(_same(n.group), _NAME)
            core |= dict.fromkeys(_same(n.kind), _NAME)
            core |= dict.fromkeys(n.part, _NAME)
            if n.form in _TELLING_FORMS:
                core[f"form {n.form}"] = _NAME
            if broad:
                core |= dict.fromkeys(_same((n.part + n.kind)[:1]), _HEAD)
            core |= dict.fromkeys(_same(n.head), _NAME if broad else _HEAD)
            cores.append(core)
        self.state = np.array(states, dtype=object)
        names = [" ".join(_same(n.head)) for n in neighbours]
        self._head = np.array(names, dtype=object)
        foods = len(cores)
        rarity = {
            word: math.log(foods / n)
            for word, n in Counter(w for core in cores for w in core).items()
        }
        postings: dict[str, list[tuple[int, float]]] = {}
        for i, core in enumerate(cores):
            weighed = {w: k * rarity[w] for w, k in core.items()}
            length = math.sqrt(sum(v * v for v in weighed.values())) or 1.0
            self._core.append({w: v / length for w, v in weighed.items()})
            for word, value in self._core[-1].items():
                postings.setdefault(word, []).append((i, value))
        self._postings = {
            word: (np.array([i for i, _ in rows]), np.array([v for _, v in rows]))
            for word, rows in postings.items()
        }

    def plain(self) -> dict[str, Any]:
        """Everything the index holds, as plain values to be kept; see ``of_plain``."""
        postings = {w: (kept.packed(a), kept.packed(b)) for w, (a, b) in self._postings.items()}
        own = ("at", "_postings", "_answers", "_picked", "_likeness", "_codes")
        return {**kept.state(self, own), "_postings": ("value", postings)}

    @classmethod
    def of_plain(cls, plain: dict[str, Any]) -> Variants:
        """The index that gave these values."""
        out = cls.__new__(cls)
        kept.restored(out, plain)
        out.at = {f: i for i, f in enumerate(out.food_ids)}
        out._postings = kept.Lazily(
            out._postings, lambda pair: (kept.unpacked(pair[0]), kept.unpacked(pair[1]))
        )
        out._answers, out._picked, out._likeness, out._codes = {}, {}, {}, {}
        return out

    def and_own(
        self, food_ids: list[str], descriptions: list[str], values: NDArray[np.float64]
    ) -> Variants:
        """The same index with a creator's own foods behind it; they have no variants by name."""
        out = copy(self)
        out.food_ids = [*self.food_ids, *food_ids]
        out.descriptions = [*self.descriptions, *descriptions]
        out.values = np.vstack([self.values, values])
        out.at = {f: i for i, f in enumerate(out.food_ids)}
        out.state = np.append(self.state, np.array([""] * len(food_ids), dtype=object))
        return out

    def packed_otherwise(self, index: int) -> list[int]:
        """Foods of the same name and states, packed in another way: drained, in brine, vacuum."""
        if index >= len(self._core) or not self._kept[index]:
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
        return (head, group, states, form, fat, self._category[index])

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
        if index >= len(self._core):
            return ()  # a food of the creator's own
        if index not in self._answers:
            self._answers[index] = (
                *self.in_other_states(index),
                *self._pick(index, "product_variant", least=0.45, keep=12),
            )
        return self._answers[index]

    def in_other_states(self, index: int) -> tuple[Variant, ...]:
        """The raw counterparts of a cooked food and the other way round, likeliest first."""
        if index >= len(self._core):
            return ()
        if index not in self._picked:
            self._picked[index] = self._pick(index, "raw_cooked_slip", least=0.45, keep=6)
        return self._picked[index]

    def _code(self, name: str, of: NDArray[Any]) -> NDArray[np.int64]:
        """Labels as numbers, which compare much faster; worked out once."""
        if name not in self._codes:
            labels = dict(_STATES)
            self._codes[name] = np.array([labels.setdefault(x, len(labels)) for x in of.tolist()])
        return self._codes[name]

    def _pick(
        self, index: int, kind: VariantKind, *, least: float, keep: int
    ) -> tuple[Variant, ...]:
        state = self._code("state", self.state[: len(self._core)])
        mine, none = state[index], _STATES[""]
        if kind == "raw_cooked_slip":
            if mine == none:
                return ()
            fits = state == (_STATES["cooked"] if mine == _STATES["raw"] else _STATES["raw"])
        else:
            fits = (state == mine) | (state == none) | (mine == none)
        score = self.similar(index)
        category = self._code("category", self._category)
        head = self._code("head", self._head)
        apart = category != category[index]
        score[apart] *= _OTHER_GROUP * (head[apart] == head[index])
        fits &= score >= least
        fits[index] = False
        order = np.flatnonzero(fits)
        if kind == "raw_cooked_slip":  # the same fat level, with or without skin, comes first
            mine_said = self._attributes[index]
            for i in order:
                theirs = self._attributes[i]
                every = len(mine_said | theirs)
                score[i] -= 0.2 * (1 - len(mine_said & theirs) / every) if every else 0.0
        else:
            for i in order:
                score[i] -= _PER_KEPT_STATE * len(self._kept[index] ^ self._kept[i])
        order = order[np.argsort(-score[order], kind="stable")][:60]
        order = order[np.isfinite(self._kcal_parts[order]).all(axis=1)]
        # kcal of every macro, of the food itself first: equal within a few per cent is no variant
        parts = self._kcal_parts[np.append(index, order)]
        reach = _SAME_VALUE * np.maximum(np.maximum(parts[:, 0, None], parts[None, :, 0]), 1.0)
        same = np.abs(parts[:, None] - parts[None, :]).max(axis=2) <= reach
        rows = [0]
        for row in range(1, len(parts)):
            if not same[row, rows].any():
                rows.append(row)
                if len(rows) > keep:
                    break
        chosen = [int(order[row - 1]) for row in rows[1:]]
        if not chosen:
            return ()
        belief = np.exp(6.0 * (score[chosen] - score[chosen[0]]))
        belief /= belief.sum()
        return tuple(Variant(i, kind, float(b)) for i, b in zip(chosen, belief, strict=True))
