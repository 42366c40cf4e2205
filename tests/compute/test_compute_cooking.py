"""Yields, alcohol and what is poured away."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.compute import alcohol_kept, cooked_per_100g, raw_to_cooked


def test_per_100g_of_the_cooked_dish_by_hand():
    # 1,133.48 kcal in 1,824.4 g raw, cooked to 1,480 g: 76.59 kcal per 100 g
    assert cooked_per_100g(1133.48, 1824.4, 1480 / 1824.4) == pytest.approx(76.587, abs=0.001)
    with pytest.raises(ValueError, match="positive"):
        cooked_per_100g(10, 100, 0)


def test_yields_come_with_their_source():
    rice = raw_to_cooked("Rice, white, long-grain, regular, raw, enriched", "cooked")
    assert rice is not None
    assert rice.value == pytest.approx(2.80)
    assert "Standard Reference" in rice.source
    assert raw_to_cooked("Horseradish, prepared") is None


@pytest.mark.parametrize(
    ("raw", "cooked", "value"),
    [
        ("white rice", "boiled", 2.80),
        ("Brown rice, dry", "boiled", 2.967),
        ("Spaghetti, wholewheat, dried", "boiled", 2.403),
        ("Chicken breast, raw", "grilled", 0.721),
        ("Chicken breast, raw", "braised", 0.665),
        ("Beef mince, 80 % lean", "broiled patty", 0.667),
        ("Prawns, raw", "boiled", 0.597),
    ],
)
def test_yields_are_found_by_the_words_of_any_table(raw, cooked, value):
    found = raw_to_cooked(raw, cooked)
    assert found is not None
    assert found.value == pytest.approx(value)


def test_a_yield_is_not_lent_to_what_only_shares_a_word():
    for raw in (
        "Rice flour, white",
        "Egg, white, raw",
        "Beans, pinto, mature seeds, sprouted, raw",
    ):
        assert raw_to_cooked(raw) is None


@pytest.mark.parametrize(
    ("raw", "cooked"), [("20044", "20045"), ("20036", "20037"), ("20120", "20121"),
                        ("20035", "20137"), ("20031", "20032"), ("20088", "20089")]
)  # fmt: skip
def test_grain_yields_are_what_the_embedded_table_implies(snapshot, raw, cooked):
    """Dry matter stays: (100 - water raw) / (100 - water cooked), INFOODS; SR28's own values."""
    with snapshot.connect() as con:
        (raw_name, raw_water), (cooked_name, cooked_water) = (
            con.execute(
                "select description, water_g from food join food_macros using (food_id) "
                "where food_id = ?", [f"sr28:{code}"],
            ).fetchone()
            for code in (raw, cooked)
        )  # fmt: skip
    found = raw_to_cooked(raw_name, cooked_name)
    assert found is not None
    assert found.value == pytest.approx((100 - raw_water) / (100 - cooked_water), rel=0.01)


@pytest.mark.parametrize(("minutes", "kept"), [(0, 0.85), (15, 0.40), (30, 0.35), (60, 0.25), (90, 0.20), (120, 0.10), (150, 0.05), (600, 0.05)])  # fmt: skip
def test_alcohol_at_the_published_points(minutes, kept):
    assert alcohol_kept(minutes) == pytest.approx(kept)


@settings(max_examples=30)
@given(st.floats(0, 300), st.floats(0, 300))
def test_more_time_never_leaves_more_alcohol(a, b):
    short, long = sorted((a, b))
    assert alcohol_kept(long) <= alcohol_kept(short) + 1e-12
