"""Rules of the spoken reader found with seven invented speakers (in-sample; see benchmarks/README)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchmarks.spoken import Reader, score
from pipeline.intake.spoken.script import read_script

FOLDER = Path(__file__).parents[2] / "benchmarks" / "data" / "spoken"
SPEAKERS = ("dale_1.vtt", "hector_1.srt", "orla_1.txt", "pru_1.txt")
FIRST = "First up a nut loaf. 200 grams of walnuts, 100 grams of lentils and {more}. It serves four, 310 calories a slice, 13 protein, 17 carbs, 21 fat. "


def lines_of(text: str) -> list[list[str]]:
    read = read_script(text, "x.txt", kind="script")
    return [[line.text for line in recipe.lines] for recipe in read.recipes]


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader()


@pytest.mark.parametrize("name", SPEAKERS)
def test_every_recipe_of_a_speaker_is_read_as_a_whole(reader: Reader, name: str) -> None:
    path = FOLDER / name
    truth = json.loads((FOLDER / f"{path.stem}.truth.json").read_text())["recipes"]
    detail: list[str] = []
    counts = score(truth, reader.read(path)[0], detail)
    assert (counts.whole, counts.too_many) == (len(truth), 0), detail


@pytest.mark.parametrize(
    ("said", "line"),
    [
        ("80 grams of cheddar, well, make that 100", "100 g cheddar"),
        ("three tablespoons of cream. Or was it four? No, three", "3 tbsp cream"),
        ("a cup of peas make that two cups", "2 cups peas"),
        ("oil of sunflower, two tablespoons", "2 tbsp sunflower oil"),
        ("90 grams of oats, 150 of brown sugar", "150 g brown sugar"),
        ("30 grams of butter. Egg two", "2 egg"),
    ],
)
def test_a_line_said_in_another_way(said: str, line: str) -> None:
    assert line in lines_of(FIRST.format(more=said))[0]


@pytest.mark.parametrize(
    "said",
    [
        "Next, the same loaf as before, but with 80 grams of raisins instead of the lentils.",
        "Next, it's the same loaf only with 80 grams of raisins in place of the lentils.",
        "Next, same nut loaf but drop the lentils and add 80 grams of raisins.",
    ],
)
def test_a_recipe_named_again_by_its_kind_of_dish(said: str) -> None:
    numbers = " It serves four, 300 calories a slice, 11 protein, 19 carbs, 20 fat."
    first, second = lines_of(FIRST.format(more="an onion") + said + numbers)
    assert len(first) == 3
    assert sorted(second) == sorted(["200 g walnuts", "1 onion", "80 g raisins"])


def test_a_correction_out_of_all_proportion_is_an_oven() -> None:
    said = FIRST.format(more="two cups of peas, bake at 190, no, 180")
    assert "2 cups peas" in lines_of(said)[0]


def test_one_more_food_behind_a_full_stop_is_no_recipe() -> None:
    assert len(lines_of(FIRST.format(more="50 grams of butter. And then cheese. 80 grams"))) == 1
