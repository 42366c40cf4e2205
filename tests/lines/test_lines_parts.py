"""Lines that hold more than one food: where they are parted, and where they are not."""

from __future__ import annotations

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.lines import parse, split_lines
from pipeline.tables import LINE

SPLIT = {
    "3 eggs + 80 g egg whites": ("3 eggs", "80 g egg whites"),
    "2 tbsp fish sauce and 1 tbsp lime juice": ("2 tbsp fish sauce", "1 tbsp lime juice"),
    "2 tsp cornflour mixed with 1 tbsp water": ("2 tsp cornflour", "1 tbsp water"),
    "2 tsp cornflour (whisked into a paste with 1 tbsp water)": ("2 tsp cornflour", "1 tbsp water"),
    "salt, pepper, 2 tsp rapeseed oil": ("salt", "pepper", "2 tsp rapeseed oil"),
    "Salt to taste, 2 tsp rapeseed oil": ("Salt to taste", "2 tsp rapeseed oil"),
    "1 leek, 2 parsnips and 1 celery stick": ("1 leek", "2 parsnips", "1 celery stick"),
    "200 g lentils cooked in 500 ml water": ("200 g lentils", "500 ml water"),
    "4 chicken thighs, skin removed, browned in 1 tbsp oil": (
        "4 chicken thighs, skin removed", "1 tbsp oil",
    ),
    "250 ml milk and a pinch of salt": ("250 ml milk", "a pinch of salt"),
    "2 eggs plus 1 yolk": ("2 eggs", "1 yolk"),
    "zest of 1 lime, juice of 3": ("zest of 1 lime", "juice of 3 lime"),
    "1 tsp each ground cumin and coriander": ("1 tsp ground cumin", "1 tsp ground coriander"),
    "3 tbsp each tahini, honey and cider vinegar": (
        "3 tbsp tahini", "3 tbsp honey", "3 tbsp cider vinegar",
    ),
    "1 chia egg (1 tbsp chia seeds + 3 tbsp water)": ("1 tbsp chia seeds", "3 tbsp water"),
    "salt, pepper, rapeseed oil": ("salt", "pepper", "rapeseed oil"),
    "Salt, pepper and sweet paprika to taste": ("Salt", "pepper", "sweet paprika to taste"),
    "Optional: 1 chopped leek, 50 g sliced mushrooms": (
        "Optional: 1 chopped leek", "50 g sliced mushrooms (optional)",
    ),
}  # fmt: skip


@pytest.mark.parametrize("text", SPLIT)
def test_a_line_of_several_foods_is_parted(text: str) -> None:
    assert parse(text).parts == SPLIT[text]


@pytest.mark.parametrize(
    "text",
    [
        "80 g caster sugar, plus 1 tbsp for sprinkling",
        "60 g butter, melted + 2 tbsp butter",
        "1 cup + 2 tbsp milk",
        "4 skin-on trout fillets, 500 g total",
        "lamb, 500 g lean mince",
        "butter, 50 g",
        "chicken thighs, boneless, skinless, 1 kg",
        "3 peppers, 1 red, 1 yellow and 1 green",
        "2 onions, 1 chopped and 1 sliced",
        "90 g oats, 20 g kept back for the topping",
        "1 tbsp soy sauce or 1 tbsp tamari",
        "1 tin tuna in olive oil",
        "150 ml half and half",
        "1 kg potatoes (boiled in 3 litres water)",  # poured away
        "pepper, seeded and diced",
        "salt and freshly ground black pepper",
        "salt and pepper to taste",
        "2 lb pork, 1-inch cubes",
        "3 each red peppers, strips",
        "2 120 g each salmon fillets, farmed",
        "1 pizza, 8 slices",
        "black pepper, to taste (start with 1/2 tsp of coarse ground black pepper)",
        "90 g butter (60 g for the sauce, 30 g for the crumb)",
        "1 shot espresso (or use 1 tsp instant coffee mixed in 2 tbsp hot water)",
    ],
)
def test_a_line_of_one_food_is_not(text: str) -> None:
    assert parse(text).parts == ()


def test_the_line_itself_tells_of_the_first_food() -> None:
    line = parse("3 eggs + 80 g egg whites")
    assert (line.name, line.measures[0].amount, line.plus) == ("eggs", 3, ())
    assert "two-foods" not in line.problems


def test_a_total_behind_a_count_is_its_weight() -> None:
    line = parse("4 skin-on trout fillets, 500 g total")
    assert [(m.amount, m.unit) for m in line.measures] == [(4, "fillet"), (500, "g")]


_FOODS = st.sampled_from(["soy sauce", "honey", "tahini", "olive oil", "milk", "lime juice"])
_AMOUNTS = st.sampled_from(["1 tbsp", "2 tsp", "50 ml", "½ cup", "3 tablespoons"])


@given(st.lists(st.tuples(_AMOUNTS, _FOODS), min_size=2, max_size=5, unique_by=lambda p: p[1]),
       st.sampled_from([" + ", " and ", " plus ", ", ", " & ", "; "]))  # fmt: skip
def test_measured_foods_are_parted_whatever_joins_them(
    foods: list[tuple[str, str]], joint: str
) -> None:
    texts = [f"{amount} {food}" for amount, food in foods]
    assert parse(joint.join(texts)).parts == tuple(texts)


@given(st.text(max_size=80))
def test_parts_come_from_the_line_and_part_no_further(text: str) -> None:
    for part in parse(text).parts:
        assert part.strip()
        assert parse(part).parts == ()


def _lines(*texts: str) -> pd.DataFrame:
    rows = [("r", i, "", text, 10 + i) for i, text in enumerate(texts, 1)]
    return pd.DataFrame(rows, columns=LINE).astype({"source_line": "Int64"})


def test_parts_are_rows_behind_the_written_line_and_shift_no_number() -> None:
    parts = {"1 egg + 30 ml milk": ("1 egg", "30 ml milk")}
    frame = split_lines(_lines("100 g flour", "1 egg + 30 ml milk", "1 tsp salt"), parts)
    assert frame["text"].tolist() == [
        "100 g flour", "1 egg + 30 ml milk", "1 egg", "30 ml milk", "1 tsp salt",
    ]  # fmt: skip
    assert frame["line_no"].tolist() == [1, 2, 4, 5, 3]
    assert frame["part_of"].fillna(0).tolist() == [0, 0, 2, 2, 0]
    assert frame["source_line"].tolist() == [11, 12, 12, 12, 13]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("8 cups cubed [Harbour loaf | https://example.org/loaf/]", "harbour loaf"),
        ("2 cups [chicken stock](https://example.org/stock)", "chicken stock"),
        ("1 cup rolled oats https://example.org/oats", "rolled oats"),
        ('1 cup <a href="https://example.org/t">tahini</a>', "tahini"),
        ("1 cup tahini (https://example.org/t)", "tahini"),
    ],
)
def test_of_a_link_the_words_it_shows_are_read(text: str, name: str) -> None:
    line = parse(text)
    assert line.name.endswith(name)
    assert line.measures[0].unit == "cup"


@given(st.text(alphabet="ab 1/[](|)<>:.h", max_size=40))
def test_links_move_no_character(text: str) -> None:
    from pipeline.lines.clean import _without_links

    assert len(_without_links(text)) == len(text)


def test_adjectives_before_a_bracket_go_on_inside_it() -> None:
    read = parse("3 boneless (skinless chicken breasts, thinly sliced)")
    assert read.name == "boneless skinless chicken breast"
    assert {"boneless", "skinless"} <= read.states
    assert parse("1 red (bell) pepper").name == "red pepper"


def test_a_word_of_an_amount_alone_is_the_food() -> None:
    read = parse("Sprinkles, to decorate")
    assert read.name == "sprinkle"
    assert not read.measures


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("3 tbsp mixed: chia and flax", ("0.75-2.25 tbsp chia", "0.75-2.25 tbsp flax")),
        (
            "3 tbsp mixed seeds (sunflower, pumpkin), toasted",
            ("0.75-2.25 tbsp sunflower seeds, toasted", "0.75-2.25 tbsp pumpkin seeds, toasted"),
        ),
        (
            "150 g assorted nuts (almonds, cashews & pecans)",
            ("25-75 g almonds", "25-75 g cashews", "25-75 g pecans"),
        ),
        ("200 g mixed mushrooms (sliced, washed)", ()),
        ("1 cup mixed peppers (red, yellow)", ()),
        ("1 cup mixed berries (fresh or frozen)", ()),
        ("1 tbsp mixed spice", ()),
    ],
)
def test_foods_of_a_mixture_share_its_amount(text, parts):
    assert parse(text).parts == parts


@pytest.mark.parametrize(
    ("text", "raw"),
    [
        ("200 g roast squash (weighed raw)", True),
        ("200 g grilled salmon (raw weight)", True),
        ("200 g roast squash (not raw)", False),
    ],
)
def test_the_state_in_which_it_was_weighed_counts(text: str, raw: bool) -> None:
    states = parse(text).states
    assert ("raw" in states) is raw
    assert ("roasted" in states or "grilled" in states) is not raw


@pytest.mark.parametrize(
    "text",
    [
        "2024-05-19", "2024-05-02, before the second loop", "6/10/2024", "6.10.2024 at the lake",
        "180 fan, 35 min in the deep tray. Cut it cold.", "350F, an hour and ten, then rest",
    ],
)  # fmt: skip
def test_days_and_heats_at_the_start_name_no_food(text):
    assert parse(text).kind == "not_food"


@pytest.mark.parametrize(
    "text", ["200 g rice, 35 min", "2024 g flour", "180 g fan, shredded", "1/2/3 cup oats"]
)
def test_amounts_are_no_days_and_no_heats(text):
    assert parse(text).kind == "food"


@pytest.mark.parametrize(
    ("text", "name", "amount", "unit"),
    [
        ("spinach handful", "spinach", 1, "handful"), ("dill handful, chopped", "dill", 1, "handful"),
        ("salt pinch", "salt", 1, "pinch"),
        ("pecan halves 50 g", "pecan halves", 50, "g"), ("pecan halves 1/2 c.", "pecan halves", 0.5, "cup"),
        ("barley half of glass", "barley", 0.5, "glass"), ("milk half of a cup", "milk", 0.5, "cup"),
        ("2 spoons olive oil", "olive oil", 2, "spoon"), ("2 onions (large)", "onions", 2, "piece"),
    ],
)  # fmt: skip
def test_units_without_a_number_and_parts_that_are_no_number(text, name, amount, unit):
    line = parse(text)
    assert (line.name, line.measures[0].amount, line.measures[0].unit) == (name, amount, unit)


@pytest.mark.parametrize("text", ["ham slices", "date slice", "rice bowl", "spinach handfuls"])
def test_pieces_and_dishes_without_a_number_are_no_amount(text):
    assert not parse(text).measures


@pytest.mark.parametrize(
    ("text", "grams"),
    [("1 cup rice, raw wt 190g", 190), ("rice 1 cup, soaked, dry weight 180 g", 180),
     ("2 chicken breasts, cooked weight 300g", 300)],
)  # fmt: skip
def test_the_weight_in_a_state_behind_a_comma_is_the_lines(text, grams):
    assert any(m.unit == "g" and m.amount == grams for m in parse(text).measures)


def test_words_a_letter_away_from_a_rare_unit_are_food():
    assert parse("4 big tatties, peeled").name == "tatties"
    assert parse("1 potato gratin").measures[0].unit == "piece"
    assert parse("2 tablspoons oil").measures[0].unit == "tbsp"


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("3 eggs, no yolks", "egg white"), ("2 eggs (without the whites)", "egg yolk"),
        ("3 eggs, only the whites", "egg white"), ("2 eggs, yolks only", "egg yolk"), ("2 eggs", "eggs"),
    ],
)  # fmt: skip
def test_eggs_of_which_one_part_goes_in(text, name):
    assert parse(text).name == name


def test_what_is_left_of_a_weight_is_the_lines():
    line = parse("tuna in brine 160g (112g drained)")
    assert [m.amount for m in line.measures] == [112]
    assert parse("1 rice cooker cup rice").measures[0].unit == "ricecup"


@pytest.mark.parametrize("text", ["per head", "per person", "Per slice of it", "per serving"])
def test_what_numbers_are_for_is_no_food(text):
    assert parse(text).kind == "heading"
