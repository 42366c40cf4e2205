"""Scaling and the shopping list: grams add up, sub-recipes are opened, nothing is lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.prep import scaled_lines, shopping_list
from pipeline.problems import SteelyardError
from pipeline.run import Result, verify

CARDS = """Base dressing
Serves 4

80 g olive oil
40 g lemon juice

---

Deck salad
Serves 2

100 g rocket
2 portions of the base dressing
50 g grobnak

---

Rocket soup
Serves 4

400 g rocket
"""


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    path: Path = tmp_path_factory.mktemp("prep") / "cards.txt"
    path.write_text(CARDS)
    return verify(path)


def test_the_list_adds_up_over_recipes_and_opens_the_base(result: Result) -> None:
    got = shopping_list(result, {"Deck salad": 4, "Rocket soup": 2})
    grams = {str(d).split(",")[0]: g for d, g in zip(got["description"], got["grams"], strict=True)}
    assert grams["Arugula"] == pytest.approx(2 * 100 + 200)
    assert grams["Oil"] == pytest.approx(80)  # 4 of 4 portions, twice two
    unknown = got[got["food_id"].isna()]
    assert list(unknown["text"]) == ["50 g grobnak"]
    assert unknown["grams"].iloc[0] == pytest.approx(100)


def test_scaling_is_linear(result: Result) -> None:
    one = scaled_lines(result, {"Rocket soup": 4})["grams"]
    three = scaled_lines(result, {"Rocket soup": 12})["grams"]
    assert (three / one).tolist() == pytest.approx([3.0])


@pytest.mark.parametrize("wanted", [{"No such soup": 2}, {"Rocket soup": 0}, {"Rocket soup": -1}])
def test_what_cannot_be_planned_is_told(result: Result, wanted: dict[str, float]) -> None:
    with pytest.raises(SteelyardError) as told:
        shopping_list(result, wanted)
    assert told.value.problem.fix
