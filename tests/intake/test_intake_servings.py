"""Servings, yields and serving sizes."""

import math

import pytest
from cases import cases
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.servings import read_serving_size, read_yield, readings, same_thing


@pytest.mark.parametrize(("value", "servings", "word", "grams"), cases(__file__, "yields"))
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


@pytest.mark.parametrize(("text", "basis", "grams", "pieces"), cases(__file__, "serving_sizes"))
def test_serving_sizes(text, basis, grams, pieces):
    read = read_serving_size(text)
    assert read.basis == basis
    assert read.grams == pytest.approx(math.nan if grams is None else grams, nan_ok=True)
    assert read.pieces == pytest.approx(math.nan if pieces is None else pieces, nan_ok=True)


@pytest.mark.parametrize(("made", "size", "first", "others"), cases(__file__, "readings"))
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


@pytest.mark.parametrize(("text", "servings", "pieces"), cases(__file__, "beside_the_count"))
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
