"""What talk says beside a recipe: food talked about, shares, alternatives, habits, corrections.

The rules were found with invented speakers; the sentences here are of none of them.
"""

from __future__ import annotations

import math

import pytest

from pipeline.intake.model import RawRecipe
from pipeline.intake.spoken.script import read_script

NUMBERS = "It serves four, 410 calories a plate, 22 protein, 48 carbs, 14 fat."


def recipes(text: str) -> list[RawRecipe]:
    return read_script(text, "x.txt", kind="script").recipes


def lines_of(said: str, numbers: str = NUMBERS) -> list[str]:
    told = f"First up, a barley supper. 300 grams of barley, rinsed. {said}. {numbers}"
    (one,) = recipes(told)
    return [line.text for line in one.lines if not line.text.startswith("300 g barley")]


@pytest.mark.parametrize(
    ("said", "lines"),
    [
        # food that is talked about
        ("Three turnips, there's always mud on a turnip", ["3 turnips"]),
        ("Four eggs, the best thing an egg has ever done", ["4 eggs"]),
        ("Two fennel bulbs. They charge four euros for a kilo of fennel", ["2 fennel bulbs"]),
        ("Three tablespoons of honey. A tablespoon of honey is about sixty calories", ["3 tbsp honey"]),
        ("Half a cup of sugar. It was two cups", ["1/2 cup sugar"]),
        ("60 grams of lard. Who eats half a cup of lard", ["60 g lard"]),
        # a condition belongs to what it stands behind
        ("Eight dates, pitted if you can get them, and 40 grams of pistachios",
         ["8 dates, pitted", "40 g pistachios"]),
        ("50 grams of butter, if you want you could add 20 grams of cheese",
         ["50 g butter", "20 g cheese, optional"]),
        # what others do, and what was done before
        ("Two onions. People normally use five onions", ["2 onions"]),
        ("Two onions. Normally there is cream and half a packet of butter", ["2 onions"]),
        ("Two leeks. Back then we put two ham hocks in", ["2 leeks"]),
        ("80 grams of sugar. In the old recipe it says 200 grams", ["80 g sugar"]),
        ("I know people use cream, and a teaspoon of cumin", ["1 tsp cumin"]),
        ("A slice of halloumi, that's not counted. Two limes", ["2 limes"]),
        # alternatives
        ("Three peaches or two nectarines. 30 grams of almonds", ["3 peaches", "30 g almonds"]),
        ("One chilli, or two. I took two", ["2 chilli"]),
        # what it is set against, and what is eaten, bought or known of it
        ("Two limes. There's no need for a stock cube", ["2 limes"]),
        ("Two limes. That replaces about 100 grams of butter", ["2 limes"]),
        ("Two limes. Imagine a cup of sugar in that", ["2 limes"]),
        ("Two limes. I once put a whole bulb of garlic in by mistake", ["2 limes"]),
        ("A tin of sardines. There's about 20 grams of fat in a tin of sardines", ["1 tin sardines"]),
        ("200 grams of kale. A bag of kale is usually 500 grams", ["200 g kale"]),
        ("60 grams of lard. At the fair we went through four kilos of lard", ["60 g lard"]),
        ("50 grams of honey, I used to do 80, a teaspoon of cumin", ["50 g honey", "1 tsp cumin"]),
        # food that is worked with
        ("Six eggs. Take one egg, and beat two of the eggs", ["6 eggs"]),
        ("Two cups of milk. Add one cup of the milk now", ["2 cups milk"]),
        ("400 grams of halloumi, cut in eight pieces of halloumi", ["400 g halloumi, cut"]),
        ("Two spoons of oil. Later another spoon of oil", ["2 tbsp oil", "1 tbsp oil"]),
        # shares of what is named
        ("400 grams of halloumi, a slice of halloumi on each plate", ["400 g halloumi"]),
        ("The wraps, it's two each, so eight corn wraps", ["8 corn wraps"]),
        ("Eight wraps. Two wraps each, that is", ["8 wraps"]),
    ],
)  # fmt: skip
def test_only_what_goes_in_is_a_line(said: str, lines: list[str]) -> None:
    assert lines_of(said) == lines


@pytest.mark.parametrize(
    ("said", "line"),
    [
        ("a kilo and two hundred grams of veal", "1.2 kg veal"),
        ("one pound and eight ounces of veal", "1 1/2 lb veal"),
        ("one kilo and three hundred of veal", "1.3 kg veal"),
        ("400 grams of feta, a hundred of walnuts", "100 g walnuts"),
        ("two fifteen ounce cans of chickpeas", "2 x 15 oz cans chickpeas"),
        ("a teaspoon of pepper, well, half a teaspoon", "1/2 tsp pepper"),
        ("90 grams of oats, 80 no 70 grams of raisins", "70 g raisins"),
        ("two cartons of cream, 200 grams a carton", "400 g cream"),
        ("a block of feta, light feta, it's 180 grams", "1 block light feta (180 g)"),
        ("berries five or six pieces crushed", "5-6 pieces berries"),
        ("one of those tubs of hummus", "1 tub hummus"),
        ("a cup of half and half", "1 cup half-and-half"),
        ("litre and a half of stock", "1 1/2 l stock"),
        ("a two pound bag of veal", "2 lb veal"),
        ("half a spoon of oil per head, so that's two spoons in all", "2 tbsp oil"),
    ],
)
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


@pytest.mark.parametrize(
    ("numbers", "servings"),
    [
        ("The whole pot is 1,640 calories, so I divide by four: 410, 22 protein, 48 carbs, 14 fat", 4),
        ("410 calories a plate, 22 protein, 48 carbs, 14 fat. So that's four plates", 4),
        ("If you take one plate it's 410 calories, 22 protein, 48 carbs, 14 fat. Four plates", 4),
        ("That'd be 410 calories, 22 protein, 48 carbs, 14 fat a plate. Four portions", 4),
        ("Three portions, or four, I say four. 410 calories, 22 protein, 48 carbs, 14 fat", 4),
        ("For me and my dad, so two people. 820 calories each, 44 protein, 96 carbs, 28 fat", 2),
        ("That's a quarter of the pot: 410 calories, 22 protein, 48 carbs, 14 fat", 4),
        ("Portions: four. 410 calories, 22 protein, 48 carbs, 14 fat", 4),
    ],
)  # fmt: skip
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
