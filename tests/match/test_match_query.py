"""What a line asks of the index: words, states, fat; independent of how it is written down."""

from __future__ import annotations

import pytest
from examples import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from sample_lines import FOODS, lines

from pipeline.lines import parse
from pipeline.match.index import Index
from pipeline.match.query import Query, best_span, query_of, said_by_measures
from pipeline.match.states import weighed


def asked(text: str, index: Index) -> Query:
    return query_of(parse(text), index)


@settings(max_examples=examples(60))
@given(text=lines, gap=st.sampled_from(["  ", "\t", "\u00a0"]))
def test_case_and_spaces_ask_nothing_else(index: Index, text: str, gap: str) -> None:
    plain = asked(text, index)
    assert asked(text.replace(" ", gap), index) == plain
    assert asked(f"  {text} ", index) == plain
    amount, _, rest = text.partition(" ")
    assert asked(f"{amount} {rest.title()}", index) == plain


@settings(max_examples=examples(30))
@given(food=st.sampled_from(FOODS), note=st.sampled_from(["rinsed", "patted dry", "chilled"]))
def test_work_that_no_food_of_a_table_shows_asks_nothing_else(
    index: Index, food: str, note: str
) -> None:
    assume((*note.split(), food) not in index.names)  # "rinsed quinoa" is a name of its own
    assert parse(f"100 g {food}, {note}").states != parse(f"100 g {food}").states
    assert asked(f"100 g {food}, {note}", index) == asked(f"100 g {food}", index)


@settings(max_examples=examples(40))
@given(
    food=st.sampled_from(FOODS),
    notes=st.permutations(["chopped", "at room temperature", "rinsed", "divided"]),
)
def test_the_order_of_notes_asks_nothing_else(index: Index, food: str, notes: list[str]) -> None:
    first = asked(f"100 g {food}, {', '.join(sorted(notes))}", index)
    assert asked(f"100 g {food}, {', '.join(notes)}", index) == first


@settings(max_examples=examples(60))
@given(text=lines)
def test_a_query_says_where_its_words_come_from(index: Index, text: str) -> None:
    query = asked(text, index)
    assert all(0 <= at < len(query.phrase) for at in query.said_states)
    assert query.said_states == {at for at, _ in query.said_at}
    assert all(weighed(states) <= query.states for _, states in query.said_at)
    assert query.noted.isdisjoint(query.phrase)
    assert {read for _, read in query.corrected} <= {*index.vocabulary}
    assert sorted(query.rest) != sorted(query.phrase)
    assert query == asked(text, index)
    assert hash(query) == hash(asked(text, index))


@pytest.mark.parametrize(
    ("text", "states"),
    [
        ("1 tin tuna", {"canned"}), ("2 jars peaches", {"canned", "counted"}),
        ("1 bunch coriander", {"fresh"}), ("1 onion", {"counted"}), ("100 g flour", set()),
    ],
)  # fmt: skip
def test_the_way_of_measuring_says_a_state(text: str, states: set[str]) -> None:
    assert said_by_measures(parse(text)) == states


@pytest.mark.parametrize(
    ("text", "phrase"),
    [
        ("1 leg of lamb", ("lamb", "leg")), ("100 g brocolli", ("broccoli",)),
        ("1 tin sardines, in oil", ("sardine", "in", "oil")),
    ],
)  # fmt: skip
def test_a_name_is_put_in_the_order_of_names(
    index: Index, text: str, phrase: tuple[str, ...]
) -> None:
    assert asked(text, index).phrase == phrase


@pytest.mark.parametrize(
    ("text", "fat"),
    [
        ("500 g beef mince, 5% fat", 5.0), ("500 g 93% lean ground beef", 7.0),
        ("150 g fat-free yoghurt", 0.0), ("150 g yoghurt", None),
    ],
)  # fmt: skip
def test_fat_is_asked_for_in_percent(index: Index, text: str, fat: float | None) -> None:
    assert asked(text, index).fat_pct == fat


def test_a_description_of_the_table_keeps_its_remarks(index: Index) -> None:
    text = "100 g Cheese, cottage, lowfat, 2% milkfat"
    query = asked(text, index)
    assert query.in_parts
    assert query.sorted_words in index.by_words
    assert not asked("100 g cheddar, grated", index).in_parts


def test_the_longest_name_inside_a_phrase_is_found(index: Index) -> None:
    phrase = ("grilled", "chicken", "breast")
    assert best_span(phrase, index) in ((0, 3), (1, 3))
    assert best_span(("skarrow",), index) is None
