"""Recipes that use recipes: shares, order, rings, and what cannot be told."""

from __future__ import annotations

import math

import pytest
from conftest_compute import lines_frame, recipes_frame

from pipeline.compute import compute
from pipeline.compute.totals import Z90, Z_GRAMS


def recipe(recipe_id, servings=4.0, yield_g=math.nan):
    return {
        "recipe_id": recipe_id,
        "title": recipe_id.title(),
        "servings": servings,
        "yield_g": yield_g,
    }


def use(line, recipe_id, line_no, sub, unit, amount):
    return line(recipe_id, line_no, None, None, food_id=f"recipe:{sub}", unit=unit, amount=amount,
                text=f"{amount} {unit} {sub}", basis="recipe")  # fmt: skip


def kcal(found, recipe_id):
    table = found.computed.set_index(["recipe_id", "nutrient"])
    return table.loc[(recipe_id, "ENERC_KCAL"), "amount"]


def test_portions_wholes_and_grams_of_another_recipe(con, line):
    rows = [
        line("dressing", 1, "oil", 100.0),  # 900 kcal, 100 g, 4 portions
        line("a", 1, "rice", 100.0), use(line, "a", 2, "dressing", "portion", 2.0),
        use(line, "b", 1, "dressing", "whole", 0.5), use(line, "c", 1, "dressing", "g", 25.0),
    ]  # fmt: skip
    found = compute(con, lines_frame(rows), None,
                    recipes_frame(*(recipe(r) for r in ("dressing", "a", "b", "c"))))  # fmt: skip
    assert found.problems == []
    assert [kcal(found, r) for r in ("a", "b", "c")] == pytest.approx([350 + 450, 450, 225])
    assert found.recipe.set_index("recipe_id")["weight_g"]["a"] == pytest.approx(150.0)


def test_what_a_recipe_is_portioned_into_is_a_portion(con, line):
    rows = [line("dressing", 1, "oil", 100.0), use(line, "a", 1, "dressing", "bag", 2.0)]
    bags = recipe("dressing") | {"serving_word": "freezer bags"}
    found = compute(con, lines_frame(rows), None, recipes_frame(bags, recipe("a")))
    assert found.problems == []
    assert kcal(found, "a") == pytest.approx(450)
    found = compute(con, lines_frame(rows), None, recipes_frame(recipe("dressing"), recipe("a")))
    assert [p.code for p in found.problems] == ["sub-recipe-unit-unknown"]


def test_a_piece_that_is_no_whole_one_is_a_share_of_what_tells_no_pieces(con, line):
    """ "A third of yesterday's dough": of the dough, not of one of its four portions."""
    rows = [line("dough", 1, "rice", 300.0), use(line, "a", 1, "dough", "piece", 1 / 3),
            use(line, "b", 1, "dough", "piece", 1.0)]  # fmt: skip
    found = compute(con, lines_frame(rows), None, recipes_frame(*map(recipe, ("dough", "a", "b"))))
    assert kcal(found, "a") == pytest.approx(350.0)
    assert kcal(found, "b") == pytest.approx(262.5)


def test_levels_are_computed_from_the_bottom(con, line):
    rows = [use(line, "top", 1, "middle", "whole", 1.0), use(line, "middle", 1, "base", "whole", 2.0),
            line("base", 1, "oil", 10.0), use(line, "top", 2, "base", "portion", 1.0)]  # fmt: skip
    found = compute(
        con, lines_frame(rows), None, recipes_frame(*map(recipe, ("top", "middle", "base")))
    )
    assert kcal(found, "top") == pytest.approx(180 + 22.5)


def test_a_ring_is_said_and_the_rest_is_counted(con, line):
    rows = [line("a", 1, "rice", 100.0), use(line, "a", 2, "b", "whole", 1.0),
            line("b", 1, "oil", 10.0), use(line, "b", 2, "a", "whole", 1.0),
            use(line, "c", 1, "b", "whole", 1.0)]  # fmt: skip
    found = compute(con, lines_frame(rows), None, recipes_frame(*map(recipe, "abc")))
    assert sorted((p.code, p.recipe_id) for p in found.problems) == [
        ("sub-recipe-cycle", "a"), ("sub-recipe-cycle", "b"),
    ]  # fmt: skip
    assert "a -> b -> a" in found.problems[0].what
    assert kcal(found, "a") == pytest.approx(350.0)
    assert kcal(found, "c") == pytest.approx(90.0)
    assert found.recipe.set_index("recipe_id")["coverage"]["a"] < 1


@pytest.mark.parametrize(
    ("unit", "servings", "sub", "code"),
    [
        ("portion", math.nan, "base", "sub-recipe-without-servings"),
        ("portion", 4.0, "nowhere", "sub-recipe-missing"),
        ("clove", 4.0, "base", "sub-recipe-unit-unknown"),
        ("g", 4.0, "bare", "sub-recipe-without-weight"),
    ],
)
def test_what_cannot_be_told_is_a_problem(con, line, unit, servings, sub, code):
    rows = [line("base", 1, "oil", 10.0), use(line, "a", 1, sub, unit, 1.0)]
    found = compute(con, lines_frame(rows), None,
                    recipes_frame(recipe("a"), recipe("base", servings), recipe("bare")))  # fmt: skip
    assert [p.code for p in found.problems] == [code]
    assert found.problems[0].line_no == 1
    assert math.isnan(kcal(found, "a"))


def test_spread_travels_with_the_share(con, line):
    rows = [line("base", 1, "oil", 100.0, grams_low=80.0, grams_high=120.0),
            use(line, "a", 1, "base", "whole", 0.5)]  # fmt: skip
    found = compute(con, lines_frame(rows), None, recipes_frame(recipe("a"), recipe("base")))
    table = found.computed.set_index(["recipe_id", "nutrient"])
    widths = [table.loc[(r, "FAT"), "high"] - table.loc[(r, "FAT"), "low"] for r in ("base", "a")]
    assert widths == pytest.approx([40.0 * Z90 / Z_GRAMS, 20.0 * Z90 / Z_GRAMS], rel=1e-6)
