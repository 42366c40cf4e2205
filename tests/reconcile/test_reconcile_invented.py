"""A small invented collection with known faults, as the recipe benchmark scores it."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

import invented
import recipes as bench


@pytest.fixture(scope="module")
def scored(con, foods):
    frames, truths = bench.from_invented("tests", foods, 1.0, honest=40, each=4)
    servings = {t.recipe_id: t.servings for t in truths}
    return truths, bench.score(
        truths, bench.answer_tables(con, frames.tables(), foods, None, servings)
    )


def test_every_fault_is_there(scored):
    truths, _ = scored
    assert {t.fault for t in truths} == {"none", *invented.FAULTS}


def test_verdicts_and_explanations_stay_good(scored):
    """Well under the targets, so that only a real loss fails: 88 recipes are few."""
    _, figures = scored
    assert figures["verdict"] >= 0.88
    assert figures["alarms"] <= 0.08
    assert figures["top1"] >= 0.75
    assert figures["top3"] >= 0.85
    assert 0.82 <= figures["covered"] <= 0.99


def test_the_same_seed_gives_the_same_collection(foods):
    def texts():
        frames, truths = bench.from_invented("again", foods, 1.0, honest=3, each=1)
        return [line["grams"] for line in frames.lines], [t.fault for t in truths]

    assert texts() == texts()


def test_scoring_by_hand():
    truth = [
        bench.Truth("a", "none", None, {}, 1.0), bench.Truth("b", "line_left_out", 2, {}, 1.0),
        bench.Truth("c", "servings_slip", None, {}, 1.0),
    ]  # fmt: skip
    answers = bench.Answers(
        {"a": "agrees", "b": "disagrees", "c": "uncertain"},
        {"b": [("line_left_out", 2, 0.8)], "c": [("macros_swapped", None, 0.6), ("servings_slip", None, 0.4)]},
        {}, 1.0,
    )  # fmt: skip
    figures = bench.score(truth, answers)
    assert figures["verdict"] == pytest.approx(2.5 / 3)
    assert (figures["top1"], figures["top3"], figures["alarms"]) == (0.5, 1.0, 0.0)
    assert figures["ece"] == pytest.approx(0.2 * 0.5 + 0.6 * 0.5)
