"""Grids whose numbers say what they are, tables of pages and of trees, and what is told to be unread."""

from __future__ import annotations

import csv
import io
import json
import random
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from pipeline.intake import read_collection
from pipeline.intake.columns import columns_among, nutrient_column
from pipeline.intake.model import RawRecipe, Read
from pipeline.intake.reading import read_text
from pipeline.intake.tables.card_rows import Row
from pipeline.intake.tables.number_parts import headed, numbers_out, pivoted

SHARES = """Lentil pot,,,,
ingredient,g,kcal,P,F
red lentils,200,716,48,4
olive oil,20,177,0,20
onion,150,60,2,0
In all,370,953,50,24
a quarter,93,238,12.5,6
"""
BASES = """Product:;Potato bake;
Servings per batch:;6;
;;
Recipe;g;%
potatoes;1200;62
double cream;400;21
whole milk;320;17
;;
Typical values;per 100 g;per serving
Energy (kcal);150;483
Fat (g);9,9;31,9
Carbohydrate (g);12,1;39
Protein (g);3,7;12
"""


def of(text: str, name: str = "sheet.csv") -> Read:
    return read_text(text, name)


def stated(recipe: RawRecipe) -> set[tuple[str, float, str]]:
    return {(one.nutrient, round(one.amount, 1), one.basis) for one in recipe.stated}


def told(recipe: RawRecipe) -> tuple[str, float, list[str]]:
    return recipe.title, recipe.servings, [line.text for line in recipe.lines]


def test_a_sum_and_its_share_are_told_by_the_arithmetic() -> None:
    [recipe] = of(SHARES).recipes
    assert told(recipe) == (
        "Lentil pot", 4, ["200 g red lentils", "20 g olive oil", "150 g onion"],
    )  # fmt: skip
    assert stated(recipe) >= {
        ("ENERC_KCAL", 953, "per_recipe"), ("ENERC_KCAL", 238, "per_serving"),
        ("PROCNT", 12.5, "per_serving"), ("FAT", 6, "per_serving"),
    }  # fmt: skip


SLIPPED = """meal,item,grams,kcal,protein,carbs,fat
Leek pot,Leeks,400,244,6,56.6,1.2
Leek pot,Barley,150,528,14.9,116.6,1.7
Leek pot,Feta,100,264,14.2,4.1,21.3
Leek pot,TOTAL,,1036,35.1,177.3,24.2
Leek pot,PER TUB (4 tubs),,259,6,44.3,8.8
"""


def test_a_share_that_names_its_count_may_hold_a_slip() -> None:
    [recipe] = of(SLIPPED).recipes
    assert told(recipe) == ("Leek pot", 4.0, ["400 g Leeks", "150 g Barley", "100 g Feta"])
    assert ("ENERC_KCAL", 259.0, "per_serving") in stated(recipe)
    assert ("PROCNT", 6.0, "per_serving") in stated(recipe)
    rows = [(no, line.split(",")) for no, line in enumerate(SLIPPED.splitlines())]
    nameless = [*rows[:-1], (5, ["Leek pot", "Lid", *rows[-1][1][2:]])]
    assert [len(numbers_out(some)[0]) for some in (rows, nameless)] == [4, 5]


def test_rows_that_add_up_to_nothing_else_stay_ingredients() -> None:
    rows: list[Row] = [
        (1, ["ingredient", "g", "kcal"]), (2, ["oats", 40, 150]), (3, ["milk", 200, 120]),
        (4, ["honey", 20, 61]), (5, ["nuts", 25, 150]),
    ]  # fmt: skip
    assert numbers_out(rows) == (rows, [])


def test_two_bases_side_by_side_are_not_one_number() -> None:
    [recipe] = of(BASES).recipes
    assert (recipe.title, recipe.servings, len(recipe.lines)) == ("Potato bake", 6, 3)
    assert stated(recipe) >= {
        ("ENERC_KCAL", 150, "per_100g"), ("ENERC_KCAL", 483, "per_serving"),
        ("FAT", 31.9, "per_serving"), ("PROCNT", 3.7, "per_100g"),
    }  # fmt: skip


def test_names_of_columns_over_two_rows(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (
        ["Recipe", "Portions", "Ingredient", "Weight", "Nutrition per portion", None, "Nutrition per 100 g"],
        [None, None, None, "g", "kcal", "Protein", "kcal"],
        ["Dal", 4, "red lentils", 300, 310, 18.5, 120], [None, None, "onion", 150],
        ["Slaw", 2, "white cabbage", 400, 95, 3, 45], [None, None, "carrots", 200],
    ):  # fmt: skip
        sheet.append(row)
    book.save(tmp_path / "spec.xlsx")
    found = read_collection(tmp_path)
    assert list(found.recipe["title"]) == ["Dal", "Slaw"]
    assert list(found.line["text"]) == [
        "300 g red lentils", "150 g onion", "400 g white cabbage", "200 g carrots",
    ]  # fmt: skip
    kept = found.stated[["nutrient", "amount", "basis"]].itertuples(index=False)
    assert ("ENERC_KCAL", 310.0, "per_serving") in set(map(tuple, kept))


@pytest.mark.parametrize(
    "rows",
    [
        [["Soup", "serves 4"], ["Ingredient", "Amount"]],
        [["Ingredient", "Amount"], ["salt", "a pinch"]],
        [["Recipe", "Pea soup"], ["Ingredient", "g"]],
    ],
)
def test_a_title_or_an_ingredient_is_no_second_row_of_names(rows: list[list[str]]) -> None:
    given: list[Row] = list(enumerate(rows, start=1))  # type: ignore[arg-type]
    assert headed(given) == given


def test_a_row_for_each_number_becomes_a_row_for_each_recipe() -> None:
    names = ["recipe_id", "nutrient", "value", "unit", "basis"]
    rows: list[Row] = [(1, list(names))]
    for key, values in (("1", (564, 30)), ("2", (545, 34)), ("3", (261, 8))):
        for name, unit, value in zip(("energy", "protein"), ("kcal", "g"), values, strict=True):
            rows.append((len(rows) + 1, [key, name, value, unit, "serving"]))
    made = pivoted(rows)
    assert made[0][1] == ["recipe_id", "basis", "energy (kcal)", "protein (g)"]
    assert made[1][1] == ["1", "serving", 564, 30]
    assert pivoted([*rows, (9, ["1", "energy", 600, "kcal", "serving"])]) == []


PAGE = """<html><head><title>Week</title></head><body><table>
<tr></tr>
<tr><th rowspan=2>Dish</th><th rowspan=2>Serves</th><th colspan=2>What you need</th><th colspan=2>Each serving</th></tr>
<tr><th>Food</th><th>Amount</th><th>kcal</th><th>Protein</th></tr>
<tr><td rowspan=2>Yogurt pots</td><td rowspan=2>4</td><td>greek yogurt</td><td>800 g</td><td rowspan=2>214</td><td rowspan=2>19 g</td></tr>
<tr><td>honey</td><td>60 g</td></tr>
<tr><td rowspan=2>Bean salad</td><td rowspan=2>2</td><td>black beans</td><td>400 g</td><td rowspan=2>310</td><td rowspan=2>18 g</td></tr>
<tr><td>olive oil</td><td>1 tbsp</td></tr>
</table></body></html>"""


def test_a_table_of_a_page_with_cells_over_several_rows() -> None:
    recipes = of(PAGE, "week.html").recipes
    assert [told(one) for one in recipes] == [
        ("Yogurt pots", 4, ["800 g greek yogurt", "60 g honey"]),
        ("Bean salad", 2, ["400 g black beans", "1 tbsp olive oil"]),
    ]
    assert stated(recipes[1]) == {("ENERC_KCAL", 310, "per_serving"), ("PROCNT", 18, "per_serving")}


ROWS = [
    ["Name", "Serves", "Ingredient", "g", "kcal per serving"],
    ["Bean pot", "4", "black beans", "480", "290"], ["Bean pot", "4", "onion", "150", "290"],
    ["Bean pot", "4", "olive oil", "20", "290"],
    ["Rice bowl", "2", "white rice", "200", "455"], ["Rice bowl", "2", "firm tofu", "300", "455"],
]  # fmt: skip


@pytest.mark.parametrize("kind", ["xml", "json"])
def test_rows_of_cells_within_a_tree(kind: str) -> None:
    cells = "".join("<row>" + "".join(f"<c>{cell}</c>" for cell in row) + "</row>" for row in ROWS)
    xml, array = f"<book><sheet>{cells}</sheet></book>", json.dumps({"sheet": ROWS})
    recipes = of(xml if kind == "xml" else array, f"book.{kind}").recipes
    assert [(one.title, one.servings, len(one.lines)) for one in recipes] == [
        ("Bean pot", 4, 3), ("Rice bowl", 2, 2),
    ]  # fmt: skip
    assert stated(recipes[0]) == {("ENERC_KCAL", 290, "per_serving")}


def test_rows_that_number_their_dish_and_their_food(tmp_path: Path) -> None:
    dump = {
        "dishes": [{"id": 1, "title": "Bean pot", "portions": 4}, {"id": 2, "title": "Rice bowl", "portions": 2}],
        "foods": [{"food_id": 100 + n, "label": f} for n, f in enumerate(["black beans", "onion", "white rice", "firm tofu"])],
        "components": [
            {"dish_id": 1, "food_id": 100, "g": 480}, {"dish_id": 1, "food_id": 101, "g": 150},
            {"dish_id": 1, "food_id": 103, "g": 90}, {"dish_id": 2, "food_id": 102, "g": 200},
            {"dish_id": 2, "food_id": 103, "g": 300}, {"dish_id": 2, "food_id": 101, "g": 60},
        ],
        "nutrition": [{"dish_id": 1, "kcal_portion": 290}, {"dish_id": 2, "kcal_portion": 455}],
    }  # fmt: skip
    (tmp_path / "dump.json").write_text(json.dumps(dump), encoding="utf-8")
    found = read_collection(tmp_path)
    assert list(found.recipe["title"]) == ["Bean pot", "Rice bowl"]
    assert list(found.recipe["servings"]) == [4, 2]
    assert list(found.line["text"])[:2] == ["480 g black beans", "150 g onion"]
    assert list(found.stated["amount"]) == [290, 455]


def test_each_document_of_a_yaml_file_is_read() -> None:
    one = 'title: "{}"\nserves: 2\nshopping: |\n  200 g {}\n  1 onion\nmacros: "310 kcal | P 9 | C 40 | F 11"\n'
    text = "".join(
        "---\n" + one.format(*two) for two in (("Rice pan", "rice"), ("Oat pan", "oats"))
    )
    assert [recipe.title for recipe in of(text, "posts.yml").recipes] == ["Rice pan", "Oat pan"]


def test_several_numbers_of_one_cell_under_their_names() -> None:
    text = (
        "Meal,Feeds,What goes in,kcal / P / C / F (each)\n"
        'Bean pot,4,"480 g black beans | 150 g onion","290 / 17 / 45 / 4.5"\n'
        'Rice bowl,2,"200 g white rice | 300 g tofu","455 / 21 / 62 / 13"\n'
    )
    first, second = of(text).recipes
    assert stated(first) >= {("ENERC_KCAL", 290, "per_serving"), ("FAT", 4.5, "per_serving")}
    broken = of(text.replace("455 / 21 / 62 / 13", "455 / 21 / 62")).recipes[1]
    assert stated(second)
    assert not broken.stated
    assert [p.code for p in broken.problems] == ["stated-unreadable"]


def test_what_short_names_hold_is_told_together() -> None:
    found = columns_among(("k", "p", "c", "f"))
    assert [one.tag if one else "" for one in found.values()] == [
        "ENERC_KCAL", "PROCNT", "CHOCDF", "FAT",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "tag", "basis"),
    [
        ("carb grams in g", "CHOCDF", None), ("calories kcal in kcal", "ENERC_KCAL", None),
        ("kcal (whole tray)", "ENERC_KCAL", "per_recipe"), ("pack g", None, None),
    ],
)  # fmt: skip
def test_units_and_bases_within_a_name(name: str, tag: str | None, basis: str | None) -> None:
    column = nutrient_column(name)
    assert (column and column.tag, column and column.basis) == (tag, basis)


def test_the_sections_of_one_recipe_stay_one_recipe() -> None:
    groups = [
        {"Used in": "Main", "Items": ["100 g spinach", "4 eggs", "25 g butter"]},
        {"Used in": "Sauce", "Items": ["2 tbsp soy sauce", "1 onion", "200 g rice"]},
    ]
    recipe = {"Versions": [{"List": groups, "Facts": {"kcal": 220, "protein": 14, "carbs": 9, "fat": 14}}],
              "Subject": {"rendered": "Egg skillet"}, "Yields": "2 people"}  # fmt: skip
    other = json.loads(json.dumps(recipe).replace("Egg skillet", "Egg curry").replace("220", "221"))
    recipes = of(json.dumps([recipe, other]), "kitchen.json").recipes
    assert [(len([x for x in one.lines if x.text[0].isdigit()]), one.servings) for one in recipes] == [
        (6, 2), (6, 2),
    ]  # fmt: skip


# --- the same recipes, written another way ---------------------------------------------------------

HEAD = ["dish", "portions", "ingredient", "grams", "kcal per portion", "fat per portion"]
BODY = [
    ["Bean pot", "4", "black beans", "480", "290", "4.5"], ["Bean pot", "4", "onion", "150", "290", "4.5"],
    ["Bean pot", "4", "olive oil", "20", "290", "4.5"], ["Rice bowl", "2", "white rice", "200", "455", "13"],
    ["Rice bowl", "2", "firm tofu", "300", "455", "13"], ["Rice bowl", "2", "carrots", "120", "455", "13"],
]  # fmt: skip


def _written(rows: list[list[str]], mark: str = ",") -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=mark, lineterminator="\n").writerows(rows)
    return out.getvalue()


def _reordered() -> str:
    order = [3, 5, 0, 2, 4, 1]
    return _written([[row[at] for at in order] for row in (HEAD, *BODY)])


def _renamed() -> str:
    return _written(
        [["meal", "feeds", "what", "weight (g)", "energy kcal each", "fat g each"], *BODY]
    )


def _parted() -> str:
    return _written([HEAD, *BODY[:3], [""] * 6, *BODY[3:]])


def _continental() -> str:
    return _written([HEAD, *[[cell.replace(".", ",") for cell in row] for row in BODY]], ";")


def _with_units() -> str:
    said = [[a, b, c, f"{d} g", f"{e} kcal", f"{f} g"] for a, b, c, d, e, f in BODY]
    return _written([HEAD, *said])


def _grouped() -> str:
    upper = ["dish", "portions", "ingredient", "", "per portion", ""]
    return _written([upper, ["", "", "", "grams", "kcal", "fat"], *BODY])


@pytest.mark.parametrize(
    "write", [_reordered, _renamed, _parted, _continental, _with_units, _grouped]
)
def test_another_writing_gives_the_same_recipes(write: Callable[[], str]) -> None:
    def all_of(text: str) -> list[object]:
        return [(*told(one), stated(one)) for one in of(text).recipes]

    assert all_of(write()) == all_of(_written([HEAD, *BODY]))


# --- nothing is lost in silence --------------------------------------------------------------------


def test_numbers_of_a_column_that_no_recipe_took_are_told() -> None:
    node = {"title": "Bean pot", "servings": 4, "ingredients": ["480 g black beans", "1 onion"]}
    lost = {"extra": {"more": [{"lines": ["200 g white rice", "2 eggs", "1 tbsp olive oil"]}]}}
    read = of(json.dumps([node, {**node, "title": "Bean pan", **lost}]), "kitchen.json")
    texts = {line.text for one in read.recipes for line in one.lines}
    unread = [p.what for p in read.problems if p.code == "values-unread"]
    assert "200 g white rice" in texts or any('"lines"' in what for what in unread)


def test_a_file_that_is_read_whole_says_nothing() -> None:
    for text in (SHARES, BASES, _written([HEAD, *BODY])):
        assert "values-unread" not in [p.code for p in of(text).problems]


def test_larger_grids_take_no_longer_a_row() -> None:
    import time

    rng = random.Random(5)

    def seconds(count: int) -> float:
        rows: list[Row] = [(1, ["ingredient", "g", "kcal", "fat"])]
        rows += [
            (n, [f"food {n}", rng.randint(1, 900), rng.randint(1, 900), 3]) for n in range(2, count)
        ]
        begun = time.process_time()
        numbers_out(headed(rows))
        pivoted(rows)
        return time.process_time() - begun

    seconds(200)
    assert seconds(8_000) < 10 * max(seconds(2_000), 0.02)


def test_sodium_and_salt_of_recipes_in_columns_are_read(tmp_path: Path) -> None:
    rows = [["", "Pea soup", "Rice pot"], ["serves", 4, 2], ["red lentils", 200, 100],
            ["onion", 100, 50], ["carrots", 150, 80], ["olive oil", 20, 10], ["kcal", 410, 520]]  # fmt: skip
    for more, amounts in (["sodium mg", 300, 450], [300, 450]), (["salt g", 1.2, 0.9], [480, 360]):
        text = "\n".join(",".join(map(str, row)) for row in [*rows, more])
        (tmp_path / "grid.csv").write_text(text)
        stated = read_collection([tmp_path]).stated
        assert stated.loc[stated["nutrient"] == "NA", "amount"].tolist() == amounts


BELOW = """Pea stew,,,,
Serves,3,,,
,,,,
Ingredient,grams,,,
Split peas,240,,,
Carrot,150,,,
Olive oil,20,,,
,,,,
each bowl,kJ,P,C,F
,1490,20,55,8.1
"""


@pytest.mark.parametrize("name", ["stew.csv", "stew.xlsx"])
def test_numbers_below_the_names_of_nutrients_are_for_what_stands_beside_the_names(
    tmp_path: Path, name: str
) -> None:
    path = tmp_path / name
    if name.endswith("csv"):
        path.write_text(BELOW, encoding="utf-8")
    else:
        book = openpyxl.Workbook()
        assert book.active is not None
        for row in csv.reader(io.StringIO(BELOW)):
            book.active.append([float(c) if c.isdigit() or c == "8.1" else c or None for c in row])
        book.save(path)
    read = read_collection(tmp_path)
    assert read.recipe["servings"].tolist() == [3]
    said = read.stated.set_index("nutrient")["amount"].round().to_dict()
    assert said == {"ENERC_KCAL": 356, "PROCNT": 20, "CHOCDF": 55, "FAT": 8}
    assert set(read.stated["basis"]) == {"per_serving"}


def test_a_row_of_sums_says_in_its_own_column_what_they_are_for() -> None:
    text = (
        "dish,makes,qty,unit,item,kcal,protein,basis\n"
        "Fig bites,12 bites,200,g,dried figs,,,\nFig bites,,80,g,hazelnuts,,,\n"
        "Fig bites,,,,TOTALS,83,1.9,per bite\n"
        "Rye granola,one tin,300,g,rolled rye,,,\nRye granola,,,,TOTALS,410,11,per 100 g\n"
    )
    bites, granola = of(text, "bites.csv").recipes
    assert {basis for *_, basis in stated(bites)} == {"per_serving"}
    assert {basis for *_, basis in stated(granola)} == {"per_100g"}
