"""One form for a word, whichever stage asks."""

from __future__ import annotations

import pytest

from pipeline.foods import fold, singular, words
from pipeline.match import words as of_match


@pytest.mark.parametrize(
    ("plural", "one"), [("chillies", "chilli"), ("chilies", "chili"), ("chillis", "chilli")]
)
def test_british_and_american_peppers_keep_their_spelling(plural: str, one: str) -> None:
    assert singular(plural) == singular(one) == one


def test_matching_and_descriptions_use_the_same_functions() -> None:
    assert of_match.words is words
    assert of_match.singular is singular
    assert of_match.fold is fold
