"""The life-like recipes: two halves that share nothing, and slips that are what they say."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from lifelike import SLIPS, life
from slips import Figures, is_right

from pipeline.reconcile import load_foods
from pipeline.reconcile.model import KCAL, MACROS


@pytest.fixture(scope="module")
def foods(snapshot):
    with snapshot.connect() as con:
        return load_foods(con)


@pytest.fixture(scope="module")
def even(foods):
    return life(foods, "tests", 120, odd=False)


def test_the_halves_are_apart_and_the_same_every_time(foods, even):
    odd = life(foods, "tests", 120, odd=True)
    assert not {m.recipe_id for m in even} & {m.recipe_id for m in odd}
    again = life(foods, "tests", 120, odd=False)
    assert [m.slips for m in again] == [m.slips for m in even]
    assert all(
        np.array_equal(a.stated, b.stated, equal_nan=True) for a, b in zip(again, even, strict=True)
    )


def test_slips_are_of_the_kinds_listed_and_on_lines_that_are_there(even):
    for one in even:
        for kind, line in one.slips:
            assert kind in SLIPS
            assert line is None or 1 <= line <= len(one.lines)
    some = {kind for one in even for kind, _ in one.slips}
    assert {"line_left_out", "servings_slip", "product_variant"} <= some
    assert 0.25 <= sum(not one.slips for one in even) / len(even) <= 0.75


def test_a_slip_moves_a_number_and_honesty_hardly_does(even):
    def off(one):
        core = [KCAL, *MACROS]
        return np.nanmax(np.abs(one.stated - one.true)[core] / np.maximum(one.true[core], 20))

    assert all(off(one) > 0.1 for one in even if one.slips)
    assert np.median([off(one) for one in even if not one.slips]) < 0.15


def test_right_is_kind_and_line(even):
    one = next(m for m in even if m.slips and m.slips[0][1])
    kind, line = one.slips[0]
    assert is_right(one, kind, line)
    assert not is_right(one, kind, line + 1)
    assert not is_right(one, "none_found", None)
    honest = next(m for m in even if not m.slips)
    assert is_right(honest, "none_found", None)


def test_figures_by_hand():
    figures = Figures(pairs=[(0.95, True), (0.92, False), (0.5, True)])
    assert figures.sure(0.9) == (2, 0.5)
    assert figures.ece(10) == pytest.approx((2 * abs(0.935 - 0.5) + 0.5) / 3)
