"""A second language is one more words file; one that no file covers is told as such.

German names of foods are common practice; the English lines beside them are our own.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.lines import parse
from pipeline.match import load_index
from pipeline.match.index import Index
from pipeline.match.knowledge import ENGLISH, load_knowledge
from pipeline.match.matcher import ANOTHER_LANGUAGE, Matcher
from pipeline.match.near import near
from pipeline.refresh import refresh
from pipeline.resources import shared_path


@pytest.fixture(scope="module")
def matcher(index: Index) -> Matcher:
    return Matcher(index)


@pytest.mark.parametrize(
    ("german", "english"),
    [
        ("250 g Haferflocken", "250 g rolled oats"), ("2 Eier", "2 eggs"),
        ("100 ml Vollmilch", "100 ml whole milk"), ("1 Zwiebel, gehackt", "1 onion, chopped"),
        ("200 g Hähnchenbrust", "200 g chicken breast"), ("2 EL Olivenöl", "2 tbsp olive oil"),
        ("200 g gekochter Reis", "200 g cooked rice"),
        ("300 g Kartoffeln, gekocht", "300 g potatoes, boiled"),
    ],
)  # fmt: skip
def test_a_german_line_is_the_food_of_the_english_one(
    matcher: Matcher, german: str, english: str
) -> None:
    found = matcher.match_one(parse(german))
    assert found.status == "accepted", found
    same = matcher.match_one(parse(english)).food_id
    macros = matcher.index.foods.macros
    assert near(matcher.position(found.food_id or ""), matcher.position(same or ""), macros)


def test_no_word_of_another_language_takes_an_english_name() -> None:
    rows = load_knowledge().names
    english = {p for r in rows if r.language == ENGLISH for p in r.phrases}
    others = [r for r in rows if r.language != ENGLISH]
    assert others
    assert {p for r in others for p in r.phrases} & english == set()


@pytest.mark.usefixtures("no_gate")
@pytest.mark.soak
def test_a_table_with_german_names_answers_english_and_german_lines(tmp_path: Path) -> None:
    done = refresh(from_=str(shared_path("national/example.toml")), home=tmp_path, only=True)
    assert done.snapshot is not None
    with done.snapshot.connect() as con:
        own = Matcher(load_index(con))
    for line, food in (
        ("50 g rolled oats", "Haferflocken"), ("50 g Haferflocken", "Haferflocken"),
        ("200 ml whole milk", "Vollmilch"), ("1 glass red wine", "Rotwein"),
    ):  # fmt: skip
        found = own.match_one(parse(line))
        assert found.description == food, (line, found)


@pytest.mark.parametrize(
    "line",
    ["200 g riso", "3 cebollas picadas", "100 g farine de blé", "250 ml lait entier", "2 uova"],
)
def test_a_line_in_another_language_is_told_as_such(matcher: Matcher, line: str) -> None:
    found = matcher.match_one(parse(line))
    assert found.status != "accepted", found
    assert ANOTHER_LANGUAGE in found.reason


@pytest.mark.parametrize("line", ["200 g brocolli", "1 tsp cinamon", "1 tbsp olive oyl", "2 eggs"])
def test_a_slip_of_the_pen_is_no_other_language(matcher: Matcher, line: str) -> None:
    assert ANOTHER_LANGUAGE not in matcher.match_one(parse(line)).reason
