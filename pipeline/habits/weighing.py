"""What the residuals of recipes say about each phrase: causes with what they gain.

All phrases are weighed at once, as arrays. The causes of a phrase are kept as long as the residuals
of its recipes stay the same, so that a search that goes on elsewhere does not weigh it again.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pipeline.habits.evidence import Cube, Ints, Lines, N, Recipes
from pipeline.habits.model import (
    READING,
    constants,
    family_prior,
    product_prior,
    table_prior,
)
from pipeline.habits.numbers import Fit, Noise, fit_shared, log_sum, medians
from pipeline.habits.phrases import KCAL_PARTS, Phrase, Phrases
from pipeline.reconcile.model import ATWATER, CARBS, FAT, FIBRE, KCAL, MACROS, Matrix, Vector

if TYPE_CHECKING:
    from pipeline.reconcile import Foods

#: Log odds that the best conceivable fit of a phrase has to reach to be looked at closer.
_WORTH = 1.0
#: Log odds that one step towards that fit has to gain for the fit to be made.
_HOPE = 2.0
#: Log odds by which a food of the table may be behind the best composition and be weighed at all.
_FAR = 12.0
#: (phrase, recipe) pairs weighed at once: enough for arrays to pay, few enough for little memory.
_AT_ONCE = 6_000
#: kcal by which a food of another name is behind one of the same, when the nearest is sought.
_UNLIKE_KCAL = 200.0
#: No food is like another when their macros lie further apart than this share of the energy.
_NEAR = 0.35
#: Belief that an open kind has the values of this table's foods, and that it is one like them.
_OF_TABLE, _OF_FAMILY = 0.7, 0.3
#: Share of the difference between specific and general energy factors that is as likely as not.
_FACTORS_APART = 0.5
#: Deviations beyond which a composition is as impossible as can be.
_IMPOSSIBLE = -8.0


class Near(NamedTuple):
    """A food that a phrase may stand for instead, weighed against the numbers.

    Attributes:
        kind: product, state or reading.
        belief: in it before the numbers are seen, among its kind.
        food: row of the foods; -1 for a kind of the same family that another table may have.
        evidence: log marginal likelihood.
        composition: (7,) per 100 g.
    """

    kind: str
    belief: float
    food: int
    evidence: float
    composition: Vector


@dataclass(slots=True)
class Cause:
    """One way to explain residuals: a habit's kind with its unknowns settled.

    Attributes:
        kind: as ``Habit.kind``; ``of`` is the phrase it is about, None for a way of counting,
            which is ``about`` something of which one way at most holds.
        gain: log odds that it is there, against the residuals without it.
        change: (r, 7) how it moves the sums of the rows ``recipe``.
        composition, sure, factor, measure, nearest, convention: as ``Habit``.
        foods: row of the food that each of ``rows`` counts as, of a state of the whole creator.
    """

    kind: str
    of: Phrase | None
    gain: float
    change: Matrix
    composition: Vector | None = None
    sure: Vector | None = None
    factor: float = 1.0
    measure: str = ""
    nearest: int = -1
    convention: str = ""
    about: str = ""
    recipe: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    rows: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    foods: tuple[int, ...] = ()


@dataclass(slots=True)
class _Part:
    """The lines of a phrase in one measure, without the spread of their weight.

    Attributes:
        phrase: the lines alone.
        measure: their unit.
        noise: of its recipes, the weight known.
        rel: variance of the weight over its square, which is open in all lines alike.
    """

    phrase: Phrase
    measure: str
    noise: Noise
    rel: float


@dataclass(slots=True)
class _Rows:
    """(phrase, recipe) pairs of some phrases, sorted by phrase."""

    phrases: list[Phrase]
    group: Ints
    recipe: Ints
    grams: Vector
    noise: Noise
    off: Matrix


class Weighing:
    """Weighs the phrases of all creators.

    Args:
        recipes, lines: of ``evidence.read_evidence``.
        foods: of ``reconcile.load_foods``.
        noise: of the recipes.
        makes: of the lines.
        phrases: what is weighed.
        shares: (p,) log belief that a habit is about each, before anything is seen.
    """

    def __init__(
        self, recipes: Recipes, lines: Lines, foods: Foods, noise: Noise, makes: Phrases,
        phrases: list[Phrase], shares: Vector,
    ) -> None:  # fmt: skip
        self.recipes, self.lines, self.foods, self.noise = recipes, lines, foods, noise
        self.makes, self.phrases, self.shares, self.k = makes, phrases, shares, constants()
        self._kept: list[tuple[bytes, list[Cause]]] = [(b"", []) for _ in phrases]
        self._parts: dict[int, list[_Part]] = {}
        value = np.array([p.value for p in phrases]).reshape(-1, N)
        rel = np.array([p.rel_var for p in phrases])
        self._food = np.array([p.food >= 0 for p in phrases], dtype=bool)
        self._value, self._wide = value, product_prior(value)
        self._close = product_prior(value, self.k["near_product"])
        self._tight = table_prior(value, rel, np.array([self._energy_open(p) for p in phrases]))

    def causes(self, off: Matrix, wanted: Sequence[int]) -> dict[int, list[Cause]]:
        """Causes about the phrases ``wanted``, by phrase; each alone, belief in habits not counted.

        Args:
            off: (n, 7) residuals of the recipes.
            wanted: which of ``phrases``.
        """
        todo = []
        for n in wanted:
            key = off[self.phrases[n].recipe].tobytes()
            if self._kept[n][0] != key:
                self._kept[n] = (key, [])
                todo.append(n)
        for part in self._parts_at_once(todo):
            if hopeful := self._hopeful(off, part):
                self._weigh(off, hopeful)
        return {n: self._kept[n][1] for n in wanted}

    def _parts_at_once(self, which: list[int]) -> Iterator[list[int]]:
        """Phrases in lots that need little memory."""
        lot: list[int] = []
        rows = 0
        for n in which:
            lot.append(n)
            rows += len(self.phrases[n].recipe)
            if rows >= _AT_ONCE:
                yield lot
                lot, rows = [], 0
        if lot:
            yield lot

    def _rows(self, off: Matrix, which: Sequence[int]) -> _Rows:
        phrases = [self.phrases[n] for n in which]
        group = np.repeat(np.arange(len(phrases)), [len(p.recipe) for p in phrases])
        recipe = np.concatenate([p.recipe for p in phrases])
        grams = np.concatenate([p.grams for p in phrases])
        return _Rows(phrases, group, recipe, grams, self.noise.rows(recipe), off[recipe])

    def _hopeful(self, off: Matrix, which: list[int]) -> list[int]:
        """Phrases of which one step from nothing, or their middle, explains anything at all."""
        if not which:
            return []
        r = self._rows(off, which)
        at = np.array(which)
        first = np.searchsorted(r.group, np.arange(len(which)))
        total, weight = self._honest(off, r.recipe)
        middle = self._middle(r, len(which))
        scaled = (weight * r.grams)[:, None, None] * r.noise.weight
        precision = self._wide[at] + np.add.reduceat(r.grams[:, None, None] * scaled, first)
        pull = np.add.reduceat(np.einsum("mij,mj->mi", scaled, r.off), first)
        step = np.linalg.solve(precision, pull[:, :, None])[:, :, 0]
        best = np.full(len(which), -math.inf)
        for theta in (step, middle):
            theta = np.maximum(theta, -self._value[at])
            now = r.noise(r.off - r.grams[:, None] * theta[r.group])[0] - total
            best = np.maximum(best, np.add.reduceat(now, first))
        return [n for n, gain in zip(which, best.tolist(), strict=True) if gain > _HOPE]

    def _honest(self, off: Matrix, recipe: Ints) -> tuple[Vector, Vector]:
        """Log density and weight of the residuals as they are, of each row."""
        rows, at = np.unique(recipe, return_inverse=True)
        total, weight = self.noise.rows(rows)(off[rows])
        return total[at], weight[at]

    def _middle(self, r: _Rows, groups: int) -> Matrix:
        given = self.recipes.given[r.recipe]
        return medians(np.where(given, r.off / r.grams[:, None], math.nan), r.group, groups)

    def _weigh(self, off: Matrix, which: list[int]) -> None:
        """Fit every phrase as it is and as another product; look closer where that pays."""
        r, at, many = self._rows(off, which), np.array(which), len(which)
        value = self._value[at]
        zero, by = np.zeros_like(value), r.grams
        same = fit_shared(r.off, by, r.group, many, r.noise, zero, self._tight[at], [zero])
        same.evidence += [math.log1p(-sum(share for _, share in p.kinds)) for p in r.phrases]
        starts = [zero, self._middle(r, many)]
        other = fit_shared(
            r.off, by, r.group, many, r.noise, zero, self._wide[at], starts, least=-value
        )
        close = fit_shared(
            r.off, by, r.group, many, r.noise, zero, self._close[at], [other.theta], least=-value
        )
        for fit, prior in ((other, self._wide), (close, self._close)):
            fit.evidence += np.where(self._food[at], _possible(value, fit, prior[at]), 0.0)
        nearer = close.evidence > other.evidence
        both = np.logaddexp(other.evidence, close.evidence) + math.log(0.5)
        other.theta[nearer], other.precision[nearer] = close.theta[nearer], close.precision[nearer]
        other.evidence = both
        # no cause about the same lines can gain more than the best fit
        total = r.noise(r.off - r.grams[:, None] * other.theta[r.group])[0]
        upper = np.add.reduceat(total, np.searchsorted(r.group, np.arange(many)))
        worth = np.flatnonzero(upper - same.evidence + self.shares[at] > _WORTH).tolist()
        if not worth:
            return
        near = self._near(off, [which[g] for g in worth], other, worth)
        measures = self._measures(off, [which[g] for g in worth])
        for g, foods in zip(worth, near, strict=True):
            found = self._of_phrase(off, which[g], other, g, float(same.evidence[g]), foods)
            self._kept[which[g]][1].extend(found + measures[which[g]])

    def _of_phrase(
        self, off: Matrix, n: int, other: Fit, g: int, null: float, near: list[Near]
    ) -> list[Cause]:
        """Another product, another state, another kind or nothing at all, of one phrase."""
        p, k = self.phrases[n], self.k
        kind = "base" if p.food < 0 else "product"
        known = [math.log(n.belief) + n.evidence for n in near if n.kind == "product"]
        evidence = float(
            np.logaddexp(math.log(0.5) + other.evidence[g], math.log(0.5) + log_sum(known))
        )
        change = p.grams[:, None] * np.maximum(other.theta[g], -p.value)
        composition = np.maximum(self._own_or(p.food, p) + other.theta[g], 0.0)
        sure = np.sqrt(np.maximum(np.diag(np.linalg.inv(other.precision[g])), 0.0))
        out = [
            Cause(kind, p, evidence - null + math.log(k[kind]), change,
                  composition, sure, nearest=self._nearest(p, composition), recipe=p.recipe,
                  rows=p.rows)
        ]  # fmt: skip
        out += self._instead(p, "state", near, math.log(k["state"]) - null)
        out += self._instead(p, READING, near, -null)
        gone = float(self.noise.rows(p.recipe)(off[p.recipe] + p.values)[0].sum())
        out.append(
            Cause("measure", p, gone - null + math.log(k["left_out"]), -p.values,
                  factor=0.0, recipe=p.recipe, rows=p.rows)
        )  # fmt: skip
        return out

    def _instead(self, p: Phrase, kind: str, near: list[Near], prior: float) -> list[Cause]:
        """The foods of one kind as one cause: the likeliest, with the belief of all."""
        found = [n for n in near if n.kind == kind and n.belief > 0]
        if not found:
            return []
        gains = [math.log(n.belief) + n.evidence for n in found]
        best = found[int(np.argmax(gains))]
        food = best.food
        if food < 0:
            off = [
                float(np.abs((self.foods.values[at] - best.composition)[: FAT + 1] @ KCAL_PARTS))
                for at, _ in p.kinds
            ]
            food = p.kinds[int(np.argmin(off))][0]
        return [
            Cause(kind, p, log_sum(gains) + prior,
                  p.grams[:, None] * (self._as_stated(best.composition, p) - p.value),
                  best.composition,
                  np.zeros(N), nearest=food, recipe=p.recipe, rows=p.rows)
        ]  # fmt: skip

    def _nearest(self, p: Phrase, composition: Vector) -> int:
        """The food of a like name whose macros come nearest; -1 for none."""
        if p.food < 0:
            return -1
        others = np.array(
            [v.index for v in self.foods.variants.of(p.food)]
            + [at for at, _ in self.lines.runners.get(self.lines.text[p.rows[0]], ())], dtype=np.int64
        )  # fmt: skip
        if not len(others):
            return -1
        likeness = self.foods.variants.likeness
        unlike = 1 - np.array([likeness(p.food, int(at)) for at in others])
        off = np.abs(
            (self.foods.values[others, : FAT + 1] - composition[: FAT + 1]) * KCAL_PARTS
        ).sum(axis=1)
        off[~(off <= _NEAR * max(float(composition[KCAL]), 50.0))] = math.inf
        best = int(np.argmin(off + _UNLIKE_KCAL * unlike))
        return int(others[best]) if math.isfinite(off[best]) else -1

    def _parts_of(self, n: int) -> list[_Part]:
        """The lines of a phrase by their measure; made once."""
        if n in self._parts:
            return self._parts[n]
        p, m, out = self.phrases[n], self.lines, []
        units = sorted({m.measure[i] for i in p.rows} - {""})
        for unit in units:
            mine = np.array([i for i in p.rows if m.measure[i] == unit])
            part = p if len(mine) == len(p.rows) else self.makes.phrase(p.names, mine)
            if len(part.recipe) < self.makes.least:
                continue
            cov = self.recipes.cov[part.recipe] - part.gram_cov
            at = np.arange(N)
            floor = (0.01 * self.recipes.mean[part.recipe]) ** 2 + 1e-4
            cov[:, at, at] = np.maximum(cov[:, at, at], floor)
            noise = self.noise.rows(part.recipe)
            noise.sharpen(np.arange(len(part.recipe)), cov, self.recipes.given[part.recipe])
            # shared spread of the weight is no habit: the weigh stage leaves so much open
            rel = max(float(m.rel_var[mine].max()), self.k["measure_apart"] ** 2)
            out.append(_Part(part, unit, noise, rel))
        self._parts[n] = out
        return out

    def _measures(self, off: Matrix, which: Sequence[int]) -> dict[int, list[Cause]]:
        """The weight of a scoop, cup, piece or slice, of each phrase."""
        out: dict[int, list[Cause]] = {n: [] for n in which}
        found = [(n, part) for n in which for part in self._parts_of(n)]
        if not found:
            return out
        parts = [part for _, part in found]
        many = len(parts)
        group = np.repeat(np.arange(many), [len(p.phrase.recipe) for p in parts])
        noise = Noise.joined([p.noise for p in parts])
        here = np.concatenate([off[p.phrase.recipe] for p in parts])
        values = np.concatenate([p.phrase.values for p in parts])
        rel = np.array([p.rel for p in parts])[:, None, None]
        zero = np.zeros((many, 1))
        pulled = np.einsum("mi,mij->mj", values, noise.weight)
        scale = np.maximum((pulled * values).sum(axis=1), 1e-9)
        start = medians(((pulled * here).sum(axis=1) / scale)[:, None], group, many)
        by = values[:, :, None]
        honest = fit_shared(here, by, group, many, noise, zero, 1 / rel, [zero])
        other = fit_shared(
            here, by, group, many, noise, zero, 1 / (rel + self.k["measure_sd"] ** 2),
            [zero, np.clip(start, -0.9, 4.0)], least=np.full((many, 1), -0.95),
        )  # fmt: skip
        for g, (n, part) in enumerate(found):
            p, factor = part.phrase, 1 + float(other.theta[g, 0])
            gain = float(other.evidence[g] - honest.evidence[g])
            out[n].append(
                Cause("measure", p, gain + math.log(self.k["measure"]),
                      (factor - 1) * p.values, factor=factor, measure=part.measure,
                      sure=np.full(N, float(other.precision[g, 0, 0]) ** -0.5), recipe=p.recipe,
                      rows=p.rows)
            )  # fmt: skip
        return out

    def _candidates(self, p: Phrase) -> list[tuple[str, float, int]]:
        """Kind, belief and row of the foods that a phrase may stand for instead."""
        if p.food < 0:
            return []
        open_kinds = {at for at, _ in p.kinds}
        found = [
            ("state" if v.kind == "raw_cooked_slip" else "product", v.weight, v.index)
            for v in self.foods.variants.of(p.food)
        ]
        text = self.lines.text[p.rows[0]]
        state = self.foods.variants.state
        for at, b in self.lines.runners.get(text, ()):
            if at != p.food:
                other = state[p.food] and state[at] and state[at] != state[p.food]
                found.append(("state" if other else "product", b, at))
        found = [
            f for f in found
            if f[2] not in open_kinds and np.isfinite(self.foods.values[f[2], : FAT + 1]).all()
        ]  # fmt: skip
        found += [(READING, _OF_TABLE * share, at) for at, share in p.kinds]
        return [*found, (READING, _OF_FAMILY, -1)] if p.kinds else found

    def _near(
        self, off: Matrix, which: Sequence[int], other: Fit, rows: Sequence[int]
    ) -> list[list[Near]]:
        """The foods that each phrase may stand for instead, weighed against the numbers.

        Args:
            off: (n, 7) residuals of the recipes.
            which: phrases; ``rows`` where each is in ``other``.
            other: the best composition of each; foods far from it are left out.
        """
        found = [self._candidates(self.phrases[n]) for n in which]
        flat = [(n, *one) for n, many in zip(which, found, strict=True) for one in many]
        if not flat:
            return [[] for _ in which]
        centre = np.zeros((len(flat), N))
        prior = np.zeros((len(flat), N, N))
        for i, (n, _, _, at) in enumerate(flat):
            p = self.phrases[n]
            if at >= 0:
                centre[i] = self._as_stated(self._own_or(at, p), p)
            else:
                centre[i], prior[i] = self._family(p)
        known = np.array([at >= 0 for *_, at in flat])
        prior[known] = table_prior(centre[known])
        centre -= np.array([self.phrases[n].value for n, *_ in flat])
        at_fit = [rows[which.index(n)] for n, *_ in flat]
        away = centre - other.theta[at_fit]
        spread = np.linalg.inv(other.precision[at_fit]) + np.linalg.inv(prior)
        pulled = np.linalg.solve(spread, away[:, :, None])[:, :, 0]
        close = 0.5 * (away * pulled).sum(axis=1) < _FAR
        if not close.any():
            return [[] for _ in which]
        flat = [one for one, kept in zip(flat, close.tolist(), strict=True) if kept]
        centre, prior = centre[close], prior[close]
        sizes = [len(self.phrases[n].recipe) for n, *_ in flat]
        recipe = np.concatenate([self.phrases[n].recipe for n, *_ in flat])
        grams = np.concatenate([self.phrases[n].grams for n, *_ in flat])
        fit = fit_shared(
            off[recipe], grams, np.repeat(np.arange(len(flat)), sizes),
            len(flat), self.noise.rows(recipe), centre, prior, [centre],
        )  # fmt: skip
        out: dict[int, list[Near]] = {n: [] for n in which}
        for (n, kind, belief, at), evidence, theta in zip(
            flat, fit.evidence.tolist(), fit.theta, strict=True
        ):
            p = self.phrases[n]
            composition = np.maximum(p.value + theta, 0.0) if at < 0 else self._own_or(at, p)
            out[n].append(Near(kind, belief, at, evidence, composition))
        return [out[n] for n in which]

    def _family(self, p: Phrase) -> tuple[Vector, Matrix]:
        """Mean and precision of a kind like those that the words leave open."""
        shares = [share for _, share in p.kinds]
        rows = [p.food, *(at for at, _ in p.kinds)]
        values = np.array([self._as_stated(self._own_or(at, p), p) for at in rows])
        return family_prior(values, np.array([1 - sum(shares), *shares]))

    def _own_or(self, at: int, p: Phrase) -> Vector:
        """Composition of a food; that of the phrase where it is not known, or is no food (-1)."""
        if at < 0:
            return p.value
        value = self.foods.values[at]
        return np.where(np.isfinite(value), value, p.value)

    def _as_stated(self, value: Vector, p: Phrase) -> Vector:
        """A composition with carbohydrate as the recipes of the phrase state it."""
        if not self.recipes.net[p.recipe].all():
            return value
        net = value.copy()
        net[CARBS] -= net[FIBRE]
        return net

    def _energy_open(self, p: Phrase) -> float:
        """kcal per 100 g by which tables differ that count energy by general or specific factors."""
        if p.food < 0:
            return 0.0
        off = float(self.foods.values[p.food, KCAL] - self.foods.values[p.food] @ ATWATER)
        return _FACTORS_APART * abs(off) if math.isfinite(off) else 0.0


def _possible(value: Matrix, fit: Fit, prior: Cube) -> Vector:
    """Log of how much likelier than before it is that 100 g hold no more than 100 g of macros.

    The evidence of a fit whose prior reaches beyond what is possible, cut off there.

    Args:
        value: (g, 7) per 100 g, which ``fit.theta`` is added to.
        fit: its unknowns and their precision; prior (g, 7, 7) precision before the numbers are seen.
    """
    macros = np.zeros(N)
    macros[list(MACROS)] = 1.0
    room = 100.0 - value @ macros

    def inside(room: Vector, precision: Cube) -> Vector:
        spread = np.einsum("i,gij,j->g", macros, np.linalg.inv(precision), macros)
        deviations = np.maximum(room / np.sqrt(np.maximum(spread, 1e-6)), _IMPOSSIBLE)
        return np.log([0.5 * math.erfc(-x / math.sqrt(2)) for x in deviations.tolist()])

    out: Vector = inside(room - fit.theta @ macros, fit.precision) - inside(room, prior)
    return np.minimum(out, 0.0)
