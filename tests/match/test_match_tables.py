"""The names tables hold together: codes that exist, one ordinary meaning a name, no contradictions."""

from __future__ import annotations

from collections import defaultdict

import pytest

from pipeline.match.index import Index
from pipeline.match.knowledge import load_knowledge


@pytest.fixture(scope="module")
def rows():
    return load_knowledge()


def test_every_code_is_a_food_of_the_table(rows, index: Index) -> None:
    codes = set(index.foods.codes)
    assert [r.code for r in rows.names if r.code not in codes] == []
    assert [
        r.nearest_code for r in rows.absent if r.nearest_code and r.nearest_code not in codes
    ] == []


def test_a_name_has_one_ordinary_meaning(rows) -> None:
    meant = defaultdict(set)
    for row in rows.names:
        if row.default:
            for phrase in row.phrases:
                meant[phrase].add(row.code)
    assert {" ".join(p): c for p, c in meant.items() if len(c) > 1} == {}


def test_no_name_is_both_in_the_table_and_lacking(index: Index) -> None:
    both = [
        " ".join(p)
        for p, senses in index.names.items()
        if {s.food < 0 for s in senses} == {True, False}
    ]
    assert both == []


def test_states_and_doubts_are_known_words(rows) -> None:
    states = {s for found in rows.state_phrases.values() for s in found} | {
        "juice",
        "whipped",
        "counted",
    }
    unknown = {s for r in rows.names for s in r.states} - states
    assert unknown == set()
    assert {r.doubt for r in rows.names} <= {"", "stand_in", "varies", "state"}


def test_the_tables_are_wide_enough_to_cook_from(rows) -> None:
    assert len(rows.names) > 2_000
    assert sum(len(r.phrases) for r in rows.names) > 10_000
    assert len(rows.absent) > 300
