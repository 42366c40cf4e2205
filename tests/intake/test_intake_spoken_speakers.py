"""Rules of the spoken reader found with seven invented speakers (in-sample; see benchmarks/README)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchmarks.spoken import Reader, score
from pipeline.intake.spoken.script import looks_spoken, read_script

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
        ("an onion. Rice I have taken one cup", "1 cup rice"),
        ("one cup of rice, that weighs in near 190 grams", "1 cup rice (190 g)"),
        ("three tablespoons of sugar, no, two", "2 tbsp sugar"),
        ("Raspberries, 300", "300 g raspberries"),
        ("peel them or don't, I don't, 90 grams of raisins", "90 g raisins"),
    ],
)
def test_a_line_said_in_another_way(said: str, line: str) -> None:
    assert line in lines_of(FIRST.format(more=said))[0]


CHANGED = [
    ("lentils", "Next, the same loaf as before, but with 80 grams of raisins instead of the lentils."),
    ("lentils", "Next, it's the same loaf only with 80 grams of raisins in place of the lentils."),
    ("lentils", "Next, same nut loaf but drop the lentils and add 80 grams of raisins."),
    # in words of no list
    ("walnuts", "And the walnuts leave, it becomes the nut loaf again with 80 grams of raisins."),
    ("walnuts", "Nut loaf again, only no walnuts, 80 grams of raisins go in."),
    ("walnuts", "I do me a raisin version and that's all of that, the walnuts go, 80 grams of raisins come."),
]  # fmt: skip


@pytest.mark.parametrize(("gone", "said"), CHANGED)
def test_a_recipe_told_as_a_change_of_the_one_before(gone: str, said: str) -> None:
    numbers = {
        "lentils": "398 calories a slice, 9 protein, 25 carbs, 33 fat.",
        "walnuts": "160 calories a slice, 7 protein, 34 carbs, 1 fat.",
    }
    first, second = lines_of(
        f"{FIRST.format(more='an onion')}{said} It serves four, {numbers[gone]}"
    )
    assert len(first) == 3
    kept = {line for line in first if not line.endswith(gone)}
    assert set(second) == kept | {"80 g raisins"}
    assert len(second) == 3


def test_a_correction_out_of_all_proportion_is_an_oven() -> None:
    said = FIRST.format(more="two cups of peas, bake at 190, no, 180")
    assert "2 cups peas" in lines_of(said)[0]


def test_one_more_food_behind_a_full_stop_is_no_recipe() -> None:
    assert len(lines_of(FIRST.format(more="50 grams of butter. And then cheese. 80 grams"))) == 1


def test_numbers_that_follow_from_its_own_lines_make_no_change_of_an_earlier_recipe() -> None:
    said = "Then the same tin again for rock buns, 80 grams of raisins and 300 grams of flour."
    second = lines_of(FIRST.format(more="an onion") + said + " It serves four, 333 calories a slice, 8 protein, 73 carbs, 1 fat.")[1]  # fmt: skip
    assert sorted(second) == ["300 g flour", "80 g raisins"]


def test_a_terse_script_is_told_from_written_lines_by_its_energy() -> None:
    said = "Spaghetti 400 grams. Olives 100 grams. Capers two tablespoons. Garlic three. Tomatoes two tins. One onion. Basil 20 grams. Serves four. 510 kcal, P 16, C 84, F 13. "
    assert looks_spoken(said)
    assert not looks_spoken(said.split("510")[0] * 2)


def test_how_many_it_makes_is_known_from_the_share_the_numbers_are_for() -> None:
    said = FIRST.format(more="an onion").replace("It serves four", "Eight scones total, per scone")
    assert not any("scone" in line for line in lines_of(said)[0])
