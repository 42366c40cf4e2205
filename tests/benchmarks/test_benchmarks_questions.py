"""The helpers of the matching benchmarks that decide what counts as right."""

from __future__ import annotations

import random
import re
import sys
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.lines.model import ParsedLine
from pipeline.match.index import Index
from pipeline.match.near import near
from pipeline.match.query import query_of
from pipeline.resources import shared_path

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

import composed
import shared_codes
from answered import Answer, Tally
from regimes import WAYS, Question, rewritten, same_food

PART = st.from_regex(r"[a-z]{2,8}( [a-z]{2,8}){0,2}( \([a-z]{2,6}, [a-z]{2,6}\))?", fullmatch=True)


def at(index: Index, description: str) -> int:
    return index.foods.descriptions.index(description)


# -- rewriting ----------------------------------------------------------------------------------


@given(st.lists(PART, min_size=1, max_size=6), st.integers(0, 1000))
def test_another_order_keeps_every_part_whole(parts: list[str], seed: int) -> None:
    text = rewritten(", ".join(parts), "", "another order", random.Random(seed))
    assert Counter(re.split(r", (?![^()]*\))", text)) == Counter(parts)


@given(st.lists(PART, min_size=1, max_size=6))
def test_without_commas_keeps_the_words_and_the_brackets(parts: list[str]) -> None:
    text = rewritten(", ".join(parts), "", "without commas", random.Random(0))
    assert text == " ".join(parts)


@given(st.lists(PART, min_size=1, max_size=6), st.integers(0, 1000))
def test_one_part_left_out_never_leaves_out_the_head(parts: list[str], seed: int) -> None:
    text = rewritten(", ".join(parts), "", "one part left out", random.Random(seed))
    kept = re.split(r", (?![^()]*\))", text)
    assert kept[0] == parts[0]
    assert len(kept) == (len(parts) if len(parts) <= 2 else len(parts) - 1)


def test_the_maker_alone_is_left_out() -> None:
    text = rewritten("Snacks, GALLEYCO, oat bar, plain", "", "maker left out", random.Random(0))
    assert text == "Snacks, oat bar, plain"


def test_as_written_changes_nothing() -> None:
    said = "Beef, chuck (arm, clod), raw"
    assert rewritten(said, "", WAYS[0], random.Random(0)) == said


# -- what is right ------------------------------------------------------------------------------


def test_a_food_is_itself_and_foods_like_it_of_the_same_head(index: Index) -> None:
    plain, salted = at(index, "Butter, without salt"), at(index, "Butter, salted")
    right = same_food(index, plain)
    assert right(plain)
    assert near(plain, salted, index.foods.macros)
    assert right(salted)


def test_another_state_or_another_head_is_not_right(index: Index) -> None:
    dry = at(index, "Rice, white, long-grain, regular, raw, unenriched")
    right = same_food(index, dry)
    assert not right(at(index, "Rice, white, long-grain, regular, unenriched, cooked without salt"))
    alike = [
        food
        for food in range(len(index.foods))
        if near(dry, food, index.foods.macros) and "rice" not in index.words_of(food)
    ]
    assert alike  # the numbers alone would let them pass
    assert not any(map(right, alike))
    assert not right(-1)


# -- counting -----------------------------------------------------------------------------------


def test_a_tally_counts_lacking_foods_among_the_wrong_only(index: Index) -> None:
    line = ParsedLine("", "food", name="rice", rest="rice")
    asked = query_of(line, index)
    real = Question("everyday", "1", line, asked, frozenset(), {7}.__contains__)
    lacking = Question("everyday", "2", line, asked, frozenset(), {-1}.__contains__, lacking=True)
    tally = Tally.of(
        [real, real, real, real, lacking, lacking],
        [
            Answer(7, True), Answer(7, False), Answer(8, True), Answer(-1, False),
            Answer(7, True), Answer(-1, False),
        ],
    )  # fmt: skip
    assert tally == Tally(asked=4, right=2, accepted=2, wrong=2, taken=3, right_or_asked=3)
    assert tally.shares == (0.5, 0.75, 0.5, pytest.approx(2 / 3))


def test_codes_are_found_where_they_stand(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "keyed.csv").write_text(
        "code,note\n09040,\nsr28:09040,\nbanana,09040 is ripe\nbanana,12345\n", encoding="utf-8"
    )
    (tmp_path / "national").mkdir()
    (tmp_path / "national" / "table.csv").write_text("code\n09040\n", encoding="utf-8")
    monkeypatch.setattr(shared_codes, "shared_path", lambda name: tmp_path / name)
    keyed, cited = shared_codes.rows_with_codes(["09040"], ["sr28"])
    assert keyed == {"keyed.csv": 2}
    assert cited == 1


def test_hardly_a_row_of_shared_holds_a_code(index: Index) -> None:
    keyed, _ = shared_codes.rows_with_codes(index.foods.codes, ["sr28"])
    assert keyed.total() <= 100
    assert (shared_path("words") / "en.csv").is_file()


def test_sums_of_made_up_lists_are_those_of_the_table(snapshot, tmp_path: Path) -> None:
    sums = composed.write_lists(tmp_path, snapshot, 3, seed=1)
    assert sorted(sums) == ["List 001", "List 002", "List 003"]
    assert len(list(tmp_path.glob("*.json"))) == 3
    assert composed.row([0.0, 0.04, 0.2]) == (0.04, pytest.approx(2 / 3))
    assert composed.write_lists(tmp_path, snapshot, 3, seed=1) == sums
