"""Phrases of a creator: the lines of one food under one name, summed a recipe.

A phrase also knows what its words leave open: kinds of the food that they name as well, and ways of
packing that no line names.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from pipeline.habits.evidence import Bools, Ints, Lines, N
from pipeline.habits.model import constants
from pipeline.reconcile.model import FAT, KCAL, Matrix, Vector
from pipeline.resources import shared_rows

if TYPE_CHECKING:
    from pipeline.reconcile import Foods

#: kcal of energy and of a gram of each macro, to compare foods by.
KCAL_PARTS = np.array([1.0, 4.0, 4.0, 9.0])
#: Foods of a base stand in the same proportions, give or take this share (rounding of grams).
_SAME_SHARE = 0.05
#: Kinds left open whose macros differ by less of the energy are one answer.
_SAME_KIND = 0.06
#: Grams open by less than this share are known: a kitchen scale.
_WEIGHED = 0.03
#: Kinds that are weighed at most.
_KINDS = 12
_WORD = re.compile(r"[^\W\d_]+")


def _words(*texts: str) -> set[str]:
    return {w for text in texts for w in _WORD.findall(text.casefold())}


@cache
def _cuts() -> frozenset[str]:
    """Words of pieces that food comes in (shared/measures_words.csv): they name no kind."""
    return frozenset(_words(*(row["words"] for row in shared_rows("measures_words.csv"))))


@dataclass(slots=True)
class Phrase:
    """Lines of one food under one name (or several), summed a recipe.

    Attributes:
        names: folded food names; ``label`` is how most lines write it.
        food: row of the foods, -1 for a recipe of the collection.
        recipe: rows of the recipes, each once.
        grams: per stated unit / 100.
        values: (r, 7) what the lines bring.
        rows: lines.
        value: (7,) per 100 g.
        rel_var: variance of the grams over their square, as far as lines alike may share it.
        line_set: the same as ``rows``.
        kinds: row and share of the kinds that the words leave open, the read one not among them.
    """

    names: tuple[str, ...]
    label: str
    food: int
    food_id: str
    recipe: Ints
    grams: Vector
    values: Matrix
    gram_cov: np.ndarray
    rows: Ints
    value: Vector
    rel_var: float = 0.0
    kinds: tuple[tuple[int, float], ...] = ()
    line_set: frozenset[int] = frozenset()

    def alike(self, other: Phrase | None) -> bool:
        """Whether two phrases share lines."""
        return other is not None and not self.line_set.isdisjoint(other.line_set)


@dataclass(frozen=True, slots=True)
class Phrases:
    """Makes phrases of lines.

    Attributes:
        lines: of ``evidence.read_evidence``.
        foods: of ``reconcile.load_foods``.
        least: recipes that a phrase has to stand in.
        telling: lines that may move a stated number enough to ask about it.
    """

    lines: Lines
    foods: Foods
    least: int
    telling: Bools

    def of(self, rows: Ints) -> list[Phrase]:
        """Phrases of enough recipes: each name of a food, and the food under all its names.

        Args:
            rows: of the lines of one creator.
        """
        m = self.lines
        of_food: dict[str, list[int]] = {}
        for i in rows[m.grams[rows] > 0].tolist():
            if (food_id := m.food_id[i]) and not food_id.startswith("pantry:"):
                of_food.setdefault(food_id, []).append(i)
        single: list[tuple[tuple[str, ...], list[int]]] = []
        several: list[tuple[tuple[str, ...], list[int]]] = []
        for found in of_food.values():
            if self._worth_a_look(np.array(found)):
                named: dict[str, list[int]] = {}
                for i in found:
                    named.setdefault(m.name(i), []).append(i)
                single += [((name,), of) for name, of in named.items()]
                if len(named) > 1:
                    several.append((tuple(named), sorted(found)))
        out = [
            self.phrase(names, np.array(found)) for names, found in [*single, *several]
            if len({int(m.recipe[i]) for i in found}) >= self.least
        ]  # fmt: skip
        out = [p for p in out if p.label]
        return out + self._bases([p for p in out if len(p.names) == 1])

    def _worth_a_look(self, rows: Ints) -> bool:
        """Whether lines stand in enough recipes and bring enough for a habit to be asked about."""
        recipe = self.lines.recipe[rows]
        return (
            len(set(recipe.tolist())) >= self.least
            and len(set(recipe[self.telling[rows]].tolist())) >= constants()["matters_in"]
        )

    def _bases(self, phrases: list[Phrase]) -> list[Phrase]:
        """Foods that stand together in the same proportions again and again: one sum, used often."""
        together: dict[tuple[int, ...], dict[int, None]] = {}
        for (a, b), recipes in self._in_proportion(phrases):
            together.setdefault(tuple(recipes), {}).update(dict.fromkeys((a, b)))
        out = []
        for recipe, group in together.items():
            even = [phrases[n] for n in group]
            rows = np.sort(np.concatenate([p.rows for p in even]))
            rows = rows[np.isin(self.lines.recipe[rows], recipe)]
            names = tuple(n for p in even for n in p.names)
            base = self.phrase(names, rows)
            base.food, base.food_id = -1, "base"
            base.label = " + ".join(p.label for p in even)
            out.append(base)
        return out

    def _in_proportion(self, phrases: list[Phrase]) -> list[tuple[tuple[int, int], list[int]]]:
        """Pairs of phrases, and enough recipes that hold them in one proportion; linear in recipes."""
        of_recipe: dict[int, list[tuple[int, float]]] = {}
        for n, p in enumerate(phrases):
            for recipe, grams in zip(p.recipe.tolist(), np.log(p.grams).tolist(), strict=True):
                of_recipe.setdefault(recipe, []).append((n, grams / _SAME_SHARE))
        found: dict[tuple[int, int, int], list[int]] = {}
        for recipe in sorted(of_recipe):
            for (a, one), (b, two) in combinations(of_recipe[recipe], 2):
                apart = two - one
                # two grids, so that no proportion falls between two steps of both
                for step in (2 * math.floor(apart), 2 * math.floor(apart + 0.5) + 1):
                    found.setdefault((a, b, step), []).append(recipe)
        return [((a, b), at) for (a, b, _), at in found.items() if len(at) >= self.least]

    def phrase(self, names: tuple[str, ...], rows: Ints) -> Phrase:
        m = self.lines
        recipe, at = np.unique(m.recipe[rows], return_inverse=True)
        grams = np.bincount(at, weights=m.grams[rows] / 100).astype(np.float64)
        values = np.zeros((len(recipe), N))
        np.add.at(values, at, m.values[rows])
        gram_cov = np.zeros((len(recipe), N, N))
        v = m.values[rows]
        np.add.at(gram_cov, at, m.rel_var[rows][:, None, None] * v[:, :, None] * v[:, None, :])
        written = [m.phrase(i) for i in rows]
        label = max(dict.fromkeys(written), key=written.count)
        value = np.median(values / grams[:, None], axis=0)
        food = int(m.food[rows[0]])
        apart = [constants()["measure_apart"] ** 2 if m.measure[i] else 0.0 for i in rows]
        open_grams = max(float(np.median(np.maximum(m.rel_var[rows], apart))) - _WEIGHED**2, 0.0)
        return Phrase(
            names, label, food, m.food_id[rows[0]], recipe, grams, values, gram_cov, rows, value,
            open_grams, self._kinds(food, rows), frozenset(rows.tolist()),
        )  # fmt: skip

    def _kinds(self, food: int, rows: Ints) -> tuple[tuple[int, float], ...]:
        """Kinds and packings that all of the lines leave open, if they are not all one answer."""
        if food < 0:
            return ()
        texts = {self.lines.text[i] for i in rows}
        kinds = self._left_open(food, texts, rows)
        packed = [at for at in self._packings(food, texts) if at not in kinds]
        rest = (1 - sum(kinds.values())) / (1 + len(packed))
        kinds |= dict.fromkeys(packed, rest)
        if not kinds:
            return ()
        macros = self.foods.values[[food, *kinds], : FAT + 1] * KCAL_PARTS
        apart = np.abs(macros[1:] - macros[0]).max(axis=1)
        known = [
            (at, share) for (at, share), off in zip(kinds.items(), apart, strict=True)
            if np.isfinite(off)
        ]  # fmt: skip
        differ = bool((apart > _SAME_KIND * float(macros[0, KCAL])).any())
        return tuple(known) if differ else ()

    def _left_open(self, food: int, texts: set[str], rows: Ints) -> dict[int, float]:
        """Share of each kind that the matcher found open in all of the texts."""
        if not all(t in self.lines.kinds for t in texts):
            return self._unsaid(food, _words(*{self.lines.name(i) for i in rows}))
        by_text = [dict(self.lines.kinds[t]) for t in sorted(texts)]
        shared = set.intersection(*(set(one) for one in by_text)) - {food}
        return {at: by_text[0][at] for at in sorted(shared)}

    def _unsaid(self, food: int, words: set[str]) -> dict[int, float]:
        """The same where the matcher was held up by the word of a cut: a fillet of any salmon."""
        kinds = self.foods.variants.kinds_like(food)
        if len(kinds) < 2:
            return {}
        known = _words(self.foods.variants.descriptions[food])
        if not words or not words <= known | _cuts() or words & set(kinds[0][1]):
            return {}
        others = [at for at, own in kinds[1:] if not words & set(own)][:_KINDS]
        return dict.fromkeys(others, 1 / (1 + len(others)))

    def _packings(self, food: int, texts: set[str]) -> list[int]:
        """The same food packed otherwise, where no text says how."""
        others = self.foods.variants.packed_otherwise(food)
        if not others:
            return []
        named = _words(*texts)
        tell = {at: _words(self.foods.variants.descriptions[at]) for at in (food, *others)}
        return [at for at in others if not named & (tell[at] ^ tell[food])]
