"""The few shared causes that explain a creator's residuals best.

Greedy: the cause that gains most is taken, what it explains is subtracted, and the rest is searched
again, until nothing pays for itself. Then every cause is judged once more against doing without it
and against all others in its place. Everything is deterministic and grows with the lines.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pipeline.habits.evidence import Ints, Lines, N, Recipes
from pipeline.habits.model import (
    FACTORS,
    NET,
    NET_ENERGY,
    READING,
    Habit,
    constants,
    family_prior,
    habit_key,
    product_prior,
    table_prior,
)
from pipeline.habits.numbers import Fit, Noise, fit_shared, log_sum, medians, noise_of
from pipeline.reconcile.model import ATWATER, CARBS, FAT, FIBRE, KCAL, Matrix, Vector

if TYPE_CHECKING:
    from pipeline.reconcile import Foods

#: At most so many habits are taken from one collection.
_MOST = 8
#: Log odds that the best conceivable fit of a phrase has to reach to be looked at closer.
_WORTH = 1.0
#: kcal a gram of fibre that are left out where carbohydrate is given without it, and belief in it.
_FIBRE_KCAL = ((0.0, 0.7), (4.0, 0.3))
_ALCOHOL_KCAL = 7.0
#: kcal of energy and of a gram of each macro, to compare foods by.
_KCAL_PARTS = np.array([1.0, 4.0, 4.0, 9.0])
#: kcal by which a food of another name stands behind one of the same, when the nearest is sought.
_UNLIKE_KCAL = 200.0
#: No food is like another when their macros lie further apart than this share of the energy.
_NEAR = 0.35
#: Kinds left open whose macros differ by less of the energy are one answer.
_SAME_KIND = 0.06
#: Belief that an open kind has the values of this table's foods, and that it is one like them.
_OF_TABLE, _OF_FAMILY = 0.7, 0.3
#: Share of the difference between specific and general energy factors that is as likely as not.
_FACTORS_APART = 0.5
#: Grams open by less than this share are known: a kitchen scale.
_WEIGHED = 0.03
_WORD = re.compile(r"[^\W\d_]+")
#: Foods of a base stand in the same proportions, give or take this share (rounding of grams).
_SAME_SHARE = 0.05


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
        kind: as ``Habit.kind``; ``of`` is the phrase it is about, None for conventions.
        gain: log odds that it is there, against the residuals without it.
        change: (n, 7) how it moves the sums.
        composition, sure, factor, measure, nearest, convention: as ``Habit``.
        more: what it adds to the covariance of the recipes, since it is not known sharply.
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
    recipe: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    rows: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))


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
        self.recipes, self.lines, self.foods = recipes, lines, foods
        self.refused, self.creator = refused, creator
        self.k = constants()
        self.off = np.where(recipes.given, recipes.stated - recipes.mean, 0.0)
        self.least = int(self.k["least_recipes"])
        self.phrases = self._phrases()
        self.conventions = self._conventions()
        self._active: list[Cause] = []
        self.noise = self._noise()
        self._now = self.off

    # --- what may be the cause ------------------------------------------------------------

    def _phrases(self) -> list[Phrase]:
        """Phrases of enough recipes: each name of a food, and the food under all its names."""
        m = self.lines
        by: dict[tuple[str, str], list[int]] = {}
        for i, (food_id, name) in enumerate(zip(m.food_id, m.name, strict=True)):
            if m.grams[i] > 0 and food_id and not food_id.startswith("pantry:"):
                by.setdefault((food_id, name), []).append(i)
        named: dict[str, list[str]] = {}
        for food_id, name in by:
            named.setdefault(food_id, []).append(name)
        groups: list[tuple[tuple[str, ...], list[int]]] = [
            ((name,), rows) for (_, name), rows in by.items()
        ]
        for food_id, names in named.items():
            if len(names) > 1:
                rows = sorted(i for name in names for i in by[food_id, name])
                groups.append((tuple(names), rows))
        out = [self._phrase(names, np.array(rows)) for names, rows in groups]
        out = [p for p in out if len(p.recipe) >= self.least and p.label]
        return out + self._bases([p for p in out if len(p.names) == 1])

    def _bases(self, phrases: list[Phrase]) -> list[Phrase]:
        """Foods that always stand together in the same proportions: one sum, used again and again."""
        together: dict[tuple[int, ...], list[Phrase]] = {}
        for p in phrases:
            together.setdefault(tuple(p.recipe.tolist()), []).append(p)
        out = []
        for group in together.values():
            first = group[0]
            even = [
                p for p in group
                if np.ptp(share := p.grams / first.grams) <= _SAME_SHARE * float(share.mean())
            ]  # fmt: skip
            if len(even) > 1:
                rows = np.sort(np.concatenate([p.rows for p in even]))
                names = tuple(n for p in even for n in p.names)
                base = self._phrase(names, rows)
                base.food, base.food_id = -1, "base"
                base.label = " + ".join(p.label for p in even)
                out.append(base)
        return out

    def _phrase(self, names: tuple[str, ...], rows: Ints) -> Phrase:
        m = self.lines
        recipe, at = np.unique(m.recipe[rows], return_inverse=True)
        grams = np.bincount(at, weights=m.grams[rows] / 100).astype(np.float64)
        values = np.zeros((len(recipe), N))
        np.add.at(values, at, m.values[rows])
        gram_cov = np.zeros((len(recipe), N, N))
        v = m.values[rows]
        np.add.at(gram_cov, at, m.rel_var[rows][:, None, None] * v[:, :, None] * v[:, None, :])
        said = [m.phrase[i] for i in rows]
        label = max(dict.fromkeys(said), key=said.count)
        value = np.median(values / grams[:, None], axis=0)
        food = int(m.food[rows[0]])
        open_grams = max(float(np.median(m.rel_var[rows])) - _WEIGHED**2, 0.0)
        return Phrase(
            names, label, food, m.food_id[rows[0]], recipe, grams, values, gram_cov, rows, value,
            open_grams, self._kinds(food, {m.text[i] for i in rows}),
        )  # fmt: skip

    def _kinds(self, food: int, texts: set[str]) -> tuple[tuple[int, float], ...]:
        """Kinds and packings that all of the texts leave open, if they are not all one answer."""
        if food < 0:
            return ()
        macros = self.foods.values[:, : FAT + 1] * _KCAL_PARTS
        kinds = self._left_open(food, texts)
        packed = [at for at in self._packings(food, texts) if at not in kinds]
        rest = (1 - sum(kinds.values())) / (1 + len(packed))
        kinds |= dict.fromkeys(packed, rest)
        known = [(at, share) for at, share in kinds.items() if np.isfinite(macros[at]).all()]
        apart = max(
            (float(np.abs(macros[at] - macros[food]).max()) for at, _ in known), default=0.0
        )
        return tuple(known) if apart > _SAME_KIND * float(macros[food, KCAL]) else ()

    def _left_open(self, food: int, texts: set[str]) -> dict[int, float]:
        """Share of each kind that the matcher found open in all of the texts."""
        if not all(t in self.lines.kinds for t in texts):
            return {}
        by_text = [dict(self.lines.kinds[t]) for t in sorted(texts)]
        shared = set.intersection(*(set(one) for one in by_text)) - {food}
        return {at: by_text[0][at] for at in sorted(shared)}

    def _packings(self, food: int, texts: set[str]) -> list[int]:
        """The same food packed otherwise, where no text says how."""
        others = self.foods.variants.packed_otherwise(food)
        if not others:
            return []
        said = {w for t in texts for w in _WORD.findall(t.casefold())}
        tell = {
            at: set(_WORD.findall(self.foods.variants.descriptions[at].casefold()))
            for at in (food, *others)
        }
        return [at for at in others if not said & (tell[at] ^ tell[food])]

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

    # --- what the residuals say -----------------------------------------------------------

    def _noise(self) -> Noise:
        m, r = self.lines, self.recipes
        return noise_of(
            r.cov, r.given, r.mean, r.stated, m.recipe, m.values, m.doubt, self.k["slips"]
        )

    def _pairs(self, phrases: list[Phrase]) -> tuple[Ints, Ints, Noise]:
        """Group, recipe and noise of each (phrase, recipe)."""
        group = np.repeat(np.arange(len(phrases)), [len(p.recipe) for p in phrases])
        recipe = np.concatenate([p.recipe for p in phrases])
        return group, recipe, self.noise.rows(recipe)

    def causes(self, off: Matrix) -> list[Cause]:
        """Every cause worth a look, the one that gains most first."""
        out = self._convention_causes(off)
        if self.phrases:
            out += self._phrase_causes(off)
        return sorted(out, key=lambda c: -c.gain)

    def _convention_causes(self, off: Matrix) -> list[Cause]:
        prior = math.log(self.k["convention"])
        before = self.noise(off)[0].sum()
        by: dict[str, list[Cause]] = {}
        for name, belief, change in self.conventions:
            gain = float(self.noise(off - self._shown(change))[0].sum() - before)
            if habit_key("convention", name, self.creator) in self.refused:
                continue
            by.setdefault(_about(name), []).append(
                Cause("convention", None, gain + prior + math.log(belief), change, convention=name,
                      recipe=np.flatnonzero(np.abs(change).max(axis=1) > 0))
            )  # fmt: skip
        return [_together(causes) for causes in by.values()]

    def _shown(self, change: Matrix) -> Matrix:
        return np.where(self.recipes.given, change, 0.0)

    def _phrase_causes(self, off: Matrix) -> list[Cause]:
        phrases = [p for p in self.phrases if not any(_alike(p, c.of) for c in self._active)]
        if not phrases:
            return []
        group, recipe, noise = self._pairs(phrases)
        here = off[recipe]
        grams = np.concatenate([p.grams for p in phrases])
        by = grams[:, None, None] * np.eye(N)
        value = np.array([p.value for p in phrases])
        given = self.recipes.given[recipe]
        zero = np.zeros_like(value)
        single = np.where(given, here / grams[:, None], math.nan)
        middle = medians(single, group, len(phrases))
        wide = product_prior(value)
        open_grams = np.array([p.rel_var for p in phrases])
        tight = table_prior(value, open_grams, np.array([self._energy_open(p) for p in phrases]))
        same = fit_shared(here, by, group, len(phrases), noise, zero, tight, [zero])
        same.evidence += [math.log1p(-sum(share for _, share in p.kinds)) for p in phrases]
        other = fit_shared(
            here, by, group, len(phrases), noise, zero, wide, [zero, middle], least=-value
        )
        close = fit_shared(
            here, by, group, len(phrases), noise, zero, product_prior(value, self.k["near_product"]),
            [other.theta], least=-value,
        )  # fmt: skip
        nearer = close.evidence > other.evidence
        both = np.logaddexp(other.evidence, close.evidence) + math.log(0.5)
        other.theta[nearer], other.precision[nearer] = close.theta[nearer], close.precision[nearer]
        other.evidence = both
        upper = self._reach(here, by, other, group, noise)
        out: list[Cause] = []
        share = math.log(self.k["habits"] / max(len(phrases), 8))
        worth = [g for g in range(len(phrases)) if upper[g] - same.evidence[g] + share > _WORTH]
        for g in worth:
            rows = np.flatnonzero(group == g)
            one = _One(phrases[g], rows, here[rows], noise.rows(rows), grams[rows])
            out += self._of_phrase(one, other, same, g, share)
        return [c for c in out if key_of(c, self.creator) not in self.refused]

    def _reach(self, off: Matrix, by: np.ndarray, fit: Fit, group: Ints, noise: Noise) -> Vector:
        """Log density at the best fit: no cause about the same lines can gain more."""
        total = noise(off - np.einsum("mik,mk->mi", by, fit.theta[group]))[0]
        first = np.searchsorted(group, np.arange(len(fit.theta)))
        return np.add.reduceat(total, first)

    def _of_phrase(self, one: _One, other: Fit, same: Fit, g: int, share: float) -> list[Cause]:
        """Another product, another state, another weight or nothing at all, of one phrase."""
        p, k = one.phrase, self.k
        near = self._near(one)
        null = float(same.evidence[g])
        kind = "base" if p.food < 0 else "product"
        known = [math.log(n.belief) + n.evidence for n in near if n.kind == "product"]
        evidence = float(
            np.logaddexp(
                math.log(0.5) + other.evidence[g],
                math.log(0.5) + (log_sum(known) if known else -math.inf),
            )
        )
        change = p.grams[:, None] * np.maximum(other.theta[g], -p.value)
        composition = np.maximum(self._own(p) + other.theta[g], 0.0)
        sure = np.sqrt(np.maximum(np.diag(np.linalg.inv(other.precision[g])), 0.0))
        out = [
            Cause(kind, p, evidence - null + share + math.log(k[kind]),
                  self._moved(p, change), composition, sure, nearest=self._nearest(p, composition),
                  recipe=p.recipe, rows=p.rows)
        ]  # fmt: skip
        out += self._instead(p, "state", near, share + math.log(k["state"]) - null)
        out += self._instead(p, READING, near, -null)
        gone = float(one.noise(one.off + p.values)[0].sum())
        out.append(
            Cause("measure", p, gone - null + share + math.log(k["left_out"]),
                  self._moved(p, -p.values), factor=0.0, recipe=p.recipe, rows=p.rows)
        )  # fmt: skip
        return out + self._measures(p, null, share)

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
                float(np.abs((self.foods.values[at] - best.composition)[: FAT + 1] @ _KCAL_PARTS))
                for at, _ in p.kinds
            ]
            food = p.kinds[int(np.argmin(off))][0]
        return [
            Cause(kind, p, log_sum(gains) + prior,
                  self._moved(p, p.grams[:, None] * (self._as_stated(best.composition, p) - p.value)),
                  best.composition,
                  np.zeros(N), nearest=food, recipe=p.recipe, rows=p.rows)
        ]  # fmt: skip

    def _energy_open(self, p: Phrase) -> float:
        """kcal per 100 g by which tables differ that count energy by general or specific factors."""
        if p.food < 0:
            return 0.0
        off = float(self.foods.values[p.food, KCAL] - self.foods.values[p.food] @ ATWATER)
        return _FACTORS_APART * abs(off) if math.isfinite(off) else 0.0

    def _own(self, p: Phrase) -> Vector:
        """Composition of a phrase's food in the table; of a recipe or base, of its lines."""
        if p.food < 0:
            return p.value
        return self._own_or(p.food, p)

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
        unlike = 1 - self.foods.variants.similar(p.food)[others]
        off = np.abs((self.foods.values[others, : FAT + 1] - composition[: FAT + 1]) * _KCAL_PARTS).sum(
            axis=1
        )
        off[~(off <= _NEAR * max(float(composition[KCAL]), 50.0))] = math.inf
        best = int(np.argmin(off + _UNLIKE_KCAL * unlike))
        return int(others[best]) if math.isfinite(off[best]) else -1

    def _measures(self, p: Phrase, null: float, share: float) -> list[Cause]:
        """The weight of a scoop, cup, piece or slice."""
        m = self.lines
        out = []
        for unit in sorted({m.measure[i] for i in p.rows} - {""}):
            mine = p.rows if len({m.measure[i] for i in p.rows}) == 1 else np.array(
                [i for i in p.rows if m.measure[i] == unit]
            )  # fmt: skip
            part = p if len(mine) == len(p.rows) else self._phrase(p.names, mine)
            if len(part.recipe) < self.least:
                continue
            cov = self.recipes.cov[part.recipe] - part.gram_cov
            at = np.arange(N)
            floor = (0.01 * self.recipes.mean[part.recipe]) ** 2 + 1e-4
            cov[:, at, at] = np.maximum(cov[:, at, at], floor)
            noise = self.noise.rows(part.recipe)
            noise.sharpen(np.arange(len(part.recipe)), cov, self.recipes.given[part.recipe])
            here = self._now[part.recipe]
            by = part.values[:, :, None]
            # shared spread of the weight is no habit: the weigh stage said so much is open
            rel = max(float(m.rel_var[mine].max()), 0.03**2)
            group = np.zeros(len(here), dtype=np.int64)
            zero = np.zeros((1, 1))
            tight = np.full((1, 1, 1), 1 / rel)
            loose = np.full((1, 1, 1), 1 / (rel + self.k["measure_sd"] ** 2))
            scale = np.einsum("mi,mij,mj->m", part.values, noise.weight, part.values)
            along = np.einsum("mi,mij,mj->m", part.values, noise.weight, here)
            start = np.full((1, 1), float(np.median(along / np.maximum(scale, 1e-9))))
            starts = [zero, np.clip(start, -0.9, 4.0)]
            honest = fit_shared(here, by, group, 1, noise, zero, tight, [zero])
            other = fit_shared(
                here, by, group, 1, noise, zero, loose, starts, least=np.full((1, 1), -0.95)
            )
            factor = 1 + float(other.theta[0, 0])
            gain = float(other.evidence[0] - honest.evidence[0])
            out.append(
                Cause("measure", part, gain + share + math.log(self.k["measure"]),
                      self._moved(part, (factor - 1) * part.values), factor=factor, measure=unit,
                      sure=np.full(N, float(other.precision[0, 0, 0]) ** -0.5), recipe=part.recipe,
                      rows=mine)
            )  # fmt: skip
        return out

    def _near(self, one: _One) -> list[Near]:
        """The foods that the phrase may stand for instead, each weighed against the numbers."""
        p = one.phrase
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
        if not found:
            return []
        value = np.array([self._as_stated(self._own_or(at, p), p) for *_, at in found])
        centre, prior = value - p.value, table_prior(value)
        if p.kinds:
            shares = [share for _, share in p.kinds]
            family, precision = family_prior(
                np.array([self._as_stated(self._own_or(at, p), p) for at in [p.food, *(at for at, _ in p.kinds)]]),
                np.array([1 - sum(shares), *shares]),
            )
            found.append((READING, _OF_FAMILY, -1))
            centre = np.vstack([centre, family - p.value])
            prior = np.concatenate([prior, precision[None]])
        many, size = len(found), len(one.off)
        again = np.tile(np.arange(size), many)
        fit = fit_shared(
            one.off[again], one.grams[again][:, None, None] * np.eye(N),
            np.repeat(np.arange(many), size), many, one.noise.rows(again), centre, prior, [centre],
        )  # fmt: skip
        return [
            Near(kind, belief, at, evidence,
                 np.maximum(p.value + theta, 0.0) if at < 0 else self._own_or(at, p))
            for (kind, belief, at), evidence, theta in zip(
                found, fit.evidence.tolist(), fit.theta, strict=True
            )
        ]  # fmt: skip

    def _own_or(self, at: int, p: Phrase) -> Vector:
        """Composition of a food, that of the phrase where it is not known."""
        value = self.foods.values[at]
        return np.where(np.isfinite(value), value, p.value)

    def _as_stated(self, value: Vector, p: Phrase) -> Vector:
        """A composition with carbohydrate as the recipes of the phrase state it."""
        if not self.recipes.net[p.recipe].all():
            return value
        net = value.copy()
        net[CARBS] -= net[FIBRE]
        return net

    def _moved(self, p: Phrase, change: Matrix) -> Matrix:
        out = np.zeros_like(self.off)
        out[p.recipe] = change
        return out

    # --- the search -----------------------------------------------------------------------

    def run(self) -> list[tuple[Cause, float, list[Cause]]]:
        """Causes taken, each with its probability and those that cannot be told from it."""
        taken: list[Cause] = []
        while len(taken) < _MOST:
            best = self._best(taken)
            if best is None or best.gain <= 0:
                break
            taken.append(best)
        return self._judged(taken)

    def habits(self) -> list[Habit]:
        """What was found, the surest first; nothing less likely than not."""
        found = self.run()
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

    def _left(self, taken: list[Cause]) -> Matrix:
        explained = sum((self._shown(c.change) for c in taken), np.zeros_like(self.off))
        self._active = taken
        self._now = self.off - explained
        return self._now

    def _best(self, taken: list[Cause]) -> Cause | None:
        found = self.causes(self._left(taken))
        return next((c for c in found if not any(_same(c, t) for t in taken)), None)

    def _judged(self, taken: list[Cause]) -> list[tuple[Cause, float, list[Cause]]]:
        """Each cause fitted again with the others settled, beside all others in its place."""
        out = []
        for i, cause in enumerate(taken):
            others = [c for c in taken if c is not cause]
            found = [
                c for c in self.causes(self._left(others))
                if not any(_same(c, t) for t in others)
            ]  # fmt: skip
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


@dataclass(slots=True)
class _One:
    """The rows of one phrase."""

    phrase: Phrase
    rows: Ints
    off: Matrix
    noise: Noise
    grams: Vector


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
    return _alike(a.of, b.of)


def _alike(a: Phrase, b: Phrase | None) -> bool:
    """Whether two phrases share lines."""
    return b is not None and bool(np.intersect1d(a.rows, b.rows).size)


def _always(a: Cause, b: Cause) -> bool:
    """Whether two phrases stand in the same recipes."""
    if a.of is None or b.of is None:
        return False
    one, two = set(a.of.recipe.tolist()), set(b.of.recipe.tolist())
    return len(one & two) >= 0.9 * len(one | two)
