"""Dishes told in turns, bases told once, numbers of several recipes: what belongs to which dish."""

from __future__ import annotations

import pytest

from pipeline.intake.model import RawRecipe
from pipeline.intake.spoken.script import read_script

ROAST = """Right, it's a roast tonight, so there are two things on the go. Pork belly in the oven, and a slaw on the side.

The pork first. 800 grams of pork belly, scored, with two teaspoons of salt and one teaspoon of fennel seeds rubbed in. Oven at 220, half an hour, then turn it down.

Meanwhile, the slaw. Half a white cabbage, shredded, and two carrots, grated. Put those in the big bowl.

Turn the pork down to 160 now. And pour 300 millilitres of cider around it, not over it. Another hour and a half.

Okay, dressing for the slaw. Four tablespoons of mayonnaise and one tablespoon of cider vinegar. Toss that through.

The pork's done, let it rest. It feeds four, and it's 690 calories and 22 grams of protein each. The slaw feeds four as well, 190 calories and 2 grams of protein."""

#: Nobody wrote the full stops.
BURGERS = (
    "okay so we are doing burgers and potato wedges at the same time because the oven takes the wedges and the"
    " pan takes the burgers so wedges in first a kilo of potatoes cut into wedges and three tablespoons of"
    " sunflower oil and a teaspoon of paprika tray in the oven now the burgers six hundred grams of beef mince"
    " one egg and fifty grams of breadcrumbs mix and make four while they rest give the wedges a shake and put"
    " fifty grams of parmesan over them back in right burgers in the pan with a tablespoon of butter four"
    " minutes a side so the burgers come out at four and each one is four hundred and thirty calories with"
    " thirty three protein and the wedges serve four and they're three hundred and forty calories with nine"
    " protein okay enjoy"
)

#: The numbers of one dish stand between the lines of the other.
BREAD = """Hello again. I do the soup and the soda bread together, because one waits for the other.

Start with the bread. 450 grams of plain flour, one teaspoon of bicarb and one teaspoon of salt into a bowl. Stir in 400 millilitres of buttermilk. Shape it, cross on top, in the oven.

Now the soup while that bakes. Melt 30 grams of butter, add one onion and 500 grams of carrots. Cover and sweat.

The bread comes out after thirty five minutes. Brush it with 20 grams of butter. It cuts into ten slices, and a slice is 185 calories with 6 grams of protein.

To the soup now add a litre of vegetable stock and 100 millilitres of cream. Blend it. That serves four, 240 calories a bowl and 3 grams of protein."""

CURRY = """Today is curry night: a dal, a raita and flatbreads, all going at once.

The dal goes on first, 250 grams of red lentils, a litre of water and one teaspoon of turmeric. For the flatbreads, 300 grams of plain flour and 200 grams of yogurt, knead it, let it rest. For the raita, 250 grams of yogurt and half a cucumber, grated. Back to the dal: heat two tablespoons of ghee with two teaspoons of cumin seeds and pour it over. And into the raita a handful of mint. Roll the flatbreads out, fry them in one tablespoon of oil.

Numbers. The dal feeds four at 290 calories and 16 grams of protein. The raita feeds four, 50 calories and 3 grams of protein. The flatbreads make six and each is 230 calories and 7 grams of protein."""


#: A line says by what the dish alone has which it goes into: "add the water to the rice".
TIKKA = """Two jobs at once today: the chicken tikka marinates while the pilau cooks.

First the tikka. 700 grams of chicken breast, 150 grams of yogurt, two tablespoons of tikka paste. Leave it in the bowl.

Pilau. Rinse 300 grams of basmati rice. One onion, fried in a tablespoon of ghee.

The tikka goes on skewers and under the grill; brush it with one tablespoon of oil.

Add 600 millilitres of water to the rice and 50 grams of frozen peas, lid on.

Tikka feeds four, 260 calories and 43 grams of protein. Pilau feeds four, 330 calories and 7 grams of protein. So a plate of both is 590 calories and 50 grams of protein."""


def recipes(text: str) -> list[RawRecipe]:
    return read_script(text, kind="script").recipes


def told(text: str) -> list[tuple[float, float, list[str]]]:
    """Servings, energy and lines of each recipe."""
    return [
        (
            one.servings,
            next((s.amount for s in one.stated if s.nutrient == "ENERC_KCAL"), 0.0),
            [line.text for line in one.lines],
        )
        for one in recipes(text)
    ]


@pytest.mark.parametrize(
    ("text", "read"),
    [
        (ROAST, [
            (4, 690, ["800 g pork belly, scored", "2 tsp salt", "1 tsp fennel seeds, rubbed", "300 ml cider"]),
            (4, 190, ["1/2 white cabbage, shredded", "2 carrots, grated", "4 tbsp mayonnaise", "1 tbsp cider vinegar"]),
        ]),
        (BURGERS, [
            (4, 430, ["600 g beef mince", "1 egg", "50 g breadcrumbs", "1 tbsp butter"]),
            (4, 340, ["1 kg potatoes, cut", "3 tbsp sunflower oil", "1 tsp paprika", "50 g parmesan"]),
        ]),
        (BREAD, [
            (10, 185, ["450 g plain flour", "1 tsp bicarb", "1 tsp salt", "400 ml buttermilk", "20 g butter"]),
            (4, 240, ["30 g butter", "1 onion", "500 g carrots", "1 l vegetable stock", "100 ml cream"]),
        ]),
        (CURRY, [
            (4, 290, ["250 g red lentils", "1 l water", "1 tsp turmeric", "2 tbsp ghee", "2 tsp cumin seeds"]),
            (4, 50, ["250 g yogurt", "1/2 cucumber, grated", "1 handful mint"]),
            (6, 230, ["300 g plain flour", "200 g yogurt", "1 tbsp oil"]),
        ]),
        (TIKKA, [
            (4, 260, ["700 g chicken breast", "150 g yogurt", "2 tbsp tikka paste", "1 tbsp oil"]),
            (4, 330, ["300 g basmati rice", "1 onion, fried", "1 tbsp ghee", "600 ml water", "50 g frozen peas"]),
        ]),
    ],
)  # fmt: skip
def test_dishes_told_in_turns(text: str, read: list[tuple[float, float, list[str]]]) -> None:
    assert told(text) == read


def test_lines_told_in_turns_keep_their_place_in_the_speech() -> None:
    read = read_script(ROAST, kind="script")
    said = {read.script[m.start : m.end] for m in read.marks if m.kind == "ingredient"}
    assert "300 millilitres of cider" in said
    assert [m.start for m in read.marks] == sorted(m.start for m in read.marks)


def test_a_dish_that_names_the_food_of_another_takes_no_line_of_it() -> None:
    """Told one after the other, though the second is named before the first begins."""
    text = (
        "Two dinners: a chicken stew, and a yogurt dip to go with it. The stew. 600 grams of chicken thighs,"
        " 200 grams of yogurt and two onions. The stew feeds four, 310 calories and 30 grams of protein."
        " The dip. 300 grams of yogurt and one clove of garlic. The dip feeds six, 40 calories and 3 grams"
        " of protein."
    )
    assert [lines for *_, lines in told(text)] == [
        ["600 g chicken thighs", "200 g yogurt", "2 onions"], ["300 g yogurt", "1 clove garlic"],
    ]  # fmt: skip


@pytest.mark.parametrize(
    "opens",
    ["Here is the mix.", "It all starts from a mix I make on Sundays.", "I want you to see my mix first, it keeps a week."],
)  # fmt: skip
def test_a_base_needs_no_words_that_lead_it_in(opens: str) -> None:
    text = (
        f"{opens} 300 grams of oats, 100 grams of almonds and 50 grams of honey. "
        "The first is a berry bowl. Take the mix, add 200 grams of berries. It serves four, 520 calories, 14 protein. "
        "The second is an apple bowl. Take the mix and two apples. It serves four, 525 calories, 14 protein."
    )
    base = ["300 g oats", "100 g almonds", "50 g honey"]
    assert [lines for *_, lines in told(text)] == [[*base, "200 g berries"], [*base, "2 apples"]]


def test_a_base_may_be_named_behind_its_lines() -> None:
    text = (
        "okay they all begin the same so you take two tablespoons of butter one onion and a litre of vegetable stock"
        " that's your soup base sweat it and simmer it\n"
        "soup number one is leek and potato so the base plus three leeks and 400 grams of potatoes serves four 190"
        " calories and 5 protein\n"
        "soup number two is carrot and ginger the base again 600 grams of carrots serves four 150 calories 3 protein"
    )
    base = ["2 tbsp butter", "1 onion", "1 l vegetable stock"]
    assert [lines for *_, lines in told(text)] == [
        [*base, "3 leeks", "400 g potatoes"], [*base, "600 g carrots"],
    ]  # fmt: skip
    assert [one.title for one in recipes(text)] == ["Leek and potato", "Carrot and ginger"]


def test_pieces_that_a_base_makes_are_the_servings() -> None:
    text = (
        "So the batter for one tin, that's 12 muffins, it's 300 grams of flour, three eggs and 200 mils of milk. "
        "Blueberry muffins. One batter and 200 grams of blueberries. 130 calories and 5 protein a muffin. "
        "Cheese muffins. One batter and 120 grams of cheddar. 165 calories and 7 protein a muffin."
    )
    base = ["300 g flour", "3 eggs", "200 ml milk"]
    assert [(n, lines) for n, _, lines in told(text)] == [
        (12, [*base, "200 g blueberries"]), (12, [*base, "120 g cheddar"]),
    ]  # fmt: skip


def test_a_food_behind_instead_is_not_what_goes() -> None:
    text = (
        "Every bowl starts with a base. The base is 150 grams of cooked rice, 100 grams of black beans and 60 grams of salsa. "
        "Number one, chicken bowl. The base and 150 grams of chicken breast. 560 calories, 55 protein. "
        "Number two, tofu bowl. The base but take out the rice and put 200 grams of cauliflower instead, beans and salsa stay"
        " the same. 200 grams of firm tofu. 480 calories, 44 protein."
    )
    assert sorted(told(text)[1][2]) == [
        "100 g black beans", "200 g cauliflower", "200 g firm tofu", "60 g salsa",
    ]  # fmt: skip


def test_the_sum_of_several_recipes_is_of_none() -> None:
    text = (
        "Lentil soup first. 200 grams of lentils and two carrots. It's for two, 390 calories and 25 grams of protein. "
        "Then a salad. 100 grams of rocket and two tablespoons of olive oil. It's for two, 140 calories and 1 gram of protein.\n\n"
        "So if you have both, that is 530 calories and 26 grams of protein."
    )
    assert [energy for _, energy, _ in told(text)] == [390, 140]


@pytest.mark.parametrize(
    ("numbers", "energy"),
    [
        ("It makes two and they are 330 calories for one burger and 20 grams of protein.", 330),
        ("It makes two and one burger is 303 calories. Sorry, 330. And 20 grams of protein.", 330),
    ],
)
def test_numbers_of_a_share_that_is_named_behind_them(numbers: str, energy: float) -> None:
    (one,) = recipes(f"Today it's burgers. 250 grams of beef mince, two buns. {numbers}")
    assert [line.text for line in one.lines] == ["250 g beef mince", "2 buns"]
    assert {s.nutrient: s.amount for s in one.stated} == {"ENERC_KCAL": energy, "PROCNT": 20}


def test_numbers_that_count_no_food() -> None:
    text = (
        "Sirloin with potatoes. 225 grams of sirloin. 300 grams of potatoes, and 50 grams of butter. Boil for 50 minutes. No, 55."
        " Sirloin, three minutes a side. Rest it five. 900 calories. 55 protein."
    )
    (one,) = recipes(text)
    assert [line.text for line in one.lines] == ["225 g sirloin", "300 g potatoes", "50 g butter"]


def test_halves_are_counted_as_they_are() -> None:
    text = (
        "Now the stuffed eggs. You boil six eggs and mash them with three tablespoons of mayonnaise. So you get"
        " twelve halves, and one half is 60 calories and 3 grams of protein."
    )
    ((servings, _, lines),) = told(text)
    assert (servings, lines) == (12, ["6 eggs", "3 tbsp mayonnaise"])


def test_a_base_that_is_the_same_for_all_is_shared_out_only_where_the_numbers_say_so() -> None:
    text = (
        "So here's the batter, and this is the same for both. Two hundred grams of plain flour, two eggs, three hundred"
        " millilitres of milk. It gives eight waffles every time. The first one is sugar waffles. That batter, and fifty"
        " grams of caster sugar. A hundred and fifty seven calories each, four grams of protein. The second one is"
        " ham waffles. That batter, and a hundred and fifty grams of ham. A hundred and sixty three calories each."
    )
    first, second = told(text)
    assert [line for line in first[2] if "flour" in line] == ["200 g plain flour"]
    assert [line for line in second[2] if "flour" in line] == ["200 g plain flour"]


def test_a_base_that_is_named_stays_though_nobody_says_what_it_makes() -> None:
    text = (
        "So here's the batter. Two hundred grams of plain flour, two eggs, three hundred millilitres of milk. The first"
        " one is sugar waffles. That batter, and fifty grams of caster sugar. A hundred and fifty seven calories each."
        " The second one is ham waffles. That batter, and a hundred and fifty grams of ham. A hundred and sixty three"
        " calories each."
    )
    assert [len(lines) for _, _, lines in told(text)] == [4, 4]
