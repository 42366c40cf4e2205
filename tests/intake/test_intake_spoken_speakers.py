"""Rules of the spoken reader found with seven invented speakers (in-sample; see benchmarks/README)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchmarks.spoken import Reader, score
from pipeline.intake import read_collection
from pipeline.intake.spoken.script import looks_spoken, read_script

FOLDER = Path(__file__).parents[2] / "benchmarks" / "data" / "spoken"
SPEAKERS = ("dale_1.vtt", "hector_1.srt", "orla_1.txt", "pru_1.txt")
FIRST = "First up a nut loaf. 200 grams of walnuts, 100 grams of lentils and {more}. It serves four, 310 calories a slice, 13 protein, 17 carbs, 21 fat. "


def lines_of(text: str) -> list[list[str]]:
    read = read_script(text, kind="script")
    return [[line.text for line in recipe.lines] for recipe in read.recipes]


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader()


@pytest.mark.parametrize("name", SPEAKERS)
def test_every_recipe_of_a_speaker_is_read_as_a_whole(reader: Reader, name: str) -> None:
    path = FOLDER / name
    truth = json.loads((FOLDER / f"{path.stem}.truth.json").read_text())["recipes"]
    detail: list[str] = []
    counts = score(truth, reader.read(path)[0], detail)
    assert (counts.whole, counts.too_many) == (len(truth), 0), detail


@pytest.mark.parametrize(
    ("said", "line"),
    [
        ("80 grams of cheddar, well, make that 100", "100 g cheddar"),
        ("three tablespoons of cream. Or was it four? No, three", "3 tbsp cream"),
        ("a cup of peas make that two cups", "2 cups peas"),
        ("oil of sunflower, two tablespoons", "2 tbsp sunflower oil"),
        ("90 grams of oats, 150 of brown sugar", "150 g brown sugar"),
        ("30 grams of butter. Egg two", "2 egg"),
        ("an onion. Rice I have taken one cup", "1 cup rice"),
        ("one cup of rice, that weighs in near 190 grams", "1 cup rice (190 g)"),
        ("three tablespoons of sugar, no, two", "2 tbsp sugar"),
        ("Raspberries, 300", "300 g raspberries"),
        ("peel them or don't, I don't, 90 grams of raisins", "90 g raisins"),
    ],
)
def test_a_line_said_in_another_way(said: str, line: str) -> None:
    assert line in lines_of(FIRST.format(more=said))[0]


CHANGED = [
    ("lentils", "Next, the same loaf as before, but with 80 grams of raisins instead of the lentils."),
    ("lentils", "Next, it's the same loaf only with 80 grams of raisins in place of the lentils."),
    ("lentils", "Next, same nut loaf but drop the lentils and add 80 grams of raisins."),
    ("walnuts", "On Friday the nut loaf comes back with 80 grams of raisins, and the walnuts stay in the cupboard. All else you know."),
    # in words of no list
    ("walnuts", "And the walnuts leave, it becomes the nut loaf again with 80 grams of raisins."),
    ("walnuts", "Nut loaf again, only no walnuts, 80 grams of raisins go in."),
    ("walnuts", "I do me a raisin version and that's all of that, the walnuts go, 80 grams of raisins come."),
]  # fmt: skip


@pytest.mark.parametrize(("gone", "said"), CHANGED)
def test_a_recipe_told_as_a_change_of_the_one_before(gone: str, said: str) -> None:
    numbers = {
        "lentils": "398 calories a slice, 9 protein, 25 carbs, 33 fat.",
        "walnuts": "160 calories a slice, 7 protein, 34 carbs, 1 fat.",
    }
    first, second = lines_of(
        f"{FIRST.format(more='an onion')}{said} It serves four, {numbers[gone]}"
    )
    assert len(first) == 3
    kept = {line for line in first if not line.endswith(gone)}
    assert set(second) == kept | {"80 g raisins"}
    assert len(second) == 3


def test_a_correction_out_of_all_proportion_is_an_oven() -> None:
    said = FIRST.format(more="two cups of peas, bake at 190, no, 180")
    assert "2 cups peas" in lines_of(said)[0]


def test_one_more_food_behind_a_full_stop_is_no_recipe() -> None:
    assert len(lines_of(FIRST.format(more="50 grams of butter. And then cheese. 80 grams"))) == 1


def test_numbers_that_follow_from_its_own_lines_make_no_change_of_an_earlier_recipe() -> None:
    said = "Then the same tin again for rock buns, 80 grams of raisins and 300 grams of flour."
    second = lines_of(FIRST.format(more="an onion") + said + " It serves four, 333 calories a slice, 8 protein, 73 carbs, 1 fat.")[1]  # fmt: skip
    assert sorted(second) == ["300 g flour", "80 g raisins"]


def test_a_terse_script_is_told_from_written_lines_by_its_energy() -> None:
    said = "Spaghetti 400 grams. Olives 100 grams. Capers two tablespoons. Garlic three. Tomatoes two tins. One onion. Basil 20 grams. Serves four. 510 kcal, P 16, C 84, F 13. "
    assert looks_spoken(said)
    assert not looks_spoken(said.split("510")[0] * 2)


def test_talk_whose_lines_hold_an_amount_each_is_read_as_talk(tmp_path: Path) -> None:
    said = """hello it is the boat kitchen again and what I show you today is the pea soup
four hundred grams of peas that is the frozen ones
and an onion and half a litre of vegetable stock
then two tablespoons of cream that you stir in when it is off the heat
it makes three bowls and each of them is a hundred and fifty calories and eight grams of protein
"""
    path = tmp_path / "boat.txt"
    path.write_text(said)
    assert list(read_collection(path).line["text"]) == [
        "400 g peas", "1 onion", "1/2 l vegetable stock", "2 tbsp cream",
    ]  # fmt: skip


def test_how_many_it_makes_is_known_from_the_share_the_numbers_are_for() -> None:
    said = FIRST.format(more="an onion").replace("It serves four", "Eight scones total, per scone")
    assert not any("scone" in line for line in lines_of(said)[0])


STEW = "First up a galley stew. 500 grams of lamb. {said} 400 grams of carrots. It serves four. 410 calories a plate, 30 protein, 40 carbs, 13 fat."


@pytest.mark.parametrize(
    ("said", "line", "not_line"),
    [
        ("The cream next, 150 mils.", "150 ml cream", ""),
        ("Crème fraîche, 90 grams.", "90 g crème fraîche", ""),
        ("Onions, two medium ones.", "2 medium onions", ""),
        ("Tomatoes 200 grams cut in half mushrooms six of them.", "6 mushrooms", "1/2"),
        ("Pour in half a cup of cider.", "1/2 cup cider", ""),
        ("Rice, 300 grams. No, I'm telling a lie, 250 grams.", "250 g rice", "300 g"),
        ("The leeks now. Peel those, my mother never did, we ate mud. Four of them.", "4 leeks", "mud"),
        ("Coconut milk, I opened three tins. Two go in and half of the third, so that's two and a half tins.", "2 1/2 tins coconut milk", "3 tins"),
        ("Chicken, 600 grams for the pot, so it's 150 for each of you.", "600 g chicken", "150"),
        ("That gives me about 900 grams of paste.", "", "900 g"),
        ("The butcher gives me 800 grams of ham.", "800 g ham", ""),
        ("Flour, 200 grams, and use 30 of it for dusting.", "200 g flour", "30 g"),
        ("Two eggs a head.", "8 eggs", ""),
        ("Garlic, a head. A tin of peas.", "1 head garlic", ""),
        ("Then the beans. Tinned. How many? 300 grams.", "300 g beans", ""),
        ("Some people put peas in it.", "", "peas"),
        ("The breadcrumbs you toast. And the crumbs, that's 90 grams.", "90 g breadcrumbs", ""),
        ("I wonder how one can cook it badly.", "", "can"),
        ("A tablespoon of oil, that's all.", "400 g carrots", ""),
        ("500 grams leeks potatoes 300 grams.", "300 g potatoes", "leeks potatoes"),
        # numbers that name a thing
        ("A teaspoon of five spice.", "1 tsp five spice", "5 spice"),
        ("Two cups of three bean salad.", "2 cups three bean salad", ""),
        ("Use a 12 muffin tin.", "", "muffin"),
        ("It is like a three egg omelette.", "", "egg"),
        ("We call it the Deck Four Potato Soup.", "", "4 potato"),
        ("Two fat leeks.", "2 leeks", ""),
        ("200 grams of 5 percent fat mince.", "200 g 5% fat mince", ""),
        ("season it salt pepper whatever tablespoon of oil in the pot", "1 tbsp oil", ""),
        # what is no amount of the food before it
        ("Two cups of stock. Blend it so you want it half and half.", "2 cups stock", "1/2"),
        ("write down the date because for one of those you need patience.", "", "date"),
        ("The bread of the day, she says eight, there's seven in the box.", "", "bread"),
        ("Cook until the oil splits. I get around 3 cups from this.", "", "oil"),
        ("Wash it with lime. The rub is two teaspoons of all purpose.", "", "lime"),
        # a count or amount said anew
        ("So that's four potatoes. Three. My mum does four for the big tray, not now. Fine, three potatoes.", "3 potatoes", "4 potatoes"),
        ("A teaspoon of miso in each pot, so four teaspoons.", "4 tsp miso", "1 tsp"),
        ("Get four flatbreads, the small ones.", "4 flatbreads", ""),
        ("Two cups of mozzarella, no hang on a cup and a half. Two cups is what my cousin does.", "1 1/2 cup mozzarella", "2 cups"),
        ("800 grams of pork bones call it a kilo.", "1 kg pork bones", "800"),
        ("Two spoons of palm oil. My sister says it is one full cup of oil. No. Two tablespoons.", "2 tbsp palm oil", "cup"),
        ("Vegetable oil, four tablespoons. Hm, four was greedy; three.", "3 tbsp vegetable oil", "4 tbsp"),
        ("Rice, 300 grams. That's 12 small servings, no, sorry, it's 9.", "300 g rice", "9"),
        ("Two tablespoons of light cream on each one so you need eight.", "8 tbsp light cream", "2 tbsp"),
        ("Eight slices of bread, a day old.", "8 slices bread", ""),
        ("A vanilla quark, 250 grams of quark.", "250 g vanilla quark", "1 vanilla"),
        ("24 wafers so four a cup my aunt says.", "24 wafers", "cup"),
        # the same said of one share
        ("Six small pitas. One person is two skewers with two pitas.", "6 small pitas", "2 pitas"),
        # which amount is of which food
        ("feta 150 grams and olive oil two tablespoons lemon juice from one lemon.", "2 tbsp olive oil", "lemon juice"),
        ("one teaspoon of mustard chives a handful and the bread.", "1 handful chives", "mustard chives"),
        ("ten minutes at 200 seaweed sheets on the side four of them.", "4 seaweed sheets", "200"),
        ("short pasta like ditalini, 160 grams.", "160 g short pasta", "ditalini"),
        # how it is done elsewhere
        ("The real sauce is basically a cup of oil, so no.", "", "oil"),
        ("It's my granny's soup, she used a ham hough and half a pound of butter, I'm not kidding.", "", "hough"),
        ("My momma put a whole can of condensed milk in hers.", "", "milk"),
        ("The original place near me uses half a litre of cream.", "", "cream"),
        ("My husband would have half a pack of butter in there.", "", "butter"),
        ("A normal tin of soup might be 90 calories with 2 grams of protein.", "500 g lamb", ""),
        ("Salt and pepper. That's it. That's the taste. 60 grams of cheddar.", "60 g cheddar", ""),
    ],
)  # fmt: skip
def test_an_amount_told_by_another_speaker(said: str, line: str, not_line: str) -> None:
    lines = lines_of(STEW.format(said=said))[0]
    assert not line or any(text.startswith(line) for text in lines), lines
    assert not not_line or not any(not_line in text for text in lines), lines


def test_numbers_of_a_tray_and_of_a_share_are_one_recipe() -> None:
    said = (
        "Number one is kebabs. 500 grams of lamb, one onion, 200 grams of yoghurt. The whole tray is"
        " 1,360 calories. But you have two, two kebabs each, so there's four portions in there. So for"
        " your two kebabs you have 340 calories, 28 protein, 6 carbs, 23 fat."
    )
    read = read_script(said, kind="script").recipes
    assert [(r.servings, len(r.lines)) for r in read] == [(4.0, 3)]


def test_pieces_that_one_has_of_those_made_are_a_serving() -> None:
    said = (
        "Today, lamb skewers. 500 grams of lamb, one onion, 200 grams of yoghurt. That makes eight"
        " skewers and you get two each. It's 340 calories, 28 protein, 6 carbs, 23 fat."
    )
    assert [r.servings for r in read_script(said, kind="script").recipes] == [4.0]


def test_the_next_day_of_a_method_begins_no_recipe() -> None:
    said = (
        "Dinner one is lentil pot. Lentils you soak. 200 grams of them. The next day, in a pan, one"
        " tablespoon of oil, two onions. It serves four. 210 calories a plate, 13 protein, 30 carbs, 4 fat."
    )
    assert lines_of(said) == [["200 g lentils", "1 tbsp oil", "2 onions"]]


def test_numbers_beside_a_supposed_energy_are_supposed_too() -> None:
    said = STEW.format(said="An onion.") + " A tin of stew might be 90 calories with 2 of protein."
    [recipe] = read_script(said, kind="script").recipes
    assert {s.nutrient: s.amount for s in recipe.stated}["PROCNT"] == 30
    assert not any("tin" in line.text for line in recipe.lines)


def test_food_that_cooks_again_points_at_no_earlier_recipe() -> None:
    second = "Number two is egg wraps. Six eggs, scramble them soft, they're going to cook again. Six tortillas. It makes six, 250 calories each, 12 protein, 25 carbs, 10 fat."
    assert len(lines_of(f"{STEW.format(said='')} {second}")[1]) == 2


def test_a_base_that_is_measured_out_is_a_recipe_and_a_line() -> None:
    said = (
        "So the onion mix. You take 6 onions, 3 tablespoons of oil and 4 tomatoes."
        " First dish is chana. It is for four. {one} of the onion mix, two tins of chickpeas."
        " Each serving is 260 calories, 12 protein, 36 carbs, 7 fat."
    )
    made, used = lines_of(said.format(one="Take one cup"))
    assert made == ["6 onions", "3 tbsp oil", "4 tomatoes"]
    assert used == ["1 cup onion mix", "2 tins chickpeas"]
    assert len(lines_of(said.format(one="Use all"))) == 1


@pytest.mark.parametrize(
    ("said", "title"),
    [
        ("First one is what we call the Deck Four Leek Soup, for four.", "Deck four leek soup"),
        ("Number two. The easy one. It's Salmon with Butter Bean Mash.", "Salmon with butter bean mash"),
        ("The first dish is Red Red. You know it, it is the beans.", "Red red"),
        # capital letters say nothing where captions set them anywhere
        ("First Up A Leek Soup For Four People And The Dog.", "Leek soup"),
    ],
)  # fmt: skip
def test_a_dish_written_as_a_name_is_the_title(said: str, title: str) -> None:
    text = f"{said} 500 grams of leeks and a litre of stock. 110 calories a bowl, 5 protein."
    text = text.title() if said.istitle() else text
    assert [r.title for r in read_script(text, kind="script").recipes] == [title]


@pytest.mark.parametrize(
    ("said", "servings"),
    [
        ("It's for two people. For one person it is 170 calories, 14 protein.", 2),
        ("Four pots. 200 grams of noodles, so 50 a pot. 230 calories a pot, 6 protein.", 4),
    ],
)
def test_shares_are_no_servings(said: str, servings: float) -> None:
    text = f"Next, egg noodles. {said} 4 eggs and 100 ml of milk."
    assert [r.servings for r in read_script(text, kind="script").recipes] == [servings]


def test_pieces_of_the_dish_are_servings() -> None:
    said = (
        "First, the smoko muffins cheese ones. Two cups of flour, two cups of cheddar, an egg and a"
        " cup of milk. Twelve muffins 200 degrees fifteen minutes and they're 178 calories each, 8"
        " protein, 17 carbs, 9 fat."
    )
    assert [r.servings for r in read_script(said, kind="script").recipes] == [12]
    said = (
        "Second. Potato pancakes. We count 12 pancakes, 3 for each person. 1 kilo of potatoes, 2 eggs,"
        " 3 tablespoons of oil. For your 3 pancakes that is 320 calories, 8 protein, 43 carbs, 13 fat."
    )
    assert [r.servings for r in read_script(said, kind="script").recipes] == [4]


def test_servings_said_of_all_recipes_at_once() -> None:
    said = "Three slow cooker dinners, all of them feed 4. " + STEW.format(said="").replace("It serves four. ", "")  # fmt: skip
    assert [r.servings for r in read_script(said, kind="script").recipes] == [4]


def test_a_terse_script_is_read_as_talk_where_that_understands_more_lines(tmp_path: Path) -> None:
    said = (
        "Recipe number one, paneer bhurji. This serves two. Low fat paneer, 250 grams, crumble it by"
        " hand. Onion one, tomato two, green chilli two. Oil only one teaspoon. Water as needed."
        " Macros per serving: 310 calories, protein 32, carbs 15, fat 14."
    )
    path = tmp_path / "paneer.txt"
    path.write_text(said)
    assert list(read_collection(path).line["text"]) == [
        "250 g low fat paneer", "1 onion", "2 tomato", "2 green chilli", "1 tsp oil",
    ]  # fmt: skip


def test_the_rest_of_what_was_opened_is_no_other_amount() -> None:
    said = STEW.format(said="Half a jar of red pesto. The other half goes in the fridge.")
    assert "1/2 jar red pesto" in lines_of(said)[0]
