"""Misspelt words: what nothing uses is read as its nearest, and nothing else is touched."""

from __future__ import annotations

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.foods.words import singular
from pipeline.match.index import Index, consonants
from pipeline.match.spelling import CLEARLY, correct, is_foreign, is_slip


def test_names_are_never_corrected(index: Index) -> None:
    for name in index.name_list:
        spelt = correct(name, index)
        assert spelt.corrected == ()
        assert spelt.unread == ()


@settings(max_examples=examples(60))
@given(word=st.text("abcdefghijklmnopqrstuvwxyz", min_size=1, max_size=12))
def test_any_word_is_kept_corrected_or_reported(index: Index, word: str) -> None:
    spelt = correct((word,), index)
    if spelt.corrected:
        ((written, read),) = spelt.corrected
        assert written == word
        assert read in index.spelling
        assert not index.rare(read)
    elif spelt.unread:
        assert spelt.unread == (word,)
        assert word not in index.vocabulary
    else:
        assert "".join(spelt.phrase) == word


@pytest.mark.parametrize(
    ("written", "meant"),
    [("tomatoe", "tomato"), ("parmesean", "parmesan"), ("brocolli", "broccoli"), ("potatos", "potato"),
     ("cinammon", "cinnamon"), ("kwinoa", "quinoa"), ("chiken", "chicken"), ("buttrr", "butter")],
)  # fmt: skip
def test_slips_of_fingers_and_ears(written: str, meant: str) -> None:
    assert is_slip(written, meant)


@pytest.mark.parametrize(("written", "meant"), [("sayote", "sapote"), ("pandan", "pandas")])
def test_another_word_is_no_slip(written: str, meant: str) -> None:
    assert not is_slip(written, meant)


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
    ("written", "read"),
    [
        ("tom", "tomato"), ("tom paste", "tomato paste"), ("tom yum paste", "tom yum paste"),
        ("cinn", "cinnamon"), ("smoked pap", "smoked paprika"),
        ("vanilla ext", "vanilla extract"), ("bals vinegar", "balsamic vinegar"),
        ("strawbs", "strawberry"),
        ("chicken brst", "chicken breast"), ("chkn", "chicken"), ("bttr", "butter"),
        ("blk bean", "black bean"), ("mshrm", "mushroom"), ("swt potato", "sweet potato"),
    ],
)  # fmt: skip
def test_words_cut_short_or_without_vowels_are_read_where_names_leave_one_choice(
    index: Index, written: str, read: str
) -> None:
    words = tuple(written.split())
    spelt = correct(words, index)
    assert " ".join(spelt.phrase) == read
    assert CLEARLY <= spelt.sure <= 1.0
    assert not is_foreign(words, spelt, index)


def test_a_cut_that_leaves_a_choice_is_not_sure(index: Index) -> None:
    for short in ("pap", "sal", "past"):  # papaya, paprika; salt, salmon, salad; pasta, paste
        spelt = correct((short,), index)
        assert not spelt.cut
        assert spelt.sure < CLEARLY or not spelt.corrected


def test_every_cut_of_a_name_is_read_as_a_word_that_begins_so(index: Index) -> None:
    right = told = 0
    for (word,) in (name for name in index.name_list if len(name) == 1 and len(name[0]) > 6):
        for size in (4, 5, 6):
            spelt = correct((word[:size],), index)
            for short in spelt.cut:
                told += 1
                meant = dict(spelt.corrected)[short]
                assert meant.startswith(short.removesuffix("s")) or consonants(meant) == consonants(
                    short
                )  # "makrel" of a foreign name is mackerel without two of its vowels
                right += spelt.phrase == correct((word,), index).phrase
    assert told > 100
    assert right / told > 0.5  # each word once: rare ones as often as the usual


@pytest.mark.parametrize(
    ("words", "foreign"),
    [(("zzyqx", "vrrl"), True), (("tomato",), False), ((), True), (("parmesean",), False)],
)
def test_words_that_nothing_knows_are_foreign(
    index: Index, words: tuple[str, ...], foreign: bool
) -> None:
    assert is_foreign(words, correct(words, index), index) is foreign


def test_a_slip_that_begins_with_a_vowel_is_no_abbreviation(index: Index) -> None:
    assert index.written_without_vowels("egs") == []
    assert correct(("egss",), index).phrase == ("egg",)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("corgette", "zucchini"), ("auberjine", "eggplant"), ("beetrot", "beet"), ("sweedes", "rutabaga"),
        ("cornflor", "cornstarch"), ("pasata", "passata"), ("leak", "leek"),
    ],
)  # fmt: skip
def test_a_slip_in_a_regional_word_is_read_as_what_that_means(
    index: Index, written: str, meant: str
) -> None:
    assert correct((singular(written),), index).phrase == (meant,)


def test_words_that_may_be_meant_hold_the_regional_ones(index: Index) -> None:
    assert "courgette" not in index.vocabulary
    assert index.spelling["courgette"] == index.vocabulary["zucchini"]
    assert index.held_by("courgette") == index.held_by("zucchini") > 0
