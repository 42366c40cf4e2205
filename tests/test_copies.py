"""A recipe that stands in a collection more than once is judged once and told of each."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import pipeline
import pipeline.copies
from pipeline.report.tables import LAYOUT

DISHES: list[Mapping[str, Any]] = [
    {
        "title": "Quay rice", "servings": 2, "creator": "Ada Weir",
        "ingredients": ["200 g rice", "10 g butter", "2 eggs + 100 g egg whites"],
        "stated": {"kcal": 700, "protein_g": 20},
    },
    {"title": "Tide sauce", "servings": 4, "ingredients": ["400 ml cream", "50 g quibbleroot"],
     "stated": {"kcal": 410}},
    {"title": "Net stew", "servings": "6 bowls or 3", "creator": "Ada Weir",
     "ingredients": ["500 g beef mince", "300 g of the tide sauce", "oil for frying"],
     "stated": {"kcal": 390, "fat_g": 21}},
    {"title": "High protein mush", "servings": 1, "ingredients": ["80 g oats", "300 ml milk"],
     "stated": {"kcal": 480, "protein_g": 21, "carbs_g": 50, "fat_g": 9}},
    {"title": "Keel oats", "servings": "2 or 4", "ingredients": ["80 g oats", "300 ml milk"],
     "stated": {"kcal": 120, "protein_g": 5, "carbs_g": 13, "fat_g": 2.5}},
]  # fmt: skip


def _write(folder: Path, times: int) -> Path:
    # how a collection counts is detected from its recipes, and a copy is no evidence more
    (folder / "steelyard.toml").write_text('energy = "table"\ncarbohydrate = "total"\n')
    for turn in range(times):
        for at, dish in enumerate(DISHES):
            text = json.dumps({**dish, "id": f"d{at}-{turn}"}, indent=1)
            (folder / f"{turn}-{at}.json").write_text("\n" * turn + text)
    return folder


@pytest.fixture(scope="module")
def both(
    tmp_path_factory: pytest.TempPathFactory, snapshot: Any
) -> tuple[pipeline.run.Result, pipeline.run.Result]:
    folder = _write(tmp_path_factory.mktemp("both"), 3)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("pipeline.habits.enough_recipes", lambda *_: False)  # the same for habits
        once = pipeline.verify(folder)
        patch.setattr(pipeline.copies, "find_copies", lambda *_: {})
        return once, pipeline.verify(folder)


@pytest.mark.parametrize(
    "name",
    [
        *(n for n in LAYOUT if n != "habits"),
        "computed",
        "doubt",
        "checks",
        "per_recipe",
        "runners_up",
    ],
)
def test_every_table_is_that_of_recipes_judged_one_by_one(both: Any, name: str) -> None:
    once, one_by_one = both
    pd.testing.assert_frame_equal(getattr(once, name), getattr(one_by_one, name))


def test_a_problem_is_told_of_every_copy(both: Any) -> None:
    once, one_by_one = (result.problems for result in both)
    told = once[once["code"] == "servings-read"]
    assert told["source"].tolist() == [f"{turn}-4.json" for turn in range(3)]
    by = ["code", "recipe_id", "line_no", "source", "what"]
    once, one_by_one = (t.sort_values(by, ignore_index=True) for t in (once, one_by_one))
    pd.testing.assert_frame_equal(once, one_by_one)


@pytest.mark.parametrize("name", ["recipe", "stated", "line", "reading"])
def test_the_collection_stays_whole(both: Any, name: str) -> None:
    once, one_by_one = (getattr(result.collection, name) for result in both)
    pd.testing.assert_frame_equal(once, one_by_one)


def test_copies_are_found_by_content_and_never_among_recipes_that_lines_use(
    tmp_path: Path, snapshot: Any
) -> None:
    result = pipeline.verify(_write(tmp_path, 2))
    lines = result.lines
    found = pipeline.copies.find_copies(result.collection, lines)
    assert found["d0-1"] == "d0-0"
    assert found["d3-1"] == "d3-0"
    lines.loc[lines["recipe_id"] == "d3-0", ["origin", "food_id"]] = ["recipe", "recipe:d0-1"]
    found = pipeline.copies.find_copies(result.collection, lines)
    assert not {"d0-1", "d3-1"} & set(found)


@pytest.mark.parametrize(
    "change",
    [{"servings": 3}, {"ingredients": ["200 g rice", "10 g butter", "2 eggs + 101 g egg whites"]}, *(
        pytest.param(one, marks=pytest.mark.soak)
        for one in [{"title": "Other rice"}, {"creator": "Pim"}, {"stated": {"kcal": 701}}]
    )],
)  # fmt: skip
def test_what_differs_is_no_copy(tmp_path: Path, snapshot: Any, change: dict[str, Any]) -> None:
    for name, dish in (("a", DISHES[0]), ("b", {**DISHES[0], **change})):
        (tmp_path / f"{name}.json").write_text(json.dumps(dish))
    result = pipeline.verify(tmp_path)
    assert pipeline.copies.find_copies(result.collection, result.lines) == {}
