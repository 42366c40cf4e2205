"""Tables and exports whose names say nothing: what holds the ingredients is told by its content."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pytest
from cases import cases

from pipeline.intake import read_collection
from pipeline.intake.by_content import holds_lines
from pipeline.intake.columns import field_of, nutrient_column
from pipeline.intake.structured.documents import read_json, read_yaml
from pipeline.intake.structured.entry_parts import ingredient_entries
from pipeline.intake.structured.number_lists import order_in
from pipeline.intake.tables.layout import sniff_delimiter, table_form
from pipeline.intake.tables.table import read_csv

SHEET = (
    "Nr;What we cook;Feeds;Bits that go in;How;kcals pp;Prot pp (g)\n"
    '1;Ridge stew;4;"500 g beef mince\n2 onions\nsalt";Stir.;410;31\n'
    '2;Gully slaw;6;"½ white cabbage\n3 carrots\n4 tbsp mayonnaise";Mix.;120;2\n'
)


def test_a_sheet_with_odd_headings_is_read_and_said_to_be() -> None:
    read = read_csv(SHEET.splitlines(), SHEET, "sheet.csv")
    assert [recipe.title for recipe in read.recipes] == ["Ridge stew", "Gully slaw"]
    assert [line.text for line in read.recipes[0].lines] == ["500 g beef mince", "2 onions", "salt"]
    assert [recipe.servings for recipe in read.recipes] == [4, 6]
    assert {(s.nutrient, s.amount, s.basis) for s in read.recipes[0].stated} == {
        ("ENERC_KCAL", 410, "per_serving"), ("PROCNT", 31, "per_serving"),
    }  # fmt: skip
    assert [p.what for p in read.problems] == [
        '"Bits that go in" was read as the ingredients', '"What we cook" was read as the title',
    ]  # fmt: skip


def test_a_sheet_without_ingredients_stays_unread() -> None:
    text = "Who;What;When\nAnn;Buy 2 lamps and 3 bulbs;Monday\nBo;Sweep;Friday\n"
    read = read_csv(text.splitlines(), text, "rota.csv")
    assert not read.recipes
    assert [p.code for p in read.problems] == ["table-columns-unknown"]


def test_an_export_with_its_own_keys() -> None:
    dish = {
        "dish": "Col porridge",
        "feeds_how_many": 2,
        "shopping": [{"amount_and_item": "100 g oats"}, {"amount_and_item": "Half a lemon"},
                     {"amount_and_item": "500 ml milk"}],
        "steps": ["1. Stir 5 min.", "2. Serve."],
        "numbers_per_portion": {"energy_kcal": 320, "protein_grams": 14},
    }  # fmt: skip
    (recipe,) = read_json(json.dumps({"dishes": [dish]}), "export.json").recipes
    assert [line.text for line in recipe.lines] == ["100 g oats", "Half a lemon", "500 ml milk"]
    assert recipe.servings == 2
    assert {(s.nutrient, s.amount) for s in recipe.stated} == {("ENERC_KCAL", 320), ("PROCNT", 14)}
    assert "read-by-content" in [p.code for p in recipe.problems]


def test_numbers_in_one_text_under_what_they_are_for() -> None:
    text = (
        "title: Saddle compote\nservings: 4\ningredients:\n  - 300 g prunes\n"
        "nutrition:\n  whole batch: 720 kcal, P 7 g, C 190 g, F 1 g\n"
    )
    (recipe,) = read_yaml(text, "c.yaml").recipes
    assert {s.basis for s in recipe.stated} == {"per_recipe"}
    assert {s.nutrient: s.amount for s in recipe.stated}["ENERC_KCAL"] == 720


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (["200 g rice", "1 onion", "salt"], True),
        ("200 g rice\n½ onion", True),
        (["Half a lemon", "a pinch of salt"], True),
        (["1. Mix.", "2. Bake."], False),
        (["olive oil 2 tbsp", "flour 200g"], True),
        (["dozen eggs", "handful of rocket", "dash of milk"], True),
        (["1 hour", "20 min"], False),
        (["4 servings", "6 people"], False),
        (["5 stars", "4 stars"], False),
        (["12/03/2024", "$4.50"], False),
        (["320 kcal", "410 kcal"], False),
        (["200 g rice"], False),
        (["vegan", "quick", "2 pots"], False),
        (12, False),
    ],
)
def test_what_is_a_list_of_ingredients(value: object, expected: bool) -> None:
    assert holds_lines(value) is expected


@pytest.mark.parametrize(("header", "rows", "names"), cases(__file__, "which_column_is_which"))
def test_which_column_is_which(header: str, rows: list[str], names: str | None) -> None:
    form = table_form(header.split(";"), [row.split(";") for row in rows])
    assert (form and ";".join(form.names)) == names


BLOCKS = {
    "titles in a column of their own": (
        "Dish;What goes in;Weight g;\nHarbour pie (6 plates);;;\n;cod;600;\n;potatoes;1200;\n"
        ";pepper, a pinch;;\nPER PLATE;kcal 410;P 30 C 40 F 12;\n;;;\nPlum bake (4 plates);;;\n"
        ";plums;500;\n;flour;200;\nPER PLATE;kcal 305;P 6 C 62 F 3;\n"
    ),
    "titles above the foods, with the numbers": (
        "Item;Amount;Note;kcal;P;C;F\nHARBOUR PIE - serves 6;;;410;30;40;12\ncod;600 g;;;;;\n"
        "potatoes;1200 g;;;;;\npepper;a pinch;;;;;\n;;;;;;\nPLUM BAKE - serves 4;;;305;6;62;3\n"
        "plums;500 g;;;;;\nflour;200 g;;;;;\n"
    ),
}


@pytest.mark.parametrize("text", BLOCKS.values(), ids=list(BLOCKS))
def test_a_table_of_blocks_is_a_recipe_a_block(text: str) -> None:
    read = read_csv(text.splitlines(), text, "week.csv")
    assert sniff_delimiter(text) is None  # it is not read by its columns alone, nor cut by them
    assert [r.title.upper() for r in read.recipes] == ["HARBOUR PIE", "PLUM BAKE"]
    assert [r.servings for r in read.recipes] == [6, 4]
    assert [len(r.lines) for r in read.recipes] == [3, 2]
    assert [{s.nutrient: s.amount for s in r.stated} for r in read.recipes] == [
        {"ENERC_KCAL": 410, "PROCNT": 30, "CHOCDF": 40, "FAT": 12},
        {"ENERC_KCAL": 305, "PROCNT": 6, "CHOCDF": 62, "FAT": 3},
    ]
    assert all(line.source_line for r in read.recipes for line in r.lines)


def test_an_export_without_a_word_that_is_known() -> None:
    dish = {"ref": "a91", "label": "Bean pot", "feeds": 4, "stuff": [{"t": "250 g beans"},
            {"t": "1 onion"}], "how": ["Cook."], "numbers": {"basis": "portion",
            "energy_kcal": 300, "prot": 15, "carb": 40, "fat": 5}}  # fmt: skip
    (recipe,) = read_json(json.dumps({"v": 3, "shelf": [dish]}), "export.json").recipes
    assert (recipe.title, recipe.servings, len(recipe.lines)) == ("Bean pot", 4, 2)
    assert {(s.nutrient, s.basis) for s in recipe.stated} == {
        (tag, "per_serving") for tag in ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT")
    }


@pytest.mark.parametrize("name", ["kcal_portion", "Portion kcal", "energy per slice"])
def test_a_number_and_what_it_is_for_in_one_name(name: str) -> None:
    assert (column := nutrient_column(name)) is not None
    assert (column.tag, column.basis) == ("ENERC_KCAL", "per_serving")


@pytest.mark.parametrize("name", ["feeds", "feeds_how_many", "how_many_servings", "people"])
def test_a_name_that_asks_how_many(name: str) -> None:
    assert field_of(name, "column") == "servings"


def test_pp_is_per_person() -> None:
    assert (column := nutrient_column("Prot pp (g)")) is not None
    assert (column.tag, column.unit, column.basis) == ("PROCNT", "g", "per_serving")


#: Name and content of a file (rows of a sheet, or a text): what strangers make of two recipes.
TWO = {
    "titles as keys": ("wk.yaml",
        "Bean pot:\n  for: 4\n  stuff: [400 g beans, 1 onion]\n  per head: 310 kcal, P 18\n"
        "Rice bowl:\n  for: 2\n  stuff: [150 g rice, 1 avocado]\n  per head: 480 kcal, P 14\n"),
    "keys of no known word": ("list.json", json.dumps([
        {"Was": "Bean pot", "für": "4 Personen", "rein": ["400 g beans", "1 onion"],
         "macros": "310 kcal, 18P"},
        {"Was": "Rice bowl", "für": "2 Personen", "rein": ["150 g rice", "1 avocado"],
         "macros": "480 kcal, 14P"}])),
    "a table in a page": ("week.html",
        "<h1>Our week</h1><table><tr><th>Meal</th><th>For</th><th>Ingredients</th><th>kcal</th>"
        "<th>Protein</th></tr><tr><td>Bean pot</td><td>4</td><td>400 g beans<br>1 onion</td><td>310"
        "</td><td>18</td></tr><tr><td>Rice bowl</td><td>2</td><td>150 g rice<br>1 avocado</td>"
        "<td>480</td><td>14</td></tr></table>"),
    "numbered heads, lists on a line": ("c.txt",
        "1) Bean pot | 4 portions\ningredients: 400 g beans; 1 onion\nnumbers: 310 kcal / 18 P\n\n"
        "2) Rice bowl | 2 portions\ningredients: 150 g rice; 1 avocado\nnumbers: 480 kcal / 14 P\n"),
    "a line above the header": ("e.csv",
        "# exported in May\ntitle,for how many,ingredients,kcal,protein\n"
        "Bean pot,4,400 g beans|1 onion,310,18\nRice bowl,2,150 g rice|1 avocado,480,14\n"),
    "names of columns in another language": ("g.csv",
        "Gericht;Portionen;Zutat;Menge;kcal pro Portion;Eiweiß\nBean pot;4;beans;400 g;310;18\n"
        "Bean pot;4;onion;1;310;18\nRice bowl;2;rice;150 g;480;14\nRice bowl;2;avocado;1;480;14\n"),
    "a sheet with titles above their rows": ("p.xlsx", [
        ["Item", "Qty"], ["Bean pot (4 portions)"], ["beans", "400 g"], ["onion", 1],
        ["per portion: 310 kcal, P 18"], [], ["Rice bowl (2 portions)"], ["rice", "150 g"],
        ["avocado", 1], ["per portion: 480 kcal, P 14"]]),
    "dishes under keys of their own, in a list below other facts": ("menu.yaml",
        "hall: Quayside\nnight: 3\nplates:\n"
        "- plate: Bean pot\n  price: 2.5\n  enough_for: 4\n  what_is_in: [400 g beans, 1 onion]\n"
        "  each_is: {energy: 310 kcal / 1297 kJ, protein: 18 g}\n"
        "- plate: Rice bowl\n  price: 3.5\n  enough_for: 2\n  what_is_in: [150 g rice, 1 avocado]\n"
        "  each_is: {energy: 480 kcal / 2008 kJ, protein: 14 g}\n"),
    "numbers as a list of pairs, foods as keys of objects": ("p.json", json.dumps([
        {"label": "Bean pot", "gives": {"count": 4, "of": "bowls"}, "counts": [["kcal", 310],
         ["protein", 18]], "in": {"beans": {"qty": 400, "unit": "g"}, "onion": {"qty": 1}}},
        {"label": "Rice bowl", "gives": {"count": 2, "of": "bowls"}, "counts": [["kcal", 480],
         ["protein", 14]], "in": {"rice": {"qty": 150, "unit": "g"}, "avocado": {"qty": 1}}}])),
    "titles and lists on two sides of a card": ("c.yaml",
        "- card: {front: Bean pot, back: {portions: 4, list: [400 g beans, 1 onion],"
        " numbers: {kcal: 310, protein: 18}}}\n"
        "- card: {front: Rice bowl, back: {portions: 2, list: [150 g rice, 1 avocado],"
        " numbers: {kcal: 480, protein: 14}}}\n"),
    "jobs below one another": ("jobs.csv",
        "PREP,,,\n,,,\nJOB A,Bean pot,4 tubs,Sat\nthing,qty,remark,price\nbeans,400 g,,1.10\n"
        "onion,1,,.30\nEACH TUB >,310 kcal,18 prot,\n,,,\nJOB B,Rice bowl,2 tubs,Sun\n"
        "thing,qty,remark,price\nrice,150 g,,2.10\navocado,1,,.90\nEACH TUB >,480 kcal,14 prot,\n"),
    "numbers right beside lists, under a row of facts": ("b.xlsx", [
        ["Bean pot"], ["Portions", 4, None, "green lid"], ["What", "How much", "Unit", "Per portion"],
        ["beans", 400, "g", "Energy (kcal)", 310], ["onion", 1, None, "Protein (g)", 18], [],
        ["Rice bowl"], ["Portions", 2, None, "red lid"], ["What", "How much", "Unit", "Per portion"],
        ["rice", 150, "g", "Energy (kcal)", 480], ["avocado", 1, None, "Protein (g)", 14]]),
    "cards beside each other": ("s.xlsx", [
        ["Bean pot", None, None, "Rice bowl"], ["serves 4", None, None, "serves 2"],
        ["beans", 400, "g", "rice", 150, "g"], ["onion", 1, None, "avocado", 1, None],
        ["kcal", 310, None, "kcal", 480], ["protein", 18, None, "protein", 14]]),
}  # fmt: skip


@pytest.mark.parametrize(("name", "content"), TWO.values(), ids=list(TWO))
def test_two_recipes_in_many_forms(tmp_path: Path, name: str, content: str | list) -> None:
    if isinstance(content, str):
        (tmp_path / name).write_text(content, encoding="utf-8")
    else:
        book = openpyxl.Workbook()
        for row in content:
            book.active.append(row)
        book.save(tmp_path / name)
    read = read_collection([tmp_path / name])
    stated = read.stated.pivot_table(index="recipe_id", columns="nutrient", values="amount")
    lines = read.line.groupby("recipe_id")["text"].agg(list)
    assert [
        (row.title, row.servings, lines[row.recipe_id], *stated.loc[row.recipe_id])
        for row in read.recipe.itertuples(index=False)
    ] == [
        ("Bean pot", 4, ["400 g beans", "1 onion"], 310, 18),
        ("Rice bowl", 2, ["150 g rice", "1 avocado"], 480, 14),
    ]
    assert not [p for p in read.problems if p.severity != "note"]


@pytest.mark.parametrize(
    ("key", "said"),
    [("plate", True), ("pot", False), ("loaf", False), ("nutrition", True), ("all", True)],
)
def test_numbers_under_what_holds_the_dish_may_be_for_all_of_it(key: str, said: bool) -> None:
    dish = {"title": "Pea pot", "serves": 4, "in": ["300 g peas", "1 onion"], key: {"kcal": 900}}
    (recipe,) = read_json(json.dumps(dish), "p.json").recipes
    assert recipe.basis_said is said
    assert {s.basis for s in recipe.stated} == {"per_recipe" if key == "all" else "per_serving"}


def test_a_basis_that_names_what_holds_the_dish_leaves_it_open() -> None:
    for basis, said in (("pot", False), ("plate", True), ("batch", True)):
        dish = {"title": "T", "serves": 4, "ingredients": ["300 g peas", "1 onion"],
                "figures": {"basis": basis, "kcal": 900}}  # fmt: skip
        (recipe,) = read_json(json.dumps([dish]), "p.json").recipes
        assert recipe.basis_said is said


@pytest.mark.parametrize(
    ("entry", "text"),
    [
        ({"food": "onion", "amount": 1, "size": "large"}, "1 large onion"),
        ({"name": "oil", "qty": 2, "uom": "tbsp", "aisle": "dry"}, "2 tbsp oil"),
        ({"item": "oats", "n": 200, "measured": "g"}, "200 g oats"),
        ({"text": "2 eggs", "food": "eggs", "u": "g"}, "2 eggs"),
        ({"food": "oats", "aisle": 4}, "oats"),
        ({"food": "oats", "qty": 200, "unit": "g", "size": "large"}, "200 g oats"),
    ],
)
def test_a_unit_under_a_key_of_no_table(entry: dict[str, object], text: str) -> None:
    (recipe,) = read_json(
        json.dumps({"title": "T", "ingredients": [entry, entry]}), "e.json"
    ).recipes
    assert [line.text for line in recipe.lines] == [text, text]


def test_a_table_of_ingredients_that_ends_in_its_numbers(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for row in (
        ["Harbour chili"], ["Serves 4"], [], ["Ingredient", "Amount", "kcal", "Protein"],
        ["Beef mince", "500 g", 1250, 90], ["Beans", "400 g", 400, 28], ["Total", None, 1650, 118],
        ["Per serving", None, 413, 29.5],
    ):  # fmt: skip
        book.active.append(row)
    book.save(tmp_path / "chili.xlsx")
    read = read_collection([tmp_path])
    assert read.line["text"].tolist() == ["500 g Beef mince", "400 g Beans"]
    assert set(zip(read.stated["nutrient"], read.stated["amount"], strict=True)) == {
        ("ENERC_KCAL", 413), ("PROCNT", 29.5),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("order E P C F, never another", ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT")),
        ("kcal_fat_carbs_protein", ("ENERC_KCAL", "FAT", "CHOCDF", "PROCNT")),
        ("kpcf", ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT")),
        ("more protein, less fat", ()),
        ("kcal, fat and protein", ()),
    ],
)
def test_an_order_that_a_text_tells(text: str, order: tuple[str, ...]) -> None:
    assert order_in(text) == order


def test_entries_whose_parts_are_lines_themselves_stay() -> None:
    texts = ["300 g | 10 oz pearl barley", "240 ml | 1 cup milk"]
    assert ingredient_entries(texts) == texts
