"""Verdicts number by number, and of the recipe."""

from __future__ import annotations

import math

import duckdb
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reconcile_cases import case, stated

from pipeline.reconcile import findings, judge, recipe_table, settle, verdicts
from pipeline.tables import COMPUTED, STATED, VERDICTS

DB = duckdb.connect()


def one(amount, low, high, said, *, nutrient="PROCNT", profile="eu_label", basis="per_100g",
        step=1.0, servings=1.0, weight=100.0, coverage=1.0, percent=10.0):  # fmt: skip
    """The finding on one stated number."""
    computed = pd.DataFrame([("r", nutrient, amount, low, high, coverage, 0)], columns=COMPUTED)
    said_frame = pd.DataFrame([("r", nutrient, said, basis, step, "")], columns=STATED)
    recipe = pd.DataFrame([("r", servings, weight)], columns=["recipe_id", "servings", "weight_g"])
    found = findings(DB, computed, said_frame, recipe, profile=profile, percent=percent)
    assert len(found) == 1
    return found.iloc[0]


def test_agrees_uncertain_disagrees_not_judged():
    assert one(21.0, 20.5, 21.5, 20.0)["verdict"] == "agrees"
    assert one(26.0, 23.0, 29.0, 20.0)["verdict"] == "uncertain"  # 20 +- 20 % and rounding reach 25
    assert one(30.0, 28.0, 32.0, 20.0)["verdict"] == "disagrees"
    assert one(15.0, 14.0, 40.0, 20.0, coverage=0.4)["verdict"] == "not_judged"
    assert one(math.nan, math.nan, math.nan, 20.0)["verdict"] == "not_judged"


def test_a_known_part_that_is_already_too_much_is_judged():
    assert one(40.0, 38.0, 60.0, 20.0, coverage=0.4)["verdict"] == "disagrees"


def test_numbers_are_compared_on_the_basis_they_are_stated_on():
    per_serving = one(400.0, 390.0, 410.0, 100.0, nutrient="ENERC_KCAL", profile="percent",
                      basis="per_serving", servings=4.0)  # fmt: skip
    assert per_serving["computed"] == pytest.approx(100.0)
    whole = one(400.0, 390.0, 410.0, 400.0, nutrient="ENERC_KCAL", profile="percent",
                basis="per_recipe", servings=4.0)  # fmt: skip
    assert (whole["computed"], whole["verdict"]) == (pytest.approx(400.0), "agrees")
    per_100g = one(400.0, 390.0, 410.0, 50.0, nutrient="ENERC_KCAL", profile="percent",
                   basis="per_100g", weight=800.0)  # fmt: skip
    assert (per_100g["computed"], per_100g["verdict"]) == (pytest.approx(50.0), "agrees")


def test_a_band_per_100g_grows_with_the_serving():
    # 20 g protein in a serving of 400 g is 5 g per 100 g: +- 2 g per 100 g are +- 8 g a serving
    low = one(12.0, 12.0, 12.0, 20.0, basis="per_serving", weight=400.0)
    assert (low["verdict"], low["allowed"]) == ("agrees", pytest.approx(9.0, abs=0.51))
    assert one(12.0, 12.0, 12.0, 20.0, basis="per_serving", weight=400.0, profile="eu")[
        "verdict"
    ] == "disagrees"  # two sums of the same lines may not differ by 40 %  # fmt: skip


def test_without_servings_a_number_a_serving_is_not_judged():
    assert one(400.0, 390.0, 410.0, 100.0, basis="per_serving", servings=math.nan)[
        "verdict"
    ] == "not_judged"  # fmt: skip


def test_the_us_rule_is_one_sided():
    assert one(10.0, 9.9, 10.1, 20.0, nutrient="ENERC_KCAL", profile="us")["verdict"] == "agrees"
    assert (
        one(30.0, 29.9, 30.1, 20.0, nutrient="ENERC_KCAL", profile="us")["verdict"] == "disagrees"
    )
    assert one(30.0, 29.9, 30.1, 20.0, profile="us")["verdict"] == "agrees"
    assert one(10.0, 9.9, 10.1, 20.0, profile="us")["verdict"] == "disagrees"
    assert one(10.0, 9.9, 10.1, 20.0, nutrient="ENERC_KCAL", profile="us")["allowed"] == math.inf


def test_rounding_of_what_is_written_is_allowed_for():
    assert one(1.4, 1.4, 1.4, 1.0, profile="percent", percent=1.0)["verdict"] == "agrees"
    assert (
        one(1.4, 1.4, 1.4, 1.0, profile="percent", percent=1.0, step=0.1)["verdict"] == "disagrees"
    )


def test_an_unknown_profile_is_refused():
    with pytest.raises(ValueError, match="known: eu, eu_label, us, percent"):
        one(1.0, 1.0, 1.0, 1.0, profile="uk")


def test_net_carbohydrate_is_held_against_carbohydrate_less_fibre(con, stew):
    net = stew.true["carbs_g"] - stew.true["fiber_g"]
    said = stated({"CHOAVLDF": net})
    found = findings(con, stew.computation.computed, said, stew.computation.recipe)
    assert found.iloc[0]["nutrient"] == "net_carbs_g"
    assert found.iloc[0]["computed"] == pytest.approx(net)
    assert found.iloc[0]["verdict"] == "agrees"


def frame(*rows):
    return pd.DataFrame(rows, columns=["recipe_id", "tag", "verdict"])


def test_a_recipe_takes_the_worst_of_its_judged_numbers():
    recipe = pd.DataFrame({"recipe_id": ["a", "b", "c", "d", "e"]})
    found = frame(("a", "ENERC_KCAL", "agrees"), ("a", "FAT", "disagrees"), ("b", "FAT", "uncertain"),
                  ("b", "PROCNT", "agrees"), ("c", "FAT", "not_judged"), ("d", "NA", "uncertain"),
                  ("d", "FAT", "agrees"))  # fmt: skip
    got = verdicts(found, recipe).set_index("recipe_id")["verdict"].to_dict()
    assert got == {
        "a": "disagrees",
        "b": "uncertain",
        "c": "not_judged",
        "d": "agrees",
        "e": "not_judged",
    }


def finding(*rows):
    """recipe, tag, verdict, stated, computed, half width of the range, allowed."""
    return pd.DataFrame(
        [(r, t, v, s, c, c - h, c + h, c - s, a) for r, t, v, s, c, h, a in rows],
        columns=["recipe_id", "tag", "verdict", "stated", "computed", "low", "high", "difference",
                 "allowed"],
    )  # fmt: skip


def together(found, honest, as_net=None, **facts):
    recipe = pd.DataFrame([{"recipe_id": "a", "coverage": 1.0, "salt_open": False, **facts}])
    net = honest if as_net is None else as_net
    belief = pd.DataFrame({"recipe_id": ["a"], "honest": [honest], "as_net": [net]}).dropna()
    settled = settle(found, recipe, belief)
    return settled["verdict"].tolist(), verdicts(settled, recipe)["verdict"].item()


@pytest.mark.parametrize(
    ("worst", "honest", "wanted"),
    [("uncertain", 0.1, "disagrees"), ("uncertain", 0.5, "uncertain"), ("uncertain", 0.95, "agrees"),
     ("disagrees", 0.7, "uncertain"), ("disagrees", 0.3, "disagrees"), ("agrees", 0.0, "agrees")],
)  # fmt: skip
def test_all_numbers_together_decide_what_single_ones_leave_open(worst, honest, wanted):
    numbers, recipe = together(finding(("a", "FAT", worst, 10, 14, 4, 2)), honest)
    assert (numbers, recipe) == ([wanted], wanted)


def test_only_the_number_furthest_outside_is_settled_against():
    found = finding(("a", "ENERC_KCAL", "uncertain", 300, 340, 30, 30), ("a", "FAT", "uncertain", 10, 16, 5, 2),
                    ("a", "PROCNT", "agrees", 10, 10, 1, 2))  # fmt: skip
    assert together(found, 0.05) == (["uncertain", "disagrees", "agrees"], "disagrees")


@pytest.mark.parametrize(("reach", "verdict"), [(3, "disagrees"), (5, "uncertain")])
def test_a_number_within_the_range_of_its_lines_is_not_settled_against(reach, verdict):
    found = finding(("a", "PROCNT", "uncertain", 10, 14, reach, 2))
    assert together(found, 0.02) == ([verdict], verdict)


@pytest.mark.parametrize(("reach", "verdict"), [(59, "agrees"), (61, "uncertain")])
def test_a_range_of_more_than_twice_the_tolerance_vouches_for_nothing(reach, verdict):
    found = finding(("a", "ENERC_KCAL", "uncertain", 500, 540, reach, 30))
    assert together(found, 0.99) == ([verdict], verdict)


@pytest.mark.parametrize(("stated", "verdict"), [(131, "disagrees"), (240, "uncertain")])
def test_a_number_far_beyond_its_range_is_off_however_honest_the_sum(stated, verdict):
    found = finding(("a", "ENERC_KCAL", "disagrees", stated, 334, 50, 30))  # 284 to 384
    assert together(found, 0.9) == ([verdict], verdict)


def test_a_partly_unknown_recipe_stays_open_longer():
    found = finding(("a", "FAT", "uncertain", 10, 14, 4, 2))
    assert together(found, 0.1, coverage=0.9)[1] == "uncertain"


def test_salt_without_an_amount_leaves_sodium_open():
    found = finding(
        ("a", "FAT", "agrees", 10, 10, 1, 2), ("a", "NA", "disagrees", 900, 200, 20, 50)
    )
    assert together(found, math.nan, salt_open=True) == (["agrees", "uncertain"], "agrees")
    assert together(found, math.nan) == (["agrees", "disagrees"], "disagrees")


@pytest.mark.parametrize(
    ("worst", "honest", "as_net", "wanted"),
    [
        ("uncertain", 0.5, 0.9, "agrees"),
        ("uncertain", 0.1, 0.9, "agrees"),
        ("uncertain", 0.1, 0.5, "uncertain"),
        ("uncertain", 0.1, 0.1, "disagrees"),
        ("disagrees", 0.1, 0.9, "disagrees"),  # more than the doubt allows: to be said as net
    ],
)
def test_what_is_in_doubt_agrees_as_carbohydrate_without_fibre(worst, honest, as_net, wanted):
    _, recipe = together(finding(("a", "CHOCDF", worst, 10, 14, 4, 2)), honest, as_net)
    assert recipe == wanted


@given(
    numbers=st.lists(
        st.tuples(
            st.sampled_from(["ENERC_KCAL", "PROCNT", "CHOCDF", "FAT", "FIBTG", "NA"]),
            st.sampled_from(VERDICTS), st.floats(0, 500), st.floats(0, 500), st.floats(0, 90),
            st.floats(0, 90),
        ),
        min_size=1, max_size=6, unique_by=lambda n: n[0],
    ),
    honest=st.one_of(st.just(math.nan), st.floats(0, 1)), salt=st.booleans(),
    coverage=st.floats(0, 1),
)  # fmt: skip
def test_a_recipe_disagrees_exactly_where_a_number_shown_does(numbers, honest, salt, coverage):
    found = finding(*(("a", *n) for n in numbers))
    shown, recipe = together(found, honest, salt_open=salt, coverage=coverage)
    assert (recipe == "disagrees") == ("disagrees" in shown)
    if recipe == "agrees":
        core = [v for v, n in zip(shown, numbers, strict=True) if n[0] not in ("FIBTG", "NA")]
        assert set(core) <= {"agrees", "not_judged"}


@pytest.mark.parametrize("noise", [0.97, 1.0, 1.03])
def test_honest_numbers_agree(con, foods, stew, noise):
    numbers = {c: v * noise for c, v in stew.true.items()}
    assert (
        judge(con, stew.computation, stated(numbers), foods=foods).verdict["verdict"].item()
        == "agrees"
    )


def test_recipe_table_brings_every_basis_to_a_serving(con, foods):
    whole = case(con, yield_g=1600.0)
    per_100g = {c: v * 4 / 16 for c, v in whole.true.items()}
    said = stated(per_100g, "per_100g", step=0.1)
    judged = judge(con, whole.computation, said, foods=foods)
    recipe = pd.DataFrame([{"recipe_id": "stew", "title": "Stew", "source": "x.yaml"}])
    row = recipe_table(recipe, whole.computation, said, judged.verdict).iloc[0]
    assert row["verdict"] == "agrees"
    assert row["kcal_stated"] == pytest.approx(row["kcal_computed"], rel=0.01)
    assert row["kcal_computed"] == pytest.approx(whole.true["kcal"])
    assert math.isnan(row["sodium_mg_stated"])
