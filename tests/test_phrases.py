"""Patterns over many texts find what each pattern finds in each text."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.dish import eaten_rules
from pipeline.lines.use_words import dish_phrase
from pipeline.phrases import Column, Phrase, any_of, phrases

PHRASES = [
    *phrases("dish_phrases.csv").values(),
    *(rule.phrase for rule in eaten_rules()),
    *(rule.food for rule in eaten_rules() if rule.food),
]


@given(st.data())
def test_every_match_holds_one_of_the_derived_texts(data):
    phrase = data.draw(st.sampled_from([p for p in PHRASES if p.needles]))
    text = data.draw(st.from_regex(phrase.pattern))
    if text.isascii():  # some letters beyond ASCII are lower case of none
        assert any(needle in text.lower() for needle in phrase.needles)


@pytest.mark.parametrize(
    ("expression", "needles"),
    [
        (r"\bdeep[- ]?fr(?:y|ying)\b", {"deep"}),
        (r"\b(?:reserved|rest of)\b", {"erved", "t of"}),
        (r"for (?:dusting|rolling)|\bflouring\b", {"dusting", "rolling", "flouring"}),
        (r"(?:or)?\s*", set()),
        (r"^(?!.*bread).*", set()),
    ],
)
def test_what_a_match_must_hold_follows_from_the_expression(expression, needles):
    assert set(Phrase(expression).needles) == needles


WORDS = st.sampled_from(
    ["or", "optional", "if desired", "for frying", "Oil", "from above", "reserved", "plus more",
     "marinade,", "rinsed\n"]
)  # fmt: skip
TEXTS = st.lists(st.one_of(st.none(), st.lists(WORDS, max_size=5).map(" ".join)), max_size=8)


@given(TEXTS, st.sampled_from(PHRASES), st.data())
def test_a_column_finds_what_each_text_has(texts, phrase, data):
    column = Column(texts)
    plain = [text or "" for text in texts]
    assert [column.at(row) for row in range(len(texts))] == plain
    has = [phrase.pattern.search(text) is not None for text in plain]
    assert column.has(phrase).tolist() == has == [phrase.found(text) for text in plain]
    rows = np.array(data.draw(st.tuples(*[st.booleans()] * len(texts))), dtype=bool)
    both = [a and b for a, b in zip(has, rows.tolist(), strict=True)]
    assert column.has(phrase, rows).tolist() == both
    assert column.where(lambda text: phrase.found(text), rows).tolist() == both


def test_texts_are_changed_once_each():
    column = Column(["a, plus more", "b", "a, plus more", None])
    changed = column.mapped(dish_phrase("extra"), str.upper)
    assert [changed.at(row) for row in range(4)] == ["A, PLUS MORE", "b", "A, PLUS MORE", ""]


NAMES = st.sets(st.text("abs ", min_size=1, max_size=5), max_size=12)


@given(NAMES, st.text("abs .", max_size=20))
def test_any_of_finds_the_longest_of_some_words_as_a_list_of_them_does(names, text):
    listed = "|".join(map(re.escape, sorted(names, key=len, reverse=True)))
    shared = any_of(map(re.escape, name) for name in names)
    for around in ("{}", r"\b(?:{})\b", "(?:{})a"):
        spans = [
            [found.span() for found in re.finditer(around.format(one), text)]
            for one in (listed, shared)
        ]
        assert spans[0] == spans[1]


@pytest.mark.parametrize(
    ("words", "text", "found"),
    [
        ([["f", "s?"], ["f", "s", "t"]], "fst", "fst"),  # a part that may be left out comes last
        ([["k", r"\s+", "g"], ["k"]], "k  g", "k  g"),
        ([], "k", ""),
    ],
)
def test_any_of_takes_the_longest_of_words_in_parts(words, text, found):
    assert re.match(any_of(words), text)[0] == found
