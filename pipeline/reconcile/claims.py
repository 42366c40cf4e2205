"""Claims in titles and texts against the published conditions: information, not a ruling.

"High protein", "low fat" and the like are regulated words where food is sold. What a word asks for
stands in shared/claim_conditions.csv, which words are read as a claim in shared/claim_words.csv.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal

import pandas as pd

from pipeline.nutrients import BY_TAG
from pipeline.phrases import Phrase
from pipeline.resources import shared_rows

if TYPE_CHECKING:
    from pipeline.compute import Computation

Status = Literal["met", "not met", "not decidable"]
COLUMNS = [
    "recipe_id", "claim", "words", "jurisdiction", "status", "reason", "value", "limit", "unit",
]  # fmt: skip

#: Words added to every result.
DEFER = "Information only; the rules of the place where it is published decide."

#: A dish weighs this much of its raw ingredients after cooking when no yield is given.
#: Common practice: from a stew that keeps its water to a roast that loses a third.
COOKED_WEIGHT = (0.65, 1.05)

_DRINK = r"\b(?:smoothie|juice|shake|lemonade|drink|latte|tea|coffee|cocktail|punch|lassi)s?\b"
_SWEETENING = r"(?:sugars?|honey|syrups?|molasses|sweeteners?|agave|jams?|candies|frostings?)\b"
_KCAL_PER_G = {"PROCNT": 4.0, "FAT": 9.0, "FASAT": 9.0}


@dataclass(frozen=True, slots=True)
class Condition:
    """One row of the published conditions that a sum can be held against."""

    claim: str
    jurisdiction: str
    tag: str
    measure: str  # per_100g | per_100kcal | energy_share | per_serving | none
    form: str  # solid | liquid | ""
    joined: str  # all | any of the rows of a claim must hold
    operator: str
    limit: float
    unit: str
    source: str

    def holds(self, value: float) -> bool:
        """Whether a value meets the condition."""
        return {
            "<=": value <= self.limit,
            "<": value < self.limit,
            ">=": value >= self.limit,
            ">": value > self.limit,
        }[self.operator]


@cache
def conditions() -> tuple[Condition, ...]:
    """Rows of shared/claim_conditions.csv that name a nutrient and a measure."""
    out = []
    for row in shared_rows("claim_conditions.csv"):
        if not row["claim"]:
            continue
        value = float(row["value"]) if row["value"] else math.nan
        if row["tag"] == "NA" and row["unit"].startswith("g"):
            value *= 1000  # sums hold mg
        out.append(Condition(
            row["claim"], row["jurisdiction"], row["tag"], row["measure"], row["form"],
            row["joined"], row["operator"], value, row["unit"], f"{row['source']} ({row['year']})",
        ))  # fmt: skip
    return tuple(out)


@cache
def _words() -> tuple[tuple[str, re.Pattern[str]], ...]:
    return tuple(
        (row["claim"], re.compile(row["pattern"], re.IGNORECASE))
        for row in shared_rows("claim_words.csv")
    )


@cache
def _any_words() -> Phrase:
    """Found where the words of any claim are."""
    return Phrase("|".join(pattern.pattern for _, pattern in _words()))


def read_claims(text: str) -> dict[str, str]:
    """Claims a text makes: claim -> the words that make it. A stronger claim hides a weaker one.

    >>> read_claims("High-protein, low fat lentil bowl")
    {'high_protein': 'High-protein', 'low_fat': 'low fat'}
    """
    if not _any_words().found(text):
        return {}
    found = {
        claim: hit[0] for claim, pattern in _words() if (hit := pattern.search(text)) is not None
    }
    for strong, weak in (
        ("high_protein", "source_of_protein"), ("high_fibre", "source_of_fibre"),
        ("very_low_salt", "low_salt"), ("saturates_free", "fat_free"),
        ("low_saturates", "low_fat"),
    ):  # fmt: skip
        if strong in found and weak in found and found[weak].lower() in found[strong].lower():
            del found[weak]
    return found


def claims(computation: Computation, recipe: pd.DataFrame) -> pd.DataFrame:
    """Hold the claims of titles and descriptions against the published conditions.

    A range of the sums that lies wholly on one side decides; else it does not. Per 100 g of a dish
    whose cooked weight is not given, the range allows for what cooking does to the weight. The
    United States set most limits per reference amount of a food category; the serving stands in.

    Args:
        recipe: RECIPE (title, description).

    Returns:
        ``COLUMNS``, one row per (recipe, claim, jurisdiction): status met | not met | not decidable,
        the reason in one sentence, the value that was compared with the limit.
    """
    prose = recipe[["title", "description"]].astype("object")
    prose = prose.where(prose.notna(), "")
    texts = {
        str(r): f"{title}\n{description}"
        for r, title, description in zip(
            recipe["recipe_id"], prose["title"], prose["description"], strict=True
        )
    }
    made = {r: found for r, text in texts.items() if (found := read_claims(text))}
    if not made:
        return pd.DataFrame(columns=COLUMNS)
    drinks = {r for r in made if re.search(_DRINK, texts[r].partition("\n")[0], re.I)}
    rows = [
        {
            "recipe_id": recipe_id, "claim": claim, "words": words, "jurisdiction": jurisdiction,
            **_judge(claim, jurisdiction, dish),
        }
        for recipe_id, dish in _dishes(computation, set(made), drinks).items()
        for claim, words in made[recipe_id].items()
        for jurisdiction in ("EU", "US")
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=COLUMNS)


@dataclass(frozen=True, slots=True)
class _Dish:
    sums: dict[str, tuple[float, ...]]  # amount, low, high, coverage; whole recipe
    servings: float
    weight_g: float
    weighed: bool
    liquid: bool
    sweetened: list[str]


def _dishes(computation: Computation, ids: set[str], drinks: set[str]) -> dict[str, _Dish]:
    """What the sums say of some recipes, in the order of their ids."""
    facts = computation.recipe.set_index("recipe_id")
    lines = computation.line_value[computation.line_value["recipe_id"].isin(ids)]
    sweetened: dict[str, list[str]] = {}
    for recipe_id, text, name in zip(
        lines["recipe_id"], lines["text"], lines["description"], strict=True
    ):
        if isinstance(name, str) and re.match(_SWEETENING, name, re.I):
            sweetened.setdefault(recipe_id, []).append(str(text))
    total = computation.computed[computation.computed["recipe_id"].isin(ids)]
    columns = ["nutrient", "amount", "low", "high", "coverage"]
    return {
        str(recipe_id): _Dish(
            {tag: tuple(numbers) for tag, *numbers in sums[columns].to_numpy(dtype=object).tolist()},
            servings=float(facts["servings"].get(recipe_id, math.nan)),
            weight_g=float(facts["weight_g"].get(recipe_id, math.nan)),
            weighed=facts["weight_basis"].get(recipe_id) == "yield",
            liquid=recipe_id in drinks,
            sweetened=sweetened.get(str(recipe_id), []),
        )
        for recipe_id, sums in total.groupby("recipe_id")
    }  # fmt: skip


def _open(reason: str) -> dict[str, object]:
    return {"status": "not decidable", "reason": f"{reason} {DEFER}", "value": math.nan,
            "limit": math.nan, "unit": ""}  # fmt: skip


def _judge(claim: str, jurisdiction: str, dish: _Dish) -> dict[str, object]:
    if claim in ("reduced", "light"):
        return _open("The claim compares with another product, which a recipe does not name.")
    if claim == "low_carbohydrate":
        return _open("Neither the EU annex nor 21 CFR 101.54-62 sets a condition for these words.")
    if claim == "no_added_sugars":
        if dish.sweetened:
            return {**_open(""), "status": "not met",
                    "reason": f"A sweetening line is in the recipe: {dish.sweetened[0]}. {DEFER}"}  # fmt: skip
        return _open("No line is a sugar or syrup; whether a food with added sugar is in it cannot "
                     "be told from a food table.")  # fmt: skip
    rows = [
        c for c in conditions()
        if c.claim == claim and c.jurisdiction == jurisdiction
        and (not c.form or c.form == ("liquid" if dish.liquid else "solid"))
    ]  # fmt: skip
    if not rows or rows[0].measure == "none":
        return _open(f"The rules of the {jurisdiction} do not define these words.")
    parts = [_one(condition, dish) for condition in rows]
    status = [str(p["status"]) for p in parts]
    order = (
        ("met", "not decidable", "not met")
        if rows[0].joined == "any"
        else ("not met", "not decidable", "met")
    )
    first = next(s for s in order if s in status)
    return parts[status.index(first)]


def _one(condition: Condition, dish: _Dish) -> dict[str, object]:
    """One condition against the range of the sums."""
    amount, low, high, coverage = dish.sums.get(condition.tag, (math.nan,) * 4)
    if not math.isfinite(amount) or (coverage < 0.9 and condition.operator.startswith("<")):
        return _open(f"Too little is known of {BY_TAG[condition.tag].label} in these lines.")
    found = _measured(condition, dish, (amount, low, high))
    if isinstance(found, str):
        return _open(found)
    value, least, most = found
    sure = condition.holds(least) == condition.holds(most)
    status: Status = "not decidable"
    if sure:
        status = "met" if condition.holds(value) else "not met"
    unit = BY_TAG[condition.tag].unit
    measured = {
        "per_100g": f"{unit} per 100 {'ml' if dish.liquid and condition.form else 'g'}",
        "per_100kcal": f"{unit} per 100 kcal",
        "energy_share": "% of the energy",
        "per_serving": f"{unit} a serving",
    }[condition.measure]
    why = (
        f"{value:.3g} {measured} (range {least:.3g} to {most:.3g}); the condition asks for "
        f"{condition.operator} {condition.limit:g}, {condition.source}."
    )
    if not sure:
        why = "The range of the sums holds the limit: " + why
        if condition.measure == "per_100g" and not dish.weighed:
            why += " The cooked weight would narrow it."
    if condition.measure == "per_serving":
        why += " The serving stands in for the reference amount of the food category."
    return {"status": status, "reason": f"{why} {DEFER}", "value": value,
            "limit": condition.limit, "unit": measured}  # fmt: skip


def _measured(
    condition: Condition, dish: _Dish, sums: tuple[float, float, float]
) -> tuple[float, float, float] | str:
    """The value a condition speaks of with its range, or why it cannot be had."""
    amount, low, high = sums
    if condition.measure == "per_serving":
        if not dish.servings > 0:
            return "The recipe does not say how many servings it makes."
        return amount / dish.servings, low / dish.servings, high / dish.servings
    if condition.measure == "per_100g":
        if not dish.weight_g > 0:
            return "The weight of the dish is not known."
        least, most = (1.0, 1.0) if dish.weighed or dish.liquid else COOKED_WEIGHT
        per = 100 / dish.weight_g
        return amount * per, low * per / most, high * per / least
    kcal = dish.sums.get("ENERC_KCAL", (math.nan,) * 4)
    if not kcal[0] > 0:
        return "The energy of the dish is not known."
    factor = 100 * _KCAL_PER_G[condition.tag] if condition.measure == "energy_share" else 100.0
    # a nutrient and the energy it is part of move together: half of the energy's doubt is shared
    half_low, half_high = (kcal[0] + kcal[1]) / 2, (kcal[0] + kcal[2]) / 2
    return factor * amount / kcal[0], factor * low / half_high, factor * high / half_low
