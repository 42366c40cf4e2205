"""Which food a name means: structure, states, fat, spelling. Lines and expectations are our own.

Foods are USDA SR28 (public domain); what a cook means by a name is common practice.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.lines import parse
from pipeline.match.index import Index
from pipeline.match.matcher import Matcher
from pipeline.memory import Decision, Decisions, Pantry
from pipeline.memory.pantry import PantryFood


@pytest.fixture(scope="module")
def matcher(index: Index) -> Matcher:
    return Matcher(index)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        # the last noun heads an English compound; the longest name wins
        ("2 tbsp peanut butter", ["peanut butter"]), ("1 tin coconut milk", ["coconut milk"]),
        ("1 tsp cream of tartar", ["cream of tartar"]), ("100 g almond flour", ["almond"]),
        ("1 tbsp rice vinegar", ["vinegar"]), ("300 g sweet potato", ["sweet potato", "raw"]),
        ("1 tin butter beans, drained", ["lima"]), ("2 egg whites", ["egg, white", "raw"]),
        ("200 g chestnut mushrooms", ["mushroom"]), ("1 tbsp lemon juice", ["lemon juice"]),
        ("1 red pepper, sliced", ["peppers, sweet, red"]), ("1 tsp black pepper", ["pepper, black"]),
        # regional words
        ("2 courgettes", ["zucchini"]), ("1 aubergine", ["eggplant"]), ("100 g rocket", ["arugula"]),
        ("1 tsp bicarbonate of soda", ["baking soda"]), ("100 g caster sugar", ["sugars, granulated"]),
        # states
        ("150 g cooked quinoa", ["quinoa", "cooked"]), ("150 g quinoa", ["quinoa", "uncooked"]),
        ("100 g grilled chicken breast", ["breast", "cooked"]),
        ("400 g tin lentils, drained", ["lentils", "cooked"]), ("80 g red lentils", ["lentils", "raw"]),
        ("50 g raisins", ["raisins"]), ("100 g smoked salmon", ["salmon", "smoked"]),
        # fat by composition
        ("500 g beef mince, 5% fat", ["95% lean"]), ("500 g 20% fat minced beef", ["80% lean"]),
        ("200 ml semi-skimmed milk", ["2% milkfat"]), ("150 g 0% Greek yoghurt", ["greek", "nonfat"]),
        # what it is bought as, behind the name; what a cook does is none
        ("500 g beef, minced", ["beef, ground"]), ("100 ml cream, soured", ["cream, sour"]),
        ("80 g oats, rolled", ["oats, regular and quick"]), ("20 g ginger, minced", ["ginger root"]),
        ("400 g tomatoes, chopped", ["tomatoes", "raw"]),
        # spelling
        ("2 tomatos", ["tomatoes"]), ("1 tbsp olive oyl", ["oil, olive"]), ("200 g brocolli", ["broccoli"]),
        ("1 tsp cinamon", ["cinnamon"]), ("100 g parmesean", ["parmesan"]),
    ],
)  # fmt: skip
def test_food(matcher: Matcher, line: str, words: list[str]) -> None:
    found = matcher.match_one(parse(line))
    assert found.food_id is not None, found
    for word in words:
        assert word in found.description.lower(), found


@pytest.mark.parametrize(
    "line",
    [
        "5 g creatine monohydrate", "2 tbsp gochujang", "100 g halloumi", "200 ml oat milk",
        "1 tbsp xylophone shavings", "30 g grobnak powder", "1 tbsp harissa",
    ],
)  # fmt: skip
def test_what_the_table_lacks_is_not_accepted(matcher: Matcher, line: str) -> None:
    assert matcher.match_one(parse(line)).status != "accepted"


@pytest.mark.parametrize("line", ["For the sauce:", "8 wooden skewers", "", "   ", "🍋"])
def test_no_food_is_no_match_and_says_why(matcher: Matcher, line: str) -> None:
    found = matcher.match_one(parse(line))
    assert found.food_id is None
    assert found.reason


def test_every_answer_gives_a_reason_and_a_probability(matcher: Matcher) -> None:
    for line in ("2 eggs", "a something of elsewhere", "1 cup milk", "mystery powder 20 g"):
        found = matcher.match_one(parse(line))
        assert found.reason
        assert 0 <= found.confidence <= 1
        assert sum(c.probability for c in found.runners_up) <= 1.0 + 1e-6


def test_what_is_said_of_an_alternative_says_nothing_of_the_first_food(matcher: Matcher) -> None:
    plain = matcher.match_one(parse("1/2 cup ghee"))
    for text in ("ghee (or two sticks butter or vegan butter)", "ghee or 3 tbsp coconut oil"):
        found = matcher.match_one(parse(f"1/2 cup {text}"))
        assert (found.food_id, found.status) == (plain.food_id, "accepted"), text


@pytest.mark.parametrize("line", ["1 pot fruit", "100 g zed paste", "1 tsp Indian Kashmiri powder"])
def test_a_word_of_a_lacking_foods_name_is_not_that_food(matcher: Matcher, line: str) -> None:
    found = matcher.match_one(parse(line))
    assert found.food_id is None
    assert found.status == "unmatched"


def test_alternatives_are_tried_when_the_first_is_lacking(matcher: Matcher) -> None:
    found = matcher.match_one(parse("100 g halloumi or feta"))
    assert "feta" in found.description.lower()


def test_the_pantry_comes_before_the_table_and_decisions_before_both(index: Index) -> None:
    pantry = Pantry()
    pantry.add(
        PantryFood("pantry:quay-milk", "Quay milk", ("milk",), "1 glass", 200, {"ENERC_KCAL": 50})
    )
    decisions = Decisions()
    decisions.add(Decision("1 cup milk", "sr28:01085"))
    own = Matcher(index, pantry=pantry)
    assert own.match_one(parse("1 cup milk")).food_id == "pantry:quay-milk"
    assert "coconut" in own.match_one(parse("1 cup coconut milk")).description.lower()
    both = Matcher(index, pantry=pantry, decisions=decisions)
    assert both.match_one(parse("1 CUP  milk")).food_id == "sr28:01085"
    assert both.match_one(parse("2 cups milk")).food_id == "pantry:quay-milk"


def test_a_decision_about_a_vanished_food_asks_again(index: Index) -> None:
    decisions = Decisions()
    decisions.add(Decision("1 cup milk", "sr28:99999"))
    found = Matcher(index, decisions=decisions).match_one(parse("1 cup milk"))
    assert found.status == "to review"
    assert "99999" in found.reason


NAMES = ["olive oil", "brown rice", "chicken breast", "greek yogurt", "red onion", "plain flour"]


@given(
    st.sampled_from(NAMES),
    st.sampled_from(["{}", "  {}  ", "{}, chopped", "organic {}", "ripe {}"]),
)
def test_case_spaces_notes_and_harmless_words_do_not_change_the_food(
    matcher: Matcher, name: str, form: str
) -> None:
    plain = matcher.match_one(parse(f"100 g {name}")).food_id
    assert matcher.match_one(parse(f"100 g {form.format(name)}")).food_id == plain
    assert matcher.match_one(parse(f"100 g {form.format(name)}".upper())).food_id == plain


@given(st.text(max_size=80))
def test_matching_is_total(matcher: Matcher, text: str) -> None:
    found = matcher.match_one(parse(text))
    assert found.status in {"accepted", "to review", "unmatched"}


def test_the_answer_to_a_line_does_not_depend_on_the_lines_before_it(index: Index) -> None:
    lines = [
        "30 g grated parmesan", "50 g parmesan", "400 g diced beef", "400 g beef", "1 tin tuna in oil, drained",
        "1 tin tuna, drained", "3 turkey rashers", "300 g turkey", "a squeeze of lime", "1 lime", "200 g peppers",
        "1 tsp pepper", "100 g cheddar, reduced fat", "100 g cheddar", "4 sausage links, cooked", "4 sausage links",
    ]  # fmt: skip
    alone = [Matcher(index).match_one(parse(line)).food_id for line in lines]
    assert [m.food_id for m in Matcher(index).match([parse(x) for x in lines])] == alone
    assert [m.food_id for m in Matcher(index).match([parse(x) for x in reversed(lines)])][
        ::-1
    ] == alone
