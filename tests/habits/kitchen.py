"""Collections whose habits are known: sums of foods of the embedded table, written as recipe pages."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from cases import cases

import pipeline
from pipeline.run import Result

Values = dict[str, float]
FOUR = {
    "ENERC_KCAL": "kcal",
    "PROCNT": "protein",
    "CHOCDF": "carbs",
    "FAT": "fat",
    "FIBTG": "fibre",
}

#: words of the line, food of SR28
FOODS = {
    "cheddar cheese": "01009", "cooked quinoa": "20137", "raw broccoli": "11090",
    "olive oil": "04053", "dried red lentils": "16144", "raw carrots": "11124",
    "cooked chickpeas": "16057", "almonds": "12061", "rolled oats": "20038", "honey": "19296",
    "smooth peanut butter": "16098", "raw spinach": "11457", "butter": "01001",
    "cooked brown rice": "20037", "raisins": "09298", "dry couscous": "20028",
}  # fmt: skip


@dataclass(frozen=True)
class Item:
    """A line: words, grams, and the text when it is not "120 g words"."""

    words: str
    grams: float
    text: str = ""

    def line(self) -> str:
        return self.text or f"{self.grams:g} g {self.words}"


@dataclass(frozen=True)
class Dish:
    """A recipe of one serving; ``counted`` are the items its numbers are the sum of."""

    items: tuple[Item, ...]
    counted: tuple[Item, ...] | None = None
    creator: str = "Odile Farran"


def dish(*items: tuple[str, float] | Item, creator: str = "Odile Farran") -> Dish:
    """A dish of (words, grams)."""
    return Dish(tuple(i if isinstance(i, Item) else Item(*i) for i in items), creator=creator)


def values_of(snapshot: Any, *codes: str) -> dict[str, Values]:
    """Foods of SR28 per 100 g, by their codes; what the table lacks is 0."""
    out = {code: dict.fromkeys(FOUR.values(), 0.0) for code in codes}
    with snapshot.connect() as con:
        rows = con.execute(
            "select food_id, nutrient, amount_per_100g from food_nutrient"
            f" where food_id in ({', '.join('?' for _ in codes)})",
            [f"sr28:{code}" for code in codes],
        ).fetchall()
    for food_id, tag, amount in rows:
        if tag in FOUR and amount is not None:
            out[food_id.partition(":")[2]][FOUR[tag]] = float(amount)
    return out


def table(snapshot: Any) -> dict[str, Values]:
    """Values per 100 g by words."""
    found = values_of(snapshot, *FOODS.values())
    return {words: found[code] for words, code in FOODS.items()}


def sums(items: Sequence[Item], foods: Mapping[str, Values]) -> Values:
    """What items come to."""
    return {
        k: sum(foods[i.words][k] * i.grams / 100 for i in items) for k in FOUR.values()
    }  # fmt: skip


def lay_out(
    folder: Path,
    dishes: Sequence[Dish],
    foods: Mapping[str, Values],
    state: Callable[[Values], Values] = lambda v: v,
) -> Path:
    """Write dishes as schema.org files.

    Args:
        folder: made when missing.
        dishes: in order; the n-th is recipe ``d-00n``.
        foods: what the creator's own numbers are of.
        state: what becomes of the sums before they are stated.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for n, one in enumerate(dishes):
        v = state(sums(one.items if one.counted is None else one.counted, foods))
        page = {
            "@context": "https://schema.org", "@type": "Recipe", "identifier": f"d-{n:03d}",
            "name": f"Lockkeeper's supper {n}", "recipeYield": "1 serving",
            "author": {"@type": "Person", "name": one.creator},
            "recipeIngredient": [i.line() for i in one.items],
            "nutrition": {
                "@type": "NutritionInformation", "calories": f"{v['kcal']:.0f} kcal",
                "proteinContent": f"{v['protein']:.0f} g",
                "carbohydrateContent": f"{v['carbs']:.0f} g", "fatContent": f"{v['fat']:.0f} g",
            },
        }  # fmt: skip
        (folder / f"d-{n:03d}.json").write_text(json.dumps(page), encoding="utf-8")
    return folder


@dataclass(frozen=True)
class Kitchen:
    """A folder to lay dishes out in, and what their numbers are of."""

    folder: Path
    foods: Mapping[str, Values]
    snapshot: Any

    def lay_out(self, dishes: Sequence[Dish], counted_as: Mapping[str, str | Values]) -> Path:
        """Write dishes whose numbers take some words for other foods: values, or a code of SR28."""
        others = {
            words: values_of(self.snapshot, of)[of] if isinstance(of, str) else of
            for words, of in counted_as.items()
        }
        return lay_out(self.folder, dishes, {**self.foods, **others})

    def verify(
        self, dishes: Sequence[Dish], counted_as: Mapping[str, str | Values] | None = None
    ) -> Result:
        return pipeline.verify(self.lay_out(dishes, counted_as or {}), snapshot=self.snapshot)


#: Reduced-fat cheddar, as a pack may say it.
LIGHT: Values = {"kcal": 315.0, "protein": 28.0, "carbs": 2.0, "fat": 22.0, "fibre": 0.0}


def cheese_dishes() -> list[Dish]:
    """Eight dishes, six of them with cheddar."""
    return [dish(*items) for items in cases(__file__, "cheese")]


def doubled(one: Dish, at: int) -> Dish:
    """The dish with the ``at``-th item counted twice."""
    return replace(one, counted=(*one.items, one.items[at]))
