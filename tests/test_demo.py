"""The invented demo collection: it shows every format, and the tool finds each built-in mistake.

Which mistake stands in which recipe is written down in ``data/demo-mistakes.csv``, outside the
collection, so the run cannot read it.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from pipeline.resources import data_path
from pipeline.run import Result

#: Left open on purpose: foods no table knows, no stated numbers, no servings.
LEFT_OPEN = {"markdown/kelp-supper.md", "sheet/galley.xlsx#2", "problems/ghost-toast.txt"}
#: Tobias's Greek yogurt is the fat-free one in all four recipes of one file.
HABIT = {f"cards/night-watch.txt{n}" for n in ("", "#2", "#3", "#4")}
KINDS = {
    "servings_slip", "line_left_out", "line_doubled", "unit_slip", "raw_cooked_slip",
    "product_variant", "macros_swapped", "digits_transposed", "kilojoules_as_kcal",
    "energy_not_following_macros", "net_carbs_stated", "per_100g_stated_as_serving",
}  # fmt: skip


def _mistakes() -> list[dict[str, str]]:
    with data_path("demo-mistakes.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


MISTAKES = {row["recipe_id"]: row for row in _mistakes()}


@pytest.fixture(scope="module")
def result(demo_result: Result) -> Result:
    return demo_result


def _ranks(result: Result) -> dict[str, int | None]:
    """Where each built-in mistake stands among the explanations; None when it is not there."""
    found: dict[str, int | None] = {}
    table = result.explanations
    for recipe_id, mistake in MISTAKES.items():
        line_no = int(mistake["line_no"] or 0)  # 0: a kind without a line
        mine = table[
            (table["recipe_id"] == recipe_id)
            & (table["kind"] == mistake["kind"])
            & (table["line_no"].fillna(0) == line_no)
        ]
        found[recipe_id] = None if mine.empty else int(mine["rank"].min())
    return found


def _verdicts(result: Result) -> dict[str, str]:
    return dict(zip(result.recipes["recipe_id"], result.recipes["verdict"], strict=True))


def test_the_list_of_mistakes_names_every_kind_once_and_only_recipes_that_exist(
    result: Result,
) -> None:
    assert {m["kind"] for m in MISTAKES.values()} == KINDS
    assert len(MISTAKES) == len(KINDS)
    assert set(MISTAKES) <= set(result.recipes["recipe_id"])
    for recipe_id, mistake in MISTAKES.items():
        if mistake["line_no"]:
            lines = result.lines[result.lines["recipe_id"] == recipe_id]
            assert int(mistake["line_no"]) in set(lines["line_no"])


def test_every_recipe_with_a_mistake_disagrees(result: Result) -> None:
    verdict = _verdicts(result)
    assert {r: verdict[r] for r in MISTAKES} == dict.fromkeys(MISTAKES, "disagrees")


def test_the_mistake_is_explained_first_or_nearly_so(result: Result) -> None:
    ranks = _ranks(result)
    assert [r for r, rank in ranks.items() if rank is None or rank > 3] == []
    assert sum(rank == 1 for rank in ranks.values()) >= len(MISTAKES) - 1, ranks


def test_no_honest_recipe_is_accused(result: Result) -> None:
    honest = {
        r: v
        for r, v in _verdicts(result).items()
        if r not in MISTAKES | dict.fromkeys(LEFT_OPEN | HABIT)
    }
    assert len(honest) >= 17
    assert {r: v for r, v in honest.items() if v == "disagrees"} == {}
    assert sum(v == "agrees" for v in honest.values()) >= len(honest) - 2, honest


def test_the_one_habit_is_found_and_no_other(result: Result) -> None:
    assert len(result.habits) == 1
    habit = result.habits.iloc[0]
    assert (habit["kind"], habit["phrase"], habit["creator"]) == (
        "product", "greek yogurt", "Tobias Lindqvist-Rao",
    )  # fmt: skip
    assert set(habit["recipe_ids"].split("; ")) == HABIT
    assert habit["probability"] > 0.95
    assert habit["nearest_food"] == "Yogurt, Greek, plain, nonfat"
    # SR28 01256: 59 kcal, 10.2 g protein, 0.4 g fat
    assert habit["kcal"] == pytest.approx(59, abs=6)
    assert habit["fat_g"] == pytest.approx(0.4, abs=0.6)
    assert (habit["agree_now"], habit["agree_then"]) == (0, 4)
    first = result.explanations[result.explanations["rank"] == 1].set_index("recipe_id")["kind"]
    assert {first[r] for r in HABIT & set(first.index)} == {"habit"}


def test_what_cannot_be_known_is_left_open(result: Result) -> None:
    verdict = _verdicts(result)
    assert {verdict[r] for r in LEFT_OPEN} <= {"not_judged", "uncertain"}


def test_every_format_is_shown(result: Result) -> None:
    formats = set(result.collection.recipe["format"])
    assert formats >= {"card", "yaml", "json-ld", "html", "csv", "parquet", "markdown", "xlsx"}


def test_every_basis_and_energy_in_kilojoules_is_shown(result: Result) -> None:
    stated = result.collection.stated
    assert set(stated["basis"]) == {"per_serving", "per_recipe", "per_100g"}
    energy = stated[stated["nutrient"] == "ENERC_KCAL"].set_index("recipe_id")["amount"]
    # 1,940 kJ at 4.184 kJ a kcal (NIST SP 811, thermochemical calorie)
    assert energy["bosuns-tuna-pasta-bake"] == pytest.approx(1940 / 4.184, rel=1e-3)
    assert {"FIBTG", "SUGAR", "NA"} <= set(stated["nutrient"])


def test_sub_recipes_pantry_and_decisions_are_used(result: Result) -> None:
    lines = result.lines
    used = set(lines.loc[lines["origin"] == "recipe", "food_id"])
    assert used == {"recipe:base-flatbread-dough", "recipe:cards/base-lemon-dressing.txt"}
    with (data_path("demo") / "pantry.csv").open(encoding="utf-8", newline="") as file:
        labels = len(list(csv.DictReader(file)))
    assert lines.loc[lines["origin"] == "pantry", "food_id"].nunique() == labels
    knob = lines[lines["text"] == "a knob of galley butter"].iloc[0]
    assert (knob["food_id"], knob["grams"], knob["basis"]) == ("sr28:01001", 15.0, "decision")
    pork = lines[lines["text"] == "600 g pork shoulder, diced"].iloc[0]
    assert (pork["food_id"], pork["origin"]) == ("sr28:10070", "decision")


def test_the_problems_shown_are_the_deliberate_ones(result: Result) -> None:
    errors = result.problems[result.problems["severity"] == "error"]
    assert set(errors["source"]) <= {"problems/ghost-toast.txt", "problems/notice-board.html"}
    said = result.problems.set_index("source")["code"]
    assert said["problems/ghost-toast.txt"] == "servings-invalid"
    assert said["problems/notice-board.html"] == "no-recipe"


def test_lines_without_a_food_are_few_and_named(result: Result) -> None:
    food = result.lines[result.lines["names_food"].astype(bool)]
    unmatched = set(food.loc[food["food_id"].eq("") | food["food_id"].isna(), "text"])
    # curds and relishes that we made up; quark, which SR28 lacks
    assert unmatched <= {"300 g skarrow kelp curd", "150 g tinned limpet relish", "3 tbsp quark"}


def test_the_readme_says_the_collection_is_invented(demo: Path) -> None:
    text = (demo / "README.md").read_text(encoding="utf-8").lower()
    assert "invented" in text
    assert "no dietary advice" in text


def test_every_recipe_names_its_creator(result: Result) -> None:
    crew = ("Maren Okafor", "Tobias Lindqvist-Rao", "Ines Achterberg")
    creators = result.collection.recipe["creator"]
    assert [c for c in creators if not c.startswith(crew)] == []
    assert all(creators.str.startswith(name).any() for name in crew)
