"""Servings of recipes that say nothing of what they make: told by the stated numbers, or not at all."""

from __future__ import annotations

import math

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.run import verify

#: 600 g of sugar and 150 g of butter, values of SR28 19335 and 01001: kcal, protein, carbs, fat.
WHOLE = (3397.5, 1.3, 600.0, 122.3)
CARD = "Lantern caramel\n\n600 g granulated sugar\n150 g salted butter\n\n{stated}\n"


def judged(tmp_path, stated):
    (tmp_path / "caramel.txt").write_text(CARD.format(stated=stated), encoding="utf-8")
    return verify(tmp_path)


def four(servings, *, fat=1.0):
    kcal, protein, carbs, grams = (x / servings for x in WHOLE)
    return f"{kcal:.0f} kcal, protein {protein:.1f} g, carbs {carbs:.0f} g, fat {grams * fat:.0f} g"


@pytest.mark.parametrize("servings", [1, 2, 5])
def test_the_number_that_makes_every_stated_number_follow_is_taken_and_told(tmp_path, servings):
    result = judged(tmp_path, four(servings))
    assert result.recipes["verdict"].item() == "agrees"
    assert result.recipes["servings"].item() == servings
    codes = set(result.problems["code"])
    assert "servings-read" in codes
    assert "servings-missing" not in codes


@pytest.mark.parametrize(
    "stated",
    [
        four(4, fat=0.6),  # one number that does not follow: a slip stays one
        "849 kcal",  # energy alone fits four as well as nearly four
        "849 kcal, fat 31 g",
    ],
)
def test_numbers_that_do_not_all_follow_or_are_too_few_tell_nothing(tmp_path, stated):
    result = judged(tmp_path, stated)
    assert result.recipes["verdict"].item() == "not_judged"
    assert math.isnan(result.recipes["servings"].item())
    assert "servings-missing" in set(result.problems["code"])


def test_a_count_of_the_text_beyond_those_tried_is_tried(tmp_path):
    stated = f"It went round 40 schoolchildren once.\n\n{four(40)}"
    assert judged(tmp_path, stated).recipes["servings"].item() == 40


def test_carbohydrate_without_its_fibre_follows_too(tmp_path):
    """Nobody has asked yet how the collection counts it: 500 g of raw lentils in five, 53.5 g of
    fibre off the carbohydrate."""
    card = "Lantern lentils\n\n500 g dried lentils\n\n{} kcal, protein {} g, carbs {} g, fat {} g\n"
    for n, carbs in enumerate((63, 53), start=1):
        folder = tmp_path / str(n)
        folder.mkdir()
        (folder / "lentils.txt").write_text(card.format(352, 25, carbs, 1), encoding="utf-8")
        assert verify(folder).recipes["servings"].item() == 5


def test_energy_alone_may_be_that_of_the_whole(tmp_path):
    assert judged(tmp_path, "3400 kcal").recipes["servings"].item() == 1


@settings(max_examples=examples(4), deadline=None)
@given(shares=st.lists(st.floats(0.5, 8), min_size=8, max_size=8))
def test_whatever_number_is_told_makes_the_stated_energy_follow(tmp_path_factory, shares):
    folder = tmp_path_factory.mktemp("caramel")
    for n, share in enumerate(shares):
        card = CARD.format(stated=four(share)).replace("caramel", f"caramel {n}")
        (folder / f"{n}.txt").write_text(card, encoding="utf-8")
    result = verify(folder)
    told = result.recipes.set_index("title")["servings"]
    assert len(told) == len(shares)
    for n, share in enumerate(shares):
        servings = told[f"Lantern caramel {n}"]
        assert math.isnan(servings) or abs(share / servings - 1) < 0.13
