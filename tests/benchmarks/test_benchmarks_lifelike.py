"""The life-like recipes: the same every time, and slips that are what they say."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

import drawn_kitchen
from lifelike import CAUSES, Made, life
from slips import Figures, cause_of, is_right

from pipeline.reconcile import load_foods
from pipeline.reconcile.model import KCAL, MACROS
from pipeline.reconcile.slips import KINDS


@pytest.fixture(scope="module")
def drawn(snapshot):
    with snapshot.connect() as con:
        foods = load_foods(con)
    return drawn_kitchen.table(snapshot), foods


@pytest.fixture(scope="module")
def some(drawn):
    return life(*drawn, "tests", 150)


def test_a_seed_draws_the_same_recipes_and_another_seed_others(drawn, some):
    again = life(*drawn, "tests", 150)
    assert [m.done for m in again] == [m.done for m in some]
    assert all(
        np.array_equal(a.stated, b.stated, equal_nan=True) for a, b in zip(again, some, strict=True)
    )
    other = life(*drawn, "others", 12)
    assert [line.text for m in other for line in m.lines] != [
        line.text for m in some[:12] for line in m.lines
    ]


def test_causes_are_named_by_kinds_that_the_search_knows_and_come_to_one():
    assert {kind for cause in CAUSES.values() for kind in cause.kinds} <= {*KINDS, "none_found"}
    assert sum(cause.share for cause in CAUSES.values()) == pytest.approx(1.0)


def test_slips_are_on_lines_that_are_there(some):
    for one in some:
        for cause, line in one.done:
            assert cause in CAUSES
            assert line is None or 1 <= line <= len(one.lines)
    causes = {cause_of(one) for one in some}
    assert {"none", "left out", "another count of servings", "another product"} <= causes
    assert 0.25 <= sum(not one.slips for one in some) / len(some) <= 0.6


def test_a_slip_moves_a_number_and_honesty_hardly_does(some):
    def off(one):
        core = [KCAL, *MACROS]
        return np.nanmax(np.abs(one.stated - one.true)[core] / np.maximum(one.true[core], 20))

    assert all(off(one) > 0.1 for one in some if one.slips)
    assert np.median([off(one) for one in some if not one.slips]) < 0.15


def test_a_page_states_what_was_made(some):
    one = some[0]
    page = one.page()
    assert len(page["recipeIngredient"]) == len(one.lines)
    assert page["recipeYield"] == f"{one.servings} servings"
    assert float(page["nutrition"]["calories"].removesuffix(" kcal")) == one.stated[KCAL]
    assert len(page["nutrition"]) - 1 == np.isfinite(one.stated).sum()


def test_right_is_kind_and_line(some):
    one = next(m for m in some if m.slips and m.slips[0][1])
    kind, line = one.slips[0]
    assert is_right(one, kind, line)
    assert not is_right(one, kind, line + 1)
    assert not is_right(one, "none_found", None)
    honest = next(m for m in some if not m.slips)
    assert is_right(honest, "none_found", None)


def test_figures_by_hand():
    figures = Figures(pairs=[(0.95, True), (0.92, False), (0.5, True)])
    assert figures.sure(0.9) == (2, 0.5)
    assert figures.ece(10) == pytest.approx((2 * abs(0.935 - 0.5) + 0.5) / 3)


def test_counted_by_cause():
    nothing = np.full(8, np.nan)

    def made(name, *done):
        return Made(name, 4, [], list(done), nothing, nothing)

    recipes = [made("a", ("left out", 2)), made("b", ("left out", 3)), made("c"), made("d")]
    verdict = {"a": "disagrees", "b": "disagrees", "c": "disagrees", "d": "agrees"}
    ranked = {
        "a": [("line_left_out", 2, 0.9)],
        "b": [("servings_slip", None, 0.6), ("line_left_out", 3, 0.3)],
        "c": [("line_doubled", 1, 0.4)],
    }
    figures = Figures.count(recipes, verdict, ranked)
    assert (figures.flagged, figures.first, figures.three) == (3, 1, 2)
    assert (figures.honest, figures.alarms, figures.faulty, figures.missed) == (2, 1, 2, 0)
    assert figures.causes["left out", "disagrees"] == 2
    assert figures.said["left out", "right"] == 1
    assert figures.said["left out", "servings_slip"] == 1
    assert figures.said["none", "line_doubled"] == 1
