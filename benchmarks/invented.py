"""Invented recipes whose foods, grams and single mistake are known, in any number.

A development collection that is not the one the project is judged on: other foods, other
quantities, other alternates. Every recipe is drawn from a seed: a dish of a base, a protein,
vegetables, fat and seasonings, then at most one mistake, honest noise of a second food table
(3 % a macro, energy moved with them) and rounding. A mistake is kept when it moves a number by at
least 20 % and more than 3 g or 30 kcal, and when no other mistake explains the four numbers about
as well. Foods are USDA SR28 codes.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import kitchen_foods

FOUR = ("kcal", "protein_g", "carbs_g", "fat_g")
EVERY = (*FOUR, "fiber_g")
FAULTS = (
    "servings_slip", "line_left_out", "line_doubled", "unit_slip", "raw_cooked_slip",
    "product_variant", "macros_swapped", "digits_transposed", "kilojoules_as_kcal",
    "energy_not_following_macros", "net_carbs_stated", "per_100g_stated_as_serving",
)  # fmt: skip

INGREDIENTS = kitchen_foods.ingredients("first")
ALTERNATES = kitchen_foods.alternates("first")

_SPOON_FOODS = {"04053", "04582", "01145", "12166", "16098", "19296", "19353", "04639"}
_DISHES = [
    ("base", "protein", "veg", "veg", "veg", "fat", "small", "small", "small"),
    ("base", "pulse", "veg", "veg", "fat", "dairy", "small", "small"),
    ("pulse", "veg", "veg", "veg", "fat", "small", "small", "small"),
    ("base", "dairy", "fruit", "fruit", "nuts", "sweet", "fat"),
    ("base", "protein", "dairy", "veg", "veg", "fat", "nuts", "small", "sweet"),
    ("protein", "veg", "veg", "veg", "dairy", "fat", "small", "small"),
    ("base", "protein", "pulse", "veg", "veg", "fat", "dairy", "small", "small", "small"),
]
Values = dict[str, float]


@dataclass(frozen=True)
class Line:
    """One ingredient line with its truth."""

    text: str
    code: str
    grams: float
    unit: str
    amount: float


@dataclass
class Published:
    """A recipe as published, and the truth about it."""

    recipe_id: str
    servings: int
    lines: list[Line]
    fault: str
    line_no: int | None
    true: Values
    stated: dict[str, int]
    parameter: str = ""
    alternates: list[tuple[int, str, str]] = field(default_factory=list)


def total(lines: list[Line], servings: int, foods: dict[str, Values], factor: list[float],
          swap: tuple[int, str] | None = None) -> Values:  # fmt: skip
    """Per serving; a value the table lacks counts as nothing (fibre only, here)."""
    out = {}
    for name in EVERY:
        s = 0.0
        for n, line in enumerate(lines):
            code = swap[1] if swap and swap[0] == n else line.code
            value = foods[code][name]
            s += factor[n] * line.grams * (0.0 if math.isnan(value) else value) / 100
        out[name] = s / servings
    return out


def dish(
    rng: random.Random, ingredients: Sequence[tuple[Any, ...]] = INGREDIENTS
) -> tuple[list[Line], int]:
    """A random recipe: lines in kitchen amounts, and servings."""
    servings = rng.choice([1, 2, 2, 3, 4, 4, 4, 5, 6, 6, 8])
    lines: list[Line] = []
    seen: set[str] = set()
    for role in rng.choice(_DISHES):
        choice = [i for i in ingredients if i[2] == role and i[0] not in seen]
        code, words, _, unit, grams, low, high = rng.choice(choice)
        seen.add(code)
        amount = rng.uniform(low, high) * servings
        step = {"g": 10, "ml": 10, "tbsp": 0.5, "tsp": 0.5, "piece": 0.5}[unit]
        amount = max(step, round(amount / step) * step)
        lines.append(Line(f"{amount:g} {'' if unit == 'piece' else unit} {words}".replace("  ", " "),
                          code, amount * grams, unit, amount))  # fmt: skip
    return lines, servings


def _noisy(v: Values, rng: random.Random) -> Values:
    w = dict(v)
    for k in ("protein_g", "carbs_g", "fat_g", "fiber_g"):
        w[k] = v[k] * (1 + rng.uniform(-0.03, 0.03))
    w["kcal"] = v["kcal"] + sum(
        f * (w[k] - v[k]) for k, f in (("protein_g", 4), ("carbs_g", 4), ("fat_g", 9))
    )
    return w


def _rounded(v: Values, to5: bool) -> dict[str, int]:
    out = {k: math.floor(v[k] + 0.5) for k in EVERY}
    if to5:
        out["kcal"] = 5 * math.floor(v["kcal"] / 5 + 0.5)
    return out


def _typed_wrong(number: int, rng: random.Random) -> int | None:
    """A number with two neighbours exchanged, a digit lost, or one typed twice."""
    s = str(number)
    options = [s[:i] + s[i + 1] + s[i] + s[i + 2 :] for i in range(len(s) - 1)] * 2
    if len(s) >= 3:
        options += [s[:i] + s[i + 1 :] for i in range(len(s))]
        options += [s[: i + 1] + s[i] + s[i + 1 :] for i in range(len(s))]
    options = [o for o in options if o[0] != "0" and int(o) != number]
    return int(rng.choice(options)) if options else None


def _misfit(stated: dict[str, int], v: Values, skip: str = "") -> float:
    out = 0.0
    for k in FOUR:
        if k != skip:
            sd = math.hypot(0.03 * v[k], 3.0 if k == "kcal" else 0.5)
            out += ((stated[k] - v[k]) / sd) ** 2
    return out


def _sums(
    lines: list[Line], servings: int, foods: dict[str, Values]
) -> list[tuple[str, int | None, str, Values]]:
    """Every mistake in the sums: kind, line, what, values."""
    ones = [1.0] * len(lines)
    true = total(lines, servings, foods, ones)
    out: list[tuple[str, int | None, str, Values]] = []
    for k in {1, servings - 2, servings - 1, servings + 1, servings + 2, servings * 2,
              servings // 2}:  # fmt: skip
        if k >= 1 and k != servings and not 0.85 < servings / k < 1.15:
            out.append(
                ("servings_slip", None, f"/{k}", {n: x * servings / k for n, x in true.items()})
            )
    weight = sum(line.grams for line in lines) / servings
    out.append(
        ("per_100g_stated_as_serving", None, "", {n: x * 100 / weight for n, x in true.items()})
    )
    for i, line in enumerate(lines):
        for kind, f in (("line_left_out", 0.0), ("line_doubled", 2.0)):
            out.append(
                (kind, i + 1, "", total(lines, servings, foods, [*ones[:i], f, *ones[i + 1 :]]))
            )
        if line.unit in ("tbsp", "tsp"):
            f = 1 / 3 if line.unit == "tbsp" else 3.0
            out.append(
                (
                    "unit_slip",
                    i + 1,
                    line.unit,
                    total(lines, servings, foods, [*ones[:i], f, *ones[i + 1 :]]),
                )
            )
        for code, kind, other in ALTERNATES:
            if code == line.code:
                out.append((kind, i + 1, other, total(lines, servings, foods, ones, (i, other))))
    return out


def _publish(lines: list[Line], servings: int, foods: dict[str, Values], fault: str,
             rng: random.Random, recipe_id: str) -> Published | None:  # fmt: skip
    """One recipe with this mistake, or None when it would not be clear enough."""
    true = total(lines, servings, foods, [1.0] * len(lines))
    sums = _sums(lines, servings, foods)
    values, line_no, what = true, None, ""
    if fault in {s[0] for s in sums}:
        options = [s for s in sums if s[0] == fault and (
            fault != "unit_slip" or lines[(s[1] or 1) - 1].code in _SPOON_FOODS)]  # fmt: skip
        if not options:
            return None
        _, line_no, what, values = rng.choice(options)
    elif fault in ("unit_slip", "raw_cooked_slip", "product_variant", "servings_slip"):
        return None
    w = _noisy(values, rng)
    if fault == "macros_swapped":
        a, b = rng.choice([("protein_g", "carbs_g"), ("carbs_g", "fat_g"), ("protein_g", "fat_g")])
        w[a], w[b] = w[b], w[a]
    elif fault == "kilojoules_as_kcal":
        w["kcal"] *= 4.184
    elif fault == "energy_not_following_macros":
        w["kcal"] *= rng.choice([0.65, 0.7, 0.75, 0.8, 1.22, 1.3, 1.4, 1.5])
    elif fault == "net_carbs_stated":
        if true["fiber_g"] < 8:
            return None
        w["carbs_g"] -= w["fiber_g"]
    stated = _rounded(w, rng.random() < 0.35)
    if fault == "digits_transposed":
        k = rng.choice(FOUR)
        wrong = _typed_wrong(stated[k], rng)
        if wrong is None or (k != "kcal" and stated[k] < 10):
            return None
        what, stated[k] = f"{k} {stated[k]}", wrong
    if fault != "none":
        strength = max(
            (abs(stated[k] - true[k]) / max(true[k], 1e-9) for k in FOUR
             if abs(stated[k] - true[k]) > (30 if k == "kcal" else 3)), default=0.0,
        )  # fmt: skip
        if strength < 0.2 or (fault in ("line_left_out", "line_doubled") and strength > 0.9):
            return None
        own = _misfit(stated, values) if fault in {s[0] for s in sums} else 0.0
        rivals = [_misfit(stated, true)] + [
            _misfit(stated, v) for kind, line, _, v in sums if (kind, line) != (fault, line_no)
        ]
        if fault not in ("net_carbs_stated", "line_left_out"):
            net = {**true, "carbs_g": true["carbs_g"] - true["fiber_g"]}
            rivals.append(_misfit(stated, net))
        if fault not in ("kilojoules_as_kcal", "energy_not_following_macros", "digits_transposed"):
            rivals.append(_misfit(stated, true, skip="kcal") + 7)
        if min(rivals) - own < 5:
            return None
    return Published(recipe_id, servings, lines, fault, line_no, true, stated, what)


def collection(foods: dict[str, Values], seed: str, honest: int, each: int) -> list[Published]:
    """``honest`` faultless recipes and ``each`` of every mistake; foods by code, per 100 g."""
    out: list[Published] = []
    wanted = [("none", honest), *((f, each) for f in FAULTS)]
    for fault, count in wanted:
        made = attempt = 0
        while made < count and attempt < 400 * count:
            rng = random.Random(f"{seed}|{fault}|{attempt}")
            attempt += 1
            lines, servings = dish(rng)
            found = _publish(lines, servings, foods, fault, rng, f"{fault}-{made}")
            if found is not None:
                out.append(found)
                made += 1
    return out
