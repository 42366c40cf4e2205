"""The words files hold together: concepts that resolve, one ordinary meaning a name, no codes."""

from __future__ import annotations

import csv
import re
from collections import defaultdict

import pytest

from pipeline.match.concepts import Resolver
from pipeline.match.index import Index
from pipeline.match.knowledge import LACKING, Concept, Knowledge, load_knowledge
from pipeline.resources import shared_path


@pytest.fixture(scope="module")
def rows() -> Knowledge:
    return load_knowledge()


@pytest.fixture(scope="module")
def resolver(index: Index) -> Resolver:
    foods = index.foods
    every = range(len(foods))
    words = [index.words_of(at) for at in every]
    return Resolver(words, [float(v) for v in foods.macros[:, 2]], foods.survey, every)


def test_every_concept_is_a_food_of_the_embedded_table(rows: Knowledge, resolver: Resolver) -> None:
    assert [r.concept for r in rows.names if resolver.find(r.concept) < 0] == []
    assert [
        r.nearest for r in rows.absent if r.nearest.words and resolver.find(r.nearest) < 0
    ] == []


def test_no_words_file_holds_a_code_of_a_table(index: Index) -> None:
    codes = set(index.foods.codes)
    for path in sorted(shared_path("words").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as handle:
            for row in csv.DictReader(handle):
                said = set(re.findall(r"[\w:]+", " ".join((row["words"], row["concept"]))))
                assert not said & codes, row
                assert not any(w.partition(":")[0] in {"sr28", "sr_legacy"} for w in said), row


def test_a_name_has_one_ordinary_meaning(rows: Knowledge) -> None:
    meant = defaultdict(set)
    for row in rows.names:
        if row.default:
            for phrase in row.phrases:
                meant[phrase].add(row.concept)
    assert {" ".join(p): c for p, c in meant.items() if len(c) > 1} == {}


def test_no_name_is_both_in_the_table_and_lacking(index: Index) -> None:
    both = [
        " ".join(p)
        for p, at in index.names.items()
        if {s.food < 0 for s in index.columns.senses(at)} == {True, False}
    ]
    assert both == []


def test_states_and_doubts_are_known_words(rows: Knowledge) -> None:
    states = {s for found in rows.state_phrases.values() for s in found} | {
        "juice",
        "whipped",
        "counted",
    }
    unknown = {s for r in rows.names for s in r.states} - states
    assert unknown == set()
    assert {r.doubt for r in rows.names} <= {"", "stand_in", "varies", "state"}
    assert LACKING not in {r.doubt for r in rows.names}


def test_the_tables_are_wide_enough_to_cook_from(rows: Knowledge) -> None:
    assert len(rows.names) > 2_000
    assert sum(len(r.phrases) for r in rows.names) > 10_000
    assert len(rows.absent) > 300


def test_a_concept_is_read_with_fat_and_words_that_must_not_stand() -> None:
    assert Concept.read("pork tenderloin raw -enhanced fat:2.2") == Concept(
        ("pork", "tenderloin", "raw"), 2.2, ("enhanced",)
    )


def test_the_plainest_food_answers_a_concept(resolver: Resolver, index: Index) -> None:
    """Of foods that hold all the words, the one with the fewest others; fat decides first."""
    plain = resolver.find(Concept.read("squash zucchini raw"))
    assert "zucchini" in index.foods.descriptions[plain].lower()
    lean = resolver.find(Concept.read("beef ground raw fat:5"))
    assert index.foods.macros[lean, 2] == pytest.approx(5, abs=0.6)
    assert resolver.find(Concept.read("beef grobnak")) == -1


def test_what_words_tell_is_counted(index: Index) -> None:
    """ "Jam" and "tofu" make another food of a name, "organic" and "large" do not; cooks say
    "juice" and leave "commercial" out."""
    assert index.telling("jam") > 0.8 > 5 * index.telling("organic")
    assert index.telling("tofu") > 0.8 > index.telling("large")
    juice, commercial = (index.columns.need[index.word_at[w]] for w in ("juice", "commercial"))
    assert juice > 3 * commercial
