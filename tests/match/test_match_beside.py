"""Words beside the food narrow it and never replace it."""

from __future__ import annotations

import pytest

from pipeline.lines import parse
from pipeline.reading import Tools, load_tools, read_lines
from pipeline.snapshot import open_snapshot


@pytest.fixture(scope="module")
def tools() -> Tools:
    return load_tools(open_snapshot())


@pytest.mark.parametrize(
    ("text", "alternatives"),
    [
        ("1 cup plant drink (such as oat or soy)", ("oat drink", "soy drink")),
        ("200 g beans (black or pinto)", ("black beans", "pinto beans")),
        ("1 tbsp vinegar, such as apple cider", ("apple cider vinegar",)),
        ("80 g cheese (such as gouda or feta)", ("gouda", "feta")),  # foods by themselves
        ("1 cup fig, quince or apricot jam", ("quince jam", "apricot jam")),
    ],
)
def test_kinds_beside_a_name_take_its_head(text: str, alternatives: tuple[str, ...]) -> None:
    assert parse(text).alternatives == alternatives


@pytest.mark.parametrize(
    ("text", "has", "has_not"),
    [
        ("1 cup plant-based milk (such as oat or soy)", "milk", "sauce"),
        ("1 cup dairy-free milk such as soy or oat", "milk", "sauce"),
        ("200 g beans (black or pinto), drained", "beans", "pepper"),
        ("2 tbsp plum, cherry or raspberry jam", "jam", "raw"),
        ("150 g udon or thin ramen noodles", "noodle", "sauce"),
        ("½ tsp coriander", "coriander seed", "leaves"),
        ("1 tsp fresh coriander", "leaves", "seed"),
    ],
)
def test_the_food_stays_the_food(tools: Tools, text: str, has: str, has_not: str) -> None:
    found = read_lines([text], tools)[0].match.description.lower()
    assert has in found
    assert has_not not in found


def test_a_note_of_parts_takes_no_part(tools: Tools) -> None:
    plain, split = read_lines(["4 eggs", "4 eggs (yolks and whites separated)"], tools)
    assert split.match.food_id == plain.match.food_id
    assert split.weight.grams == plain.weight.grams


@pytest.mark.parametrize("note", ["for garnish", "see note 4", "(see note 4)", "for serving"])
def test_notes_change_no_food(tools: Tools, note: str) -> None:
    plain, noted = read_lines(["2 tbsp sesame seeds", f"2 tbsp sesame seeds, {note}"], tools)
    assert noted.match.food_id == plain.match.food_id
    assert noted.weight.grams == plain.weight.grams


@pytest.mark.parametrize("text", ["2 tbsp butter and oil", "1 cup mixed berries and yogurt"])
def test_two_foods_that_share_an_amount_are_asked(tools: Tools, text: str) -> None:
    match = read_lines([text], tools)[0].match
    assert match.status == "to review"
    assert match.confidence <= 0.5


@pytest.mark.parametrize(
    "text",
    ["1 cup half and half", "200 g peas and carrots", "3 bread and butter pickles",
     "150 g cooked and peeled prawns", "1 cup red and green grapes"],
)  # fmt: skip
def test_one_food_with_and_in_its_name_is_not(tools: Tools, text: str) -> None:
    match = read_lines([text], tools)[0].match
    assert "two foods" not in match.reason
