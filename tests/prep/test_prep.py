"""Scaling and the shopping list: grams add up, sub-recipes are opened, nothing is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.cli import app
from pipeline.prep import _buy as bought
from pipeline.prep import bases, scaled_lines, shopping_list
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
1 litre water
2 eggs
1 x 400 g tin chickpeas, drained
1 tbsp olive oil

---

Rocket omelette
Serves 1

3 eggs
50 g rocket
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
    assert grams["Oil"] == pytest.approx(80 + 13.7 / 2, abs=0.2)  # 4 of 4 portions, half a spoon
    unknown = got[got["food_id"].isna()]
    assert list(unknown["text"]) == ["50 g grobnak"]
    assert unknown["grams"].iloc[0] == pytest.approx(100)


def test_scaling_is_linear(result: Result) -> None:
    one = scaled_lines(result, {"Rocket soup": 4})["grams"]
    three = scaled_lines(result, {"Rocket soup": 12})["grams"]
    assert (three / one).tolist() == pytest.approx([3.0] * len(one))


def by_food(result: Result, wanted: dict[str, float]) -> dict[str, dict]:
    return {row["food"]: row for row in shopping_list(result, wanted).to_dict("records")}


def test_the_list_is_one_to_shop_by(result: Result) -> None:
    got = by_food(result, {"Rocket soup": 12, "Rocket omelette": 2})
    eggs = next(row for food, row in got.items() if food.startswith("egg"))
    assert eggs["buy"] == "12 eggs"  # 3 x 2 and 2 x 3
    assert got["chickpeas"]["buy"] == "3 tins"
    assert got["olive oil"]["buy"] == "3 tbsp"
    assert got["rocket"]["buy"] == ""  # only ever weighed
    assert not any("water" in food for food in got)


@pytest.mark.parametrize(
    ("name", "unit", "each_g", "grams", "buy"),
    [
        ("eggs", "piece", 50.0, 50.0, "1 egg"),
        ("ripe bananas", "piece", 118.0, 236.0, "2 ripe bananas"),
        ("butter", "stick", 113.0, 56.5, "0.5 stick"),
        ("butter", "stick", 113.0, 226.0, "2 sticks"),
        ("oil", "tbsp", 13.5, 41.0, "3 tbsp"),  # a hair over three
        ("oil", "tbsp", 13.5, 43.0, "3.5 tbsp"),
        ("yeast", "tsp", 3.0, 0.1, "0.5 tsp"),
        ("chickpeas", "tin", 240.0, 250.0, "1 tin"),
        ("chickpeas", "tin", 240.0, 300.0, "2 tins"),
    ],
)
def test_what_to_buy_is_said_as_one_buys_it(
    name: str, unit: str, each_g: float, grams: float, buy: str
) -> None:
    assert bought(name, {"unit": unit, "each_g": each_g, "grams": grams}) == buy


@pytest.mark.parametrize("servings", [1, 2, 3, 5, 6, 7])
def test_what_is_bought_whole_is_enough_and_no_more(result: Result, servings: int) -> None:
    tins = by_food(result, {"Rocket soup": servings})["chickpeas"]
    count = int(tins["buy"].split()[0])
    assert count == -(-servings // 4)
    assert tins["buy"].endswith("tins" if count > 1 else "tin")


def test_a_base_is_made_in_portions(result: Result) -> None:
    made = bases(result, {"Deck salad": 4})
    assert made["title"].tolist() == ["Base dressing"]
    assert made["portions"].tolist() == [pytest.approx(4)]
    lines = scaled_lines(result, {"Deck salad": 4})
    assert lines["title"].tolist()[0] == "Base dressing"  # what goes into others comes first
    needs = dict(zip(lines["text"], lines["needs"], strict=True))
    assert needs["2 portions of the base dressing"] == "4 portions of Base dressing"
    base = lines[lines["title"] == "Base dressing"]
    assert base["grams"].tolist() == pytest.approx([80, 40])


@pytest.mark.parametrize("name", ["deck SALAD", "salad", "cards.txt#2"])
def test_a_recipe_is_named_by_title_words_or_id(result: Result, name: str) -> None:
    assert list(scaled_lines(result, {name: 2})["title"])[-1] == "Deck salad"


@pytest.mark.parametrize(
    ("name", "offered"),
    [("Rocket omlete", "Rocket omelette"), ("rocket", "Rocket soup"), ("decksalad", "Deck salad")],
)
def test_titles_that_come_near_are_offered(result: Result, name: str, offered: str) -> None:
    with pytest.raises(SteelyardError) as told:
        shopping_list(result, {name: 2})
    assert offered in told.value.problem.why + told.value.problem.fix


def test_the_command_speaks_in_titles(result: Result, tmp_path: Path) -> None:
    (tmp_path / "cards.txt").write_text(CARDS)
    out = tmp_path / "list.csv"
    done = CliRunner().invoke(
        app, ["plan", str(tmp_path / "cards.txt"), "--make", "salad = 4", "--out", str(out)]
    )
    assert done.exit_code == 0, done.output
    assert "Make 4 portions of Base dressing first (1 times the recipe)." in done.output
    assert "cards#" not in done.output
    assert "sr28" not in done.output
    assert out.read_text().startswith("food,buy,grams")


@pytest.mark.parametrize("wanted", [{"No such soup": 2}, {"Rocket soup": 0}, {"Rocket soup": -1}])
def test_what_cannot_be_planned_is_told(result: Result, wanted: dict[str, float]) -> None:
    with pytest.raises(SteelyardError) as told:
        shopping_list(result, wanted)
    assert told.value.problem.fix
