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
from pipeline.intake.text.broken_lines import made_whole
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.features import may_be_title
from pipeline.intake.text.inline_list import list_in_line
from pipeline.intake.text.line_kinds import heads_part

#: The least share that is right of files of each half of the values; the second is of values that no
#: rule was made for.
_LEAST = {
    False: {"recipe": 0.97, "title": 0.9, "line": 0.95, "servings": 0.93, "number": 0.91},
    True: {"recipe": 0.9, "title": 0.7, "line": 0.78, "servings": 0.78, "number": 0.76},
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
