"""Values that no recipe took are told, at a cost that grows as the file does."""

from __future__ import annotations

import pytest
from growth import cpu_seconds, growth

from pipeline.intake.model import RawLine, RawRecipe, Read
from pipeline.intake.unread import unread


def _read(count: int, lines: int = 10) -> tuple[Read, list[str]]:
    texts = [[f"{at + 20} g sort {at} of rice {n}" for at in range(lines)] for n in range(count)]
    recipes = [
        RawRecipe(f"Dish {at}", "json", at, lines=[RawLine(text) for text in of_recipe])
        for at, of_recipe in enumerate(texts)
    ]
    return Read(recipes=recipes), [text for of_recipe in texts for text in of_recipe]


def test_texts_that_were_taken_are_looked_up_however_long_the_file_is() -> None:
    def seconds(count: int) -> float:
        read, texts = _read(count)
        return cpu_seconds(lambda: unread({"ingredients": texts}, read))

    seconds(100)
    assert growth(seconds, 400, within=6) <= 6  # linear is 4, each looked for in all of it 16


@pytest.mark.parametrize(
    ("texts", "missed"),
    [
        (["20 g sort 0 of rice 0", "21 g sort 1 of rice 0"], False),
        (["20 G Sort 0 of rice 0,", "(21 g) sort 1 of rice 0"], False),  # letters and digits count
        (["sort 0 of rice 0", "0 g sort 0 of rice"], False),  # parts of what was read
        (["20 g barley", "30 g oats"], True),
    ],
)
def test_what_is_read_otherwise_or_as_a_part_is_not_missed(texts: list[str], missed: bool) -> None:
    read, taken = _read(1)
    assert bool(unread({"ingredients": [*taken, *texts]}, read)) == missed
