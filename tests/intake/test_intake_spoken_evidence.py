"""What numbers decide in talk: order, servings, boundaries and references known by plausibility."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.spoken.composition import added, misfit
from pipeline.intake.spoken.script import read_script


def read(text: str):
    return read_script(text, "x.txt", kind="script")


def lines_of(text: str) -> list[list[str]]:
    return [[line.text for line in recipe.lines] for recipe in read(text).recipes]


grams = st.floats(0, 500)
rows = st.tuples(st.floats(0, 5000), grams, grams, grams)


@given(rows, rows)
def test_sums_are_by_column(one, other) -> None:
    assert added([one, other]) == tuple(a + b for a, b in zip(one, other, strict=True))


@given(rows, st.floats(1, 40))
def test_numbers_that_follow_from_the_lines_speak_for_them(row, servings: float) -> None:
    tags = ("ENERC_KCAL", "PROCNT", "FAT", "CHOCDF")
    stated = {tag: value / servings for tag, value in zip(tags, row, strict=True)}
    assert misfit(row, stated, servings) == pytest.approx(0, abs=1e-9)
    assert misfit(row, {t: 3 * v + 100 for t, v in stated.items()}, servings) > 0


TARTS = "Next, the lime tarts. {said}. "


@pytest.mark.parametrize(
    ("said", "lines"),
    [
        # the order of the speaker holds where a pair alone could be read both ways
        ("take ricotta 500 grams sugar 120 grams eggs three flour 80 grams",
         ["500 g ricotta", "120 g sugar", "3 eggs", "80 g flour"]),
        ("take 500 grams ricotta 120 grams sugar three eggs 80 grams flour",
         ["500 g ricotta", "120 g sugar", "3 eggs", "80 g flour"]),
        # mere talk between a food and its amount
        ("rice i go three hundred grams dry and then two eggs", ["300 g rice, dry", "2 eggs"]),
        # grams without the word, of who weighs in grams
        ("100 grams of spinach, quinoa 60 dry, feta 30", ["100 g spinach", "60 g quinoa", "30 g feta"]),
        # a unit left out behind the one before it
        ("eight ounces of flour, four ounces of butter, four of sugar",
         ["8 oz flour", "4 oz butter", "4 oz sugar"]),
        # an amount for each of several
        ("200 grams of rice and a teaspoon each of cumin, coriander and paprika",
         ["200 g rice", "1 tsp cumin", "1 tsp coriander", "1 tsp paprika"]),
        # a measure of no table
        ("200 grams of rice and two branches of rosemary", ["200 g rice", "2 branches rosemary"]),
        # a food that no table has, alone with its amount in a sentence
        ("200 grams of rice. Blorp powder, 45 grams. Two eggs", ["200 g rice", "45 g blorp powder", "2 eggs"]),
        # left out by what is said next
        ("200 grams of rice. A spoon of treacle. I left it out, I wasn't sure", ["200 g rice"]),
    ],
)  # fmt: skip
def test_amounts_find_their_foods(said: str, lines: list[str]) -> None:
    found = [line for recipe in lines_of(TARTS.format(said=said)) for line in recipe]
    assert sorted(line.split(",")[0] for line in found) == sorted(x.split(",")[0] for x in lines)


OATS = "Take 400 grams of oats and 100 grams of butter. "  # 2,300 kcal


@pytest.mark.parametrize(
    ("said", "servings"),
    [
        ("I was up at 6 and it took 20 minutes, there are 8 of us in the house. 288 calories, 8 protein, 34 carbs, 13 fat a square.", 8),
        ("My 5 helpers wanted 12 of them. 460 calories, 13 protein, 54 carbs, 23 fat.", 5),
        ("The tin is 2300 calories so across the ten of us 230. 7 protein, 27 carbs, 11 fat.", 10),
    ],
)  # fmt: skip
def test_servings_are_the_number_said_that_is_plausible(said: str, servings: float) -> None:
    recipe = read(OATS + said).recipes[0]
    assert recipe.servings == servings


def test_a_recipe_takes_the_lines_that_make_its_numbers_plausible() -> None:
    first = "Number one, porridge. 100 grams of oats, 300 ml of milk. Serves one. 540 calories, 23 protein, 82 carbs, 14 fat. "
    second = "Number two, egg rice. 150 grams of rice and two eggs. Serves one. 680 calories, 23 protein, 120 carbs, 11 fat. "
    third = "Number three, all the same as that first pan, with 30 grams of almonds. Serves one. 715 calories, 30 protein, 88 carbs, 29 fat."
    found = lines_of(first + second + third)
    assert sorted(found[2]) == ["100 g oats", "30 g almonds", "300 ml milk"]


def test_numbers_before_the_ingredients_stay_with_them() -> None:
    said = (
        "okay team the porridge is 540 calories 23 protein 82 carbs 14 fat you need 100 grams of oats and"
        " 300 ml of milk simmer it then the rice bowl that comes in at 680 calories 23 protein 120 carbs"
        " 11 fat and there you want 150 grams of rice and two eggs done"
    )
    assert lines_of(said) == [["100 g oats", "300 ml milk"], ["150 g rice", "2 eggs"]]


def test_a_reading_that_is_not_plausible_says_so() -> None:
    good = "Porridge. 100 grams of oats, 300 ml of milk. Serves one. 540 calories, 23 protein, 82 carbs, 14 fat."
    bad = (
        good.replace("300 ml of milk", "some other things")
        .replace("540", "1540")
        .replace("14 fat", "130 fat")
    )
    codes = {p.code for r in read(good).recipes for p in r.problems}
    assert "spoken-doubtful" not in codes
    doubt = [p for r in read(bad).recipes for p in r.problems if p.code == "spoken-doubtful"]
    assert ["1540" in p.what for p in doubt] == [True]
