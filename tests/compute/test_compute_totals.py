"""Totals: by hand, by law, and against a Monte-Carlo run."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from conftest_compute import FOODS, lines_frame, recipes_frame, runners_frame
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.compute import compute
from pipeline.compute.totals import Z_GRAMS

R = {"recipe_id": "r", "title": "r", "servings": 2.0, "yield_g": math.nan}


def totals(con, rows, recipes=None, runner_up=None, **options):
    recipes = recipes_frame(R) if recipes is None else recipes
    return compute(con, lines_frame(rows), runner_up, recipes, **options)


def amount(found, nutrient, recipe_id="r", column="amount"):
    table = found.computed
    hit = table[(table["recipe_id"] == recipe_id) & (table["nutrient"] == nutrient)]
    return hit[column].item()


def test_one_recipe_worked_by_hand(con, line):
    # 200 g beans: 240 kcal, 16 g protein, 14 g fibre; 10 g oil: 90 kcal
    found = totals(con, [line("r", 1, "beans", 200.0), line("r", 2, "oil", 10.0)])
    assert amount(found, "ENERC_KCAL") == pytest.approx(330.0)
    assert amount(found, "PROCNT") == pytest.approx(16.0)
    assert amount(found, "FAT") == pytest.approx(12.0)
    assert amount(found, "FIBTG") == pytest.approx(14.0)
    facts = found.recipe.iloc[0]
    assert (facts["servings"], facts["weight_g"], facts["weight_basis"]) == (2.0, 210.0, "summed")


def test_a_missing_value_is_left_out_and_said_never_zero(con, line):
    found = totals(con, [line("r", 1, "milk", 100.0)])
    assert math.isnan(amount(found, "FIBTG"))
    assert amount(found, "FIBTG", column="lines_left_out") == 1
    both = totals(con, [line("r", 1, "milk", 100.0), line("r", 2, "beans", 100.0)])
    assert amount(both, "FIBTG") == pytest.approx(7.0)
    assert amount(both, "FIBTG", column="high") > 7.0  # the milk may hold some
    assert amount(both, "FIBTG", column="coverage") == pytest.approx(120 / 180)


def test_a_line_without_food_or_grams_lowers_coverage_and_widens_upwards(con, line):
    rows = [line("r", 1, "rice", 100.0), line("r", 2, None, None, amount=100.0)]
    found = totals(con, rows)
    assert amount(found, "ENERC_KCAL") == pytest.approx(350.0)
    # 100 g of an unknown food count as 200 kcal in the coverage
    assert found.recipe["coverage"].item() == pytest.approx(350 / 550)
    assert amount(found, "ENERC_KCAL", column="high") > 450.0
    assert amount(found, "ENERC_KCAL", column="low") <= 350.0
    assert found.recipe["lines_unknown"].item() == 1


def test_headings_and_open_amounts_cost_no_coverage(con, line):
    rows = [
        line("r", 1, None, None, names_food=False),
        line("r", 2, "rice", 100.0),
        line("r", 3, None, None, basis="open"),
    ]
    assert totals(con, rows).recipe["coverage"].item() == pytest.approx(1.0)


def test_a_recipe_without_lines_has_rows_without_numbers(con, line):
    recipes = recipes_frame(R, {**R, "recipe_id": "empty"})
    found = totals(con, [line("r", 1, "rice", 100.0)], recipes)
    assert math.isnan(amount(found, "ENERC_KCAL", "empty"))
    assert found.recipe.set_index("recipe_id")["coverage"]["empty"] == 0.0


def test_a_food_that_the_table_does_not_hold_is_a_problem(con, line):
    found = totals(con, [line("r", 1, "rice", 100.0), line("r", 2, "unheard", 50.0)])
    assert [p.code for p in found.problems] == ["food-without-values"]
    assert found.problems[0].line_no == 2


def test_pantry_values_come_first(con, line):
    own = pd.DataFrame(
        [("x:rice", "ENERC_KCAL", 100.0, math.nan, 0), ("x:bar", "ENERC_KCAL", 400.0, math.nan, 0)],
        columns=["food_id", "nutrient", "amount_per_100g", "standard_error", "n"],
    )
    rows = [line("r", 1, "rice", 100.0), line("r", 2, "bar", 50.0)]
    found = totals(con, rows, pantry_nutrient=own)
    assert amount(found, "ENERC_KCAL") == pytest.approx(300.0)
    assert math.isnan(amount(found, "PROCNT"))  # the label of the pantry says none


def test_only_the_eaten_share_counts(con, line):
    found = totals(con, [line("r", 1, "oil", 1000.0, eaten_share=0.1)])
    assert amount(found, "ENERC_KCAL") == pytest.approx(900.0)


grams = st.floats(min_value=0.5, max_value=3_000)
parts = st.lists(st.tuples(st.sampled_from(sorted(FOODS)), grams), min_size=1, max_size=8)


@settings(max_examples=examples(5))
@given(parts, st.floats(min_value=0.1, max_value=0.9))
def test_weighing_a_food_in_two_goes_changes_no_sum(con, line_maker, parts, share):
    whole = [line_maker("r", n, food, g) for n, (food, g) in enumerate(parts, 1)]
    food, g = parts[0]
    halves = [line_maker("r", 1, food, g * share), line_maker("r", 99, food, g * (1 - share))]
    once, twice = totals(con, whole), totals(con, [*halves, *whole[1:]])
    for tag in ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT"):
        assert amount(twice, tag) == pytest.approx(amount(once, tag))


@settings(max_examples=examples(8))
@given(parts, st.floats(min_value=0.0, max_value=0.4), st.floats(min_value=0.0, max_value=0.4))
def test_the_range_holds_the_amount_and_widens_with_doubt(con, line_maker, parts, down, up):
    def rows(factor):
        return [
            line_maker("r", n, food, g, grams_low=g * (1 - down * factor),
                       grams_high=g * (1 + up * factor))
            for n, (food, g) in enumerate(parts, 1)
        ]  # fmt: skip

    narrow, wide = totals(con, rows(0.5)), totals(con, rows(1.0))
    for tag in ("ENERC_KCAL", "CHOCDF"):
        value = amount(wide, tag)
        assert amount(wide, tag, column="low") <= value <= amount(wide, tag, column="high")
        spans = [
            amount(f, tag, column="high") - amount(f, tag, column="low") for f in (narrow, wide)
        ]
        assert spans[0] <= spans[1] + 1e-9


def test_shares_of_the_doubt_sum_to_one_and_name_the_cause(con, line):
    rows = [
        line("r", 1, "oil", 30.0, grams_low=15.0, grams_high=45.0),
        line("r", 2, "rice", 100.0, grams_low=98.0, grams_high=102.0),
        line("r", 3, "beans", 100.0, confidence=0.6, text="beans?"),
    ]
    found = totals(con, rows, runner_up=runners_frame(("beans?", 1, "rice", 0.4)))
    doubt = found.doubt.set_index("line_no")
    assert doubt["share"].sum() == pytest.approx(1.0)
    assert doubt["cause"].to_dict() == {1: "grams", 2: "grams", 3: "food"}
    assert doubt["advice"][1].startswith("weigh oil: ")
    # 30 g oil +-15 g is +-135 kcal at 2.2 sd; beans or rice is 230 kcal with 0.4
    variances = {1: (135 / Z_GRAMS) ** 2, 3: 0.4 * 230**2}
    assert doubt["share"][1] / doubt["share"][3] == pytest.approx(
        variances[1] / variances[3], rel=1e-3
    )


def two_piece_normal(rng, n, mode, low, high):
    """Draws whose halves end at low and high, ``Z_GRAMS`` deviations away."""
    z = np.abs(rng.normal(size=n))
    s1, s2 = (mode - low) / Z_GRAMS, (high - mode) / Z_GRAMS
    left = rng.random(n) < s1 / max(s1 + s2, 1e-300)
    return np.where(left, mode - z * s1, mode + z * s2)


def test_the_analytic_range_agrees_with_monte_carlo(con, line):
    """100,000 draws of grams and foods: the mean within 1 %, the spread within 5 %."""
    spec = [
        ("oil", 30.0, 22.0, 40.0, 1.0), ("rice", 150.0, 145.0, 155.0, 1.0),
        ("beans", 240.0, 225.0, 260.0, 0.89), ("milk", 120.0, 120.0, 150.0, 1.0),
        ("beans", 80.0, 70.0, 90.0, 1.0), ("rice", 60.0, 50.0, 66.0, 0.90),
    ]  # fmt: skip
    rows, runners = [], []
    for n, (food, g, low, high, confidence) in enumerate(spec, 1):
        text = f"line {n}"
        rows.append(line("r", n, food, g, grams_low=low, grams_high=high, confidence=confidence,
                         text=text))  # fmt: skip
        if confidence < 1:
            other = "rice" if food == "beans" else "beans"
            runners.append((text, 1, other, 1 - confidence))
    found = totals(con, rows, runner_up=runners_frame(*runners))
    rng = np.random.default_rng(7)
    draws = 100_000
    for at, tag in enumerate(("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT")):
        total = np.zeros(draws)
        for food, g, low, high, confidence in spec:
            other = "rice" if food == "beans" else "beans"
            value = np.where(rng.random(draws) < confidence, FOODS[food][at], FOODS[other][at])
            # independent of which food it is, as the analytic spread takes it
            total += two_piece_normal(rng, draws, g, low, high) * FOODS[food][at] / 100
            total += (value - FOODS[food][at]) * g / 100
        table = found.total[found.total["nutrient"] == tag].iloc[0]
        # belief in runners-up widens both sides alike: it is a doubt, not a correction
        doubt_mean = sum(
            (1 - c) * (FOODS["rice" if f == "beans" else "beans"][at] - FOODS[f][at]) * g / 100
            for f, g, _, _, c in spec
        )
        assert table["amount"] + table["shift"] + doubt_mean == pytest.approx(
            total.mean(), rel=0.01
        )
        # two doubtful lines that pull the same way add a little that independent squares leave out
        about_chosen = np.sqrt(((total - (table["amount"] + table["shift"])) ** 2).mean())
        assert np.sqrt(table["variance"]) == pytest.approx(about_chosen, rel=0.05)
        inside = ((total >= table["low"]) & (total <= table["high"])).mean()
        assert 0.87 <= inside <= 0.96, (tag, inside)


@pytest.mark.parametrize("doubt", [0.005, 0.02])
def test_a_rarely_wrong_match_does_not_widen_the_range_and_it_still_holds(con, line, doubt):
    """100,000 draws of four lines, each another food as often as it is doubted."""
    names = ["beans", "rice", "beans", "rice"]
    rows, runners = [], []
    for n, food in enumerate(names, 1):
        rows.append(line("r", n, food, 100.0, grams_low=90.0, grams_high=110.0, text=f"line {n}",
                         confidence=1 - doubt))  # fmt: skip
        runners.append((f"line {n}", 1, "rice" if food == "beans" else "beans", doubt))
    found = totals(con, rows, runner_up=runners_frame(*runners))
    sure = totals(con, [{**r, "confidence": 1.0} for r in rows])
    rng = np.random.default_rng(3)
    total = np.zeros(100_000)
    for food in names:
        other = "rice" if food == "beans" else "beans"
        value = np.where(rng.random(100_000) < doubt, FOODS[other][0], FOODS[food][0])
        total += two_piece_normal(rng, 100_000, 100.0, 90.0, 110.0) * value / 100
    low, high = (amount(found, "ENERC_KCAL", column=c) for c in ("low", "high"))
    assert (low, high) == tuple(amount(sure, "ENERC_KCAL", column=c) for c in ("low", "high"))
    assert 0.82 <= ((total >= low) & (total <= high)).mean() <= 0.92


def test_without_match_doubt_the_ends_agree_with_monte_carlo(con, line):
    spec = [("oil", 30.0, 22.0, 40.0), ("rice", 150.0, 140.0, 160.0), ("beans", 240.0, 210.0, 290.0),
            ("milk", 120.0, 100.0, 150.0), ("rice", 60.0, 48.0, 66.0)]  # fmt: skip
    rows = [line("r", n, f, g, grams_low=a, grams_high=b) for n, (f, g, a, b) in enumerate(spec, 1)]
    found = totals(con, rows)
    rng = np.random.default_rng(11)
    for at, tag in enumerate(("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT")):
        total = sum(
            two_piece_normal(rng, 200_000, g, a, b) * FOODS[f][at] / 100 for f, g, a, b in spec
        )
        low, high = np.quantile(total, [0.05, 0.95])
        width = high - low
        assert amount(found, tag, column="low") == pytest.approx(low, abs=0.05 * width)
        assert amount(found, tag, column="high") == pytest.approx(high, abs=0.05 * width)


def test_open_kinds_widen_the_range_of_a_certain_match(con, line):
    """100 g of a sure food, one in twenty another kind 230 kcal away: sd = sqrt(.05) x 230."""
    rows = [line("r", 1, "beans", 100.0, confidence=1.0, text="beans?")]
    runners = runners_frame(("beans?", 1, "rice", 0.0))
    sure = totals(con, rows, runner_up=runners)
    runners["left_open"] = 0.05
    wide = totals(con, rows, runner_up=runners)
    low, high = ([amount(f, "ENERC_KCAL", column=c) for c in ("low", "high")] for f in (sure, wide))
    grown = (high[1] - high[0]) ** 2 - (low[1] - low[0]) ** 2
    assert grown == pytest.approx((2 * 1.645 * 230) ** 2 * 0.05, rel=0.02)
