"""Lists of words that matching and reading descriptions stand on: whole, and in the form looked up."""

from __future__ import annotations

import re

import pytest

from pipeline.foods.words import words
from pipeline.match.confidence import Evidence
from pipeline.match.features import Features
from pipeline.match.model_file import load_model
from pipeline.resources import shared_rows, word_lists

TABLES = ("match_words.csv", "description_words.csv")
#: Lists whose words are looked up among the words of a name, which are folded and singular.
IN_NAMES = ("preposition", "glue", "left_out", "part", "neutral", "made_before")


@pytest.mark.parametrize("table", TABLES)
def test_every_list_is_told_and_holds_no_word_twice(table: str) -> None:
    rows = list(shared_rows(table))
    assert len({row["list"] for row in rows}) == len(rows)
    for row in rows:
        assert row["note"], row
    for name, own in word_lists(table).items():
        assert all(own), name
        assert len(own) == len(set(own)), name


@pytest.mark.parametrize("name", IN_NAMES)
def test_words_of_names_stand_in_the_form_looked_up(name: str) -> None:
    for word in word_lists("match_words.csv")[name]:
        assert word == "&" or words(word) == (word,)


def test_states_are_those_of_lines_and_descriptions() -> None:
    known = {row["state"] for row in shared_rows("states.csv")} | {"counted"}
    for row in shared_rows("food_words.csv"):
        for pair in row["says"].split(";"):
            key, _, value = pair.partition(":")
            known |= {value} if key == "state" else set()
    for name, own in word_lists("match_words.csv").items():
        if name.startswith("state_"):
            assert set(own) - known == set(), name


def test_phrases_about_recipes_are_patterns() -> None:
    for row in shared_rows("title_phrases.csv"):
        assert re.compile(row["pattern"])
        assert row["note"]


def test_every_feature_has_a_meaning_and_a_weight() -> None:
    told = [row["feature"] for row in shared_rows("match_features.csv")]
    assert told == list(Features._fields)
    assert len(load_model().rank) == len(Features._fields)
    assert len(load_model().confidence) == len(Evidence._fields)
