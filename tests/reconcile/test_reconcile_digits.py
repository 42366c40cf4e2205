"""Typing slips and their inverse."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.reconcile.digits import SHARES, meant_by, slips_of

numbers = st.integers(min_value=1, max_value=9_999)


@pytest.mark.parametrize(
    ("meant", "typed"),
    [(13, 31), (495, 45), (495, 4995), (412, 142), (412, 4120), (120, 12), (412, 214), (412, 124)],
)
def test_slips_people_make(meant, typed):
    assert typed in slips_of(meant)
    assert meant in [m.value for m in meant_by(typed, 1, 10_000)]


@given(numbers)
def test_chances_are_a_share_of_one_and_the_number_itself_is_no_slip(number):
    chances = slips_of(number)
    assert number not in chances
    assert 0 < sum(chances.values()) <= sum(SHARES.values()) + 1e-9


@given(numbers)
def test_the_inverse_finds_every_slip_with_the_same_chance(number):
    for typed, chance in slips_of(number).items():
        found = {m.value: m.chance for m in meant_by(typed, number, number)}
        assert found[number] == pytest.approx(chance)


@given(numbers, st.integers(1, 500), st.integers(1, 20_000))
def test_only_numbers_in_reach_are_given(typed, least, most):
    assert all(least <= m.value <= most for m in meant_by(typed, least, most))
