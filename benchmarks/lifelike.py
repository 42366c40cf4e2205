"""Invented recipes with the slips of life, over the whole food table: to refit the search, and to judge it.

Every few recipes have a kitchen of their own (``drawn_kitchen``: foods drawn from the table, nobody's
choice), and go through the whole pipeline as the text that a page would publish. How a recipe comes
to be published:

* a creator counts with the table of the tool and its weights (``same table``), with another table and
  weights of their own (``other table``), or with whatever is at hand (``loose``: brands, guesses);
  the spreads were set so that honest recipes lie as far from the tool's sums as the pages of
  strangers that agree with it (kcal, protein, carbohydrate, fat of 165 pages whose four numbers are
  all within e^0.5 of the sums: median 5, 7, 4 and 6 %, nine in ten within 19, 28, 25 and 29 %);
* recipes state energy alone, four numbers, five, or all eight, rounded to 1, now and then to 0.1;
* slips come as often as in a hand-labelled sample of public recipes, those that the sample was too
  small for by common practice; one in eight slips in a line or the servings has a second beside it;
* nothing is selected for being clear: a slip only has to move some number by 15 %.
"""

from __future__ import annotations

import csv
import math
import random
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import drawn_kitchen
import numpy as np
from invented import Line
from invented_habits import Pool, line_of

from pipeline.reconcile.model import CARBS, FIBRE, KCAL, MACROS, TAGS, Vector

if TYPE_CHECKING:
    from drawn_kitchen import Table

    from pipeline.reconcile import Foods


class Cause(NamedTuple):
    """Something that people do.

    Attributes:
        share: among recipes that have a slip.
        kinds: what names it rightly, the first before all.
    """

    share: float
    kinds: tuple[str, ...]


with (Path(__file__).parent / "data" / "slip_causes.csv").open(encoding="utf-8") as _file:
    CAUSES = {
        row["cause"]: Cause(float(row["share"]), tuple(row["kinds"].split(";")))
        for row in csv.DictReader(_file)
    }
HONEST_SHARE, TWO_SHARE = 0.4, 0.12
#: Kinds of slip by line, and factors on the grams of it; None: another food in its place.
_ON_LINES = {
    "left out", "doubled", "another spoon or cup", "another weight", "drained or not",
    "a decimal of an amount", "raw for cooked", "another product",
}  # fmt: skip
_WITH_ANOTHER = _ON_LINES | {"another count of servings"}

#: Spread of a line's grams between two honest people, by unit.
GRAMS_SD = {"g": 0.01, "ml": 0.03, "tbsp": 0.10, "tsp": 0.12, "cup": 0.10, "piece": 0.15}
OTHER_SD = 0.12
#: Spread of a nutrient between two tables' entries for one food, line by line.
FOOD_SD = np.array([0.0, 0.06, 0.06, 0.06, 0.12, 0.15, 0.12, 0.25])


@dataclass(frozen=True, slots=True)
class _Creator:
    """How a creator counts: shares, spreads of grams and foods in those above, brands."""

    share: float
    grams: float
    foods: float
    brands: float  # share of the lines that are another brand altogether
    brand_sd: float


_CREATORS = (
    _Creator(0.35, 0.5, 0.0, 0.0, 0.0),
    _Creator(0.40, 1.0, 1.0, 0.06, 0.25),
    _Creator(0.25, 1.5, 2.0, 0.15, 0.35),
)

Done = list[tuple[str, "int | None"]]

_ATWATER = np.array([0.0, 4.0, 4.0, 9.0, 0.0, 0.0, 0.0, 0.0])
#: Recipes of one kitchen.
_A_KITCHEN = 6
#: Dishes that are drawn until one fits what is done to it and shows it.
_TRIES = 60
_SERVINGS = (1, 1, 2, 2, 3, 4, 4, 4, 4, 5, 6, 6, 8, 8, 10, 12)
#: Counts people divide by instead of the right one, beside a neighbour, half and twice.
_USUAL_COUNTS = (2, 4, 6, 8)
_FIELDS = (
    "calories", "proteinContent", "carbohydrateContent", "fatContent", "fiberContent",
    "sugarContent", "saturatedFatContent", "sodiumContent",
)  # fmt: skip
_UNITS = ("kcal", "g", "g", "g", "g", "g", "g", "mg")


@dataclass
class Made:
    """One recipe as published, and the truth about it.

    Attributes:
        done: cause (of ``CAUSES``) and line number or None of each slip; none for an honest one.
        slips: kinds and line numbers that name one of them rightly.
        stated: (tags,), NaN where not stated.
        true: (tags,), of one serving by the table of the tool.
    """

    recipe_id: str
    servings: int
    lines: list[Line]
    done: Done
    stated: Vector
    true: Vector
    slips: list[tuple[str, int | None]] = field(init=False)

    def __post_init__(self) -> None:
        self.slips = [(kind, line) for cause, line in self.done for kind in CAUSES[cause].kinds]

    def page(self) -> dict[str, Any]:
        """The recipe as a schema.org page."""
        said = {
            name: f"{value:g} {unit}"
            for name, value, unit in zip(_FIELDS, self.stated.tolist(), _UNITS, strict=True)
            if value == value
        }
        return {
            "@context": "https://schema.org", "@type": "Recipe", "identifier": self.recipe_id,
            "name": self.recipe_id, "recipeYield": f"{self.servings} servings",
            "recipeIngredient": [line.text for line in self.lines],
            "nutrition": {"@type": "NutritionInformation", **said},
        }  # fmt: skip


def life(of: Table, foods: Foods, seed: str, count: int) -> list[Made]:
    """Up to ``count`` recipes: those of kitchens in which a slip cannot be made are left out.

    Args:
        of: of ``drawn_kitchen.table``.
        foods: of ``load_foods``.
        seed: any text.
        count: how many.
    """
    out: list[Made] = []
    for number in range(count):
        if number % _A_KITCHEN == 0:
            kitchen = drawn_kitchen.kitchen(of, f"{seed}|{number}", masses=False)
        rng = random.Random(f"{seed}|life|{number}")
        causes = _drawn(rng)  # before the dish: what fits few dishes comes as often as it should
        tries = (_one(foods, kitchen, rng, causes, f"{seed}-{number}") for _ in range(_TRIES))
        made = next((one for one in tries if one is not None), None)
        out += [made] if made is not None else []
    return out


def _dish(rng: random.Random, kitchen: Pool) -> tuple[list[Line], int]:
    """3 to 12 lines of different foods, and servings."""
    servings = rng.choice(_SERVINGS)
    many = min(round(rng.triangular(3, 12, 7)), len(kitchen.ingredients))
    some = rng.sample(kitchen.ingredients, many)
    return [line_of(one, rng, servings) for one in some], servings


def _one(
    foods: Foods, kitchen: Pool, rng: random.Random, causes: list[str], recipe_id: str
) -> Made | None:  # fmt: skip
    lines, servings = _dish(rng, kitchen)
    creator = rng.choices(_CREATORS, [c.share for c in _CREATORS])[0]
    per_100g = np.nan_to_num(foods.values[[foods.variants.at[f"sr28:{x.code}"] for x in lines]])
    grams = np.array([line.grams for line in lines])
    true = (grams[:, None] * per_100g / 100).sum(axis=0) / servings
    book = _Book(
        foods, kitchen, rng, lines, servings, _another_table(per_100g, creator, rng),
        np.array([
            line.grams * math.exp(rng.gauss(0, creator.grams * GRAMS_SD.get(line.unit, OTHER_SD)))
            for line in lines
        ]),
    )  # fmt: skip
    for cause in causes:
        if not book.slip(cause):
            return None
    given = _given(rng)
    numbers = book.finished()
    if numbers is None:
        return None
    if not book.done and rng.random() < 0.3:  # energy counted from the macros
        numbers[KCAL] = float(_ATWATER @ numbers)
    stated = book.typed(np.where(given, _rounded(numbers, rng), np.nan))
    if stated is None or (book.done and not _visible(stated, true, given)):
        return None
    return Made(recipe_id, servings, lines, book.done, stated, true)


def _another_table(per_100g: Vector, creator: _Creator, rng: random.Random) -> Vector:
    """The same foods in the creator's table: macros moved line by line, energy with them."""
    out = per_100g.copy()
    for row in out:
        wide = creator.brand_sd if rng.random() < creator.brands else 0.0
        before = row.copy()
        for j, sd in enumerate(FOOD_SD):
            row[j] *= math.exp(rng.gauss(0, max(creator.foods * sd, wide))) if sd else 1.0
        row[KCAL] = max(row[KCAL] + float(_ATWATER @ (row - before)), 0.0)
    return out


def _drawn(rng: random.Random) -> list[str]:
    if rng.random() < HONEST_SHARE:
        return []
    causes, weights = list(CAUSES), [c.share for c in CAUSES.values()]
    first = rng.choices(causes, weights)[0]
    if first in _WITH_ANOTHER and rng.random() < TWO_SHARE:
        pool = [c for c in sorted(_ON_LINES) if c != first]
        return [first, rng.choices(pool, [CAUSES[c].share for c in pool])[0]]
    return [first]


@dataclass
class _Book:
    """What the creator counts, and what goes wrong with it."""

    foods: Foods
    kitchen: Pool
    rng: random.Random
    lines: list[Line]
    servings: int
    values: Vector
    grams: Vector
    factor: float = 1.0
    done: Done = field(default_factory=list)

    def slip(self, cause: str) -> bool:
        """Make it; False where it cannot be made."""
        line = None
        if cause in _ON_LINES:
            line = self._on_line(cause)
            if line is None:
                return False
        elif cause == "another count of servings":
            self.factor *= self.servings / self._count()
        elif cause == "the whole as one serving":
            if self.servings == 1:
                return False
            self.factor *= self.servings
        elif cause == "per 100 g":
            cooked = 1.0 if self.rng.random() < 0.6 else self.rng.uniform(0.65, 0.98)
            self.factor = 100 * self.servings / float(self.grams.sum() * cooked)
        self.done.append((cause, line))
        return True

    def _count(self) -> int:
        """A count of servings that is not the right one."""
        n = self.servings
        usual = [n - 1, n + 1, 2 * n, 2 * n, *([n // 2] * 2 if n % 2 == 0 else [])]
        usual += [k for k in _USUAL_COUNTS if n / 3 <= k <= 3 * n] + [n - 2, n + 2]
        return self.rng.choice([k for k in usual if k > 0 and k != n])

    def _on_line(self, cause: str) -> int | None:
        choice = self._choices(cause)
        if not choice:
            return None
        energy = self.grams * self.values[:, KCAL]
        weight = [max(float(energy[n]), 1.0) ** 0.5 for n, _ in choice]
        n, how = self.rng.choices(choice, weight)[0]
        if isinstance(how, float):
            self.grams[n] *= how
        else:
            self.values[n] = np.nan_to_num(self.foods.values[how])
        return n + 1

    def _choices(self, cause: str) -> list[tuple[int, float | int]]:
        """Lines on which it may be done, with a factor on the grams or the row of another food."""
        used = {line for _, line in self.done}
        out: list[tuple[int, float | int]] = []
        for n, line in enumerate(self.lines):
            if n + 1 not in used:
                out += [(n, how) for how in self._ways(cause, line)]
        return out

    def _ways(self, cause: str, line: Line) -> list[float | int]:
        by_mass = line.unit in ("g", "ml")
        if cause == "left out":
            return [0.0]
        if cause == "doubled":
            return [2.0]
        if cause == "another spoon or cup":
            ways = {"tbsp": [1 / 3, 1 / 3, 16.0], "tsp": [3.0], "cup": [1 / 16, 0.5]}
            return [*ways.get(line.unit, [])]
        if cause == "another weight":
            far = 0.15 + abs(self.rng.gauss(0, 0.5))
            return [] if by_mass else [math.exp(far), math.exp(-far)]
        if cause == "drained or not":
            tinned = "canned" in line.text or "pickled" in line.text
            return [0.6, 1.6] if tinned else []
        if cause == "a decimal of an amount":
            return [0.1, 10.0] if by_mass else []
        kind = CAUSES[cause].kinds[0]
        other = [o for code, k, o in self.kitchen.alternates if code == line.code and k == kind]
        at = self.foods.variants.at
        return [at[f"sr28:{o}"] for o in other if f"sr28:{o}" in at]

    def finished(self) -> Vector | None:
        """The numbers of a serving with the slips made on them; None where one cannot be made."""
        out: Vector = (self.grams[:, None] * self.values / 100).sum(axis=0) / self.servings
        out *= self.factor
        rng = self.rng
        for cause, _ in self.done:
            if cause == "net carbohydrate":
                if out[FIBRE] < 4:
                    return None
                out[CARBS] -= out[FIBRE]
                out[KCAL] -= rng.choice([0.0, 0.0, 2.0, 4.0]) * out[FIBRE]
            elif cause == "two macros exchanged":
                a, b = rng.sample(list(MACROS), 2)
                out[[a, b]] = out[[b, a]]
            elif cause == "kilojoules":
                out[KCAL] *= 4.184
            elif cause == "stale energy":
                out[KCAL] *= rng.choice([0.6, 0.7, 0.8, 1.25, 1.4, 1.7])
            elif cause == "one stale macro":
                out[rng.choice(MACROS)] *= rng.choice([0.3, 0.5, 0.65, 1.5, 1.8, 2.5])
            elif cause == "of another recipe":
                out = self._older() if rng.random() < 0.5 else self._other()
        return out

    def _other(self) -> Vector:
        """The numbers of another dish of the same kitchen."""
        lines, servings = _dish(self.rng, self.kitchen)
        rows = [self.foods.variants.at[f"sr28:{x.code}"] for x in lines]
        each = np.nan_to_num(self.foods.values[rows])
        weights = np.array([x.grams for x in lines])
        return np.asarray((weights[:, None] * each / 100).sum(axis=0) / servings)

    def _older(self) -> Vector:
        """The numbers of an older version: other amounts of half of the lines, some not there yet."""
        kept = [
            1.0 if self.rng.random() < 0.5
            else 0.0 if self.rng.random() < 0.3 else math.exp(self.rng.gauss(0, 0.6))
            for _ in self.lines
        ]  # fmt: skip
        weights = self.grams * np.array(kept)
        return np.asarray((weights[:, None] * self.values / 100).sum(axis=0) / self.servings)

    def typed(self, stated: Vector) -> Vector | None:
        """The stated numbers with a slip of the fingers in one; None where none can be made."""
        causes = {cause for cause, _ in self.done}
        out = stated.copy()
        if "digits of a number" in causes:
            places = [j for j in (KCAL, *MACROS) if stated[j] >= 10]
            at = self.rng.choice(places) if places else KCAL
            wrong = _mistyped(stated[at], self.rng) if places else None
            if wrong is None:
                return None
            out[at] = wrong
        if "a decimal of a number" in causes:
            places = [j for j in (KCAL, *MACROS) if stated[j] >= 1]
            at = self.rng.choice(places) if places else KCAL
            # what stood there before it was rounded: "9.3" without its point, "93" with one
            exact = stated[at] + (0.1 * self.rng.randint(-4, 5) if at in MACROS else 0.0)
            out[at] = exact * 10 if self.rng.random() < 0.6 else round(exact / 10, 1)
        return out


def _mistyped(number: float, rng: random.Random) -> float | None:
    """With two neighbours exchanged, a digit lost, or one typed twice."""
    s = f"{number:g}".partition(".")[0]
    options = [s[:i] + s[i + 1] + s[i] + s[i + 2 :] for i in range(len(s) - 1)] * 2
    options += [s[:i] + s[i + 1 :] for i in range(len(s)) if len(s) > 1]
    options += [s[: i + 1] + s[i] + s[i + 1 :] for i in range(len(s)) if len(s) > 2]
    options = [o for o in options if o and o[0] != "0" and o != s]
    return float(rng.choice(options)) + (number - int(number)) if options else None


def _given(rng: random.Random) -> Vector:
    """What is stated: energy alone, four numbers, five, or as on public pages nearly all."""
    out = np.zeros(len(TAGS), dtype=bool)
    style = rng.random()
    out[KCAL] = True
    if style > 0.06:
        out[list(MACROS)] = True
    if style > 0.45:
        out[FIBRE] = True
    if style > 0.65:
        for n in range(FIBRE, len(TAGS)):
            out[n] = rng.random() < 0.93
    return out


def _rounded(numbers: Vector, rng: random.Random) -> Vector:
    style = rng.random()
    step = 0.1 if style < 0.15 else 1.0
    out: Vector = np.round(np.floor(numbers / step + 0.5) * step, 1)
    out[KCAL] = math.floor(numbers[KCAL] + 0.5)
    if style > 0.85:
        out[KCAL] = 5 * math.floor(numbers[KCAL] / 5 + 0.5)
    return out


def _visible(numbers: Vector, true: Vector, given: Vector) -> bool:
    """Some core number is off by 15 % and more than 3 g or 30 kcal."""
    for j in (KCAL, *MACROS):
        off = abs(numbers[j] - true[j])
        if given[j] and off > 0.15 * true[j] and off > (30 if j == KCAL else 3):
            return True
    return False
