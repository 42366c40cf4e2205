"""Rows of a table of foods that state a fact of their recipe."""

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake.tables import fact_rows
from pipeline.intake.tables.fact_rows import surely_states


@pytest.mark.parametrize(
    ("name", "states"),
    [
        ("Serves", True),
        ("makes 12", True),
        ("TOTAL", True),
        ("Cooking   time:", True),
        ("servings (large)", True),
        ("lemon, to serve", False),
        ("serviceberries", False),
        ("oats, cooking", False),
        ("", False),
    ],
)
def test_what_surely_states_a_fact(name, states):
    assert surely_states(name) is states


_SAID = ["serves", "Makes", "total", "energy", "kcal", "notes:", "cook's", "note", "cooking", "time",
         "to", "serve", "per", "serving", "weight", "x", "2", "(", ")", "-", "oats", "Ünter", "s"]  # fmt: skip


@settings(max_examples=examples(400))
@given(st.lists(st.sampled_from(_SAID), max_size=6), st.sampled_from([" ", "  ", "", ", "]))
def test_no_name_is_passed_over_that_a_pattern_finds(said, between):
    name = between.join(said)
    begin, _, stand = fact_rows._sure()
    assert surely_states(name) is bool(begin.match(name) or stand.search(name))
