"""Texts whose words say a state, or hold others together, name no food."""

import pytest

from pipeline.lines import parse
from pipeline.match.index import Index
from pipeline.match.matcher import Matcher


@pytest.fixture(scope="module")
def matcher(index: Index) -> Matcher:
    return Matcher(index)


@pytest.mark.parametrize("text", ["240 g drained", "200 g cooked", "whatever", "100 g dry"])
def test_states_and_small_words_name_no_food(matcher: Matcher, text: str) -> None:
    found = matcher.match_one(parse(text))
    assert found.food_id is None
    assert found.names_food == any(map(str.isdigit, text))


@pytest.mark.parametrize(
    "text", ["240 g drained chickpeas", "100 g dried apricots", "20 g plain flour"]
)
def test_a_food_behind_a_state_is_named(matcher: Matcher, text: str) -> None:
    assert matcher.match_one(parse(text)).food_id is not None
