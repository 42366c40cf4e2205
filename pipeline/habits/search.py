"""The few shared causes that explain the residuals of each creator best.

Greedy: the cause that gains most is taken, what it explains is subtracted, and the rest is searched
again, until nothing pays for itself. Then every cause is judged once more against doing without it
and against all others in its place. Creators go side by side, so that each step is a few sums over
arrays however many there are. Everything is deterministic and grows with the lines.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from pipeline.habits.evidence import Bools, Ints, Lines, Recipes, by_creator
from pipeline.habits.model import READING, Habit, constants, habit_key
from pipeline.habits.numbers import log_sum, noise_of
from pipeline.habits.phrases import Phrase, Phrases
from pipeline.habits.ways import Ways
from pipeline.habits.weighing import Cause, Weighing
from pipeline.reconcile.model import ATWATER, KCAL, MACROS, Matrix, Vector

if TYPE_CHECKING:
    from pipeline.reconcile import Foods

#: At most so many habits are taken from one collection.
_MOST = 8
#: Log odds of what is as good as impossible.
_HOPELESS = 50.0
#: A measure weighs at most so many times more than here.
_HEAVIER = 4.0
#: What a habit takes over from its cause.
_SETTLED = ("kind", "composition", "sure", "factor", "measure", "nearest", "convention")
#: Log odds by which a cause may be behind another and still be its twin.
_TWIN = 3.0

Judged = tuple[Cause, float, list[Cause]]


@dataclass(slots=True)
class _Creator:
    """One creator in the search.

    Attributes:
        name: "" for nobody.
        recipe: rows of the recipes.
        phrases: which of all phrases are theirs.
        ways: of counting everything.
        taken: causes so far; ``last`` all that were in the place of the last one.
    """

    name: str
    recipe: Ints
    phrases: range
    ways: list[Cause]
    taken: list[Cause] = field(default_factory=list)
    last: list[Cause] = field(default_factory=list)


class Search:
    """The search for the habits of all creators.

    Args:
        recipes, lines: of ``evidence.read_evidence``.
        foods: of ``reconcile.load_foods``.
        refused: keys of habits that a person refused.
    """

    def __init__(
        self, recipes: Recipes, lines: Lines, foods: Foods, refused: frozenset[str] = frozenset()
    ) -> None:
        self.recipes, self.lines, self.refused, self.k = recipes, lines, refused, constants()
        self.off = np.where(recipes.given, recipes.stated - recipes.mean, 0.0)
        self.least = int(self.k["least_recipes"])
        makes = Phrases(lines, foods, self.least, self._telling())
        ways = Ways(recipes, lines, foods, self.least)
        self.phrases: list[Phrase] = []
        self.creators: list[_Creator] = []
        shares: list[float] = []
        for name, recipe, rows in by_creator(recipes, lines):
            mine = makes.of(rows)
            span = range(len(self.phrases), len(self.phrases) + len(mine))
            self.phrases += mine
            shares += [math.log(self.k["habits"] / max(len(mine), 8))] * len(mine)
            self.creators.append(_Creator(name, recipe, span, ways.of(recipe, rows)))
        self.noise = noise_of(
            recipes.cov, recipes.given, recipes.mean, recipes.stated, lines.recipe, lines.values,
            lines.doubt, self.k["slips"],
        )  # fmt: skip
        self.shares = np.array(shares)
        self.weighing = Weighing(
            recipes, lines, foods, self.noise, makes, self.phrases, self.shares
        )

    def _telling(self) -> Bools:
        """Lines of which another product or weight may move a stated number enough to ask about it."""
        m, r = self.lines, self.recipes
        mean = r.mean[m.recipe]
        least = np.maximum(self.k["matters"] * mean, r.step[m.recipe])
        most = _HEAVIER * m.values
        most[:, KCAL] = np.maximum(most[:, KCAL], ATWATER.max() * m.grams)
        most[:, list(MACROS)] = np.maximum(most[:, list(MACROS)], m.grams[:, None])
        return np.asarray((r.given[m.recipe] & (most > least)).any(axis=1))

    # --- what the residuals say -----------------------------------------------------------

    def causes(self, asked: list[tuple[_Creator, list[Cause]]]) -> list[list[Cause]]:
        """Every cause worth a look of some creators, the one that gains most first.

        Args:
            asked: each creator at most once, with the causes that are settled.
        """
        off = self._left([c for _, settled in asked for c in settled])
        free = [
            [n for n in one.phrases
             if not any(self.phrases[n].alike(c.of) for c in settled)]
            for one, settled in asked
        ]  # fmt: skip
        found = self.weighing.causes(off, [n for mine in free for n in mine])
        ways = self._ways(off, [one for one, _ in asked])
        out = []
        for (one, settled), mine, all_ways in zip(asked, free, ways, strict=True):
            every = [
                replace(c, gain=c.gain + (0.0 if c.kind == READING else float(self.shares[n])))
                for n in mine for c in found[n]
            ]  # fmt: skip
            every = [
                c for c in (*every, *all_ways)
                if key_of(c, one.name) not in self.refused and not any(same(c, t) for t in settled)
            ]  # fmt: skip
            out.append(sorted(every, key=lambda c: -c.gain))
        return out

    def _ways(self, off: Matrix, creators: list[_Creator]) -> list[list[Cause]]:
        """Ways of counting everything, of each creator: readings of one way as one cause."""
        flat = [(n, way) for n, one in enumerate(creators) for way in one.ways]
        by: list[dict[str, list[Cause]]] = [{} for _ in creators]
        if not flat:
            return [[] for _ in creators]
        recipe = np.concatenate([way.recipe for _, way in flat])
        change = np.concatenate([way.change for _, way in flat])
        first = np.cumsum([0, *(len(way.recipe) for _, way in flat[:-1])])
        noise = self.noise.rows(recipe)
        moved = off[recipe] - np.where(self.recipes.given[recipe], change, 0.0)
        gains = np.add.reduceat(noise(moved)[0] - noise(off[recipe])[0], first)
        prior = math.log(self.k["convention"])
        for (n, way), gain in zip(flat, gains.tolist(), strict=True):
            by[n].setdefault(way.about, []).append(replace(way, gain=gain + prior + way.gain))
        return [[_together(causes) for causes in mine.values()] for mine in by]

    def _left(self, settled: list[Cause]) -> Matrix:
        left = self.off.copy()
        for c in settled:
            left[c.recipe] -= np.where(self.recipes.given[c.recipe], c.change, 0.0)
        return left

    # --- the search -----------------------------------------------------------------------

    def habits(self) -> list[Habit]:
        """What was found of each creator, the surest first; nothing less likely than not."""
        self._take()
        judged = self._judge()
        every = [c for found in judged for c, _, _ in found]
        if not every:
            return []
        left = self._left(every)
        density, weight = self.noise(left)
        fits = weight > 0.5
        out = []
        for one, found in zip(self.creators, judged, strict=True):
            for cause, believed, twins in found:
                p = min(believed, self._without_most_telling(cause, left, density))
                sure = self.k["least_probability"] if cause.kind == READING else 0.5
                enough = max(self.least - 1, self.k["fits"] * len(cause.recipe))
                if (
                    p >= sure
                    and self._matters(cause) >= self.k["matters_in"]
                    and fits[cause.recipe].sum() >= enough
                ):
                    out.append(self._habit(one.name, cause, p, twins))
        return out

    def _without_most_telling(self, cause: Cause, left: Matrix, density: Vector) -> float:
        """Belief that the recipes other than the two that support a cause most would give it.

        A slip or two of their own can look like a cause that recipes share; the others have to bear
        it out. A reading asks nothing and needs no such witness.

        Args:
            cause: one of those settled; left (n, 7) what all of them leave; density (n,) of that.
        """
        if cause.kind == READING:
            return 1.0
        moved = np.where(self.recipes.given[cause.recipe], cause.change, 0.0)
        without = self.noise.rows(cause.recipe)(left[cause.recipe] + moved)[0]
        rest = np.sort(density[cause.recipe] - without)[:-2].sum() - self.k["witnesses"]
        return 1 / (1 + math.exp(-max(float(rest), -_HOPELESS)))

    def _take(self) -> None:
        """Take causes of all creators, one of each at a time, until none pays for itself."""
        going = list(self.creators)
        while going:
            found = self.causes([(one, one.taken) for one in going])
            again = []
            for one, causes in zip(going, found, strict=True):
                if causes and causes[0].gain > 0:
                    one.last = causes
                    one.taken.append(causes[0])
                    if len(one.taken) < _MOST:
                        again.append(one)
            going = again

    def _judge(self) -> list[list[Judged]]:
        """Each cause fitted again with the others settled, beside all others in its place."""
        out: list[list[Judged]] = [[] for _ in self.creators]
        for i in range(max((len(one.taken) for one in self.creators), default=0)):
            mine = [(n, one) for n, one in enumerate(self.creators) if len(one.taken) > i]
            # all that was in the place of the last one is known from when it was taken
            asked = [(n, one) for n, one in mine if i < len(one.taken) - 1]
            others = [(one, [c for c in one.taken if c is not one.taken[i]]) for _, one in asked]
            found = {n: one.last for n, one in mine if i == len(one.taken) - 1}
            if others:
                found |= dict(zip((n for n, _ in asked), self.causes(others), strict=True))
            for n, one in mine:
                if (kept := _judged(one.taken[i], found[n])) is not None:
                    one.taken[i] = kept[0]
                    out[n].append(kept)
        return [sorted(found, key=lambda r: -r[1]) for found in out]

    def _matters(self, cause: Cause) -> int:
        """Recipes in which a cause moves a stated number by a share that is worth a question."""
        r = self.recipes
        least = np.maximum(self.k["matters"] * r.mean[cause.recipe], r.step[cause.recipe])
        moved = r.given[cause.recipe] & (np.abs(cause.change) > least)
        return int(moved.any(axis=1).sum())

    def _habit(self, creator: str, cause: Cause, probability: float, twins: list[Cause]) -> Habit:
        m, ids = self.lines, self.recipes.ids
        p = cause.of
        grams = math.nan
        if cause.measure:
            grams = float(np.median(
                [m.grams[i] / m.amount[i] for i in cause.rows if m.amount[i] > 0] or [math.nan]
            )) * cause.factor  # fmt: skip
        read = {m.name(i): m.food_id[i] for i in reversed(cause.rows.tolist())}
        names = tuple(dict.fromkeys(m.name(i) for i in cause.rows)) if p is None else p.names
        return Habit(
            **{name: getattr(cause, name) for name in _SETTLED},
            phrase=cause.convention if p is None else p.label,
            creator=creator,
            probability=probability,
            recipe_ids=[ids[r] for r in cause.recipe],
            lines=[(ids[m.recipe[i]], int(m.line_no[i])) for i in cause.rows],
            names=names,
            food_id="" if p is None or p.food_id == "base" else p.food_id,
            grams=grams,
            swaps=cause.foods,
            swap_names=tuple(m.name(i) for i in cause.rows) if cause.foods else (),
            read_as=tuple(read[n] for n in names) if cause.foods else (),
            together=list(dict.fromkeys(t.of.label for t in twins if t.of is not None)),
        )


def _judged(cause: Cause, found: list[Cause]) -> Judged | None:
    """A cause beside all others in its place; None when nothing supports it any more."""
    mine = [c for c in found if same(c, cause)]
    if not mine:
        return None
    best = mine[0]
    twins = [
        c for c in found
        if not same(c, cause) and best.gain - c.gain < _TWIN and _always(c, best)
    ]  # fmt: skip
    alike = [c for c in mine if (c.kind == READING) == (best.kind == READING)]
    for_it = log_sum([c.gain for c in [*alike, *twins]])
    every = log_sum([0.0, *(c.gain for c in found)])
    return best, float(np.exp(for_it - every)), twins


def key_of(cause: Cause, creator: str = "") -> str:
    """What a refusal of this cause goes by."""
    phrase = cause.convention if cause.of is None else cause.of.label
    return habit_key(cause.kind, phrase, creator)


def _together(causes: list[Cause]) -> Cause:
    """Readings of one way of counting as one cause: the likeliest, with the belief of all."""
    best = max(causes, key=lambda c: c.gain)
    best.gain = float(log_sum([c.gain for c in causes]))
    return best


def same(a: Cause, b: Cause) -> bool:
    """Whether two causes are about the same thing, so that at most one of them holds."""
    if a.of is None or b.of is None:
        return a.of is None and b.of is None and a.about == b.about
    return a.of.alike(b.of)


def _always(a: Cause, b: Cause) -> bool:
    """Whether two phrases stand in the same recipes."""
    if a.of is None or b.of is None:
        return False
    one, two = set(a.of.recipe.tolist()), set(b.of.recipe.tolist())
    return len(one & two) >= 0.9 * len(one | two)
