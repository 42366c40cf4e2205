"""How well foods fit: every feature keeps its bounds, states answer or contradict."""

from __future__ import annotations

import numpy as np
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_lines import lines

from pipeline.lines import parse_many
from pipeline.match.columns import Meaning
from pipeline.match.features import Features
from pipeline.match.index import Index
from pipeline.match.query import query_of
from pipeline.match.rank import rank_all
from pipeline.match.states import COOKED, sold_otherwise, state_fit
from pipeline.resources import word_lists

#: Features that are no shares between 0 and 1.
BOUNDS = {
    "name_unsaid": (0, 2), "name_missing": (0, 2), "unsaid_head": (0, 3), "unsaid": (0, 3),
    "unexplained": (0, 3), "rest_missing": (0, 2), "state_yes": (0, 2), "state_no": (0, 2),
    "state_open": (0, 2), "kept_unasked": (0, 2), "kind_unasked": (0, 2), "default": (-0.6, 1),
    "fat_off": (0, 8), "usual": (0, 1.1),
}  # fmt: skip
STATES = sorted(
    {*COOKED, *(w for name, own in word_lists("match_words.csv").items() if name.startswith("state_")
                for w in own)}
)  # fmt: skip
some_states = st.frozensets(st.sampled_from(STATES), max_size=5)
meanings = st.none() | st.builds(
    Meaning, some_states, st.booleans(), st.booleans(), some_states, some_states
)


@settings(max_examples=examples(20))
@given(texts=st.lists(lines, min_size=1, max_size=8, unique=True))
def test_features_are_bounded(index: Index, texts: list[str]) -> None:
    found = rank_all([query_of(line, index) for line in parse_many(texts)], index)
    assert np.isfinite(found.features).all()
    for name, values in zip(Features._fields, found.features, strict=True):
        low, high = BOUNDS.get(name, (0, 1))
        if values.size:
            assert values.min() >= low - 1e-9, name
            assert values.max() <= high + 1e-9, name


@given(said=some_states, shown=some_states, meaning=meanings, fully=st.booleans())
def test_state_fits_are_bounded(
    said: frozenset[str], shown: frozenset[str], meaning: Meaning | None, fully: bool
) -> None:
    fit = state_fit(said, shown, meaning, fully_said=fully)
    assert all(0 <= v <= 2 for v in fit[:6])
    assert fit.cooked_unasked in (0, 1)
    assert -0.6 <= fit.ordinary <= 1
    if not said:
        assert fit.answered == fit.contradicted == fit.unanswered == 0


@given(said=some_states)
def test_a_food_that_shows_all_that_is_said_answers_it(said: frozenset[str]) -> None:
    fit = state_fit(said, said)
    assert fit.contradicted == fit.kept_unasked == fit.cooked_unasked == 0


@pytest.mark.parametrize(
    ("said", "shown", "otherwise"),
    [
        ({"canned"}, {"frozen"}, True), ({"jarred"}, {"raw"}, True), ({"bottled"}, {"raw"}, False), ({"canned"}, {"fresh"}, True),
        ({"canned"}, {"canned", "drained"}, False), ({"canned"}, {"cooked", "boiled"}, False),
        ({"canned"}, {"pickled"}, False), ({"canned"}, set(), False), ({"frozen"}, {"raw"}, False),
        ({"canned"}, {"canned", "frozen"}, False),
    ],
)  # fmt: skip
def test_what_a_tin_or_a_jar_does_not_hold(
    said: set[str], shown: set[str], otherwise: bool
) -> None:
    assert sold_otherwise(frozenset(said), frozenset(shown)) is otherwise


@given(shown=some_states, claimed=some_states)
def test_a_row_cannot_claim_a_tin_against_the_table(
    shown: frozenset[str], claimed: frozenset[str]
) -> None:
    """A words file may let a frozen food stand in for a tinned one; that answers no tin."""
    tin = frozenset({"canned"})
    row = Meaning(claimed | tin, True, False, frozenset(), claimed | tin)
    fit = state_fit(tin, shown, row)
    if sold_otherwise(tin, shown):
        assert fit.answered == 0
        assert fit.unanswered == 1
    else:
        assert fit.answered == 1


@pytest.mark.parametrize(
    ("shown", "answers"),
    [({"toasted"}, True), ({"roasted"}, True), ({"cooked"}, False), ({"cooked", "boiled"}, False)],
)
def test_what_is_toasted_was_not_boiled(shown: set[str], answers: bool) -> None:
    fit = state_fit(frozenset({"toasted"}), frozenset(shown))
    assert (fit.answered > 0, fit.contradicted > 0) == (answers, not answers)
    assert state_fit(frozenset({"toasted"}), frozenset({"raw"})).contradicted == 0
