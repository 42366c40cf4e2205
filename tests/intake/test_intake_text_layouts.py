"""Texts in layouts that nobody listed: known recipes printed by independent choices, and the rules that
read them (what goes on, what parts a list, what heads numbers, what no title is)."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from text_layouts import measure

from pipeline.intake.counted import heads_numbers
from pipeline.intake.facts_line import titled_yield
from pipeline.intake.reading import read_text
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.broken_lines import made_whole
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.features import may_be_title, title_of
from pipeline.intake.text.inline_list import list_in_line
from pipeline.intake.text.line_kinds import heads_part

#: The least share that is right of files of each half of the values; the second is of values that no
#: rule was made for.
_LEAST = {
    False: {"recipe": 0.97, "title": 0.94, "line": 0.9, "servings": 0.89, "number": 0.93},
    True: {"recipe": 0.88, "title": 0.69, "line": 0.77, "servings": 0.7, "number": 0.76},
}


@pytest.mark.parametrize("held", [False, True])
def test_recipes_printed_in_any_layout_are_read(tmp_path: Path, held: bool) -> None:
    total, _, _ = measure("test", 40, held, tmp_path)
    for kind, least in _LEAST[held].items():
        assert total.right[kind] >= least * total.of[kind], (kind, total.row())
    assert total.wrong["recipe"] <= 0.05 * total.of["recipe"]


@pytest.mark.parametrize(
    ("lines", "whole"),
    [
        (["250 g penne, 1/2 cup cheddar, 200 g red", "lentils, 2 eggs"],
         ["250 g penne, 1/2 cup cheddar, 200 g red lentils, 2 eggs"]),
        (["Add everything else to the big pan, and", "300 ml water. Simmer."],
         ["Add everything else to the big pan, and 300 ml water. Simmer."]),
        (["Bake it in a hot oven. Whole batch: 1,264", "kcal, P 36 g, C 140 g, F 62 g"],
         ["Bake it in a hot oven. Whole batch: 1,264 kcal, P 36 g, C 140 g, F 62 g"]),
        # a group, an item and a label begin anew, and so does what had room in the line above
        (["250 g penne, 80 g cheddar, 200 g lentils", "for the sauce"],) * 2,
        (["250 g penne, 80 g cheddar, 200 g lentils", "carrots 3, eggs 2"],) * 2,
        (["kidney beans 400g, red pepper 1, olive oil", "how: mix it all"],) * 2,
        (["1 tin of beans, drained and rinsed, 400g", "1 tin lentils, drained"],) * 2,
        (["2 eggs, 1 onion,", "salt", "250 g penne, 80 g cheddar, 200 g lentils"],) * 2,
    ],
)  # fmt: skip
def test_broken_lines_are_made_whole(lines: list[str], whole: list[str]) -> None:
    made = made_whole([CardLine(no, text) for no, text in enumerate(lines, start=1)])
    assert [line.text for line in made] == whole


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("200 g rice ✦ 2 eggs ✦ salt", ["200 g rice", "2 eggs", "salt"]),
        ("2 eggs → 1 tin beans", ["2 eggs", "1 tin beans"]),
        ("3 garlic cloves, salt and pepper", ["3 garlic cloves", "salt and pepper"]),
        ("30 g butter, melted, 2 eggs", ["30 g butter, melted", "2 eggs"]),
        ("1 cup / 240 ml milk", []),
        ("1 onion, finely chopped", []),
        ("500 g chicken breasts, about 2 large breasts", []),
        ("1 tin (400 g / 14 oz) tomatoes", []),
    ],
)
def test_a_sign_that_is_set_apart_parts_a_list(text: str, parts: list[str]) -> None:
    assert list_in_line(text) == parts


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("480 kcal (2 pancakes)", "2 pancakes"),
        ("31 g protein and only 613 calories (3 bars)!", "3 bars"),
        ("480 kcal (4 servings)", ""),
        ("480 kcal (2 minutes)", ""),
    ],
)
def test_what_is_counted_behind_a_number_is_what_it_is_for(text: str, size: str) -> None:
    assert read_stated_line(text).size == size


def test_numbers_with_and_without_a_part() -> None:
    text = (
        "Sesame chicken\nServes 2\n\nIngredients\n400 g chicken\nFor the glaze:\n2 tbsp honey\n\n"
        "Per serving: 431 kcal, P 37 g, C 19 g, F 23 g\n{}\n"
    )
    for without in ("minus the glaze it is 345 kcal", "345 kcal without the glaze"):
        (recipe,) = read_text(text.format(without), "cards.txt").recipes
        assert [s.amount for s in recipe.stated] == [431, 37, 19, 23], without
        assert [line.text for line in recipe.lines][-1] == "2 tbsp honey"


def test_the_method_beside_the_list_on_a_printed_card() -> None:
    text = (
        "Breakfast traybake\nServes 4\n\nIngredients\n"
        "onion 1                   Method\n"
        "salmon fillets 2          Chop the vegetables and fry them in a little\n"
        "sour cream 100 g          oil for 5 minutes. Add the 1 onion and stir.\n"
        "                          Simmer it gently.\n\nPer plate: 818 kcal, P 37 g, C 82 g, F 38 g\n"
    )
    (recipe,) = read_text(text, "card.txt").recipes
    assert [line.text for line in recipe.lines] == [
        "onion 1", "salmon fillets 2", "sour cream 100 g"
    ]  # fmt: skip
    assert "oil for 5 minutes. Add the 1 onion" in recipe.method


def test_a_portion_of_another_recipe_is_a_line_and_no_yield() -> None:
    text = (
        "Ragù\nServes 2\n\nBoat breakfast (see above), 1 portion\nsweet potato, 350 g\n"
        "herbs\n\nNow add 200 ml water and simmer.\n\nPer serving: 583 kcal, P 34 g, C 33 g, F 35 g\n"
    )
    (recipe,) = read_text(text, "card.txt").recipes
    assert recipe.servings == 2
    assert [line.text for line in recipe.lines] == [
        "Boat breakfast (see above), 1 portion", "sweet potato, 350 g", "herbs"
    ]  # fmt: skip


@pytest.mark.parametrize(
    "title",
    ["- Pea soup -", "~ 2) Pea soup ~", "» Pea soup «", "(3) Pea soup", "Chapter 3: Pea soup"],
)
def test_what_frames_a_title_and_leads_to_it_is_none_of_it(title: str) -> None:
    assert title_of(title) == "Pea soup"


@pytest.mark.parametrize(
    ("text", "basis"),
    [
        ("5568 kcal for all 8", "per_recipe"),
        ("All 4 servings: 1728 kcal, P 28 g", "per_recipe"),
        ("532 kcal for 1 of 4 portions", "per_serving"),
        ("21 g protein, 43 g carbs, 31 g fat a plate", "per_serving"),
        ("Macros for all 4 servings: 21P/43C/31F, 532 cals", "per_recipe"),
    ],
)
def test_what_numbers_are_for_may_stand_anywhere(text: str, basis: str) -> None:
    assert read_stated_line(text).basis == basis


def test_lines_that_are_none_of_a_recipes_parts() -> None:
    no_titles = ["Prep 10 min | Cook 20 min", "£1.20 a portion", "Hi all,", "12 March 2024", "Recipes",
                 "Tuesday", "Two-bean chilli, Yield"]  # fmt: skip
    assert not any(map(may_be_title, no_titles))
    assert may_be_title("Two-bean chilli")
    assert all(
        map(heads_part, ["Sauce (make this first)", "Topping -", "--- filling ---", "SAUCE"])
    )
    assert not any(map(heads_part, ["carrots", "salt"]))
    assert heads_numbers("Whole batch")
    assert not heads_numbers("Whole milk")
    assert titled_yield("Lentil soup, Yield: 4 servings") == ("Lentil soup", "4 servings")
    assert titled_yield("Lentil soup – enough for 4")[0] == "Lentil soup"


def test_numbers_above_their_titles_and_lists_behind_the_name_of_their_part() -> None:
    text = "".join(
        f"{kcal} kcal, {p} g protein, {c} g carbs, {f} g fat per serving\n{title}\nServes 2\n\n{lines}\n\n"
        for title, lines, (kcal, p, c, f) in [
            (
                "Harbour fish pie",
                "400 g cod\nSauce: 30 g butter, 2 tbsp soy sauce",
                (371, 30, 20, 19),
            ),
            ("Lemon potatoes", "800 g potatoes\nDressing: 30 ml olive oil", (494, 10, 70, 19)),
        ]
    )
    recipes = read_text(text, "cards.txt").recipes
    assert [(r.title, r.stated[0].amount) for r in recipes] == [
        ("Harbour fish pie", 371), ("Lemon potatoes", 494)
    ]  # fmt: skip
    assert [[line.text for line in r.lines] for r in recipes] == [
        ["400 g cod", "Sauce:", "30 g butter", "2 tbsp soy sauce"],
        ["800 g potatoes", "Dressing:", "30 ml olive oil"],
    ]
