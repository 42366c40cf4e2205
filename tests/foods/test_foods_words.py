"""Words of food names in one form."""

from __future__ import annotations

import gzip
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.foods.words import fold, regular_singular, singular, words
from pipeline.resources import data_path, shared_rows


@pytest.mark.parametrize(
    ("plural", "one"),
    [
        ("tomatoes", "tomato"), ("potatoes", "potato"), ("berries", "berry"), ("peaches", "peach"),
        ("radishes", "radish"), ("leaves", "leaf"), ("olives", "olive"), ("oats", "oat"),
        ("asparagus", "asparagus"), ("couscous", "couscous"), ("molasses", "molasses"),
        ("bass", "bass"), ("watercress", "watercress"), ("rotis", "roti"), ("boxes", "box"),
        ("cheeses", "cheese"), ("eggs", "egg"), ("gas", "gas"), ("anchovies", "anchovy"),
        ("cloves", "clove"), ("chives", "chive"), ("loaves", "loaf"), ("quiches", "quiche"),
        ("chillies", "chilli"), ("chilies", "chili"), ("chillis", "chilli"), ("pies", "pie"),
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


def _plural(word: str) -> str:
    """The regular plural of English spelling."""
    if word.endswith("y") and word[-2] not in "aeiou":
        return word[:-1] + "ies"
    return word + ("es" if word.endswith(("ch", "sh", "x", "ss", "z")) else "s")


#: Ends of singulars whose plural spelling is that of other words: tofu(s) and hummus, brioche(s)
#: and peaches, maize(s) and waltzes. Foods among them that are counted stand in plurals.csv.
_AMBIGUOUS = ("u", "oe", "che", "she", "ze", "xe", "sse", "ie")


@pytest.fixture(scope="module")
def described() -> set[str]:
    """Every word of the embedded table's descriptions, as written."""
    with gzip.open(data_path("sr28") / "FOOD_DES.txt.gz", "rt", encoding="latin-1") as handle:
        return {word for line in handle for word in re.findall("[a-z]{3,}", fold(line))}


def test_every_word_of_the_table_is_settled_and_meets_its_plural(described: set[str]) -> None:
    assert len(described) > 4000
    assert not [w for w in described if singular(singular(w)) != singular(w)]
    exceptions = {row["plural"] for row in shared_rows("plurals.csv")}
    regular = [w for w in described if not {w, _plural(w)} & exceptions]
    nouns = [w for w in regular if not w.endswith(("s", *_AMBIGUOUS)) and w != "chilly"]
    assert len(nouns) > 3500
    assert not [w for w in nouns if singular(_plural(w)) != singular(w)]


def test_every_exception_is_needed() -> None:
    """A row that the rules give anyway says nothing."""
    for row in shared_rows("plurals.csv"):
        assert regular_singular(row["plural"]) != row["singular"], row
