"""The few shared causes that explain a creator's residuals best.

Greedy: the cause that gains most is taken, what it explains is subtracted, and the rest is searched
again, until nothing pays for itself. Then every cause is judged once more against doing without it
and against all others in its place. Everything is deterministic and grows with the lines.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from pipeline.habits.evidence import Lines, Recipes
from pipeline.habits.model import (
    FACTORS,
    NET,
    NET_ENERGY,
    READING,
    Habit,
    constants,
    habit_key,
)
from pipeline.habits.numbers import Noise, log_sum, noise_of
from pipeline.habits.phrases import Phrases
from pipeline.habits.weighing import Cause, Weighing
from pipeline.reconcile.model import ATWATER, CARBS, FIBRE, KCAL, Matrix

if TYPE_CHECKING:
    from pipeline.reconcile import Foods

#: At most so many habits are taken from one collection.
_MOST = 8
#: kcal a gram of fibre that are left out where carbohydrate is given without it, and belief in it.
_FIBRE_KCAL = ((0.0, 0.7), (4.0, 0.3))
_ALCOHOL_KCAL = 7.0


class Search:
    """The search for the habits of one creator.

    Args:
        recipes, lines: of ``evidence.by_creator``.
        foods: of ``reconcile.load_foods``.
        refused: keys of habits that a person refused.
        creator: whose recipes these are.
    """

    def __init__(
        self, recipes: Recipes, lines: Lines, foods: Foods, refused: frozenset[str] = frozenset(),
        creator: str = "",
    ) -> None:  # fmt: skip
        self.recipes, self.lines = recipes, lines
        self.refused, self.creator = refused, creator
        self.k = constants()
        self.off = np.where(recipes.given, recipes.stated - recipes.mean, 0.0)
        self.least = int(self.k["least_recipes"])
        makes = Phrases(lines, foods, self.least)
        self.phrases = makes.phrases()
        self.conventions = self._conventions()
        self.noise = self._noise()
        self.weighing = Weighing(recipes, lines, foods, self.noise, makes, self.phrases)

    def _conventions(self) -> list[tuple[str, float, Matrix]]:
        """Name, belief and change of each way of counting that moves enough recipes."""
        mean, given = self.recipes.mean, self.recipes.given
        out: list[tuple[str, float, Matrix]] = []
        total = ~self.recipes.net & given[:, CARBS] & (mean[:, FIBRE] > 0)
        for kcal, belief in _FIBRE_KCAL:
            change = np.zeros_like(mean)
            change[total, CARBS] = -mean[total, FIBRE]
            change[total, KCAL] = -kcal * mean[total, FIBRE]
            out.append((NET if not kcal else NET_ENERGY, belief, change))
        alcohol = np.bincount(self.lines.recipe, weights=self.lines.alcohol_g, minlength=len(mean))
        change = np.zeros_like(mean)
        change[:, KCAL] = mean @ ATWATER + _ALCOHOL_KCAL * alcohol - mean[:, KCAL]
        out.append((FACTORS, 1.0, change))
        return [c for c in out if self._seen(c[2]) >= self.least]

    def _seen(self, change: Matrix) -> int:
        """Recipes in which a change is larger than the rounding of a stated number."""
        big = np.abs(change) > np.maximum(self.recipes.step, 0.02 * self.recipes.mean)
        return int((big & self.recipes.given).any(axis=1).sum())

    def _noise(self) -> Noise:
        m, r = self.lines, self.recipes
        return noise_of(
            r.cov, r.given, r.mean, r.stated, m.recipe, m.values, m.doubt, self.k["slips"]
        )

    # --- what the residuals say -----------------------------------------------------------

    def causes(self, taken: list[Cause]) -> list[Cause]:
        """Every cause worth a look beside those taken, the one that gains most first."""
        off = self._left(taken)
        free = [
            n for n, p in enumerate(self.phrases) if not any(p.alike(c.of) for c in taken)
        ]  # fmt: skip
        share = math.log(self.k["habits"] / max(len(self.phrases), 8))
        found = [
            replace(c, gain=c.gain + (0.0 if c.kind == READING else share))
            for c in self.weighing.causes(off, free)
        ]
        found += self._convention_causes(off)
        return sorted(
            (
                c for c in found
                if key_of(c, self.creator) not in self.refused and not any(_same(c, t) for t in taken)
            ),
            key=lambda c: -c.gain,
        )  # fmt: skip

    def _convention_causes(self, off: Matrix) -> list[Cause]:
        prior = math.log(self.k["convention"])
        before = self.noise(off)[0].sum()
        by: dict[str, list[Cause]] = {}
        for name, belief, change in self.conventions:
            gain = float(self.noise(off - self._shown(change))[0].sum() - before)
            by.setdefault(_about(name), []).append(
                Cause("convention", None, gain + prior + math.log(belief), change, convention=name,
                      recipe=np.flatnonzero(np.abs(change).max(axis=1) > 0))
            )  # fmt: skip
        return [_together(causes) for causes in by.values()]

    def _shown(self, change: Matrix) -> Matrix:
        return np.where(self.recipes.given, change, 0.0)

    def _left(self, taken: list[Cause]) -> Matrix:
        explained = sum((self._shown(c.change) for c in taken), np.zeros_like(self.off))
        left: Matrix = self.off - explained
        return left

    # --- the search -----------------------------------------------------------------------

    def run(self) -> list[tuple[Cause, float, list[Cause]]]:
        """Causes taken, each with its probability and those that cannot be told from it."""
        taken: list[Cause] = []
        before: list[list[Cause]] = []
        while len(taken) < _MOST:
            found = self.causes(taken)
            if not found or found[0].gain <= 0:
                break
            before.append(found)
            taken.append(found[0])
        return self._judged(taken, before[-1] if before else [])

    def habits(self) -> list[Habit]:
        """What was found, the surest first; nothing less likely than not."""
        found = self.run()
        if not found:
            return []
        fits = self.noise(self._left([c for c, _, _ in found]))[1] > 0.5
        return [
            self._habit(c, p, twins) for c, p, twins in found
            if p >= (self.k["least_probability"] if c.kind == READING else 0.5)
            and self._matters(c) >= self.k["matters_in"]
            and fits[c.recipe].sum() >= max(self.least - 1, self.k["fits"] * len(c.recipe))
        ]  # fmt: skip

    def _matters(self, cause: Cause) -> int:
        """Recipes in which a cause moves a stated number by a share that is worth a question."""
        least = np.maximum(self.k["matters"] * self.recipes.mean, self.recipes.step)
        return int((self.recipes.given & (np.abs(cause.change) > least)).any(axis=1).sum())

    def _habit(self, cause: Cause, probability: float, twins: list[Cause]) -> Habit:
        m, ids = self.lines, self.recipes.ids
        p = cause.of
        grams = math.nan
        if cause.measure:
            grams = float(np.median(
                [m.grams[i] / m.amount[i] for i in cause.rows if m.amount[i] > 0] or [math.nan]
            )) * cause.factor  # fmt: skip
        return Habit(
            kind=cause.kind,
            phrase=cause.convention if p is None else p.label,
            creator=self.creator,
            probability=probability,
            recipe_ids=[ids[r] for r in cause.recipe],
            lines=[(ids[m.recipe[i]], int(m.line_no[i])) for i in cause.rows],
            names=() if p is None else p.names,
            food_id="" if p is None or p.food_id == "base" else p.food_id,
            composition=cause.composition,
            sure=cause.sure,
            factor=cause.factor,
            measure=cause.measure,
            grams=grams,
            nearest=cause.nearest,
            convention=cause.convention,
            together=list(dict.fromkeys(t.of.label for t in twins if t.of is not None)),
        )

    def _judged(
        self, taken: list[Cause], last: list[Cause]
    ) -> list[tuple[Cause, float, list[Cause]]]:
        """Each cause fitted again with the others settled, beside all others in its place.

        Args:
            taken: causes in the order they were taken.
            last: all that were in the last one's place.
        """
        out = []
        for i in range(len(taken)):
            cause = taken[i]
            others = [c for c in taken if c is not cause]
            found = last if i == len(taken) - 1 else self.causes(others)
            mine = [c for c in found if _same(c, cause)]
            if not mine:
                continue
            taken[i] = best = mine[0]
            twins = [
                c for c in found
                if not _same(c, cause) and best.gain - c.gain < 3.0 and _always(c, best)
            ]  # fmt: skip
            alike = [c for c in mine if (c.kind == READING) == (best.kind == READING)]
            for_it = log_sum([c.gain for c in [*alike, *twins]])
            every = log_sum([0.0, *(c.gain for c in found)])
            out.append((best, float(np.exp(for_it - every)), twins))
        return sorted(out, key=lambda r: -r[1])


def key_of(cause: Cause, creator: str = "") -> str:
    """What a refusal of this cause goes by."""
    phrase = cause.convention if cause.of is None else cause.of.label
    return habit_key(cause.kind, phrase, creator)


def _about(convention: str) -> str:
    """Conventions of which one at most holds go by one name."""
    return NET if convention == NET_ENERGY else convention


def _together(causes: list[Cause]) -> Cause:
    """Readings of one convention as one cause: the likeliest, with the belief of all."""
    best = max(causes, key=lambda c: c.gain)
    best.gain = float(log_sum([c.gain for c in causes]))
    return best


def _same(a: Cause, b: Cause) -> bool:
    """Whether two causes are about the same thing, so that at most one of them holds."""
    if a.of is None or b.of is None:
        return a.of is None and b.of is None and _about(a.convention) == _about(b.convention)
    return a.of.alike(b.of)


def _always(a: Cause, b: Cause) -> bool:
    """Whether two phrases stand in the same recipes."""
    if a.of is None or b.of is None:
        return False
    one, two = set(a.of.recipe.tolist()), set(b.of.recipe.tolist())
    return len(one & two) >= 0.9 * len(one | two)
