"""Stated numbers in many ways of writing, above and below a list of ingredients."""

from __future__ import annotations

import pytest

from pipeline.intake.reading import read_text
from pipeline.intake.stated_line import all_found

LINES = ["300 g chicken breast", "200 g rice", "1 tbsp olive oil", "1 onion, diced"]
WRITTEN = [
    "Per serving: 437 kcal, 31 g protein, 46 g carbs, 14 g fat",
    "Macros (per serve): 31P/46C/14F, 437 cals",
    "Nutrition per serving – energy 437 kcal; protein 31 g; carbohydrate 46 g; fat 14 g",
    "Kcals: 437; Protein (g): 31; Carbs (g): 46; Fat (g): 14",
    "Calories........437\nProtein.........31g\nCarbohydrate....46g\nFat.............14g",
    "437 kcal, 31 g proteínas, 46 g carbohidratos, 14 g grasas",
    "Energy (kJ): 1828, Protein (g): 31, Carbs (g): 46, Fat (g): 14",
    "per slice 437 cal, 14 g fat, 46 g carb, 31 g pro",
]


@pytest.mark.parametrize("place", ["above", "below"])
@pytest.mark.parametrize("numbers", WRITTEN)
def test_numbers_are_read_and_cost_no_line(numbers: str, place: str) -> None:
    listed = "\n".join(LINES)
    parts = [numbers, listed] if place == "above" else [listed, "", numbers]
    text = "\n".join(["Harbour rice (serves 4)", *parts, "", "Fry the onion, add the rest.", ""])
    (recipe,) = read_text(text, "card.txt").recipes
    assert [line.text for line in recipe.lines] == LINES
    assert {one.nutrient: round(one.amount) for one in recipe.stated} == {
        "ENERC_KCAL": 437, "PROCNT": 31, "CHOCDF": 46, "FAT": 14
    }  # fmt: skip


def test_dots_that_lead_to_a_number_are_no_decimal_point() -> None:
    assert [one.amount for one in all_found("Fat.............14g")] == [14.0]
    assert [one.amount for one in all_found("Fat .5g")] == [0.5]


def test_a_unit_in_brackets_is_that_of_the_number_behind_it() -> None:
    found = all_found("Energy (kJ): 1828; Protein (g): 31")
    assert [(one.tag, round(one.amount)) for one in found] == [("ENERC_KCAL", 437), ("PROCNT", 31)]


@pytest.mark.parametrize(
    "said",
    ["4 x portions", "4x servings", "serves x4", "Divide between 4 containers", "This will feed four of you",
     "Meals: 4", "4 lunchboxes", "Share between 4 people"],
)  # fmt: skip
@pytest.mark.parametrize(
    "layout", ["Harbour rice\n{said}\n\n{listed}", "Harbour rice - {said}\n\n{listed}"]
)
def test_how_many_it_serves_is_said_in_many_ways(said: str, layout: str) -> None:
    text = layout.format(said=said, listed="Ingredients\n- " + "\n- ".join(LINES))
    (recipe,) = read_text(f"{text}\n\nPer serving: 437 kcal\n", "card.txt").recipes
    assert (recipe.title, recipe.servings) == ("Harbour rice", 4)
    assert [line.text for line in recipe.lines] == LINES


@pytest.mark.parametrize(
    ("text", "basis", "kcal"),
    [
        ("(100g = 131 kcal; 11 g protein)", "per_100g", 131),
        ("makes the lot 1890 cals, 122 protein", "per_recipe", 1890),
        ("pot = 1,476 cals; protein 92 (before you divide it)", "per_recipe", 1476),
        ("kcal for everything 5240, protein for everything 318", "per_recipe", 5240),
        ("MACROS (P/F/C) 41/15/48 – 491kcal", "per_serving", 491),
        ("fat 9.5, kcal 347 x serve", "per_serving", 347),
        ("480–520 kcal", "per_serving", 500),
    ],
)
def test_what_numbers_are_for(text: str, basis: str, kcal: float) -> None:
    card = f"Harbour rice\nServes 4\n\nIngredients\n- 1 egg\n- 200 g rice\n\n{text}\n"
    (recipe,) = read_text(card, "card.txt").recipes
    (energy,) = [one for one in recipe.stated if one.nutrient == "ENERC_KCAL"]
    assert (energy.basis, energy.amount, recipe.servings) == (basis, kcal, 4)


@pytest.mark.parametrize(
    ("said", "servings"), [("Serving size: 1/8 of the cake", 8), ("Split it in 4", 4), ("Quantity: 4 serves", 4)]
)  # fmt: skip
def test_servings_by_parts(said: str, servings: float) -> None:
    card = f"Harbour cake\n{said}\n\nIngredients\n- 1 egg\n- 200 g flour\n\nPer serving: 437 kcal\n"
    (recipe,) = read_text(card, "card.txt").recipes
    assert (recipe.title, recipe.servings, len(recipe.lines)) == ("Harbour cake", servings, 2)


@pytest.mark.parametrize(
    "listed", [["1 slice rusk", "2 eggs"], ["1 slice rusk", "2 eggs", "3 carrots"]]
)
def test_amounts_that_go_up_by_one_number_no_list(listed: list[str]) -> None:
    (recipe,) = read_text(
        "Toast\nServes 1\n\n" + "\n".join(listed) + "\n\n100 kcal\n", "r.txt"
    ).recipes
    assert [line.text for line in recipe.lines] == listed


def test_a_line_of_its_own_does_not_go_on_with_the_one_above() -> None:
    listed = [
        "1 (15 oz) can black beans, drained and rinsed", "1 bay leaf",
        "1 (10.5 oz) can condensed cream of chicken soup", "50g vital wheat gluten",
    ]  # fmt: skip
    text = (
        "Pea stew\nServes 2\n\n" + "\n".join(listed) + "\n\nPer serving: 412 kcal, 21 g protein\n"
    )
    (recipe,) = read_text(text, "r.txt").recipes
    assert [line.text for line in recipe.lines] == listed
