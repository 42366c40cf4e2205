"""Kinds that a line's words leave open. Foods and values are USDA SR28 (public domain)."""

from __future__ import annotations

import pytest

from pipeline.lines import parse
from pipeline.match import matched_frames
from pipeline.match.index import Index
from pipeline.match.matcher import Matcher


@pytest.fixture(scope="module")
def matcher(index: Index) -> Matcher:
    return Matcher(index)


def _open(matcher: Matcher, line: str) -> dict[str, float]:
    found = matcher.match_one(parse(line))
    return {c.description: c.probability for c in found.open_kinds}


def test_farmed_or_wild_is_left_open_until_it_is_said(matcher: Matcher) -> None:
    """SR28: farmed Atlantic salmon has 13.42 g fat a 100 g, the wild one 6.34."""
    assert "Fish, salmon, Atlantic, wild, raw" in _open(matcher, "200 g salmon")
    assert _open(matcher, "200 g wild atlantic salmon") == {}


def test_a_food_of_the_same_words_that_differs_is_left_open_though_no_name_leads_to_it(
    matcher: Matcher,
) -> None:
    """SR28: firm tofu has 78 kcal set with nigari and 144 kcal set with calcium sulfate alone."""
    firm = "Tofu, raw, firm, prepared with calcium sulfate"
    assert _open(matcher, "350 g firm tofu")[firm] > 0.4
    assert firm in _open(matcher, "1 block tofu")
    assert firm not in _open(matcher, "200 g extra firm tofu")
    assert _open(matcher, "1 tin baked beans") == {}  # "with beef" is a word nobody said


@pytest.mark.parametrize(
    "line",
    [
        "100 g cheddar cheese",  # reduced fat is another food, not another kind of this one
        "3 eggs",  # a white is a part
        "1 portabella mushroom", "2 red bell peppers", "150 g skyr",  # words for one kind alone
        "100 g walnuts",
    ],
)  # fmt: skip
def test_a_word_that_names_one_product_leaves_nothing_open(matcher: Matcher, line: str) -> None:
    assert _open(matcher, line) == {}


def test_kinds_agree_in_state_and_their_shares_leave_room_for_the_chosen_one(
    matcher: Matcher,
) -> None:
    for line in ("200 g mackerel", "150 g goat cheese", "50 g cheese"):
        found = matcher.match_one(parse(line))
        assert found.food_id is not None
        assert found.open_kinds, line
        assert 0 < sum(c.probability for c in found.open_kinds) < 1
        states = matcher.index.foods.states[matcher.position(found.food_id)] & {"raw", "cooked"}
        for kind in found.open_kinds:
            at = matcher.position(kind.food_id)
            assert matcher.index.foods.states[at] & {"raw", "cooked"} == states


def test_an_open_kind_stands_once_among_the_runners_up(matcher: Matcher) -> None:
    _, others = matched_frames([matcher.match_one(parse("200 g salmon"))])
    assert not others["food_id"].duplicated().any()
    assert (others["left_open"] > 0).sum() >= 3
    assert list(others["rank"]) == list(range(1, len(others) + 1))
