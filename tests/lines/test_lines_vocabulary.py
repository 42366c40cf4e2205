"""The vocabulary tables: whole, without contradictions, and all of it reachable."""

from __future__ import annotations

import csv
from collections import Counter

import pytest

from pipeline.lines import STATES, parse
from pipeline.lines.vocabulary import UNIT_WORD, UNITS
from pipeline.resources import shared_path, shared_rows

TABLES = ["units", "unit_systems", "number_words", "sizes", "states", "line_phrases", "prep_words",
          "modifiers", "shared_heads", "not_food", "headings", "function_words", "word_groups"]  # fmt: skip


def cells(table: str, column: str) -> list[str]:
    return [w.strip() for row in shared_rows(table) for w in row[column].split(";") if w.strip()]


@pytest.mark.parametrize("table", TABLES)
def test_rows_are_as_wide_as_the_header(table: str) -> None:
    with shared_path(f"{table}.csv").open(encoding="utf-8", newline="") as handle:
        rows = list(csv.reader(handle))
    assert len(rows) > 1
    assert {len(row) for row in rows} == {len(rows[0])}


def test_a_unit_word_means_one_unit() -> None:
    words = Counter(word.lower() for word in set(cells("units.csv", "words")))
    lower = Counter(w.lower() for w in cells("units.csv", "words") if w != "mL")
    assert [w for w, n in lower.items() if n > 1] == []
    assert words


def test_a_state_word_means_one_state() -> None:
    words = Counter(cells("states.csv", "words"))
    assert [w for w, n in words.items() if n > 1] == []


@pytest.mark.parametrize("row", list(shared_rows("states.csv")), ids=lambda r: r["words"][:20])
def test_every_state_word_is_read_after_a_comma(row: dict[str, str]) -> None:
    for word in row["words"].split(";"):
        assert row["state"] in parse(f"100 g thing, {word}").states, word


@pytest.mark.parametrize("unit", sorted(UNITS))
def test_every_unit_word_is_read(unit: str) -> None:
    rows = {row["unit"]: row for row in shared_rows("units.csv")}
    for word in rows[unit]["words"].split(";"):
        of = " of" if UNITS[unit].needs_of else ""
        line = parse(f"2 {word}{of} butter")
        assert line.measures[0].unit == unit, word
        assert line.name.startswith("butter"), word


def test_every_unit_has_a_word_and_the_contract_units_are_there() -> None:
    wanted = """g kg mg oz lb ml cl dl l tsp dessertspoon tbsp cup fl_oz gill pint quart gallon
        pinch dash smidgen drop splash drizzle glug knob handful scoop sprinkle squeeze dollop
        shot spray piece slice clove stick sprig bunch head stalk leaf fillet rasher ear floret
        spear wedge segment ball cube sheet square bar block breast thigh drumstick wing leg rib
        chop steak link patty loaf bulb strip nest round half quarter portion tin jar carton
        bottle pouch sachet packet tub box punnet bag tube container inch cm whole"""
    assert set(wanted.split()) <= set(UNITS)
    assert set(UNITS) <= set(UNIT_WORD)


@pytest.mark.parametrize("word", cells("not_food.csv", "words"))
def test_kitchen_things_are_no_food(word: str) -> None:
    several = word if word.endswith("s") else f"{word}s"
    assert parse(f"8 {several}").kind == "not_food"


@pytest.mark.parametrize(
    "food", ["chicken skewers", "rice paper", "string cheese", "shoestring fries", "foil-baked cod",
             "straw mushrooms", "paper-thin ham", "cinnamon sticks"]
)  # fmt: skip
def test_foods_that_sound_like_kitchen_things(food: str) -> None:
    assert parse(f"2 {food}").kind == "food"


@pytest.mark.parametrize("word", cells("headings.csv", "words")[:40])
def test_heading_words_alone_and_dressed(word: str) -> None:
    for text in (word, word.upper(), f"{word}:", f"## {word}", f"**{word}**"):
        assert parse(text).kind == "heading", text


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("For the 2 sauces:", "heading"), ("=== Day 1 ===", "food"), ("TOMATO SAUCE", "heading"),
        ("200 g rice:", "food"), ("tomato sauce", "food"), ("**200 g** rice", "food"),
        ("no tomatoes?", "not_food"), ("(without oil)", "not_food"), ("no added sugar jam", "food"),
        ("Makes 12", "not_food"), ("serves: 4", "not_food"), ("   ", "blank"), ("---", "blank"),
        ("\u200b", "blank"), ("SALT", "food"), ("herbs", "food"),
        ("Herbs", "heading"), ("herbs:", "heading"), ("25 min 🔥 30 min", "not_food"), ("for frying: 1 tbsp oil", "food"),
    ],
)  # fmt: skip
def test_kind(text: str, kind: str) -> None:
    assert parse(text).kind == kind


def test_states_are_canonical_words() -> None:
    assert len(STATES) == len(set(STATES))
    assert all(s.replace("_", "").isalpha() and s.islower() for s in STATES)
