"""Servings, yields and serving sizes."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.servings import read_serving_size, read_yield, same_thing


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
