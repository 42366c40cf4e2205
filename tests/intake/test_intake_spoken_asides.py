"""What talk says beside a recipe: food talked about, shares, alternatives, habits, corrections.

The rules were found with invented speakers; the sentences here are of none of them.
"""

from __future__ import annotations

import math

import pytest
from cases import cases

from pipeline.intake.model import RawRecipe
from pipeline.intake.spoken.script import read_script

NUMBERS = "It serves four, 410 calories a plate, 22 protein, 48 carbs, 14 fat."


def recipes(text: str) -> list[RawRecipe]:
    return read_script(text, kind="script").recipes


def lines_of(said: str, numbers: str = NUMBERS) -> list[str]:
    told = f"First up, a barley supper. 300 grams of barley, rinsed. {said}. {numbers}"
    (one,) = recipes(told)
    return [line.text for line in one.lines if not line.text.startswith("300 g barley")]


@pytest.mark.parametrize(("said", "lines"), cases(__file__, "only_what_goes_in"))
def test_only_what_goes_in_is_a_line(said: str, lines: list[str]) -> None:
    assert lines_of(said) == lines


@pytest.mark.parametrize(("said", "line"), cases(__file__, "amounts"))
def test_amounts_in_other_words(said: str, line: str) -> None:
    assert line in lines_of(said)


def test_a_number_said_before_an_amount_is_none_of_it() -> None:
    up_front = (
        "first meal salmon bowls 480 calories 34 protein 40 carbs 20 fat and it makes three pound and a "
        "half of salmon and two cups of rice second meal 310 calories 12 carbs 8 fat 48 protein "
        "forty one cup of quark and two eggs"
    )
    first, second = recipes(up_front)
    assert [line.text for line in first.lines] == ["1 1/2 lb salmon", "2 cups rice"]
    assert first.servings == 3
    assert "1 cup quark" in [line.text for line in second.lines]


@pytest.mark.parametrize(("numbers", "servings"), cases(__file__, "servings"))
def test_servings_in_other_words(numbers: str, servings: float) -> None:
    told = f"A barley supper. 300 grams of barley, 200 grams of feta and 2 onions. {numbers}."
    (one,) = recipes(told)
    assert one.servings == servings
    energy = [
        s.amount for s in one.stated if s.nutrient == "ENERC_KCAL" and s.basis == "per_serving"
    ]
    assert energy == [1640 / servings]


@pytest.mark.parametrize(
    "said",
    [
        "They're not the same as the shop's, but they're good",
        "Three cups of stock, so that's the rest of it",
    ],
)
def test_words_that_only_look_as_if_they_point_back(said: str) -> None:
    told = (
        f"First up, an omelette. Three eggs, 40 grams of cheese. One serving, 380 calories, 28 protein, 2 "
        f"carbs, 29 fat. Next up, lentil pots. 200 grams of lentils, two carrots. {said}. {NUMBERS}"
    )
    first, second = recipes(told)
    assert len(first.lines) == 2
    assert not any("egg" in line.text or "cheese" in line.text for line in second.lines)


@pytest.mark.parametrize(
    "said",
    [
        "Two parsnips, the third one was for the horse, and a swede",
        "Two parsnips and one of those tubs of gravy, the last one as it happens, and a swede",
    ],
)
def test_an_ordinal_amid_ingredients_begins_no_recipe(said: str) -> None:
    told = f"Number one, a hotpot. 500 grams of lamb. {said}. {NUMBERS}"
    (one,) = recipes(told)
    assert [line.text for line in one.lines][:2] == ["500 g lamb", "2 parsnips"]


def test_energy_of_what_is_eaten_beside_is_no_total() -> None:
    told = (
        "A tuna boat. One can of tuna, two cucumbers. One serving, 160 calories, 26 protein, 9 carbs, 3 "
        "fat, and if I'm hungry I have a cheese stick, that's 80 calories."
    )
    (one,) = recipes(told)
    assert [s.amount for s in one.stated if s.nutrient == "ENERC_KCAL"] == [160]
    assert [line.text for line in one.lines] == ["1 can tuna", "2 cucumbers"]
    assert not math.isnan(one.servings)


@pytest.mark.parametrize(
    "said",
    [
        "The one from the takeaway is about 1100 calories, I rang and asked. 300 grams of barley. Two leeks",
        "300 grams of barley. Two leeks. Now I used to order the large one, 1800 calories that is",
    ],
)
def test_energy_of_what_one_buys_parts_no_recipe(said: str) -> None:
    cake = (
        "Next up, a plum cake. 400 grams of plums, 200 grams of flour. It makes 8 slices, 190 calories a "
        "slice, 3 protein, 40 carbs, 1 fat."
    )
    supper, _ = recipes(f"First up, a barley supper. {said}. 200 grams of ham. {NUMBERS} {cake}")
    assert [line.text for line in supper.lines] == ["300 g barley", "2 leeks", "200 g ham"]
    assert [s.amount for s in supper.stated if s.nutrient == "ENERC_KCAL"] == [410]


def test_a_list_whose_numbers_come_first_goes_on_behind_them() -> None:
    told = (
        "As always, the sum first. A beetroot salad, 540 calories a plate and 19 grams of protein, two plates. "
        "300 grams of potatoes. 250 grams of beetroot. Two tablespoons of olive oil. A bag of watercress."
    )
    (one,) = recipes(told)
    assert len(one.lines) == 4


def test_times_on_lines_of_their_own_are_no_amounts() -> None:
    told = (
        "0:00\nso first one is the spice\n0:04\nbag this does two so it's 400\n0:07\ngrams of chicken cut up one\n"
        "0:11\negg beat it and 600\n0:15\ngrams of potatoes and that's 540 calories\n0:19\neach and 40 protein\n"
    )
    (one,) = recipes(told)
    assert [line.text.split(",")[0] for line in one.lines] == [
        "400 g chicken", "1 egg", "600 g potatoes",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("said", "line"),
    [
        (
            "The fish goes in and you turn it off. Don't stir, it breaks. Then cream, two decilitres",
            "2 dl cream",
        ),
        ("Two leeks and a carrot, soft as butter", "2 leeks"),
    ],
)
def test_an_amount_is_of_the_food_right_before_it(said: str, line: str) -> None:
    assert line in lines_of(said)


def test_one_of_what_is_shared_out_is_no_amount() -> None:
    told = "Two leeks. You put everything with the beans. It gives ten ladles, I counted. One ladle is 245 calories"
    assert lines_of(told, "and 13 protein.") == ["2 leeks"]


def test_a_base_named_again_where_it_is_used_begins_no_base() -> None:
    base = "The base stays the same for both. 300 ml of milk, one scoop of whey. "
    first = "Shake one. So you've got your base and one banana, 20 grams of peanut butter. 505 calories, 50 protein. "
    second = (
        "Shake two. Apple pie. So base again and into the base you're gonna throw one apple, 30 grams of oats. "
        "390 calories, 44 protein."
    )
    one, two = recipes(f"{base}{first}{second}")
    assert len(one.lines) == len(two.lines) == 4


def test_voices_in_turn_are_no_paragraphs() -> None:
    told = (
        "BO: So, a fish soup. 400 grams of cod, 600 mils of milk.\n\nKIT: And a bay leaf.\n\nBO: And a bay leaf. "
        "Half a kilo of potatoes.\n\nKIT: And lingonberry jam?\n\nBO: No. It's for four.\n\n"
        "KIT: 345 calories a bowl, 26 protein."
    )
    (one,) = recipes(told)
    assert [line.text for line in one.lines][:2] == ["400 g cod", "600 ml milk"]
    assert [s.amount for s in one.stated] == [345, 26]
