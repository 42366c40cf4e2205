"""Transcripts as they are broken and hesitated over, and food that is only talked of.

The sentences are of neither half of ``benchmarks/data/spoken_layouts.yaml``.
"""

from __future__ import annotations

import textwrap
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.files import SourceFile
from pipeline.intake.model import RawRecipe
from pipeline.intake.reading import read_file
from pipeline.intake.spoken.script import read_script

NUMBERS = "It serves four, 410 calories a plate, 22 protein, 48 carbs, 14 fat."


def lines_of(said: str) -> list[str]:
    told = f"First up, a barley supper. 300 grams of barley, rinsed. {said} {NUMBERS}"
    (one,) = read_script(told, kind="script").recipes
    return [line.text for line in one.lines if not line.text.startswith("300 g barley")]


@pytest.mark.parametrize(
    ("said", "lines"),
    [
        ("Two um cups of like walnuts.", ["2 cups walnuts"]),
        ("A hundred and like fifty grams of feta.", ["150 g feta"]),
        ("Sweet like potatoes, 300 grams.", ["300 g sweet potatoes"]),
        ("80 grams of feta at first, and 80 grams more later.", ["80 g feta", "80 g feta"]),
        ("50 ml of milk now, and right at the end another 50 ml.", ["50 ml milk", "50 ml milk"]),
        ("I take 4 teaspoons of cumin but I use 3 teaspoons.", ["3 tsp cumin"]),
        ("Two tins of tuna, hmm, yeah no, it's three tins.", ["3 tins tuna"]),
        ("Three limes, you can swap that for 40 ml of vinegar.", ["3 limes"]),
        ("The leeks are four.", ["4 leeks"]),
    ],
)
def test_amounts_that_are_hesitated_over_or_told_twice(said: str, lines: list[str]) -> None:
    assert lines_of(said) == lines


@pytest.mark.parametrize(
    "said",
    [
        "My aunt used to throw in 200 grams of lard on top.",
        "Last month I dropped two jars of honey on the floor.",
        "They charge nine euros for a kilo of prawns in town.",
    ],
)
def test_food_that_is_only_talked_of_is_no_line(said: str) -> None:
    assert lines_of(f"Two leeks. {said} 60 grams of cheddar.") == ["2 leeks", "60 g cheddar"]


SCRIPT = f"""hello again so this is one I make a lot and number one is a barley supper and into it goes
300 grams of barley and then you add two leeks and a tin of tuna and I put in 60 grams of cheddar as
well and stir all of that until it is done {NUMBERS.lower()} and number two is an egg supper with six
eggs and 200 grams of spinach and a tablespoon of oil for the pan it makes two servings and that is
300 calories 22 protein 4 carbs 21 fat each so that is all from me"""


def recipes_of(text: str, folder: Path) -> list[RawRecipe]:
    path = folder / "talk.txt"
    path.write_text(text, encoding="utf-8")
    return read_file(SourceFile(path, "talk.txt", True)).recipes


@pytest.mark.parametrize("width", [28, 34, 42, 70])
def test_a_transcript_broken_at_any_width_is_read_alike(width: int, tmp_path: Path) -> None:
    broken = "\n".join(textwrap.wrap(" ".join(SCRIPT.split()), width))
    first, second = recipes_of(broken, tmp_path)
    assert [x.text for x in first.lines] == [
        "300 g barley",
        "2 leeks",
        "1 tin tuna",
        "60 g cheddar",
    ]
    assert [x.text for x in second.lines] == ["6 eggs", "200 g spinach", "1 tbsp oil"]


@given(
    st.lists(
        st.sampled_from(
            [
                "um",
                "so",
                "like",
                "of",
                "and",
                "a",
                "two",
                "hundred",
                "grams",
                "cup",
                "oats",
                ",",
                ".",
                "more",
                "another",
            ]
        )
    )
)
def test_any_words_are_read(words: list[str]) -> None:
    assert read_script(" ".join(words), kind="script").recipes is not None
