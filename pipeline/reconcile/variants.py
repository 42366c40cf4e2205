"""Other foods that a line may have been looked up as, told from how the table names its foods.

A description of the table is a head and facets ("Beans, kidney, mature seeds, cooked, boiled,
without salt"). Words of state (raw, dry, cooked ...) and of attribute (fat level, sweetening, what
it is packed in, with or without skin) are set aside; what is left names the food. Two foods whose
names agree and whose states differ are a raw/cooked pair; whose states agree and whose values
differ are variants of one product.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from copy import copy
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

State = Literal["raw", "cooked", ""]
VariantKind = Literal["raw_cooked_slip", "product_variant"]


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


_RAW = _set("raw uncooked dry unprepared unheated")
_COOKED = _set(
    "cooked boiled braised roasted broiled grilled fried stewed simmered steamed "
    "baked microwaved toasted heated prepared rotisserie panfried browned crumbles "
    "pan stir hard poached scrambled sauteed"
)
#: Words that say how, not what: of state, of trade, of fortification.
_ASIDE = _set(
    "heat moist method oven pan stir drained solid liquid canned frozen chilled "
    "unthawed mature seed enriched unenriched fortified bleached unbleached salt "
    "salted unsalted added vitamin a b c d e calcium with without and or the of in "
    "for from to all not no includes food usda distribution program commodity "
    "commercial commercially domestic imported australian new zealand type style "
    "grade choice select prime trimmed trim retail cut separable only lean fat meat "
    "skin boneless bone skinless average variety refrigerated shelf stable regular "
    "plain ready eat serve ns made recipe home homemade industrial previously bulk "
    "brand mix packed pack broiler fryer roaster stewing fresh whole edible portion"
)
#: Words of attribute: another value of one of these is another product of the same food.
_ATTRIBUTE = _set(
    "nonfat lowfat skim fluid milkfat reduced low free light lite lower less extra "
    "calorie sugar sweetened unsweetened sweet syrup heavy juice water oil flavored "
    "sodium cholesterol dietary 1 2 4 5 10 15 20 25 30 70 75 80 85 90 93 95 96 97 99 "
    "fatfree imitation diet full high protein fiber"
)
#: Of those, the ones that a raw food and its cooked form share.
_TELLING = (_ATTRIBUTE | frozenset(["skinless", "skin", "lean", "bone", "boneless"])) - frozenset(
    ["1", "2", "water", "free", "high"]
)
_NO_NAME = _RAW | _COOKED | _ASIDE | _ATTRIBUTE
#: A head with this many foods is a shelf, not a food.
_BROAD_HEAD = 30
_BRACKETS = re.compile(r"\([^)]*\)")
_WORD = re.compile(r"[a-z]+|\d+")
_SAME_WORD = {
    "garbanzo": "chickpea", "yoghurt": "yogurt", "fillet": "filet", "prawn": "shrimp",
    "macaroni": "pasta", "spaghetti": "pasta", "ground": "ground", "minced": "ground",
}  # fmt: skip

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


@dataclass(frozen=True, slots=True)
class _Segment:
    """What one part of a description between commas says; parts repeat, so answers are kept."""

    core: tuple[str, ...]  # words that name the food
    attributes: frozenset[str]
    raw: bool
    cooked: bool
    settles: bool  # nothing but "raw" or "dry"


@cache
def _segment(part: str) -> _Segment:
    words = _words(part)
    return _Segment(
        core=tuple(w for w in words if w not in _NO_NAME),
        attributes=frozenset(w for w in _WORD.findall(part.lower()) if w in _TELLING),
        raw=any(w in _RAW for w in words),
        cooked=any(w in _COOKED or w == "canned" for w in words),
        settles=part.strip().lower() in _RAW,
    )


def _state(segments: list[_Segment]) -> State:
    if any(s.settles for s in segments):
        return "raw"
    if any(s.cooked for s in segments):
        return "cooked"
    return "raw" if any(s.raw for s in segments) else ""


def state_of(description: str) -> State:
    """Raw, cooked (canned pulses and vegetables too), or neither said.

    A facet that is nothing but "dry" or "raw" settles it: "roasted, dry" groats are not cooked,
    while "cooked, dry heat" fish is.
    """
    return _state([_segment(part) for part in description.split(",")])


def _words(description: str) -> list[str]:
    out = []
    for word in _WORD.findall(description.lower()):
        if len(word) > 3 and word.endswith("s") and not word.endswith("ss"):
            word = word[:-1]
        out.append(_SAME_WORD.get(word, word))
    return out


class Variants:
    """Index of a snapshot's foods by the words that name them; answers are kept.

    Args:
        food: FOOD rows: food_id, description, category.
        values: one row a food in the same order, columns as ``nutrient_tags``; NaN where missing.
        nutrient_tags: tagnames of the columns of ``values``; ENERC_KCAL, PROCNT, CHOCDF and FAT
            must be among them.
    """

    def __init__(
        self, food: pd.DataFrame, values: NDArray[np.float64], nutrient_tags: list[str]
    ) -> None:
        self.food_ids: list[str] = food["food_id"].tolist()
        self.descriptions: list[str] = food["description"].tolist()
        self.values = values
        self.at: dict[str, int] = {f: i for i, f in enumerate(self.food_ids)}
        self._category = food["category"].to_numpy(dtype=object)
        macros = [nutrient_tags.index(t) for t in ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT")]
        self._kcal_parts = values[:, macros] * np.array([1.0, 4.0, 4.0, 9.0])
        self.state = np.array([], dtype=object)
        self._core: list[dict[str, float]] = []
        self._attributes: list[frozenset[str]] = []
        self._postings: dict[str, tuple[NDArray[np.int64], NDArray[np.float64]]] = {}
        self._build()
        self._answers: dict[int, tuple[Variant, ...]] = {}

    def _build(self) -> None:
        """Weigh each naming word by its rarity.

        Words of the head count double; under a head that gathers many foods (Beverages, Nuts,
        Cheese) the next segment does. Words in brackets explain, and count little.
        """
        split = [d.split(",") for d in self.descriptions]
        plain = [_BRACKETS.sub("", d).split(",") if "(" in d else p
                 for d, p in zip(self.descriptions, split, strict=True)]  # fmt: skip
        gathered_under = Counter(parts[0] for parts in plain)
        cores: list[dict[str, float]] = []
        states: list[State] = []
        for description, whole, parts in zip(self.descriptions, split, plain, strict=True):
            said = [_segment(part) for part in whole]
            states.append(_state(said))
            self._attributes.append(frozenset().union(*(s.attributes for s in said)))
            head, second = (1.0, 2.0) if gathered_under[parts[0]] >= _BROAD_HEAD else (2.0, 1.0)
            core: dict[str, float] = {}
            if "(" in description:
                for word in _segment(" ".join(_BRACKETS.findall(description))).core:
                    core[word] = 0.3
                said = [_segment(part) for part in parts]
            for position, segment in enumerate(said):
                weight = head if position == 0 else second if position == 1 else 1.0
                for word in segment.core:
                    if core.get(word, 0.0) < weight:
                        core[word] = weight
            cores.append(core)
        self.state = np.array(states, dtype=object)
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

    def similar(self, index: int) -> NDArray[np.float64]:
        """Likeness of every food's name to that of food ``index``, 0 to 1."""
        score = np.zeros(len(self._core))
        for word, value in self._core[index].items():
            rows, values = self._postings[word]
            score[rows] += value * values
        return score

    def of(self, index: int) -> tuple[Variant, ...]:
        """The raw/cooked counterparts and the product variants of a food, likeliest first."""
        if index >= len(self._core):
            return ()  # a food of the creator's own
        if index not in self._answers:
            self._answers[index] = (
                *self._pick(index, "raw_cooked_slip", least=0.45, keep=6),
                *self._pick(index, "product_variant", least=0.45, keep=12),
            )
        return self._answers[index]

    def _pick(
        self, index: int, kind: VariantKind, *, least: float, keep: int
    ) -> tuple[Variant, ...]:
        state = self.state[: len(self._core)]
        mine = state[index]
        if kind == "raw_cooked_slip":
            if not mine:
                return ()
            fits = state == ("cooked" if mine == "raw" else "raw")
        else:
            fits = (state == mine) | (state == "") | (mine == "")
        score = self.similar(index)
        score[self._category != self._category[index]] *= 0.8
        fits &= score >= least
        fits[index] = False
        order = np.flatnonzero(fits)
        if kind == "raw_cooked_slip":  # the same fat level, with or without skin, comes first
            mine_said = self._attributes[index]
            for i in order:
                theirs = self._attributes[i]
                every = len(mine_said | theirs)
                score[i] -= 0.2 * (1 - len(mine_said & theirs) / every) if every else 0.0
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
        kept = [int(order[row - 1]) for row in rows[1:]]
        if not kept:
            return ()
        belief = np.exp(6.0 * (score[kept] - score[kept[0]]))
        belief /= belief.sum()
        return tuple(Variant(i, kind, float(b)) for i, b in zip(kept, belief, strict=True))
