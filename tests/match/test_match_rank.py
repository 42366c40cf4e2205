"""Ranking many queries at once: the same answers whatever stands beside a line."""

from __future__ import annotations

import numpy as np
import pytest
from examples import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sample_lines import lines

from pipeline.lines import parse_many
from pipeline.match import matcher as matching
from pipeline.match.index import Index, _top
from pipeline.match.matcher import Matcher
from pipeline.match.query import query_of
from pipeline.match.rank import names_inside, rank, rank_all

some_lines = st.lists(lines, min_size=2, max_size=12, unique=True)


@settings(max_examples=examples(15), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(texts=some_lines, at_once=st.integers(1, 5), data=st.data())
def test_a_line_has_the_same_answer_in_any_batch(
    index: Index,
    monkeypatch: pytest.MonkeyPatch,
    texts: list[str],
    at_once: int,
    data: st.DataObject,
) -> None:
    together = dict(zip(texts, Matcher(index).match(parse_many(texts)), strict=True))
    shuffled = data.draw(st.permutations(texts))
    monkeypatch.setattr(matching, "AT_ONCE", at_once)
    matcher = Matcher(index)
    index.fits.clear()
    index.names_read.clear()
    for text, match in zip(shuffled, matcher.match(parse_many(shuffled)), strict=True):
        assert match == together[text]
    alone = Matcher(index).match_one(parse_many(texts[:1])[0])
    assert alone == together[texts[0]]


@settings(max_examples=examples(15))
@given(texts=some_lines)
def test_features_and_scores_are_those_of_the_line_alone(index: Index, texts: list[str]) -> None:
    queries = [query_of(line, index) for line in parse_many(texts)]
    together = rank_all(queries, index)
    for at, query in enumerate(queries):
        alone = rank(query, index)
        beside = together.ranking(at)
        assert [c[:3] for c in beside.candidates] == [c[:3] for c in alone.candidates]
        assert beside.leftover == alone.leftover
        assert beside.settled == alone.settled
        scores = [c.score for c in alone.candidates]
        assert scores == sorted(scores, reverse=True)
        foods = [c.food for c in alone.candidates if c.food >= 0]
        assert len(foods) == len(set(foods))


def test_a_name_left_out_proposes_nothing(index: Index) -> None:
    query = query_of(parse_many(["100 g chickpeas"])[0], index)
    name = query.phrase
    assert rank(query, index).candidates[0].name == name
    left_out = rank(query, index, without=frozenset({name}))
    assert all(c.name != name for c in left_out.candidates)
    assert not left_out.settled


def test_names_inside_a_phrase_are_whole(index: Index) -> None:
    query = query_of(parse_many(["200 g skinless chicken breast strips"])[0], index)
    inside = names_inside(query, index)
    assert inside
    assert all(name in index.names for name in inside)


@settings(max_examples=examples(40))
@given(
    values=st.lists(st.floats(0, 10, allow_nan=False), max_size=40, unique=True),
    keep=st.integers(1, 12),
)
def test_the_largest_values_come_first(values: list[float], keep: int) -> None:
    best = sorted(range(len(values)), key=lambda at: -values[at])
    assert _top(np.array(values), keep).tolist() == best[:keep]


@settings(max_examples=examples(15))
@given(phrases=st.lists(st.sampled_from(["red lentil", "pea", "tin tomato", "xyzzy"]), max_size=4))
def test_names_like_a_phrase_do_not_depend_on_others(index: Index, phrases: list[str]) -> None:
    asked = [tuple(p.split()) for p in phrases]
    found = index.names_like(asked, 5)
    assert found == [index.names_like([p], 5)[0] for p in asked]
    for phrase, names in zip(asked, found, strict=True):
        assert len(names) <= 5
        assert all(set(name) & set(phrase) for name in names)
