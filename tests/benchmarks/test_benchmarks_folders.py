"""The benchmark of whole folders counts what it says it counts."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from folders import Counts, Read, compare

TRUE: dict[str, Any] = {
    "title": "Pea soup",
    "servings": 2,
    "lines": [
        {"food_words": ["peas"], "grams": 300, "text": "300 g peas"},
        {"food_words": ["butter"], "grams": 20, "text": "20 g butter"},
    ],
    "stated": {"kcal": 200, "protein_g": 9},
    "per": "serving",
    "honest": True,
    "slip": None,
}
LINES = [("300 g peas", 300.0, "Peas, raw"), ("20 g butter", 20.0, "Butter, salted")]
STATED = [("ENERC_KCAL", 200.0, "per_serving"), ("PROCNT", 9.0, "per_serving")]
NAN = float("nan")


def _counts(true: dict[str, Any], *found: Read) -> Counts:
    return compare([true], list(found), [])


def test_a_recipe_read_whole_counts_in_every_column() -> None:
    counts = _counts(TRUE, Read("Pea soup", 2, LINES, STATED, "agrees"))
    assert (
        counts.row("x") == "| x | 1 of 1 | 0 | 2 of 2 | 1 of 1 | 2 of 2 | 1 of 1 | 0 | 0 of 0 | 0 |"
    )


def test_a_recipe_that_shares_nothing_is_one_too_many_and_the_true_one_is_missed() -> None:
    counts = _counts(
        TRUE, Read("Rye loaf", 8, [("500 g rye", 500.0, "Rye flour")], [], "not_judged")
    )
    assert (counts.found, counts.too_many, counts.lines_right, counts.lines) == (0, 1, 0, 2)


@pytest.mark.parametrize(("grams", "right"), [(340.0, 1), (350.0, 0), (NAN, 0)])
def test_grams_count_within_fifteen_per_cent(grams: float, right: int) -> None:
    lines = [("300 g peas", grams, "Peas, raw")]
    assert _counts(TRUE, Read("Pea soup", 2, lines, STATED, "agrees")).lines_right == right


@pytest.mark.parametrize(
    ("words", "text", "food", "right"),
    [
        (["mushy", "peas,", "tinned"], "300 g peas", "", 1),
        (["mushy", "peas,", "tinned"], "300 g pears", "Peas, raw", 0),
        (["petits pois"], "300 g peas", "Petits pois, raw", 1),
        (["petits pois"], "300 g peas", "Pears, raw", 0),
    ],
)
def test_a_line_owes_the_words_it_writes_or_else_the_food(
    words: list[str], text: str, food: str, right: int
) -> None:
    true = TRUE | {"lines": [TRUE["lines"][0] | {"food_words": words}]}
    read = Read("Pea soup", 2, [(text, 300.0, food)], STATED, "agrees")
    assert _counts(true, read).lines_right == right


def test_a_number_for_the_whole_is_none_for_a_serving() -> None:
    stated = [("ENERC_KCAL", 200.0, "per_recipe"), ("PROCNT", 9.0, "per_serving")]
    assert _counts(TRUE, Read("Pea soup", NAN, LINES, stated, "agrees")).stated_right == 1


def test_kilojoules_are_the_energy_they_are() -> None:
    true = TRUE | {"stated": {"kj": 836.8}}
    assert _counts(true, Read("Pea soup", 2, LINES, STATED, "agrees")).stated_right == 1


def test_a_slip_is_seen_and_named_by_the_first_explanation_alone() -> None:
    true = TRUE | {"honest": False, "slip": "oil"}
    kinds = ["none_found", "line_left_out"]
    counts = _counts(true, Read("Pea soup", 2, LINES, STATED, "disagrees", kinds))
    assert (counts.seen, counts.named, counts.alarms) == (1, 0, 0)
    counts = _counts(true, Read("Pea soup", 2, LINES, STATED, "disagrees", kinds[::-1]))
    assert (counts.seen, counts.named) == (1, 1)
