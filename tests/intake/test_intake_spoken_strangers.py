"""Ways of telling amounts and numbers that speakers nobody had looked at brought along."""

from __future__ import annotations

import pytest

from pipeline.intake.spoken.captions import Piece
from pipeline.intake.spoken.script import read_script
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.totals import Totals
from pipeline.intake.spoken.words import words_of


def read(text: str):
    return read_script(text, kind="script").recipes


def lines_of(text: str) -> list[list[str]]:
    return [[line.text for line in recipe.lines] for recipe in read(text)]


PIE = "Next, the fish pie. {said} {end}"
END = "That is 410 calories, 30 protein, 40 carbs, 14 fat."


@pytest.mark.parametrize(
    ("said", "lines"),
    [
        # a verb of the kitchen before an amount that closes is a thing
        ("Salmon four hundred grams, cream two decilitres, and one leek.",
         ["400 g salmon", "2 dl cream", "1 leek"]),
        # a food named before is stood for
        ("Tomatoes, I take 100 grams of the small ones. Lemon juice, one tablespoon.",
         ["100 g tomatoes", "1 tbsp lemon juice"]),
        ("300 grams of rice. Avocado, a half one.", ["300 g rice", "1/2 avocado"]),
        ("Two of the big cans of hominy and three carrots.", ["2 cans hominy", "3 carrots"]),
        ("Two of them eggs and 200 grams of rice.", ["2 eggs", "200 g rice"]),
        ("Tomatoes I had four of them feta I use the light one 100 grams.",
         ["4 tomatoes", "100 g feta"]),
        # a count behind its food, and not that of somebody else
        ("Cherry tomatoes I do like five and some rice, 200 grams.",
         ["5 cherry tomatoes", "200 g rice"]),
        # cups that hold ounces are tubs
        ("Two 5 ounce cups of Greek yogurt and 200 grams of rice.",
         ["10 oz greek yogurt", "200 g rice"]),
        # an amount taken back for one of a food named in more words
        ("300 grams of cod, 50 grams of butter. No sorry, 60 grams of salted butter.",
         ["300 g cod", "60 g salted butter"]),
        # what the recipe is called is none of its own ingredients
        ("300 grams of cod, 200 grams of rice, a salad and a fish pie.", ["300 g cod", "200 g rice"]),
        # a length and parts of one that are counted
        ("Two onions. Ginger, an inch. 200 grams of rice.",
         ["2 onions", "1 inch ginger", "200 g rice"]),
        ("Three quarter cup of almond milk and two eggs.", ["3/4 cup almond milk", "2 eggs"]),
        ("The ditalini, it's a cup and a half dry, and 200 grams of ham.",
         ["1 1/2 cup ditalini, dry", "200 g ham"]),
        # the amount that all of them come to
        ("600 grams of potatoes and a slice of wholegrain bread for everyone, so four slices.",
         ["600 g potatoes", "4 slices wholegrain bread"]),
        # people are no amount
        ("300 grams of rice and an egg is good. There's four of us.", ["300 g rice", "1 egg"]),
    ],
)  # fmt: skip
def test_amounts(said: str, lines: list[str]) -> None:
    assert lines_of(PIE.format(said=said, end=END))[0] == lines


def test_another_recipe_of_the_script_is_served_beside_it() -> None:
    said = PIE.format(said="300 grams of cod. Then a yogurt flatbread goes beside it.", end=END)
    other = "Next up, yogurt flatbread. 300 grams of flour and 200 grams of yogurt."
    assert lines_of(f"{said} {other} {END}") == [["300 g cod"], ["300 g flour", "200 g yogurt"]]


def test_an_energy_said_in_two_halves() -> None:
    said = PIE.format(said="300 grams of cod, 200 grams of rice.", end="It serves four.")
    (pie,) = read(f"{said} The whole thing is nineteen twenty calories and 120 grams of protein.")
    assert [one.amount for one in pie.stated] == [1920.0, 120.0]


def test_what_a_verb_does_is_no_food() -> None:
    said = "200 grams of breadcrumbs, a quarter cup stays on the plate. Two eggs."
    assert not any("stays" in line for line in lines_of(PIE.format(said=said, end=END))[0])


@pytest.mark.parametrize("filler", ["um", "uh", "you know"])
@pytest.mark.parametrize("at", range(4, 34, 3))
def test_a_filler_changes_nothing(filler: str, at: int) -> None:
    text = (
        "next up is the lemon rice so you need two hundred grams of rice and three tablespoons of"
        " natural yoghurt and half a cup of peas and it is three hundred and ten calories"
    )
    words = text.split()
    other = " ".join([*words[:at], filler, *words[at:]])
    assert lines_of(other) == lines_of(text)
    assert [s.amount for r in read(other) for s in r.stated] == [310.0]


def test_the_energy_of_something_else_is_passed_over() -> None:
    (soup, pie) = read(
        "First, the leek soup. 300 grams of leeks and 400 grams of potatoes."
        " 190 calories, 5 protein, 40 carbs, 1 fat."
        " Second, the chicken pie, no pastry. A pie from the chip shop is 700 calories."
        " 400 grams of chicken breast and 500 grams of potatoes. It serves two."
        " 440 calories, 50 protein, 45 carbs, 6 fat."
    )
    assert len(soup.stated) == 4
    assert {s.amount for s in pie.stated} == {440.0, 50.0, 45.0, 6.0}


def totals(text: str) -> list[list[float]]:
    found = Totals(Talk(words_of([Piece(text, 1)]))).found
    return [[p.value for p in total.parts] for total in found]


def test_the_numbers_of_a_day_are_not_those_of_its_first_meal() -> None:
    said = "Five meals, 3400 calories, 220 protein. Meal one. 690 calories, 52 protein, 78 carbs, 19 fat."
    assert totals(said) == [[3400, 220], [690, 52, 78, 19]]


def test_a_number_stays_with_its_word_before_another_passage() -> None:
    said = (
        "It is 385 calories, protein 24, carbs 14, and fat 26. Jam is extra."
        " If you take two spoons it's 40 calories more."
    )
    assert totals(said) == [[385, 24, 14, 26]]


def test_calories_from_a_piece_are_its_own() -> None:
    said = "You get 200 calories from a piece, 3 protein, 31 carbs, 8 fat."
    assert totals(said) == [[200, 3, 31, 8]]


def test_one_phrase_does_not_outvote_all_other_words() -> None:
    said = "300 grams of cod. And then I eat it on ten saltines and an apple. 200 grams of peas."
    assert "10 saltines" in lines_of(PIE.format(said=said, end=END))[0]


# --- where one recipe ends and the next begins --------------------------------------------------

SOUP = "200 grams of lentils 1 onion 2 carrots and a tablespoon of oil"
RICE = "150 grams of rice 100 grams of chicken breast and a teaspoon of butter"
TOLD = ("510 calories 30 protein 60 carbs 15 fat", "420 calories 35 protein 45 carbs 9 fat")


@pytest.mark.parametrize(
    ("first", "second"),
    [
        # what ordinals count needs no phrase of the tables
        ("hello from the depot first feed lentil soup", "second feed chicken rice"),
        # bare numbers before dishes and their numbers are no amounts
        ("two meals let's go one lentil soup", "done two chicken rice one box"),
    ],
)
def test_dishes_that_are_counted(first, second):
    found = lines_of(f"{first} {TOLD[0]} {SOUP} {second} {TOLD[1]} {RICE} done")
    assert found == [
        ["200 g lentils", "1 onion", "2 carrots", "1 tbsp oil"],
        ["150 g rice", "100 g chicken breast", "1 tsp butter"],
    ]


def test_what_the_dish_before_serves_is_not_of_the_next():
    found = read(
        f"okay first is lentil soup {SOUP} whole pot is 1020 calories 60 protein 120 carbs 30 fat"
        f" for two people next thing is chicken rice {RICE} {TOLD[1]} that is one plate"
    )
    assert [one.servings for one in found] == [2, 1]


def test_servings_of_everything_that_is_told():
    found = read(
        "hello we got four on today so everything you hear is for four and here we go. "
        f"First up is lentil soup. {SOUP}. 230 calories a plate 13 protein 34 carbs 5 fat. Next up is"
        f" chicken rice. {RICE}. 175 calories a plate 9 protein 30 carbs 2 fat."
    )
    assert [one.servings for one in found] == [4, 4]


def test_numbers_in_the_middle_of_every_list():
    found = read(
        "Good day. We start with carrot casserole. 700 grams of carrots. 130 grams of rice in 500"
        " millilitres of milk. For one portion, and I make six, it is 247 kilocalories, protein 8,"
        " carbohydrates 40, fat 6. And to continue: two eggs, two tablespoons of syrup. On the top 25"
        " grams of breadcrumbs, and 15 grams of butter.\n\n"
        "Then we go to the oven pancake. 800 millilitres of milk. Four eggs. 210 grams of plain flour."
        " I cut it to eight squares and one square has 252 kilocalories, with protein 10,"
        " carbohydrates 31 and fat 10. Half a teaspoon of salt also. And 50 grams of butter, which you"
        " melt in the tray.\n\n"
        "Then we go to the last one, beef and cabbage pot. You need one kilo of it, white cabbage. 500"
        " grams of minced beef. One onion. One portion of five is 370 kilocalories, protein 28,"
        " carbohydrates 38, fat 13. One tablespoon of butter, one tablespoon of dark syrup. 250 grams"
        " of barley, and 600 millilitres of stock."
    )
    assert [len(one.lines) for one in found] == [7, 5, 7]
    assert [one.servings for one in found] == [6, 8, 5]


def test_a_counted_food_beside_one_with_its_weight_behind():
    (found,) = read(
        "Next, the goulash. 800 grams of pork shoulder two red peppers tomato paste 50 grams and two"
        " chicken thigh fillets 300 grams. That is 410 calories, 30 protein, 40 carbs, 14 fat."
    )
    said = [line.text for line in found.lines]
    assert said[:3] == ["800 g pork shoulder", "2 red peppers", "50 g tomato paste"]
    assert len(said) == 4
