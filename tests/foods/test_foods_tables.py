"""The tables of words, parts and LanguaL rules hold together."""

from __future__ import annotations

from collections import Counter

import pytest
from cases import cases

from pipeline.foods import profile, words
from pipeline.foods.langual import eaten_of, rules
from pipeline.foods.vocabulary import SHARED_TABLES, vocabulary
from pipeline.resources import shared_path, shared_rows

KEYS = {
    "state", "form", "part", "medium", "topic", "group", "aside", "origin", "treated", "drained",
    "lean", "skin", "bone", "salt", "sugar", "vitamins", "noun", "adjective",
}  # fmt: skip
PLACES = {"", "first", "last", "only", "clause", "head"}


def test_every_row_of_words_is_understood_and_has_a_source() -> None:
    for row in shared_rows("food_words.csv"):
        keys = {pair.partition(":")[0] for pair in row["says"].split(";")}
        assert keys <= KEYS, row
        assert row["place"] in PLACES, row
        assert row["source"], row


@pytest.mark.parametrize("name", SHARED_TABLES)
def test_tables_have_no_ragged_rows(name: str) -> None:
    header, *lines = shared_path(name).read_text(encoding="utf-8").splitlines()
    assert header.count(",") >= 2
    for row in shared_rows(name):
        assert None not in row, row
        assert None not in row.values(), row
    assert len(lines) == len(set(lines)), "a row stands there twice"


def test_a_phrase_is_reachable() -> None:
    """Phrases are looked up by their singular words, so none may hold a plural or a dash."""
    for row in shared_rows("food_words.csv"):
        for text in row["words"].split(";"):
            phrase = (text,) if text.startswith("=") else words(text)
            assert phrase, row
            if row["place"] == "head":
                assert phrase in vocabulary().headings
            elif not text.startswith("="):
                assert any(m.phrase == phrase for m in vocabulary().meanings[phrase[0]]), text


def test_what_is_eaten_is_said_once() -> None:
    counted = Counter(
        tuple(sorted(words(text)))
        for row in shared_rows("food_parts.csv")
        for text in row["words"].split(";")
    )
    assert [name for name, count in counted.items() if count > 1] == []
    assert all(len(name) <= 2 for name in counted), "names of more than two words are not looked up"


def test_two_words_name_more_closely_than_one() -> None:
    assert eaten_of(words("potato sweet")).eaten == "root"  # type: ignore[union-attr]
    assert eaten_of(("pea", "split")).group == "pulse"  # type: ignore[union-attr]
    assert eaten_of(("xyzzy",)) is None


def test_codes_belong_to_their_facet_and_every_facet_ends_in_a_rule_for_all() -> None:
    for row in shared_rows("langual.csv"):
        assert row["code"].startswith(row["facet"]), row
        assert len(row["code"]) == 5, row
        assert row["term"], row
        assert "LANGDESC" in row["source"], row
        assert row["facet"] == "B" or row["facet"] in rules()
    for facet in "EFGHJK":
        assert any(not rule.needs and not rule.bars for rule in rules()[facet]), facet


def test_no_rule_is_hidden_by_an_earlier_one() -> None:
    """A rule that asks for all that an earlier one asks for can never be reached."""
    for facet, listed in rules().items():
        if facet == "H":
            continue  # all that hold are given
        for at, rule in enumerate(listed):
            for earlier in listed[:at]:
                hidden = earlier.needs <= rule.needs and earlier.bars <= rule.bars
                assert not hidden or earlier.code == rule.code, (facet, earlier, rule)


#: (description, facet, code): codes worked out by hand from the thesaurus' terms.
CODED = cases(__file__, "coded")


@pytest.mark.parametrize(("description", "facet", "code"), CODED)
def test_codes_of_plain_cases(description: str, facet: str, code: str) -> None:
    assert code in profile(description).facets[facet]
