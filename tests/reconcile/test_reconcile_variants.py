"""Raw and cooked pairs and product variants, told from the table's names."""

from __future__ import annotations

import pytest
from cases import cases

from pipeline.foods.profile import profile
from pipeline.reconcile.variants import state_of


@pytest.mark.parametrize(
    ("description", "state"),
    [
        ("Rice, white, long-grain, regular, raw, enriched", "raw"),
        ("Rice, white, long-grain, regular, cooked, enriched", "cooked"),
        ("Buckwheat groats, roasted, dry", "raw"),
        ("Fish, cod, Atlantic, cooked, dry heat", "cooked"),
        ("Beans, kidney, red, mature seeds, canned, drained solids", "cooked"),
        ("Pasta, dry, enriched", "raw"),
        ("Cheese, feta", ""),
    ],
)
def test_state(description, state):
    assert state_of(profile(description).states) == state


#: Pairs of the table that a cook may confuse; codes of SR28.
RAW_COOKED = cases(__file__, "raw_cooked")
PRODUCTS = cases(__file__, "products")


@pytest.mark.parametrize(("code", "other"), RAW_COOKED)
def test_raw_and_cooked_find_each_other(foods, code, other):
    assert near(foods, code, other, "raw_cooked_slip")


@pytest.mark.parametrize(("code", "other"), PRODUCTS)
def test_products_of_one_food_find_each_other(foods, code, other):
    assert near(foods, code, other, "product_variant")


def near(foods, code, other, kind):
    """The other food, or one of the same energy and macros within 8 %, is among the variants."""
    index, wanted = (foods.variants.at[f"sr28:{c}"] for c in (code, other))
    target = foods.values[wanted][:4]
    for variant in foods.variants.of(index):
        value = foods.values[variant.index][:4]
        close = abs(value - target) * (1, 4, 4, 9) <= 0.08 * max(value[0], target[0])
        if variant.kind == kind and close.all():
            return True
    return False


def test_beliefs_of_a_kind_sum_to_one_and_no_food_is_its_own_variant(foods):
    for code in ("20044", "01077", "05062", "16057", "11282"):
        index = foods.variants.at[f"sr28:{code}"]
        found = foods.variants.of(index)
        assert index not in [v.index for v in found]
        for kind in {v.kind for v in found}:
            assert sum(v.weight for v in found if v.kind == kind) == pytest.approx(1.0)


def test_own_foods_have_values_and_no_variants(con, foods):
    import pandas as pd

    from pipeline.reconcile import load_foods

    rows = [
        ("pantry:my-bar", tag, 10.0, None, 0) for tag in ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT")
    ]
    own = pd.DataFrame(
        rows, columns=["food_id", "nutrient", "amount_per_100g", "standard_error", "n"]
    )
    more = load_foods(con, own)
    index = more.variants.at["pantry:my-bar"]
    assert more.values[index][0] == 10.0
    assert more.variants.of(index) == ()
    assert "pantry:my-bar" not in foods.variants.at
