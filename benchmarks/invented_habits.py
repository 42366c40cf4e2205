"""Invented collections of creators with habits, in any number: foods of ``invented``, other kinds.

A creator has no, one or two habits: another product under the same words, the weight of a spoon or
piece, raw looked up as cooked (one food, or everything), a fat never counted, carbohydrate without
fibre, energy by 4-4-9, or a base whose sum is wrong. Noise is like life's: the creator's table holds
other values of the same food, the same in every recipe (2 % a macro, one food in ten 6 %); where
words name several kinds it holds either; lines differ by 2 % from recipe to recipe; what a piece or
spoon weighs differs a little; numbers are rounded, by some to 5 or 10 kcal, or 5 g. One recipe in
eight has a slip of its own. Some recipes share a food and not its habit's phrase.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import invented
import kitchen_foods
from invented import FOUR, Line, Values

_TAGS = {"ENERC_KCAL": "kcal", "PROCNT": "protein_g", "CHOCDF": "carbs_g", "FAT": "fat_g",
         "FIBTG": "fiber_g", "ALC": "alcohol_g"}  # fmt: skip
_KINDS = (("product", 0.42), ("measure", 0.18), ("state", 0.09), ("left_out", 0.08), ("net_carbs", 0.06),
          ("net_energy", 0.04), ("factors", 0.04), ("base", 0.06), ("raw_as_cooked", 0.04),
          ("cooked_as_raw", 0.03))  # fmt: skip
OF_ALL = ("net_carbs", "net_energy", "factors", "raw_as_cooked", "cooked_as_raw")
_SLIPS = ("servings_slip", "line_left_out", "line_doubled", "digits_transposed", "unit_slip")
_NAMES = ("Bollard", "Spindrift", "Capstan", "Gannet", "Halyard", "Marram", "Skerry", "Tiller")


@dataclass(frozen=True, slots=True)
class Regime:
    """How collections are shaped, and how much of life's noise is in them.

    Attributes:
        kinds: of habits with their shares.
        recipes: least and most of a collection.
        table_sd: least and most deviation of a macro in the creator's table from ours, in every
            recipe alike; ``odd`` share of foods three times as far off.
        line_sd: deviation of a line's macros from recipe to recipe; ``line_noise`` when it is even
            between minus and plus so much instead.
        measure_sd: deviation of what a unit weighs, in every recipe alike, by unit; ``each_sd``
            from recipe to recipe.
        kcal_steps, gram_steps: what creators round to, with shares.
        slips: kinds of slips; ``used`` share of recipes that use a habit's phrase.
        open_kinds: words may stand for other foods that they name as well.
    """

    kinds: tuple[tuple[str, float], ...] = _KINDS
    recipes: tuple[int, int] = (7, 20)
    table_sd: tuple[float, float] = (0.02, 0.02)
    odd: float = 0.1
    line_sd: float = 0.02
    line_noise: float = 0.0
    measure_sd: Mapping[str, float] = field(default_factory=dict)
    each_sd: float = 0.05
    kcal_steps: tuple[tuple[int, float], ...] = ((1, 0.7), (5, 0.2), (10, 0.1))
    gram_steps: tuple[tuple[int, float], ...] = ((1, 0.92), (5, 0.08))
    slips: tuple[str, ...] = _SLIPS
    used: float = 0.55
    open_kinds: bool = False


@dataclass(frozen=True, slots=True)
class Pool:
    """The foods that creators cook with.

    Attributes:
        ingredients, alternates: as in ``kitchen_foods``.
        kinds: code and another code that the same words name as well.
        dish: draws the lines and servings of a recipe.
        regime: of the collections.
    """

    ingredients: tuple[tuple[Any, ...], ...]
    alternates: tuple[tuple[str, str, str], ...]
    kinds: tuple[tuple[str, str], ...] = ()
    dish: Callable[[random.Random, Pool], tuple[list[Line], int]] = lambda rng, pool: invented.dish(
        rng, pool.ingredients
    )
    regime: Regime = field(default_factory=Regime)

    def cooked(self, code: str) -> str | None:
        """The code of the food in the other state, None when there is none."""
        return next(
            (b for a, k, b in self.alternates if a == code and k == "raw_cooked_slip"), None
        )


def kitchen(name: str) -> Pool:
    """The pool of a kitchen of ``kitchen_foods``."""
    return Pool(
        kitchen_foods.ingredients(name), kitchen_foods.alternates(name), kitchen_foods.kinds(name)
    )


@dataclass(slots=True)
class Made:
    """Pages (schema.org) by name, and the truth as ``truth.json`` has it."""

    pages: dict[str, dict[str, Any]]
    truth: dict[str, Any]


def foods() -> dict[str, Values]:
    """Composition per 100 g by code, of the embedded table; missing fibre counts as none."""
    from pipeline.snapshot import open_snapshot

    with open_snapshot().connect() as con:
        rows = con.execute(
            "select food_id, nutrient, amount_per_100g from food_nutrient"
            " where food_id like 'sr28:%' and amount_per_100g is not null order by all"
        ).fetchall()
    out: dict[str, Values] = {}
    for food_id, tag, amount in rows:
        if tag in _TAGS:
            out.setdefault(food_id[5:], dict.fromkeys(_TAGS.values(), 0.0))[_TAGS[tag]] = amount
    return out


def _moved(v: Values, rng: random.Random, sd: float) -> Values:
    """The same food by other hands: macros apart by ``sd``, energy following."""
    w = dict(v)
    for k in ("protein_g", "carbs_g", "fat_g", "fiber_g"):
        w[k] = min(v[k] * math.exp(rng.gauss(0, sd)), 100.0)
    w["kcal"] = v["kcal"] + sum(
        f * (w[k] - v[k]) for k, f in (("protein_g", 4), ("carbs_g", 4), ("fat_g", 9))
    )
    w["kcal"] *= math.exp(rng.gauss(0, 0.3 * sd))
    return w


def _own_product(v: Values, rng: random.Random) -> Values:
    """Another product under the same words that no table holds."""
    w = dict(v)
    for k in ("protein_g", "carbs_g", "fat_g", "fiber_g"):
        w[k] = v[k] * rng.uniform(0.55, 1.3)
    w["kcal"] = max(0.0, v["kcal"] + sum(
        f * (w[k] - v[k]) for k, f in (("protein_g", 4), ("carbs_g", 4), ("fat_g", 9))
    ))  # fmt: skip
    return w


def _differs(a: Values, b: Values) -> bool:
    """Whether two products differ so much that a cook would call them two."""
    return abs(a["kcal"] - b["kcal"]) > 0.12 * max(a["kcal"], 30.0) or any(
        abs(a[k] - b[k]) * f > 0.15 * max(a["kcal"], 30.0)
        for k, f in (("protein_g", 4), ("carbs_g", 4), ("fat_g", 9))
    )


@dataclass(slots=True)
class _Habit:
    kind: str
    code: str = ""
    words: str = ""
    values: Values | None = None
    factor: float = 1.0
    base: tuple[Line, ...] = ()
    base_factor: tuple[float, ...] = ()

    def touches(self, lines: list[Line]) -> bool:
        """Whether the habit moves any of the lines."""
        return any(line.code == self.code or line in self.base for line in lines)

    def truth(self) -> dict[str, str]:
        product = self.kind if not self.words else {"measure": f"x {self.factor:.2f}"}.get(
            self.kind, self.kind
        )  # fmt: skip
        kind = self.kind if self.words else "convention"
        words = " ".join(w for w in self.words.split() if w not in _NO_NAME)
        return {"phrase": words, "product": product, "kind": kind}


def _habit(
    kind: str, table: dict[str, Values], pool: Pool, rng: random.Random, taken: set[str]
) -> _Habit | None:
    free = [i for i in pool.ingredients if i[0] not in taken and i[2] != "small"]
    if kind in OF_ALL:
        return _Habit(kind)
    if kind == "product":
        variants: dict[str, list[str]] = {}
        for a, k, b in pool.alternates:
            if k == "product_variant" and b in table:
                variants.setdefault(a, []).append(b)
        one = rng.choice([i for i in free if rng.random() < 0.5 or i[0] in variants])
        code = one[0]
        known = rng.random() < 0.5 and code in variants
        of = variants.get(code, [])
        other = of[0] if len(of) == 1 else rng.choice(of) if known else ""
        values = table[other] if known else _own_product(table[code], rng)
        possible = values["protein_g"] + values["carbs_g"] + values["fat_g"] <= 100
        differs = possible and _differs(table[code], values)
        return _Habit(kind, code, one[1], values) if differs else None
    if kind == "measure":
        measured = [i for i in free if i[3] not in ("g", "ml", "tsp")]
        if not measured:
            return None
        one = rng.choice(measured)
        factor = rng.choice([rng.uniform(0.5, 0.75), rng.uniform(1.3, 2.0)])
        return _Habit(kind, one[0], one[1], factor=factor)
    if kind == "state":
        pairs = {a: b for a, k, b in pool.alternates if k == "raw_cooked_slip" and b in table}
        if not (paired := [i for i in free if i[0] in pairs]):
            return None
        one = rng.choice(paired)
        values = table[pairs[one[0]]]
        return _Habit(kind, one[0], one[1], values) if _differs(table[one[0]], values) else None
    if kind == "left_out":
        one = rng.choice([i for i in free if i[2] == "fat"])
        return _Habit(kind, one[0], one[1], factor=0.0)
    lines = []
    for role in ("base", "fat", "sweet"):
        one = rng.choice([i for i in free if i[2] == role and i[3] != "piece"])
        lines.append(line_of(one, rng, 2))
    factors = [1.0, 1.0, 1.0]
    factors[rng.randrange(2)] = rng.choice([0.0, 2.0])
    words = " + ".join(next(i[1] for i in pool.ingredients if i[0] == m.code) for m in lines)
    return _Habit(kind, "", words, base=tuple(lines), base_factor=tuple(factors))


def line_of(one: tuple[Any, ...], rng: random.Random, servings: int) -> Line:
    code, words, _, unit, grams, low, high = one
    amount = rng.uniform(low, high) * servings
    step = {"g": 5, "ml": 10}.get(unit, 0.5)
    amount = max(step, round(amount / step) * step)
    said = {"piece": "", "cup": "cups", "slice": "slices", "scoop": "scoops"}.get(unit, unit)
    text = f"{amount:g} {said} {words}".replace("  ", " ")
    return Line(text, code, amount * grams, unit, amount)


#: A habit is one when it moves a number by this much in at least three recipes.
_MATTERS, _MATTERS_IN = 0.06, 3
#: Words of a line that name no food.
_NO_NAME = {"medium", "large", "slices", "cloves"}


def collection(table: dict[str, Values], seed: int, pool: Pool, recipes: int | None = None) -> Made:
    """One creator's recipes; drawn again until every habit moves several recipes.

    Args:
        table: of ``foods``.
        seed: the same seed draws the same recipes.
        pool: of foods.
        recipes: how many; 7 to 20 when not given.
    """
    for attempt in range(50):
        rng = random.Random(f"habits|{seed}|{attempt}")
        made = _collection(table, seed, rng, recipes or rng.randint(*pool.regime.recipes), pool)
        if made is not None:
            return made
    raise RuntimeError(f"no collection for seed {seed}")


def _collection(
    table: dict[str, Values], seed: int, rng: random.Random, many: int, pool: Pool
) -> Made | None:
    regime = pool.regime
    habits: list[_Habit] = []
    for _ in range(rng.choices([0, 1, 2], [0.3, 0.45, 0.25])[0]):
        for _ in range(20):
            kind = _chosen(rng, regime.kinds)
            taken = {h.code for h in habits} | {m.code for h in habits for m in h.base}
            one = _habit(kind, table, pool, rng, taken)
            if one is not None and not any(
                one.kind == h.kind or {one.kind, h.kind} <= set(OF_ALL) or
                {"state", one.kind, h.kind} <= {"state", "raw_as_cooked", "cooked_as_raw"}
                for h in habits
            ):  # fmt: skip
                habits.append(one)
                break
    codes = {i[0] for i in pool.ingredients}
    apart = random.Random(f"apart|{seed}")  # of its own: collections drawn before it stay the same
    own = {
        c: _moved(v, rng, (3 if rng.random() < regime.odd else 1) * apart.uniform(*regime.table_sd))
        for c, v in table.items() if c in codes
    }  # fmt: skip
    weights = {
        i[0]: math.exp(max(min(apart.gauss(0, 1), 2), -2) * regime.measure_sd.get(i[3], 0.0))
        for i in pool.ingredients
    }
    for code, other in pool.kinds:  # a table of theirs may hold another kind under the same words
        if rng.random() < 0.5:
            own[code] = _moved(table[other], rng, 0.02)
    steps = Steps(_chosen(rng, regime.kcal_steps), _chosen(rng, regime.gram_steps))
    lines_of = []
    for at in range(many):
        lines, servings = pool.dish(rng, pool)
        for h in habits:
            if h.words and (rng.random() < regime.used or at < 3):
                lines = _with(h, lines, rng, servings, pool)
        lines_of.append((lines, servings))
    if not all(_matters(_Counts([h], own, table, pool, weights), h, lines_of) for h in habits):
        return None
    pages, recipes = {}, {}
    for at, (lines, servings) in enumerate(lines_of):
        recipe_id = f"h{seed:05d}-{at:02d}"
        mine = [h for h in habits if h.words and h.touches(lines)]
        counts = _Counts(habits, own, table, pool, weights)
        page, truth = _publish(recipe_id, lines, servings, counts, rng, steps)
        pages[recipe_id] = page
        recipes[recipe_id] = {**truth, "habits": [h.words for h in mine]}
    return Made(
        pages,
        {
            "habits": [h.truth() for h in habits],
            "recipes": recipes,
            "g_step": steps.grams,
            "own": own,
            "weights": weights,
        },
    )


@dataclass(frozen=True, slots=True)
class Steps:
    """What a creator rounds to, in kcal and in g."""

    kcal: int
    grams: int


@dataclass(frozen=True, slots=True)
class _Counts:
    """How a creator with some habits counts a line."""

    habits: list[_Habit]
    own: dict[str, Values]
    table: dict[str, Values]
    pool: Pool
    weights: dict[str, float]

    def of(self, line: Line) -> tuple[Values, float]:
        """Values per 100 g, and what the grams are multiplied by."""
        values, factor = self.own[line.code], self.weights[line.code]
        for h in self.habits:
            if h.kind in _STATES and h.kind == _state(line):
                other = self.pool.cooked(line.code)
                values = self.table[other] if other else values
            elif h.code == line.code:
                values = h.values or values
                factor = h.factor if h.kind in ("measure", "left_out") else factor
            elif line in h.base:
                factor *= h.base_factor[h.base.index(line)]
        return values, factor


_STATES = ("raw_as_cooked", "cooked_as_raw")


def _state(line: Line) -> str:
    """The habit of everything that a line of this state falls under."""
    return _STATES[1] if "cooked" in line.text or "tinned" in line.text else _STATES[0]


def _matters(counts: _Counts, h: _Habit, lines_of: list[tuple[list[Line], int]]) -> bool:
    """Whether a habit moves a number by a share that is seen, in enough recipes."""
    if h.kind == "factors":
        return True
    moved, foods = 0, set()
    for lines, _ in lines_of:
        sums, change = dict.fromkeys(FOUR, 0.0), dict.fromkeys(FOUR, 0.0)
        for m in lines:
            own = counts.own[m.code]
            to, factor = counts.of(m)
            foods |= {m.code} if to is not own else set()
            for k in FOUR:
                sums[k] += own[k] * m.grams / 100
                change[k] += (factor * to[k] - counts.weights[m.code] * own[k]) * m.grams / 100
            if h.kind.startswith("net"):
                change["carbs_g"] -= own["fiber_g"] * m.grams / 100
        moved += any(abs(change[k]) > _MATTERS * max(sums[k], 10.0) for k in FOUR)
    return moved >= _MATTERS_IN and (h.kind not in _STATES or len(foods) > 1)


def _with(
    h: _Habit, lines: list[Line], rng: random.Random, servings: int, pool: Pool
) -> list[Line]:
    """The recipe with the phrase (or base) of a habit in it."""
    new = list(h.base) or [
        line_of(next(i for i in pool.ingredients if i[0] == h.code), rng, servings)
    ]  # fmt: skip
    codes = {m.code for m in new}
    kept = [m for m in lines if m.code not in codes]
    if len(kept) > 4:
        kept.pop(rng.randrange(len(kept)))
    at = rng.randint(0, len(kept))
    return [*kept[:at], *new, *kept[at:]]


def _publish(
    recipe_id: str, lines: list[Line], servings: int, counts: _Counts, rng: random.Random,
    steps: Steps,
) -> tuple[dict[str, Any], dict[str, Any]]:  # fmt: skip
    """A page and what is true of it."""
    brought, regime = [], counts.pool.regime
    for line in lines:
        values, factor = counts.of(line)
        grams = line.grams * factor
        if line.unit not in ("g", "ml"):
            grams *= math.exp(rng.gauss(0, regime.each_sd))
        noisy = _each(values, rng, regime)
        brought.append({k: v * grams / 100 / servings for k, v in noisy.items()})
    slip, line_no, scale, weight = "none", None, 1.0, [1.0] * len(lines)
    if rng.random() < 0.125:
        slip, line_no, scale, weight = _slip(lines, servings, brought, rng, regime.slips)
    sums = {
        k: scale * sum(w * b[k] for w, b in zip(weight, brought, strict=True)) for k in brought[0]
    }
    kinds = {h.kind for h in counts.habits}
    if "factors" in kinds:
        sums["kcal"] = (4 * sums["protein_g"] + 4 * sums["carbs_g"] + 9 * sums["fat_g"]
                        + 7 * sums["alcohol_g"])  # fmt: skip
    if kinds & {"net_carbs", "net_energy"}:
        sums["carbs_g"] -= sums["fiber_g"]
        sums["kcal"] -= 4 * sums["fiber_g"] if "net_energy" in kinds else 0.0
    stated = {}
    for k in FOUR:
        step = steps.kcal if k == "kcal" else steps.grams
        stated[k] = step * math.floor(sums[k] / step + 0.5)
    if slip == "kilojoules_as_kcal":
        stated["kcal"] = round(4.184 * sums["kcal"])
    elif slip == "macros_swapped":
        one, other = "protein_g", rng.choice(["carbs_g", "fat_g"])
        if abs(stated[one] - stated[other]) > max(3, 0.3 * stated[one]):
            stated[one], stated[other] = stated[other], stated[one]
        else:
            slip = "none"
    elif slip == "digits_transposed":
        wrong = None
        key = rng.choice([k for k in FOUR if stated[k] >= 20] or ["kcal"])
        for _ in range(20):
            wrong = invented._typed_wrong(stated[key], rng)
            if wrong is not None and abs(wrong - stated[key]) > 0.2 * stated[key]:
                break
            wrong = None
        if wrong is None:
            slip = "none"
        else:
            stated[key] = wrong
    page = {
        "@context": "https://schema.org", "@type": "Recipe", "identifier": recipe_id,
        "name": f"{rng.choice(_NAMES)} supper {recipe_id[-2:]}",
        "author": {"@type": "Person", "name": "The dinghy"},
        "recipeYield": f"{servings} serving{'s' if servings > 1 else ''}",
        "recipeIngredient": [line.text for line in lines],
        "nutrition": {
            "@type": "NutritionInformation", "calories": f"{stated['kcal']} kcal",
            "proteinContent": f"{stated['protein_g']} g",
            "carbohydrateContent": f"{max(stated['carbs_g'], 0)} g",
            "fatContent": f"{stated['fat_g']} g",
        },
    }  # fmt: skip
    return page, {"slip": slip, "line_no": line_no}


def _slip(
    lines: list[Line],
    servings: int,
    brought: list[Values],
    rng: random.Random,
    slips: tuple[str, ...],
) -> tuple[str, int | None, float, list[float]]:
    """A slip that moves a number by a fifth at least: kind, line, scale, weight of each line."""
    ones = [1.0] * len(lines)
    total = {k: sum(b[k] for b in brought) for k in FOUR}
    for _ in range(30):
        kind = rng.choice(slips)
        if kind in ("digits_transposed", "macros_swapped", "kilojoules_as_kcal"):
            return kind, None, 1.0, ones
        if kind == "servings_slip":
            other = rng.choice([1, 2 * servings, servings + 1, max(servings - 1, 1)])
            if not 0.8 < servings / other < 1.25:
                return kind, None, servings / other, ones
            continue
        at = rng.randrange(len(lines))
        factor = {"line_left_out": 0.0, "line_doubled": 2.0}.get(kind)
        if factor is None:
            factor = {"tbsp": 1 / 3, "tsp": 3.0}.get(lines[at].unit, 1.0)
        moved = max(
            abs((factor - 1) * brought[at][k]) / max(total[k], 1e-9)
            for k in FOUR
            if abs((factor - 1) * brought[at][k]) > (30 if k == "kcal" else 3) or k == "kcal"
        )
        if moved > 0.2:
            return kind, at + 1, 1.0, [*ones[:at], factor, *ones[at + 1 :]]
    return "none", None, 1.0, ones


def _chosen(rng: random.Random, shares: tuple[tuple[Any, float], ...]) -> Any:
    return rng.choices([one for one, _ in shares], [share for _, share in shares])[0]


def _each(v: Values, rng: random.Random, regime: Regime) -> Values:
    """The same food in one recipe, as life has it."""
    if regime.line_noise:
        return {
            k: x * (1 + rng.uniform(-regime.line_noise, regime.line_noise)) for k, x in v.items()
        }
    return _moved(v, rng, regime.line_sd)
