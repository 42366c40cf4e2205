"""Yields, alcohol and what is poured away."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.compute import alcohol_kept, cooked_per_100g, eaten_share, raw_to_cooked


def test_per_100g_of_the_cooked_dish_by_hand():
    # 1,133.48 kcal in 1,824.4 g raw, cooked to 1,480 g: 76.59 kcal per 100 g
    assert cooked_per_100g(1133.48, 1824.4, 1480 / 1824.4) == pytest.approx(76.587, abs=0.001)
    with pytest.raises(ValueError, match="positive"):
        cooked_per_100g(10, 100, 0)


def test_yields_come_with_their_source():
    rice = raw_to_cooked("sr28:20044", "sr28:20045")
    assert rice is not None
    assert rice.value == pytest.approx(2.80)
    assert "Standard Reference" in rice.source
    assert raw_to_cooked("sr28:99999") is None


@pytest.mark.parametrize(("minutes", "kept"), [(0, 0.85), (15, 0.40), (30, 0.35), (60, 0.25), (90, 0.20), (120, 0.10), (150, 0.05), (600, 0.05)])  # fmt: skip
def test_alcohol_at_the_published_points(minutes, kept):
    assert alcohol_kept(minutes) == pytest.approx(kept)


@settings(max_examples=30)
@given(st.floats(0, 300), st.floats(0, 300))
def test_more_time_never_leaves_more_alcohol(a, b):
    short, long = sorted((a, b))
    assert alcohol_kept(long) <= alcohol_kept(short) + 1e-12


def test_only_words_that_say_so_take_a_part_away():
    deep = eaten_share("1 l sunflower oil, for deep-frying")
    assert deep is not None
    assert deep.low < deep.share < deep.high < 0.5
    assert eaten_share("marinade (discarded): 100 ml soy sauce") is not None
    for eaten in ("2 tsp coconut oil, for frying", "1 tbsp oil", "200 g marinated artichokes"):
        assert eaten_share(eaten) is None
