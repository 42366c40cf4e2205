"""Typing slips and their inverse."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.reconcile.digits import SHARES, WAYS, chance_of, may_be_meant, results

numbers = st.integers(min_value=1, max_value=99_999)


def meant_by(typed):
    """Every number that one slip turns into ``typed``, with the chance of that slip."""
    values = may_be_meant(np.array([typed]))[0].tolist()
    return {v: chance_of(v, typed)[0] for v in values if v and chance_of(v, typed)[0] > 0}


@pytest.mark.parametrize(
    ("meant", "typed"),
    [(13, 31), (495, 45), (495, 4995), (412, 142), (412, 4120), (120, 12), (412, 214), (412, 124)],
)
def test_slips_people_make(meant, typed):
    assert meant in meant_by(typed)


@given(numbers)
def test_chances_are_a_share_of_one_and_the_number_itself_is_no_slip(number):
    made = {typed for found in results(number).values() for typed in found}
    assert number not in made
    assert 0 < sum(chance_of(number, typed)[0] for typed in made) <= sum(SHARES.values()) + 1e-9


@given(numbers)
def test_the_inverse_finds_every_slip_and_names_its_likeliest_way(number):
    for how, found in results(number).items():
        for typed in found:
            assert number in meant_by(typed)
            chance, way = chance_of(number, typed)
            assert chance >= SHARES[how] / len(found) - 1e-12
            assert typed in results(number)[WAYS[way]]


@given(st.lists(st.integers(-5, 10**17), max_size=6))
def test_many_numbers_are_searched_as_each_by_itself(shown):
    together = may_be_meant(np.array(shown, dtype=np.int64))
    for number, row in zip(shown, together.tolist(), strict=True):
        alone = may_be_meant(np.array([number], dtype=np.int64))[0].tolist()
        assert set(row) - {0} == set(alone) - {0}
        assert all(v > 0 for v in set(row) - {0})
