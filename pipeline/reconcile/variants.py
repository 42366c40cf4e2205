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
from dataclasses import dataclass
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


def state_of(description: str) -> State:
    """Raw, cooked (canned pulses and vegetables too), or neither said.

    A facet that is nothing but "dry" or "raw" settles it: "roasted, dry" groats are not cooked,
    while "cooked, dry heat" fish is.
    """
    if {part.strip().lower() for part in description.split(",")} & _RAW:
        return "raw"
    words = set(_words(description))
    if words & (_COOKED | {"canned"}):
        return "cooked"
    return "raw" if words & _RAW else ""


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
        self._macros = values[
            :, [nutrient_tags.index(t) for t in ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT")]
        ]
        self.state = np.array([state_of(d) for d in self.descriptions], dtype=object)
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
        segments = [
            [part.strip() for part in _BRACKETS.sub("", d).split(",")] for d in self.descriptions
        ]
        gathered_under = Counter(parts[0] for parts in segments)
        aside = _RAW | _COOKED | _ASIDE | _ATTRIBUTE
        cores: list[dict[str, float]] = []
        for description, parts in zip(self.descriptions, segments, strict=True):
            broad = gathered_under[parts[0]] >= _BROAD_HEAD
            weights = [1.0, 2.0] if broad else [2.0, 1.0]
            core: dict[str, float] = {}
            for position, part in enumerate(parts):
                weight = weights[position] if position < 2 else 1.0
                for word in _words(part):
                    if word not in aside:
                        core[word] = max(core.get(word, 0.0), weight)
            for word in _words(" ".join(_BRACKETS.findall(description))):
                if word not in aside:
                    core.setdefault(word, 0.3)
            cores.append(core)
            said = set(_WORD.findall(description.lower()))
            self._attributes.append(frozenset(said & _TELLING))
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

    def similar(self, index: int) -> NDArray[np.float64]:
        """Likeness of every food's name to that of food ``index``, 0 to 1."""
        score = np.zeros(len(self.food_ids))
        for word, value in self._core[index].items():
            rows, values = self._postings[word]
            score[rows] += value * values
        return score

    def of(self, index: int) -> tuple[Variant, ...]:
        """The raw/cooked counterparts and the product variants of a food, likeliest first."""
        if index not in self._answers:
            self._answers[index] = (
                *self._pick(index, "raw_cooked_slip", least=0.45, keep=6),
                *self._pick(index, "product_variant", least=0.45, keep=12),
            )
        return self._answers[index]

    def _pick(
        self, index: int, kind: VariantKind, *, least: float, keep: int
    ) -> tuple[Variant, ...]:
        mine = self.state[index]
        if kind == "raw_cooked_slip":
            if not mine:
                return ()
            fits = self.state == ("cooked" if mine == "raw" else "raw")
        else:
            fits = (self.state == mine) | (self.state == "") | (mine == "")
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
        kept: list[int] = []
        for i in order:
            macros = self._macros[i]
            if np.isnan(macros).any() or self._same(macros, self._macros[index]):
                continue
            if any(self._same(macros, self._macros[k]) for k in kept):
                continue
            kept.append(int(i))
            if len(kept) == keep:
                break
        if not kept:
            return ()
        belief = np.exp(6.0 * (score[kept] - score[kept[0]]))
        belief /= belief.sum()
        return tuple(Variant(i, kind, float(b)) for i, b in zip(kept, belief, strict=True))

    @staticmethod
    def _same(a: NDArray[np.float64], b: NDArray[np.float64]) -> bool:
        """Within a few per cent of the energy in every macro, counted in kcal."""
        kcal = np.array([1.0, 4.0, 4.0, 9.0])
        return bool(np.abs((a - b) * kcal).max() <= _SAME_VALUE * max(a[0], b[0], 1.0))
