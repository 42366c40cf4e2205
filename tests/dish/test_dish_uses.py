"""What is not eaten, what is counted elsewhere, and what is only there if added."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest
from cases import cases
from hypothesis import given
from hypothesis import strategies as st

from pipeline.dish import eaten_rules
from pipeline.dish.model import Dish, Dishes
from pipeline.dish.opens import amount_of
from pipeline.dish.twice import counted_twice, if_added, made_of_lines, optional_or_other
from pipeline.dish.uses import uses
from pipeline.resources import shared_rows
from pipeline.tables import LINE_RESULT

WORDS_OF_USE = [
    ("1 litre sunflower oil, for deep-frying", "deep_frying"),
    ("250 ml vegetable oil, for shallow frying", "frying"),
    ("2 tbsp olive oil, for frying", ""),
    ("500 ml buttermilk, for soaking", "soaking"),
    ("100 g flour, for dredging", "dredging"),
    ("1 egg, for brushing", "brushing"),
    ("6 slices white bread, crusts removed", "crusts"),
    ("20 g butter, for greasing", "greasing"),
    ("100 g butter, plus extra for greasing", ""),
    ("3 tbsp salt, for the pasta water", "boiling"),
    ("1 kg beef bones", "bones"),
    ("800 g bone-in chicken thighs", ""),
    ("100 ml soy sauce (marinade, discarded)", "marinade"),
    ("2 tbsp olive oil", ""),
    ("200 g marinated artichokes", ""),
]
OPTIONAL = [
    ("50 g walnuts (optional)", True),
    ("Optional: 50 g walnuts", True),
    ("50 g walnuts, optional", True),
    ("50 g walnuts, if desired", True),
    ("50 g walnuts, toasted (optional)", False),  # the toasting is
    ("50 g walnuts (or other nuts if desired)", False),
    ("50 g walnuts (optional but highly recommended)", False),
    ("50 g walnuts", False),
]
METHODS = [
    (
        "500 ml sunflower oil",
        "Heat the oil to 180C and fry the cakes in batches.",
        "deep_frying",
    ),
    ("2 tbsp sunflower oil", "Heat the oil and fry the cakes in batches.", ""),
    ("500 g beef mince", "Brown the mince and drain off the fat.", "fat_drained"),
    ("500 g beef mince", "Brown the mince and add the rest.", ""),
    ("500 g beef mince", "Brown the mince, don't drain the fat.", ""),
    ("500 g beef mince", "Never rinse the mince, drain off the fat.", "fat_drained"),
    ("300 ml milk", "Lift out the fish and discard the poaching liquid.", "soaking"),
    ("300 ml milk", "Lift out the fish and thicken the milk.", ""),
]
GARNISHES = [
    ("chopped parsley, to garnish", 5),
    ("cooking spray", 30),
    ("stevia, to taste", 10),
    ("salt and pepper", 10),
    ("lemon wedges, to serve", 20),
    ("sesame seeds", 60),
]


def of_chicken(line: str) -> tuple[str, str]:
    return f"600 g chicken breast\n{line}", ""


def of_couscous(*lines: str) -> tuple[str, str]:
    return "\n".join(["300 g couscous", *lines]), ""


#: Cards that stand alone, for one run over all of them.
TOGETHER = [
    *(of_chicken(line) for line, _ in WORDS_OF_USE), *(of_couscous(line) for line, _ in OPTIONAL),
    *((f"600 g cod\n{line}", method) for line, method, _ in METHODS),
    of_couscous(), *(of_couscous(line) for line, _ in GARNISHES),
]  # fmt: skip


@pytest.mark.parametrize("rule", eaten_rules(), ids=lambda r: r.rule)
def test_every_row_has_a_source_and_a_range_around_its_share(rule):
    assert rule.source
    assert 0 <= rule.low <= rule.share <= rule.high <= 1
    assert rule.of in ("line", "food")


@pytest.mark.parametrize(("line", "use"), WORDS_OF_USE)
def test_words_of_a_line_say_how_it_is_used(cooked_together, line, use):
    _, lines = cooked_together(*of_chicken(line))
    row = lines.loc[line]
    assert row["use"] == use
    assert row["eaten_share"] < 1 if use and use != "frying" else True
    if use:
        assert "is eaten" in row["weigh_reason"]
        assert "[" in row["weigh_reason"]  # its source


def test_what_each_eater_gets_counts_for_all(cooked):
    _, lines = cooked(
        "75 g dry pasta per person\n30 g whey (24 g protein per serving)\n200 g butter"
    )
    assert lines["grams"].tolist() == [300.0, 30.0, 200.0]
    assert "a person, 4 of them" in lines["weigh_reason"].iloc[0]


def test_frying_oil_is_eaten_by_the_weight_of_the_food_and_never_more_than_there_is(cooked):
    _, little = cooked("300 g potatoes\n1 litre sunflower oil, for deep-frying")
    _, much = cooked("1.2 kg potatoes\n1 litre sunflower oil, for deep-frying")
    _, cup = cooked("5 kg potatoes\n80 g sunflower oil, for frying")
    one, other = (f.filter(like="oil", axis=0).iloc[0] for f in (little, much))
    assert other["kcal"] == pytest.approx(4 * one["kcal"])
    assert one["eaten_low"] < one["eaten_share"] < one["eaten_high"]
    assert cup.filter(like="oil", axis=0)["eaten_share"].item() == 1


def test_the_method_says_that_a_marinade_is_left_behind(cooked):
    lines = """
600 g chicken thighs, boneless
For the marinade:
100 ml soy sauce
3 tbsp honey
"""
    _, kept = cooked(lines, method="1. Marinate the chicken. 2. Simmer all of it as a sauce.")
    _, left = cooked(lines, method="1. Marinate the chicken. 2. Discard the marinade and grill.")
    assert left.loc["3 tbsp honey", "kcal"] < 0.3 * kept.loc["3 tbsp honey", "kcal"]
    assert kept.loc["3 tbsp honey", "eaten_low"] < 1  # nothing says that all of it is eaten


def test_a_recipe_for_a_marinade_is_eaten(cooked):
    lines = "For the marinade:\n100 ml soy sauce\n3 tbsp honey"
    _, found = cooked(lines, title="Mill race marinade")
    assert found.loc["3 tbsp honey", "use"] == ""


@pytest.mark.parametrize(("line", "optional"), OPTIONAL)
def test_optional_lines_are_shown_and_not_added(cooked_together, line, optional):
    energy, lines = cooked_together(*of_couscous(line))
    row = lines.loc[line]
    assert (row["use"] == "if_added") == optional
    assert (row["kcal"] == 0) == optional
    if optional:
        assert re.search(r"if added: \d+ kcal", row["weigh_reason"])
        assert energy["high"] - energy["amount"] > 200


def test_optional_lines_count_where_the_stated_energy_holds_them(cooked):
    lines = "200 g couscous\n100 g walnuts (optional)"
    _, without = cooked(lines, stated="188 kcal")
    _, with_them = cooked(lines, stated="352 kcal")
    _, neither = cooked(lines, stated="600 kcal")
    uses_ = [f.loc["100 g walnuts (optional)", "use"] for f in (without, with_them, neither)]
    assert uses_ == ["if_added", "optional", "if_added"]
    reason = with_them.loc["100 g walnuts (optional)", "weigh_reason"]
    assert "the stated energy holds it" in reason


def test_alternatives_under_an_or_heading_are_not_added(cooked):
    _, lines = cooked("""
300 g couscous
For the topping:
100 g feta
OR:
120 g halloumi
20 g honey
For the salad:
200 g tomatoes
""")
    assert lines["use"].to_dict() | {} == {
        **lines["use"].to_dict(), "120 g halloumi": "if_added", "20 g honey": "if_added",
        "100 g feta": "", "200 g tomatoes": "", "300 g couscous": "",
    }  # fmt: skip


def test_a_line_that_ends_with_or_has_one_alternative(cooked):
    _, lines = cooked("200 g feta OR\n220 g halloumi\n100 g rice\nor 90 g barley")
    assert list(lines["use"]) == ["", "if_added", "", "if_added"]
    _, lines = cooked("4 cups vegetables of your choice, or\n300 g carrots\n300 g leeks")
    assert list(lines["use"]) == ["if_added", "", ""]


@pytest.mark.parametrize(("line", "method", "use"), METHODS)
def test_the_method_says_what_is_left_behind(cooked_together, line, method, use):
    _, lines = cooked_together(f"600 g cod\n{line}", method)
    assert lines.loc[line, "use"] == use


def test_what_earlier_lines_make_is_counted_once(cooked):
    result, lines = cooked("""
For the tangzhong:
30 g bread flour
120 ml milk
For the dough:
400 g bread flour
Tangzhong from above
""")
    assert lines.loc["Tangzhong from above", "use"] == "made"
    assert result.recipes["coverage"].item() == pytest.approx(1)


def test_an_intermediate_in_several_places_is_counted_once(cooked):
    text = """
{first}
For the dough:
300 g flour
1/2 cup browned butter
For the filling:
100 g sugar
1/2 cup browned butter
For the icing:
1/2 cup browned butter
"""
    once, lines = cooked(text.format(first="1 1/2 cups butter"))
    named, _ = cooked(text.format(first="Brown butter:\n1 1/2 cups butter"))
    assert (lines.loc["1/2 cup browned butter", "kcal"] == 0).all()
    kcal = [r.recipes["kcal_computed"].item() for r in (once, named)]
    assert kcal[0] == pytest.approx(kcal[1])
    assert kcal[0] == pytest.approx((3 * 814 + 1092 + 387) / 4, rel=0.02)


def test_of_a_section_that_is_not_used_up_only_the_share_counts(cooked):
    _, lines = cooked("""
For the lemon syrup:
400 g sugar
400 g water
For the punch:
500 ml orange juice
200 g of the lemon syrup
""")
    assert lines.loc["400 g sugar", "eaten_share"] == pytest.approx(0.25)
    assert lines.loc["400 g sugar", "eaten_high"] > 0.25
    assert lines.loc["200 g of the lemon syrup", "use"] == "made"


def test_a_sauce_of_the_shop_is_no_intermediate(cooked):
    _, lines = cooked("""
For the sauce:
200 g tomatoes
For the rice:
300 g rice
2 tbsp soy sauce
1 tbsp honey, stirred into the sauce
2 tsp sesame seeds for the sauce
100 g toasted walnuts
""")
    assert set(lines["use"]) == {""}


SAID = """
    the of optional or if desired from above reserved butter browned sauce oil for frying discard
    marinade brine , ( ) : 2 cups 100 g crusts removed bones plus more
"""
WORDS = st.sampled_from(SAID.split())
TEXTS = st.lists(WORDS, min_size=1, max_size=8).map(" ".join)
SECTIONS = st.sampled_from(["", "Brown butter", "For the sauce", "Marinade", "Brine (optional)"])
LINES = st.lists(
    st.tuples(TEXTS, SECTIONS, st.one_of(st.just(float("nan")), st.floats(0, 3000)), st.booleans()),
    max_size=6,
)  # fmt: skip


@given(LINES, TEXTS, TEXTS)
def test_uses_are_total_and_shares_are_shares(rows, title, method):
    lines = [
        {"recipe_id": "r", "line_no": no, "text": text, "section": section, "grams": grams,
         "description": "Butter, salted", "food_id": "sr28:01001", "basis": "mass", "unit": "g",
         "names_food": is_food, "origin": "table"}
        for no, (text, section, grams, is_food) in enumerate(rows, start=1)
    ]  # fmt: skip
    recipe = {"recipe_id": ["r"], "title": [title], "method": [method], "servings": [4.0]}
    columns = [*LINE_RESULT]
    dishes = Dishes(pd.DataFrame(recipe), pd.DataFrame(lines, columns=columns))
    (dish,) = [*dishes.some(np.ones(1, dtype=bool))] or [Dish("r")]
    of_arrays = [*optional_or_other(dishes), *counted_twice(dishes)]
    assert of_arrays == [*if_added(dish), *made_of_lines(dish)]  # no recipe is passed over
    for use in (*of_arrays, *uses(dishes)):
        assert 0 <= use.low <= use.share <= use.high or use.use == "if_added"
        assert use.high <= 1 or use.of == "food"
        assert use.reason


def test_open_amounts_have_sources_and_ranges():
    for row in shared_rows("open_amounts.csv"):
        assert row["source"]
        assert 0 <= float(row["low"]) <= float(row["typical"]) <= float(row["high"])
        assert row["of"] in ("recipe", "serving")
        assert row["when"] in ("", "frying", "greasing", "beside")


@pytest.mark.parametrize(("line", "most_kcal"), GARNISHES)
def test_a_garnish_without_an_amount_does_not_widen_the_range(cooked_together, line, most_kcal):
    plain, _ = cooked_together(*of_couscous())
    energy, lines = cooked_together(*of_couscous(line))
    assert "no amount is written; people use" in lines.loc[line, "weigh_reason"]
    width = (energy["high"] - energy["low"]) - (plain["high"] - plain["low"])
    assert width < most_kcal


def test_a_recipe_that_lost_its_amounts_gets_none(cooked):
    _, lines = cooked("- minced beef\n- onions\n- tomatoes\n- olive oil\n- 100 g rice")
    assert lines.loc["minced beef", "grams"] != lines.loc["minced beef", "grams"]
    assert lines["grams"].notna().sum() == 1


@pytest.mark.parametrize(("line", "food", "kind"), cases(__file__, "sauces"))
def test_a_sauce_or_a_stock_without_an_amount_is_what_people_use_of_its_kind(line, food, kind):
    row = amount_of(line, food, "")
    assert (row and row.kind) == kind
