"""Recipes by how they are laid out: side by side, beside their numbers, foods as columns, chats."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pytest
from cases import cases
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake import Collection, read_collection
from pipeline.intake.columns import column_among, nutrient_column
from pipeline.intake.structured.documents import read_json
from pipeline.intake.structured.entry_parts import ingredient_entries, leaves
from pipeline.intake.tables.panels import is_panel, strips
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.letter_key import spelled_out
from pipeline.intake.text.plain_lines import messages


def read(folder: Path, name: str, text: str) -> Collection:
    (folder / name).write_text(text, encoding="utf-8")
    return read_collection([folder])


def workbook(folder: Path, rows: list[list[object]]) -> Collection:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.save(folder / "sheet.xlsx")
    return read_collection([folder])


def lines_of(found: Collection) -> list[list[str]]:
    return [
        found.line[found.line["recipe_id"] == recipe]["text"].tolist()
        for recipe in found.recipe["recipe_id"]
    ]


def energy(found: Collection) -> list[float]:
    stated = found.stated
    return stated[stated["nutrient"] == "ENERC_KCAL"]["amount"].tolist()


def test_a_last_column_says_what_all_numbers_of_a_row_are_for(tmp_path: Path) -> None:
    found = read(
        tmp_path, "labels.tsv",
        "Label\tMade of\tEnergy\tFat\tCarbs\tProtein\tFor\n"
        "Seed crackers (16 pieces)\trye flour 300 g; sunflower seeds 150 g; olive oil 60 g"
        "\t1740 kJ / 416 kcal\t22.1\t35.0\t13.1\tper 100 g\n"
        "Oat bites (12 pieces)\toats 250 g; honey 120 g; peanut butter 150 g"
        "\t1830 kJ / 437 kcal\t16.0\t55.3\t13.7\tper 100 g\n"
        "Tea 250ml\ttea, water\t\t\t\t\tn/a\n",
    )  # fmt: skip
    assert set(found.stated["basis"]) == {"per_100g"}
    assert found.stated["amount"].tolist() == [416, 22.1, 35, 13.1, 437, 16, 55.3, 13.7]


@pytest.mark.parametrize(
    "rows",
    [
        [["Item", "Shop", "Rand", "Got?"], ["Turkey mince 1 kg", "butcher", 139, "x"],
         ["Lentils 500 g", "spice shop", 32, "x"], ["Oats 1 kg", "corner shop", 28, None],
         ["Eggs 18", "farm stall", 62, "x"]],
        [["Ingredient", "Qty", "Unit", "Price", "Supplier"], ["Flour", 25, "kg", 0.8, "Mill"],
         ["Sugar", 10, "kg", 1.1, "Mill"], ["Butter", 5, "kg", 8, "Dairy"]],
        [["What", "Amount", "Since"], ["Turkey mince", "1 kg", "May"], ["Peas", "500 g", "June"]],
    ],
)  # fmt: skip
def test_a_list_with_its_prices_or_days_is_no_recipe(
    tmp_path: Path, rows: list[list[object]]
) -> None:
    assert workbook(tmp_path, rows).recipe.empty


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("targets.md", "# Training\n\n## What to aim for\n\nProtein 1.8 g per kg, fat never under 50 g.\n\n"
         "| You weigh | Cut kcal | Gain kcal | Protein |\n|---|---|---|---|\n"
         "| 60 kg | 1,680 | 1,980 | 108 g |\n| 75 kg | 2,100 | 2,475 | 135 g |\n\n## Scales\n\nWeigh meat raw.\n"),
        ("spoons.txt", "Conversions\n\n1 cup 240 ml 8 fl oz\n1/2 cup 120 ml 4 fl oz\n1 tbsp 15 ml\n"
         "1 tsp 5 ml\n\n1 g fat is 9 kcal, protein 4 kcal, carbs 4 kcal.\n"),
    ],
)  # fmt: skip
def test_figures_with_units_are_no_lines_of_a_recipe(tmp_path: Path, name: str, text: str) -> None:
    assert read(tmp_path, name, text).recipe.empty


def test_prices_beside_the_foods_of_a_recipe_are_not_read(tmp_path: Path) -> None:
    rows: list[list[object]] = [
        ["Ingredient", "Qty", "Unit", "Price"], ["Peas", 500, "g", 1.2], ["Butter", 30, "g", 0.5],
        [], ["Serves", 3], ["kcal per bowl", 235],
    ]  # fmt: skip
    found = workbook(tmp_path, rows)
    assert lines_of(found) == [["500 g Peas", "30 g Butter"]]
    assert energy(found) == [235]


def test_notes_in_which_nothing_is_borne_out_are_no_recipe(tmp_path: Path) -> None:
    found = read(
        tmp_path, "notes.txt",
        "Check-ins August (typed out)\n\nNaledi - down 1,4 kg, sleeping 6h. Target 1 900 kcal, protein 120 g."
        "\nMarco - knee ok again. Squat 100 kg x 3! Eats rice 3x a day, portion = 1 cup cooked.\n"
        "Sipho - says the turkey page prints over 2 pages.\n\n"
        "TODO: invoice the March group, 14 x R650. Ask Bea about the kJ/kcal thing on the labels.\n",
    )  # fmt: skip
    assert found.recipe.empty


def test_letters_are_those_of_a_key_only_where_it_abbreviates() -> None:
    def said(*texts: str) -> list[str]:
        return [one.text for one in spelled_out([CardLine(no, t) for no, t in enumerate(texts)])]

    assert said("(B bjelancevine protein, M = mast / fat)", "B 9 g, M 4 g") == [
        "", "protein 9 g, fat 4 g",
    ]  # fmt: skip
    for other in ("no fat, low sugar", "a sugar, b salt", "B is for barley, M for milk"):
        assert said(other, "B 9 g, M 4 g, no 3, low 5, a 2, b 1")[0] == other
    assert said("B bread protein, M milk fat", "2 eggs") == [
        "B bread protein, M milk fat",
        "2 eggs",
    ]


# --- trees ----------------------------------------------------------------------------------------


def test_entries_in_parts_of_any_name() -> None:
    dish = {
        "headline": "Lighthouse toast", "for_how_many": 2,
        "stuff": [{"n": 4, "u": "slices", "thing": "rye bread"}, {"n": 30, "u": "g", "thing": "butter"},
                  {"n": 2, "u": None, "thing": "eggs"}],
        "macros": {"cals": 410, "p": 17},
    }  # fmt: skip
    (recipe,) = read_json(json.dumps({"a": {"b": [dish]}}), "x.json").recipes
    assert recipe.title == "Lighthouse toast"
    assert recipe.servings == 2
    assert [one.text for one in recipe.lines] == ["4 slices rye bread", "30 g butter", "2 eggs"]


def test_lists_under_headings_of_their_own() -> None:
    dish = {"name": "Pier pie", "serves": 4,
            "what": [{"part": "Crust", "rows": ["200 g flour", "100 g butter"]},
                     {"part": "Top", "rows": ["3 apples"]}]}  # fmt: skip
    (recipe,) = read_json(json.dumps([dish]), "x.json").recipes
    assert [(one.text, one.section) for one in recipe.lines if not one.text.endswith(":")] == [
        ("200 g flour", "Crust"), ("100 g butter", "Crust"), ("3 apples", "Top"),
    ]  # fmt: skip


def test_headings_as_keys_stay() -> None:
    dish = {
        "title": "Pier pie",
        "ingredients": [{"For the crust": ["200 g flour"]}, {"Top": ["3 apples"]}],
    }
    (recipe,) = read_json(json.dumps(dish), "x.json").recipes
    assert [one.text for one in recipe.lines] == [
        "For the crust:",
        "200 g flour",
        "Top:",
        "3 apples",
    ]


json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-5, 5000) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=4),
    max_leaves=12,
)  # fmt: skip


@given(json_values)
def test_any_tree_is_taken_as_it_is_or_with_all_its_texts(value: object) -> None:
    before = str(value)
    made = ingredient_entries(value)
    leaves(made)
    assert str(value) == before  # what is given is never changed


# --- sheets ---------------------------------------------------------------------------------------


def test_recipes_side_by_side(tmp_path: Path) -> None:
    found = workbook(tmp_path, [
        ["Plan for May"],
        ["Gull soup", None, None, "Tern bars", None],
        ["bowls", 3, None, "bars", 8],
        ["red lentils", "200 g", None, "rolled oats", "150 g"],
        ["carrots, peeled", "2", None, "honey", "80 g"],
        ["kcal / bowl", 251, None, "kcal / bar", 104],
        ["protein", 17, None, "protein", 3],
    ])  # fmt: skip
    assert found.recipe["title"].tolist() == ["Gull soup", "Tern bars"]
    assert found.recipe["servings"].tolist() == [3, 8]
    assert energy(found) == [251, 104]
    assert [len(texts) for texts in lines_of(found)] == [2, 2]


def test_numbers_beside_a_list_belong_to_it(tmp_path: Path) -> None:
    found = workbook(tmp_path, [
        ["Buoy bake"],
        ["serves 4"],
        ["Qty", "Unit", "Ingredient", None, "Per portion", None],
        [500, "g", "potatoes", None, "Energy (kcal)", 190],
        [100, "g", "cheddar", None, "Protein (g)", 8],
        [2, None, "leeks", None, "Fat (g)", 9],
    ])  # fmt: skip
    assert found.recipe["title"].tolist() == ["Buoy bake"]
    assert lines_of(found) == [["500 g potatoes", "100 g cheddar", "2 leeks"]]
    assert dict(zip(found.stated["nutrient"], found.stated["amount"], strict=True)) == {
        "ENERC_KCAL": 190, "PROCNT": 8, "FAT": 9,
    }  # fmt: skip


def test_what_a_recipe_makes_stands_below_the_numbers_beside_its_list(tmp_path: Path) -> None:
    found = workbook(tmp_path, [
        [None, "Turkey filling"], [None],
        [None, "amount", "unit", "thing", "kcal", "NUTRITION / 1 wrap"],
        [None, 600, "g", "turkey mince", 900, "kcal", 483],
        [None, 250, "g", "rice, dry", 912, "protein g", 32],
        [None, 150, "g", "cheddar", 610, "fat g", 15], [None, 300, "g", "passata", 114],
        [None, 15, "g", "canola oil", 133, "makes", 5],
    ])  # fmt: skip
    assert found.recipe["title"].tolist() == ["Turkey filling"]
    assert found.recipe["servings"].tolist() == [5]
    assert sorted(found.stated["nutrient"]) == ["ENERC_KCAL", "FAT", "PROCNT"]


def test_numbers_beside_a_table_go_to_the_recipe_of_their_rows(tmp_path: Path) -> None:
    found = workbook(tmp_path, [
        ["Dish", "Ingredient", "Used (g)", None, "One portion", None],
        ["Reef dal (2 portions)", "red lentils", 150, None, "kcal", 270],
        [None, "onion", 100, None, "protein g", 19],
        ["Wreck rice (3 portions)", "white rice", 210, None, "kcal", 250],
        [None, "frozen peas", 90, None, "protein g", 7],
    ])  # fmt: skip
    assert found.recipe["title"].tolist() == ["Reef dal", "Wreck rice"]
    assert found.recipe["servings"].tolist() == [2, 3]
    assert energy(found) == [270, 250]
    assert lines_of(found)[0] == ["150 g red lentils", "100 g onion"]


cells = st.one_of(
    st.none(), st.integers(0, 900), st.sampled_from(["200 g rice", "kcal", "salt", ""])
)


@given(st.lists(st.lists(cells, min_size=1, max_size=7), min_size=1, max_size=8))
def test_strips_lose_no_cell_but_of_headings_above(rows: list[list[object]]) -> None:
    numbered = [(at, row) for at, row in enumerate(rows, start=1)]
    parts = strips(numbered)
    held = [c for _, part in parts for _, row in part for c in row if c not in (None, "")]
    given_cells = [c for row in rows for c in row if c not in (None, "")]
    if len(parts) == 1:
        assert held == given_cells
    else:
        alone = [row for row in rows if sum(c not in (None, "") for c in row) == 1]
        assert len(given_cells) - len(held) <= len(alone)
    assert all(isinstance(is_panel(part), bool) for _, part in parts)


def test_columns_of_prices_and_minutes_are_no_foods(tmp_path: Path) -> None:
    found = read(
        tmp_path, "grid.csv", "Name,Price,Minutes,Rating,kcal\nFog,3,20,5,330\nMist,4,30,4,110\n"
    )
    assert found.line.empty


@pytest.mark.parametrize("name", list(cases(__file__, "files")))
def test_files_of_one_layout_each(tmp_path: Path, name: str) -> None:
    case = cases(__file__, "files")[name]
    found = read(tmp_path, case["file"], case["text"])
    assert found.recipe["title"].tolist() == case["titles"]
    assert found.recipe["servings"].tolist() == pytest.approx(case["servings"], nan_ok=True)
    assert energy(found) == case["kcal"]
    assert lines_of(found) == case["lines"]
    assert set(found.stated["basis"]) <= set(case.get("basis", ["per_serving", "per_recipe"]))


# --- texts ----------------------------------------------------------------------------------------


def test_messages_of_a_chat_stand_without_times_and_names() -> None:
    text = "[02/03/2026, 18:04:11] Ann: soup\n1 onion\n[02/03/2026, 18:05:00] Bo: ok\n[02/03/2026, 18:06:00] Bo: 3 eggs"
    assert messages(text) == (["soup", "1 onion", "ok", "3 eggs"], frozenset({0, 2, 3}))
    assert messages("Serves: 4\nTime: 10:30\n1 onion")[0] == ["Serves: 4", "Time: 10:30", "1 onion"]


@pytest.mark.parametrize(
    ("name", "basis"),
    [("P/portion", "per_serving"), ("C per slice", "per_serving"), ("F", None)],
)
def test_letters_with_what_they_are_for(name: str, basis: str | None) -> None:
    column = column_among(name, ["P/portion", "C per slice", "F"])
    assert column is not None
    assert column.basis == basis


def test_energy_for_a_thing_of_any_name_and_never_for_a_unit() -> None:
    box = nutrient_column("kcal / box")
    assert (box.tag, box.basis) == ("ENERC_KCAL", "per_serving") if box else False
    both = nutrient_column("kcal/kJ")
    assert both is None or both.basis is None


@pytest.mark.parametrize(
    "said",
    [
        "Comes to 470 calories each, 34 protein.", "It comes to 470 calories a head.",
        "Works out at four hundred and seventy calories each.", "In total 470 calories each.",
    ],
)  # fmt: skip
def test_a_list_in_a_sentence_of_a_short_text_is_read_with_what_it_comes_to(
    tmp_path: Path, said: str
) -> None:
    text = (
        "Harbour bake.\nFeeds eight.\nYou need a dozen eggs, 400 grams of cooked ham, "
        f"250 grams of grated cheddar, 500 ml of milk.\n{said}\n"
    )
    found = read(tmp_path, "bake.txt", text)
    assert len(found.line) == 4
    assert energy(found) == [470]
    assert found.recipe["servings"].tolist() == [8]
