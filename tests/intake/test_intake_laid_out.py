"""Recipes by how they are laid out: side by side, beside their numbers, foods as columns, chats."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake import Collection, read_collection
from pipeline.intake.structured.documents import read_json
from pipeline.intake.structured.entry_parts import ingredient_entries, leaves
from pipeline.intake.tables.panels import is_panel, strips
from pipeline.intake.text.card import messages
from pipeline.intake.text.recipe_heads import title_before_numbers


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
    held = [c for part in parts for _, row in part for c in row if c not in (None, "")]
    given_cells = [c for row in rows for c in row if c not in (None, "")]
    if len(parts) == 1:
        assert held == given_cells
    else:
        alone = [row for row in rows if sum(c not in (None, "") for c in row) == 1]
        assert len(given_cells) - len(held) <= len(alone)
    assert all(isinstance(is_panel(part), bool) for part in parts)


def test_foods_as_columns(tmp_path: Path) -> None:
    found = read(
        tmp_path, "grid.csv",
        "Name,Makes,Milk ml,Oats (g),Banana g,kcal each,P\nFog,1,300,40,,330,15\nMist,2,200,,120,110,4\n",
    )  # fmt: skip
    assert lines_of(found) == [["300 ml Milk", "40 g Oats"], ["200 ml Milk", "120 g Banana"]]
    assert energy(found) == [330, 110]
    assert found.recipe["servings"].tolist() == [1, 2]


def test_columns_of_prices_and_minutes_are_no_foods(tmp_path: Path) -> None:
    found = read(
        tmp_path, "grid.csv", "Name,Price,Minutes,Rating,kcal\nFog,3,20,5,330\nMist,4,30,4,110\n"
    )
    assert found.line.empty


def test_a_row_that_states_numbers_is_no_ingredient(tmp_path: Path) -> None:
    found = read(
        tmp_path, "rows.csv",
        "Recipe;Serves;Amount;Unit;Ingredient\nSkiff stew;2;300;g;potatoes\nSkiff stew;2;1;;onion\n"
        "Skiff stew;;;;per portion 140 kcal, 4 g protein, 30 g carbs, 1 g fat\n",
    )  # fmt: skip
    assert lines_of(found) == [["300 g potatoes", "1 onion"]]
    assert energy(found) == [140]


# --- texts ----------------------------------------------------------------------------------------


def test_rows_pasted_from_a_sheet(tmp_path: Path) -> None:
    found = read(
        tmp_path, "paste.txt",
        "Keel salad\t4 people\nlentils, dry\t250 g\nonions\t4 big ones (700g)\nolive oil\t5 tbsp\n"
        "per person\tkcal 340\tP 17\tC 44\tF 11\n",
    )  # fmt: skip
    assert found.recipe["title"].tolist() == ["Keel salad"]
    assert found.recipe["servings"].tolist() == [4]
    assert lines_of(found) == [
        ["250 g lentils, dry", "onions (4 big ones (700g))", "olive oil 5 tbsp"]
    ]


def test_recipes_that_begin_with_their_numbers(tmp_path: Path) -> None:
    found = read(
        tmp_path, "notes.txt",
        "harbour soup → 4 tubs → 150 kcal a tub (c 20 / f 3 / p 9)\n- 500 g peas\n- 1 onion\n\n"
        "anchor stew → 6 tubs → 310 kcal a tub (c 12 / f 15 / p 30)\n- 1 kg beef mince\n- 2 carrots\n",
    )  # fmt: skip
    assert found.recipe["title"].tolist() == ["harbour soup", "anchor stew"]
    assert found.recipe["servings"].tolist() == [4, 6]
    assert energy(found) == [150, 310]


def test_lists_behind_labels(tmp_path: Path) -> None:
    found = read(
        tmp_path, "caption.txt",
        "HATCH NOODLES\n548 cals / 48 protein / 68 carbs / 10 fat a bowl\nwhat you need for two:\n"
        "from the shelf: 120g egg noodles + 3 tbsp soy sauce\nfrom the fridge: 300g sirloin steak\n\n"
        "DECK POTATOES\n310 cals / 8 protein / 50 carbs / 9 fat a plate\nwhat you need for three:\n"
        "from the shelf: 600g potatoes + 1 tbsp oil\nfrom the fridge: 100g feta\n",
    )  # fmt: skip
    assert found.recipe["title"].tolist() == ["HATCH NOODLES", "DECK POTATOES"]
    assert found.recipe["servings"].tolist() == [2, 3]
    assert "3 tbsp soy sauce" in lines_of(found)[0]


def test_messages_of_a_chat_stand_without_times_and_names() -> None:
    text = "[02/03/2026, 18:04:11] Ann: soup\n1 onion\n[02/03/2026, 18:05:00] Bo: ok\n[02/03/2026, 18:06:00] Bo: 3 eggs"
    assert messages(text) == (["soup", "1 onion", "ok", "3 eggs"], frozenset({0, 2, 3}))
    assert messages("Serves: 4\nTime: 10:30\n1 onion")[0] == ["Serves: 4", "Time: 10:30", "1 onion"]


@pytest.mark.parametrize("text", ["Per serving. 320 kcal", "320 kcal", "Nutrition | 320 kcal", ""])
def test_no_title_stands_before_these_numbers(text: str) -> None:
    assert title_before_numbers(text) == []


def test_a_processing_instruction_on_a_page_is_passed_over(tmp_path: Path) -> None:
    found = read(
        tmp_path, "page.html",
        "<html><?php echo 1 ?><body><h1>Spar soup</h1><p>Serves 2</p><ul><li>200 g peas</li><?x>"
        "<li>1 onion</li></ul><p>Per serving: 120 kcal, protein 8 g, carbs 20 g, fat 1 g</p></body></html>",
    )  # fmt: skip
    assert lines_of(found) == [["200 g peas", "1 onion"]]
