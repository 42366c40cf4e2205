"""Several recipes in one text (invented): where each begins, by the shape that they repeat."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from cases import cases

from pipeline.intake import Collection, read_collection
from pipeline.intake.facts_line import titled_yield, yield_line
from pipeline.intake.reading import read_text
from pipeline.intake.text.line_marks import marked
from pipeline.intake.text.plain_lines import card_lines
from pipeline.lines import parse_many


def _read(tmp_path: Path, name: str, text: str) -> Collection:
    (tmp_path / name).write_text(text, encoding="utf-8")
    return read_collection([tmp_path / name])


#: Name, text, and of each recipe its title, servings and number of ingredient lines.
_TEXTS = {
    "a chapter with a foreword": (
        "shore.txt",
        "PART TWO\n\nWhat the tide brings\n\nWe cooked these on the boat. The stove has one flame.\n\n"
        "MUSSEL PAN\n\nTwo deep plates\n\n   1 kg mussels\n   20 g butter\n   1 shallot\n\n"
        "Steam until they open.\nEach: 310 kcal; protein 33 g; carbohydrate 10 g; fat 14 g.\n\n\n"
        "SMOKED FISH TOAST\n\nFor four people\n\n   4 slices rye bread\n   200 g smoked mackerel\n\n"
        "Flake, pile, eat.\nEach: 250 kcal; protein 14 g; carbohydrate 16 g; fat 14 g.\n",
        [("MUSSEL PAN", 2, 3), ("SMOKED FISH TOAST", 4, 2)],
    ),
    "headings of a letter": (
        "letter.md",
        "# Notes from the lock-keeper\n\nA wet month.\n\n## Bean pie\n\n*Enough for eight, cold.*\n\n"
        "- 500 g broad beans\n- 1 sheet shortcrust pastry\n\nBake it.\n\n"
        "**A slice:** 301 kcal, 9 g protein, 20 g fat\n\n## Nettle soup\n\nMakes 5 bowls.\n\n"
        "- 200 g nettles\n- 1 potato\n\n**A bowl:** 90 kcal, 4 g protein, 2 g fat\n",
        [("Bean pie", 8, 2), ("Nettle soup", 5, 2)],
    ),
    "titles that say the yield": (
        "slips.txt",
        "leek tart, makes 6\n\n2 leeks\n200 g pastry\n3 eggs\nkcal 310 protein 9 fat 20\n\n"
        "pea stew - 3 bowls\n400 g peas\n1 onion\nboil it down. season.\nkcal 190 protein 11 fat 3\n",
        [("leek tart", 6, 3), ("pea stew", 3, 2)],
    ),
    "stars around a title": (
        "log.txt",
        "Everything here is weighed raw.\n\n* Cod bake *  -- serves 3 --\n600 g cod\n30 g butter\n"
        "Energy 900 kJ, protein 38 g, fat 8 g per serve\n\n* Plum slice * -- makes 9 bars --\n"
        "400 g plums\n200 g flour\nEnergy 700 kJ, protein 3 g, fat 5 g per bar\n",
        [("Cod bake", 3, 2), ("Plum slice", 9, 2)],
    ),
    "parts of one recipe stay together": (
        "pie.txt",
        "Harbour pie\nServes 4\n\nFilling\n\n300 g haddock\n100 g prawns\n\nTopping\n\n500 g potatoes\n"
        "20 g butter\n\nPer serving: 390 kcal, protein 30 g, fat 9 g\n\nWith bread\n\n"
        "Per serving: 490 kcal, protein 33 g, fat 10 g\n",
        [("Harbour pie", 4, 4)],
    ),
}


@pytest.mark.parametrize("name", _TEXTS)
def test_recipes_begin_at_their_titles(tmp_path: Path, name: str) -> None:
    file, text, expected = _TEXTS[name]
    read = _read(tmp_path, file, text)
    foods = [parsed.kind == "food" for parsed in parse_many(list(read.line["text"]))]
    lines = read.line[foods].groupby("recipe_id")["text"].count()
    found = [
        (row.title, row.servings, lines[row.recipe_id])
        for row in read.recipe.itertuples(index=False)
    ]
    assert found == expected


@pytest.mark.parametrize(("text", "title", "told"), cases(__file__, "titles"))
def test_a_title_is_parted_from_its_yield(text: str, title: str, told: str | None) -> None:
    assert titled_yield(text) == (title, told)


def test_a_sign_that_begins_several_lines_is_a_bullet() -> None:
    text = "🍤 PRAWNS 🍤\n▫️200 g prawns\n▫️1 lime\n▫️salt\n🔥 200 kcal"
    assert [line.text for line in marked(card_lines(text))] == [
        "🍤 PRAWNS 🍤", "- 200 g prawns", "- 1 lime", "- salt", "🔥 200 kcal",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("(1) 2 eggs\n(2) salt", ["1. 2 eggs", "2. salt"]),
        ("1/ 2 eggs\n\n2/ salt", ["1. 2 eggs", "", "2. salt"]),
        ("1 - 2 eggs\n2 - salt", ["1. 2 eggs", "2. salt"]),
        ("Step 1 – Heat it.\nStep 2 – Eat it.", ["1. Heat it.", "2. Eat it."]),
        ("a) 2 eggs\nb) salt", ["1. 2 eggs", "2. salt"]),
        ("1 Heat it.\n2 Serve it.", ["1. Heat it.", "2. Serve it."]),
        ("1 egg\n2 onions", ["1 egg", "2 onions"]),
        ("1/2 cup milk\n2/3 cup oats", ["1/2 cup milk", "2/3 cup oats"]),
        ("-2 eggs\n-salt\n-1 lime", ["- 2 eggs", "- salt", "- 1 lime"]),
        ("-2 eggs -30 g butter -salt", ["- 2 eggs", "- 30 g butter", "- salt"]),
        ("1) 2 eggs 2) 30 g butter 3) 1 lime", ["- 2 eggs", "- 30 g butter", "- 1 lime"]),
        ("1) Stir it. 2) Bake it. 3) Eat it.", ["1) Stir it. 2) Bake it. 3) Eat it."]),
        ("✅ 2 eggs ✅ 30 g butter ✅ salt", ["- 2 eggs", "- 30 g butter", "- salt"]),
    ],
)
def test_numbers_and_signs_of_a_list_are_said_in_one_way(text: str, lines: list[str]) -> None:
    assert [line.text for line in marked(card_lines(text))] == lines


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("For 5 lunches", "5 lunches"), ("👥 4", "4"), ("Does 6", "6"), ("Fills 3 jars", "3 jars"),
        ("Enough for six with a salad.", "six with a salad"), ("1 flatbread = 1 portion", "1 portion"),
        ("12 helpings", "12 helpings"), ("For 20 minutes", None), ("For the sauce", None),
    ],
)  # fmt: skip
def test_a_line_that_says_a_yield_in_its_own_words(line: str, told: str | None) -> None:
    assert yield_line(line) == told


CARD_BELOW = (
    "Chicken rice\n{}\n\n500 g chicken breast\n200 g rice\n1 tbsp olive oil\n2 carrots\n\n"
    "Cook it all.\n\nPer serving: 400 kcal, P 35 g, C 40 g, F 9 g\n"
)


@pytest.mark.parametrize(
    "said",
    ["30 min", "about 40 min", "1 h 20 min", "2 hours chilling", "180C", "200°C / 180 fan", "350 F, 25 min",
     "£3.20", "2024", "12/05/2024", "4.8 (120 ratings)", "5 ingredients", "Gas 6", "Difficulty 2/5"],
)  # fmt: skip
def test_what_else_is_counted_below_a_title_is_neither_servings_nor_food(said: str) -> None:
    (recipe,) = read_text(CARD_BELOW.format(said), "a.txt").recipes
    assert recipe.title == "Chicken rice"
    assert math.isnan(recipe.servings)
    assert len(recipe.lines) == 4


@pytest.mark.parametrize(
    "said",
    ["Servings👉4", "No. of servings - 4", "Servings per recipe: 4", "Quantity: 4 servings", "Split between 4",
     "1 serving = 1/4 of the recipe", "You'll get 4 bowls", "Plates up 4", "30 min | Serves 4"],
)  # fmt: skip
def test_servings_below_a_title_in_many_words(said: str) -> None:
    (recipe,) = read_text(CARD_BELOW.format(said), "a.txt").recipes
    assert (recipe.title, recipe.servings, len(recipe.lines)) == ("Chicken rice", 4, 4)


@pytest.mark.parametrize("name", ["a.txt", "a.md"])
@pytest.mark.parametrize(
    "table",
    ["| kcal | P | C | F |\n|---|---|---|---|\n| 400 | 35 | 40 | 9 |", "kcal | P | C | F\n400 | 35 | 40 | 9",
     "| kcal | protein | carbs | fat |\n|---|---|---|---|\n| 400 | 35 | 40 | 9 |",
     "kcal, P, C, F\n400, 35, 40, 9", "kcal  protein  carbs  fat\n400   35       40     9"],
)  # fmt: skip
def test_numbers_below_their_names_or_letters(table: str, name: str) -> None:
    card = CARD_BELOW.format("Serves 4")
    text = card.replace("Per serving: 400 kcal, P 35 g, C 40 g, F 9 g", table)
    (recipe,) = read_text(text, name).recipes
    found = {one.nutrient: one.amount for one in recipe.stated}
    assert found == {"ENERC_KCAL": 400, "PROCNT": 35, "CHOCDF": 40, "FAT": 9}
    assert len(recipe.lines) == 4
