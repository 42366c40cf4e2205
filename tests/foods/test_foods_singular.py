"""Words of food names in one form."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.match.words import fold, singular, words


@pytest.mark.parametrize(
    ("plural", "one"),
    [
        ("tomatoes", "tomato"), ("potatoes", "potato"), ("berries", "berry"), ("peaches", "peach"),
        ("radishes", "radish"), ("leaves", "leaf"), ("olives", "olive"), ("oats", "oat"),
        ("asparagus", "asparagus"), ("couscous", "couscous"), ("molasses", "molasses"),
        ("bass", "bass"), ("watercress", "watercress"), ("rotis", "roti"), ("boxes", "box"),
        ("cheeses", "cheese"), ("eggs", "egg"), ("gas", "gas"), ("anchovies", "anchovy"),
    ],
)  # fmt: skip
def test_singular(plural: str, one: str) -> None:
    assert singular(plural) == one


@pytest.mark.parametrize(
    "word", ["cookie", "hoagie", "brownie", "roti", "chapati", "berry", "olive"]
)
def test_a_plural_and_its_singular_meet(word: str) -> None:
    plural = word[:-1] + "ies" if word.endswith("y") else word + "s"
    assert singular(plural) == singular(word)


@given(st.text(max_size=60))
def test_words_take_any_text_and_are_settled(text: str) -> None:
    once = words(text)
    assert all(w and w == w.lower() for w in once)
    assert words(" ".join(once)) == tuple(w for w in once for w in words(w))


@given(st.sampled_from(["crème fraîche", "jalapeño", "Brussels sprouts", "half-fat crème"]))
def test_case_accents_and_hyphens_do_not_matter(name: str) -> None:
    assert words(name) == words(name.upper()) == words(fold(name)) == words(name.replace("-", " "))
