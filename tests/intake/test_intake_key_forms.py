"""One recipe as data, its servings, numbers and ingredients each under other keys and in other forms."""

from __future__ import annotations

import json
from typing import Any

import pytest

from pipeline.intake.reading import read_text

LINES = ["500 g chicken breast", "200 g rice", "1 tbsp olive oil", "2 carrots"]
NUMBERS = {"kcal": 400, "protein": 35, "carbs": 40, "fat": 9}
CARD: dict[str, Any] = {
    "title": "Chicken rice", "servings": 4, "ingredients": LINES, "nutrition": NUMBERS,
}  # fmt: skip

KEYS = {
    "servings": ["serves", "portions", "recipeYield", "numServings", "servings_per_recipe", "people", "feeds",
                 "portion_count", "how_many", "n_servings", "Servings (no.)", "pax", "cuts_into"],
    "nutrition": ["macros", "per_serving", "nutritionPerServing", "stats", "facts", "per serve", "n"],
    "ingredients": ["items", "what_you_need", "recipeIngredient", "stuff", "foods"],
    "title": ["name", "dish", "heading", "recipe_name", "t", "dsh_nm"],
}  # fmt: skip
FORMS: dict[str, list[Any]] = {
    "title": [{"rendered": "Chicken rice"}, {"en": "Chicken rice", "slug": "chicken-rice"}],
    "servings": ["4", "Serves 4", "4 people", "four", {"amount": 4}, {"count": 4, "of": "bowls"}, ["4"],
                 "4 (350 g each)"],
    "nutrition": [
        {"calories": "400 kcal", "protein": "35g"}, {"kcal": "400", "p": "35", "c": "40", "f": "9"},
        [{"name": "calories", "value": 400}, {"name": "protein", "value": 35, "unit": "g"}],
        [["kcal", 400], ["protein", 35]], "400 kcal, 35 g protein", {"energy": {"kcal": 400, "kJ": 1674}},
        {"calories": {"amount": 400, "unit": "kcal"}}, {"Kalorien": 400, "Eiweiß": 35},
        {"calories": 400, "macros": {"protein": 35, "fat": 9}},
        {"cal_ser": 400, "pr_ser": 35, "ch_ser": 40, "ft_ser": 9},
        {"item": [["kca", 400], ["pro", 35], ["car", 40]]}, [{"kcal": 400}, {"fat": 9}],
        {"what": ["kcal", "protein"], "n": [400, 35]}, [{"per": "serving", "kcal": 400, "fat": 9}],
    ],
    "ingredients": [
        "; ".join(LINES), ", ".join(LINES), "\n".join(LINES), [{"text": line} for line in LINES],
        [line.split(" ", 2) for line in [*LINES[:3], "2 whole carrots"]],
        {"chicken breast": "500 g", "rice": "200 g", "olive oil": "1 tbsp", "carrots": "2"},
        [{"food": "chicken breast", "grams": 500}, {"food": "rice", "grams": 200},
         {"food": "olive oil", "grams": 14}, {"food": "carrots", "grams": 122}],
        {"thing": ["chicken breast", "rice", "olive oil", "carrots"], "dose": [500, 200, 1, 2],
         "scale": ["g", "g", "tbsp", ""]},
        [{"id": 7, "article": {"id": 3, "name": "chicken breast"}, "si": {"n": 500, "u": "g"}},
         {"id": 8, "article": {"id": 4, "name": "rice"}, "si": {"n": 200, "u": "g"}},
         {"id": 9, "article": {"id": 5, "name": "olive oil"}, "si": {"n": 14, "u": "g"}},
         {"id": 10, "article": {"id": 6, "name": "carrots"}, "si": {"n": 122, "u": "g"}}],
    ],
}  # fmt: skip


def read(card: dict[str, Any]) -> tuple[str, float, int, float | None]:
    (recipe,) = read_text(json.dumps(card, ensure_ascii=False), "a.json").recipes
    energy = {one.nutrient: one.amount for one in recipe.stated}.get("ENERC_KCAL")
    return recipe.title, recipe.servings, len(recipe.lines), energy


@pytest.mark.parametrize(("key", "other"), [(k, o) for k, others in KEYS.items() for o in others])
def test_a_key_of_another_name(key: str, other: str) -> None:
    card = {other if k == key else k: value for k, value in CARD.items()}
    assert read(card) == ("Chicken rice", 4, 4, 400)


@pytest.mark.parametrize(("key", "form"), [(k, f) for k, forms in FORMS.items() for f in forms])
def test_a_value_in_another_form(key: str, form: Any) -> None:
    assert read(CARD | {key: form}) == ("Chicken rice", 4, 4, 400)
