"""Misspelt words: what nothing uses is read as its nearest, and nothing else is touched."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.match.index import Index
from pipeline.match.spelling import correct, is_foreign


def test_names_are_never_corrected(index: Index) -> None:
    for name in index.name_list[::7]:
        spelt = correct(name, index)
        assert spelt.corrected == ()
        assert spelt.unread == ()


@settings(max_examples=60)
@given(word=st.text("abcdefghijklmnopqrstuvwxyz", min_size=1, max_size=12))
def test_any_word_is_kept_corrected_or_reported(index: Index, word: str) -> None:
    spelt = correct((word,), index)
    if spelt.corrected:
        ((written, read),) = spelt.corrected
        assert written == word
        assert read in index.vocabulary
        assert not index.rare(read)
    elif spelt.unread:
        assert spelt.unread == (word,)
        assert word not in index.vocabulary
    else:
        assert "".join(spelt.phrase) == word


@pytest.mark.parametrize(
    ("written", "read"),
    [
        (("tomatoe", "paste"), ("tomato", "paste")), (("parmesean",), ("parmesan",)),
        (("sweet", "pot"), ("sweet", "potato")), (("butter", "milk"), ("buttermilk",)),
    ],
)  # fmt: skip
def test_slips_are_read(index: Index, written: tuple[str, ...], read: tuple[str, ...]) -> None:
    assert correct(written, index).phrase == read


@pytest.mark.parametrize(
    ("words", "foreign"),
    [(("zzyqx", "vrrl"), True), (("tomato",), False), ((), True), (("parmesean",), False)],
)
def test_words_that_nothing_knows_are_foreign(
    index: Index, words: tuple[str, ...], foreign: bool
) -> None:
    assert is_foreign(words, correct(words, index), index) is foreign
