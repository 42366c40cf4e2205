"""Oil that only the method names is not lost without a word."""

from __future__ import annotations

import pytest

from pipeline.intake.building import fries_in_unlisted_oil
from pipeline.intake.model import RawLine, RawRecipe


def _recipe(method: str, *lines: str) -> RawRecipe:
    recipe = RawRecipe("Ledge slices", "text", 0)
    recipe.method, recipe.lines = method, [RawLine(line) for line in lines]
    return recipe


@pytest.mark.parametrize(
    ("method", "lines", "expected"),
    [
        ("Heat 500 ml sunflower oil in a deep pan and fry until golden.", ["2 aubergines"], True),
        ("Fry the slices in plenty of oil.", ["2 aubergines", "60 g flour"], True),
        ("Deep-fry in batches.", ["1 kg potatoes"], True),
        ("Fry the slices in the oil.", ["2 aubergines", "2 tbsp olive oil"], False),
        ("Fry the slices in the oil.", ["2 aubergines", "Rapsöl"], False),
        ("Fry the slices in oil.", ["2 aubergines", "300 g yoghurt, 0% fat"], True),
        ("Fry the slices in oil.", ["2 aubergines", "2 tbsp duck fat"], False),
        ("Fry the bacon until crisp.", ["6 rashers bacon"], False),
        ("Fry in a dry pan. Oil the tin.", ["2 aubergines"], False),
        ("Cook in the air fryer with no oil.", ["2 aubergines"], False),
        ("Fry without oil.", ["2 aubergines"], False),
        ("Stir.", ["2 aubergines"], False),
        ("Fry in oil.", [], False),
    ],
)
def test_what_fries_in_oil_that_no_line_names(
    method: str, lines: list[str], expected: bool
) -> None:
    assert fries_in_unlisted_oil(_recipe(method, *lines)) is expected
