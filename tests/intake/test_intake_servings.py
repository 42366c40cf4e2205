"""Servings, yields and serving sizes."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.servings import read_serving_size, read_yield, readings, same_thing


@pytest.mark.parametrize(
    ("value", "servings", "word", "grams"),
    [
        ("Serves 4", 4, "servings", None),
        ("4 servings", 4, "servings", None),
        (["4", "4 servings"], 4, "servings", None),
        (6, 6, "servings", None),
        (4.5, 4.5, "servings", None),
        ("four", 4, "servings", None),
        ("Makes 12 squares", 12, "squares", None),
        ("1 loaf (12 slices)", 12, "slices", None),
        ("2 dozen cookies", 24, "cookies", None),
        ("a dozen muffins", 12, "muffins", None),
        ("4-6", 5, "servings", None),
        ("8 to 10 servings", 9, "servings", None),
        ("4 servings (1.2 kg)", 4, "servings", 1200),
        ("1 x 20 cm cake, serves 8", 8, "servings", None),
        ("For 4 people", 4, "servings", None),
        ({"value": 8, "unitText": "bars"}, 8, "bars", None),
        ("Makes 8 portions (about 1.5 kg)", 8, "portions", 1500),
        ("Serves 8 (1.5 kg)", 8, "servings", 1500),
        ("6 (as a side dish)", 6, "servings", None),
        ("8 people (makes 1 loaf)", 8, "servings", None),
        ("4 (12-16 tortillas)", 4, "servings", None),
        ("Makes one loaf, 12 slices", 12, "slices", None),
        ("Feeds a family of 4", 4, "servings", None),
        ("Makes 12 mini muffins (2 per serving)", 6, "servings", None),
        ("Serves 5 as a main", 5, "servings", None),
        ("a 9-inch pie, 10 servings", 10, "servings", None),
        ("one 9x13 pan, 24 squares", 24, "squares", None),
        ("6 portions of 250 g", 6, "portions", 1500),
        ("12 cookies (30 g each)", 12, "cookies", 360),
        ("32 servings, makes 4 half pint (8 oz) jars", 32, "servings", None),
        ("8 (1/2-cup) servings", 8, "servings", None),
        ("One 900g loaf", 1, "loaf", 900),
        ("10 x 60g balls", 10, "balls", 600),
        ("2 (12-inch) pizzas", 2, "pizzas", None),
        ("4 (350 g per serving)", 4, "servings", 1400),
        ("2 adults and 2 children", 4, "servings", None),
        ("8-10 (allow 2 per person)", 4.5, "servings", None),
        (["20", "2 pies"], 20, "servings", None),
        (["2", "2 dozen"], 24, "servings", None),
        (["6", "12 buns", "1.2 kg"], 6, "servings", 1200),
        (["0.75", "0.75 cup"], math.nan, "", None),
        ("Makes 2 litres", math.nan, "", None),
        ("500 g", math.nan, "", 500),
        ("2 cups", math.nan, "", None),
        (None, math.nan, "", None),
        ("", math.nan, "", None),
    ],
)
def test_yields(value, servings, word, grams):
    read = read_yield(value)
    assert read.servings == pytest.approx(servings, nan_ok=True)
    assert read.word == word
    assert read.yield_g == pytest.approx(math.nan if grams is None else grams, nan_ok=True)
    assert read.fault == ""


@pytest.mark.parametrize("value", ["0", 0, "-2", -2, "∞", math.inf, "infinity", "lots", 1e9])
def test_servings_that_cannot_be_are_missing_and_said(value):
    read = read_yield(value)
    assert math.isnan(read.servings)
    assert read.fault


def test_a_range_says_what_was_taken():
    assert read_yield("4-6 servings").note == "4 to 6 servings were read as 5"


@pytest.mark.parametrize(
    ("text", "basis", "grams", "pieces"),
    [
        ("1 serving", "per_serving", None, 1),
        ("100 g", "per_100g", 100, None),
        ("100g", "per_100g", 100, None),
        ("2 cookies", "per_serving", None, 2),
        ("1 slice (85 g)", "per_serving", 85, 1),
        ("250 g", "per_serving", 250, None),
        ("whole recipe", "per_recipe", None, None),
    ],
)
def test_serving_sizes(text, basis, grams, pieces):
    read = read_serving_size(text)
    assert read.basis == basis
    assert read.grams == pytest.approx(math.nan if grams is None else grams, nan_ok=True)
    assert read.pieces == pytest.approx(math.nan if pieces is None else pieces, nan_ok=True)


@pytest.mark.parametrize(
    ("made", "size", "first", "others"),
    [
        ("6 servings", "6 servings", 6, []),
        ("8", "8 servings", 8, []),
        (["4", "4 servings"], "100 ml cup", 4, []),
        ("12 cookies", "2 cookies", 6, []),
        ("12 cookies", "12 cookies", 12, [1]),  # one of them, or all
        ("8", "2 fritters", 8, [4]),
        ("10 servings", "2 pieces", 10, []),
        ("4 sandwiches", "1/2 sandwich", 8, []),
        ("4", "1/4 of the recipe", 4, []),
        ("12 rolls", "1 of 12 rolls", 12, []),
        ("1 quart", "1/2 cup", 8, []),
        ("6 servings (18 dumplings)", "3 dumplings", 6, []),
        ("6 servings (18 dumplings)", "1 dumpling", 18, [6]),
        ("1 loaf", "1 loaf", 1, []),
        ("1 loaf", "1 slice", math.nan, [1]),
        ("1 loaf", "1 serving", math.nan, [1]),
        ("4 jars", "1 jar", 4, []),
        ("4 jars", "1 serving", math.nan, [4]),
        ("48 tablespoons", "1 serving", math.nan, [48]),
        ("2 litres", "1 serving", math.nan, []),
        ("2", "1 slice", 2, [math.nan]),
        ("4 to 6", "1 serving", 5, [4, 6]),
        (["4", "4-6"], "1 serving", 4, [5, 6]),
        ("10 as a side (6 as a main)", "1 serving", 10, [6]),
        ("5", "500 g", 5, []),
        ("20", "20 g", 20, []),
    ],
)
def test_readings_that_the_words_allow(made, size, first, others):
    found = readings(read_yield(made), read_serving_size(size))
    assert found[0].servings == pytest.approx(first, nan_ok=True)
    rest = sorted((r.servings for r in found[1:]), key=lambda n: (math.isnan(n), n))
    assert rest == pytest.approx(others, nan_ok=True)


def test_a_weight_of_a_serving_divides_the_weight_of_the_dish():
    cake = readings(read_yield("1 cake"), read_serving_size("1 slice (120 g)"))
    assert cake[0].serving_g == 120
    assert math.isnan(cake[0].servings)
    weighed = readings(read_yield("1.2 kg"), read_serving_size("150 g"))
    assert [r.servings for r in weighed] == [8]


@pytest.mark.parametrize(
    ("text", "pieces"),
    [("4 portions of 2 pancakes", 8), ("12 servings (2 cookies each)", 24),
     ("20 bites, 2 per portion", 20), ("4 servings (1 cup each)", math.nan)],
)  # fmt: skip
def test_pieces_of_a_serving_make_the_pieces_of_the_dish(text, pieces):
    assert read_yield(text).pieces == pytest.approx(pieces, nan_ok=True)


def test_a_choice_of_sizes_is_two_readings():
    found = readings(read_yield("8 large or 12 small pancakes"))
    assert [r.servings for r in found] == [8, 12]


def test_pieces_and_weight_are_kept_beside_the_servings():
    read = read_yield("Makes 8 portions (24 dumplings, about 1.2 kg)")
    assert (read.servings, read.pieces, read.piece_word, read.yield_g) == (8, 24, "dumplings", 1200)


NUMBERS = st.sampled_from(["", "4", "4-6", "a", "1/2", "2 dozen", "12", "1.5"])
THINGS = st.sampled_from(
    [
        "servings",
        "loaf",
        "jars",
        "cups",
        "kg",
        "cookies",
        "(as a side)",
        "per serving",
        "9-inch pie",
    ]
)
SAID = st.lists(st.tuples(NUMBERS, THINGS).map(" ".join), min_size=1, max_size=3).map(", ".join)


@given(SAID, SAID)
def test_beliefs_of_the_readings_sum_to_one(made, size):
    found = readings(read_yield(made), read_serving_size(size))
    assert not found or sum(r.belief for r in found) == pytest.approx(1)
    assert all(math.isnan(r.servings) or r.servings > 0 for r in found)
    assert [r.belief for r in found] == sorted((r.belief for r in found), reverse=True)


def test_words_of_the_same_piece():
    assert same_thing("cookie", "chewy cookies")
    assert same_thing("patties", "patty")
    assert not same_thing("slice", "cookies")


@given(st.one_of(st.text(max_size=40), st.integers(), st.floats(), st.lists(st.text(max_size=9))))
def test_reading_is_total_and_positive(value):
    read = read_yield(value)
    assert math.isnan(read.servings) or 0 < read.servings < math.inf


@given(st.integers(1, 500))
def test_whole_servings_round_trip(count):
    for text in (f"Serves {count}", f"{count} servings", f"Makes {count} bars", count):
        assert read_yield(text).servings == count


@pytest.mark.parametrize(
    ("text", "servings", "pieces"),
    [
        ("Makes 18 balls (serving size: 2)", 9, 18),
        ("Makes 24 (portion size 3 bites)", 8, 24),
        ("6 servings (serving size: 1 cup)", 6, None),
        ("Serving size: 100 g", None, None),
        ("1 plait, 10 slices", 10, 1),
        ("1 springform (26 cm), 12 pieces", 12, None),
        ("8 inch cake - 10 portions", 10, None),
        ("4 large or 6 small portions", 4, None),
    ],
)
def test_what_is_said_beside_the_count(text, servings, pieces):
    read = read_yield(text)
    assert read.servings == servings if servings else math.isnan(read.servings)
    if pieces:
        assert read.pieces == pieces
    assert not read.fault or servings is None


def test_either_of_two_counts_of_portions_may_be_meant():
    found = readings(read_yield("4 large or 6 small portions"))
    assert [r.servings for r in found] == [4, 6]


def test_a_weight_after_at_is_of_each():
    assert read_yield("8 portions @ 250 g").yield_g == 2000


def test_pieces_of_a_bare_count_are_called_by_the_serving_size():
    found = readings(read_yield("10"), read_serving_size("2 pieces"))
    assert {(r.servings, r.word) for r in found} == {(10.0, "servings"), (5.0, "2 pieces")}
