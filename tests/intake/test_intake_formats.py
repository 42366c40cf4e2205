"""Every form a recipe arrives in, read into the same three tables."""

import json
import math
from pathlib import Path

import duckdb
import jsonschema
import openpyxl
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from pipeline import tables
from pipeline.intake import collection_root, read_collection
from pipeline.resources import shared_path
from pipeline.settings import Settings

JSON_LD = {
    "@context": "https://schema.org",
    "@graph": [
        {"@type": "WebPage", "@id": "#page"},
        {
            "@type": ["Recipe"], "@id": "#recipe", "identifier": "barley-1",
            "name": "Barley &amp; leek bake", "author": {"@id": "#ines"},
            "description": "High in <b>fibre</b>.", "recipeYield": ["6", "6 portions"],
            "recipeIngredient": ["200 g pearl barley", "1/2 cup peas", "For the topping:",
                                 "50 g&nbsp;Parmesan"],
            "recipeInstructions": [{"@type": "HowToSection", "name": "Bake", "itemListElement": []}],
            "nutrition": {"@type": "NutritionInformation", "calories": "1,724 kJ",
                          "proteinContent": "12,5 g", "servingSize": "1 portion"},
        },
        {"@type": "Person", "@id": "#ines", "name": "Ines Varga"},
    ],
}  # fmt: skip


def write(folder: Path, name: str, content: object) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    if not isinstance(content, (str, bytes)):
        content = json.dumps(content)
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def lines(collection, recipe_id=None):
    frame = collection.line
    if recipe_id is not None:
        frame = frame[frame["recipe_id"] == recipe_id]
    return frame["text"].tolist()


def stated(collection, recipe_id=None):
    frame = collection.stated
    if recipe_id is not None:
        frame = frame[frame["recipe_id"] == recipe_id]
    return dict(zip(frame["nutrient"], frame["amount"], strict=True))


def only(collection):
    assert len(collection.recipe) == 1
    return collection.recipe.iloc[0]


def errors(collection):
    return [p for p in collection.problems if p.severity == "error"]


# --- JSON-LD and pages ------------------------------------------------------------------------


def test_json_ld_graph_with_references(tmp_path):
    write(tmp_path, "bake.json", json.dumps(JSON_LD, indent=1))
    collection = read_collection(tmp_path)
    recipe = only(collection)
    assert recipe["recipe_id"] == "barley-1"
    assert recipe["title"] == "Barley & leek bake"
    assert recipe["creator"] == "Ines Varga"
    assert recipe["description"] == "High in fibre ."
    assert recipe["servings"] == 6
    assert recipe["serving_word"] == "portions"
    assert lines(collection) == ["200 g pearl barley", "1/2 cup peas", "For the topping:",
                                 "50 g Parmesan"]  # fmt: skip
    assert collection.line["section"].tolist() == ["", "", "", "For the topping"]
    assert stated(collection) == pytest.approx({"ENERC_KCAL": 1724 / 4.184, "PROCNT": 12.5})
    assert collection.stated["text"].tolist() == ["1,724 kJ", "12,5 g"]
    written = (tmp_path / "bake.json").read_text().split("\n")
    for text, at in zip(["200 g pearl", "1/2 cup"], collection.line["source_line"], strict=False):
        assert text in written[at - 1]


def test_page_with_script_in_a_comment_and_a_trailing_comma(tmp_path):
    script = json.dumps(JSON_LD).replace('"1 portion"}', '"1 portion",}').replace("/", "\\/")
    page = f'<!doctype html><head><script type="application/ld+json"><!--\n{script}\n--></script>'
    write(tmp_path, "page.html", page)
    collection = read_collection(tmp_path / "page.html")
    assert only(collection)["format"] == "html"
    assert lines(collection)[1] == "1/2 cup peas"
    assert set(collection.line["source_line"]) == {2}


def test_legacy_ingredients_and_a_list_of_recipes(tmp_path):
    node = {"@type": "http://schema.org/Recipe", "ingredients": ["1 egg"], "recipeYield": 2}
    write(tmp_path, "two.json", [node | {"name": "A"}, node | {"name": "B"}])
    collection = read_collection(tmp_path)
    assert collection.recipe["recipe_id"].tolist() == ["two.json", "two.json#2"]
    assert collection.recipe["servings"].tolist() == [2, 2]


def test_json_lines(tmp_path):
    node = {"@type": "Recipe", "recipeIngredient": ["1 egg"]}
    text = "\n".join(json.dumps(node | {"name": n}) for n in "ABC")
    write(tmp_path, "bulk.jsonl", text)
    assert read_collection(tmp_path).recipe["title"].tolist() == ["A", "B", "C"]


@pytest.mark.parametrize(
    ("size", "basis", "servings"),
    [("1 serving", "per_serving", 24), ("100 g", "per_100g", 24), ("whole recipe", "per_recipe", 24),
     ("2 crackers", "per_serving", 12)],
)  # fmt: skip
def test_serving_size_decides_the_basis(tmp_path, size, basis, servings):
    node = {"@type": "Recipe", "name": "Rye crackers", "recipeYield": "24 crackers",
            "recipeIngredient": ["150 g rye flour"],
            "nutrition": {"calories": "80 kcal", "servingSize": size}}  # fmt: skip
    write(tmp_path, "rye.json", node)
    collection = read_collection(tmp_path)
    assert collection.stated["basis"].tolist() == [basis]
    assert only(collection)["servings"] == servings


def test_ingredient_objects_are_rendered_as_a_cook_writes(tmp_path):
    entries = [
        {"name": "oats", "amount": 40, "unit": "g", "note": "rolled"},
        {"ingredient": "milk", "quantity": {"value": 250, "unitText": "ml"}},
        {"name": "honey", "grams": 12.5},
        {"text": "1 tsp cinnamon"},
        {"name": "nuts", "amount": "1/4", "unit": "cup", "optional": True},
        "2 eggs\n1 pinch salt",
        ["1 banana"],
    ]
    write(tmp_path, "o.json", {"@type": "Recipe", "name": "Oats", "recipeIngredient": entries})
    assert lines(read_collection(tmp_path)) == [
        "40 g oats, rolled", "250 ml milk", "12.5 g honey", "1 tsp cinnamon",
        "1/4 cup nuts (optional)", "2 eggs", "1 pinch salt", "1 banana",
    ]  # fmt: skip


MICRODATA = """<html><body><div itemscope itemtype="https://schema.org/Recipe">
<h1 itemprop="name">Barley &amp; leek bake</h1>
<p itemprop="author" itemscope itemtype="https://schema.org/Person"><b itemprop="name">Ines</b></p>
Serves <span itemprop="recipeYield">6</span>
<li itemprop="recipeIngredient">200 g <b>pearl barley</b></li><li itemprop="ingredients">2 leeks</li>
<div itemprop="nutrition" itemscope itemtype="https://schema.org/NutritionInformation">
<span itemprop="calories">412 kcal</span><meta itemprop="fatContent" content="11 g"></div></div>"""
RDFA = """<html><body vocab="https://schema.org/"><div typeof="schema:Recipe">
<h1 property="schema:name">Barley &amp; leek bake</h1><span property="author">Ines</span>
<span property="recipeYield">6 servings</span><p property="recipeIngredient">200 g pearl barley</p>
<p property="recipeIngredient">2 leeks</p><div property="nutrition" typeof="NutritionInformation">
<i property="calories">412 kcal</i><i property="fatContent">11 g</i></div></div>"""
CLASSES = """<html><body><div class="h-recipe"><h1 class="p-name">Barley &amp; leek bake</h1>
<span class="p-author">Ines</span><span class="p-yield">Serves 6</span>
<li class="p-ingredient">200 g pearl barley</li><li class="p-ingredient">2 leeks</li>
<p class="e-nutrition">Per serving: 412 kcal, 11 g fat</p></div>"""


@pytest.mark.parametrize("page", [MICRODATA, RDFA, CLASSES], ids=["microdata", "rdfa", "classes"])
def test_recipes_marked_up_in_the_page(tmp_path, page):
    write(tmp_path, "saved.htm", page)
    collection = read_collection(tmp_path)
    recipe = only(collection)
    assert (recipe["title"], recipe["creator"]) == ("Barley & leek bake", "Ines")
    assert recipe["servings"] == 6
    assert lines(collection) == ["200 g pearl barley", "2 leeks"]
    assert stated(collection) == {"ENERC_KCAL": 412, "FAT": 11}


# --- our own form -----------------------------------------------------------------------------

OWN = """\
title: Tofu bowl
id: tofu-1
author: Ana
servings: 2 bowls
yield_g: 640
ingredients:
  - 200 g firm tofu
  - For the sauce:
      - 1 tbsp soy sauce
      - {name: honey, amount: 10.50, unit: g, note: runny}
  - section: To finish
    ingredients: [1 lime]
  - 2 eggs: beaten
stated:
  basis: per serving
  kcal: 412.50
  protein_g: "32"
  carbs_g: 45
  salt_g: 1.25
"""


def test_our_form_in_yaml(tmp_path):
    write(tmp_path, "bowl.yaml", OWN)
    collection = read_collection(tmp_path)
    recipe = only(collection)
    assert (recipe["recipe_id"], recipe["title"], recipe["creator"]) == (
        "tofu-1",
        "Tofu bowl",
        "Ana",
    )
    assert (recipe["servings"], recipe["serving_word"], recipe["yield_g"]) == (2, "bowls", 640)
    frame = collection.line
    assert frame["text"].tolist() == [
        "200 g firm tofu", "For the sauce:", "1 tbsp soy sauce", "10.50 g honey, runny",
        "To finish:", "1 lime", "2 eggs: beaten",
    ]  # fmt: skip
    assert frame["section"].tolist() == [
        "",
        "",
        "For the sauce",
        "For the sauce",
        "",
        "To finish",
        "",
    ]
    assert frame["line_no"].tolist() == [1, 2, 3, 4, 5, 6, 7]
    assert frame["source_line"].tolist() == [7, 8, 9, 10, 11, 12, 13]
    assert stated(collection) == pytest.approx(
        {"ENERC_KCAL": 412.5, "PROCNT": 32, "CHOCDF": 45, "NA": 500}
    )
    assert collection.stated["step"].tolist() == pytest.approx([0.01, 1, 1, 4])
    assert not collection.problems


def test_our_form_in_json_says_the_same(tmp_path):
    write(tmp_path, "bowl.json", yaml.safe_load(OWN))
    collection = read_collection(tmp_path)
    assert only(collection)["format"] == "json"
    assert lines(collection)[3] == "10.5 g honey, runny"
    assert stated(collection)["NA"] == pytest.approx(500)


@pytest.mark.parametrize(
    "numbers",
    [
        "stated: '412 kcal, P 32 g, C 45 g, F 11 g'",
        "macros: {calories: 412, protein: 32g, carbs: 45 g, fat: '11'}",
        "nutrition: {kj: 1723.8, kcal: 412, protein_g: 32, carbs_g: 45, fat_g: 11}",
        "per_serving: {kcal: 412, protein_g: 32, carbs_g: 45, fat_g: 11}",
        "nutrition:\n  per_serving: {kcal: 412, protein_g: 32, carbs_g: 45, fat_g: 11}",
    ],
)
def test_ways_to_state_numbers_in_our_form(tmp_path, numbers):
    write(tmp_path, "a.yml", f"title: A\nservings: 1\ningredients: [1 egg]\n{numbers}\n")
    collection = read_collection(tmp_path)
    assert stated(collection) == {"ENERC_KCAL": 412, "PROCNT": 32, "CHOCDF": 45, "FAT": 11}
    assert set(collection.stated["basis"]) == {"per_serving"}


def test_several_recipes_and_documents(tmp_path):
    write(
        tmp_path, "a.yaml", "- {title: A, ingredients: [1 egg]}\n- {title: B, ingredients: [x]}\n"
    )
    write(
        tmp_path, "b.yaml", "title: C\ningredients: [1 egg]\n---\ntitle: D\ningredients: [1 egg]\n"
    )
    write(tmp_path, "c.yaml", "recipes:\n  - {title: E, ingredients: [1 egg]}\n")
    assert read_collection(tmp_path).recipe["title"].tolist() == list("ABCDE")


def test_the_published_schema_takes_our_form():
    published = json.loads(shared_path("recipe.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(published)
    jsonschema.validate(
        yaml.safe_load(OWN.replace("- 2 eggs: beaten", "- '2 eggs: beaten'")), published
    )
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"title": "no ingredients"}, published)


def test_a_title_that_is_no_text_is_read_and_pointed_out(tmp_path):
    write(tmp_path, "a.json", '{"title": 7, "description": ["x"], "ingredients": ["1 egg"]}')
    collection = read_collection(tmp_path)
    assert collection.recipe["title"].tolist() == ["7"]
    assert [p.what for p in collection.problems if p.code == "form-invalid"] == [
        'the title is not text: "7"', "the description is not text: \"['x']\"",
    ]  # fmt: skip


def test_misspelt_keys_are_pointed_out(tmp_path):
    write(
        tmp_path, "a.yaml", "title: A\ningrediants:\n  - 1 egg\nstated: {kcal: 90, protien_g: 6}\n"
    )
    collection = read_collection(tmp_path)
    assert lines(collection) == ["1 egg"]
    assert {p.fix for p in collection.problems if p.code == "unknown-key"} == {
        'did you mean "protein_g"?', 'did you mean "ingredients"?',
    }  # fmt: skip


# --- tables -----------------------------------------------------------------------------------


def test_wide_csv_of_a_european_spreadsheet(tmp_path):
    write(
        tmp_path, "wide.csv",
        "Title;Servings;Ingredients;Energy (kJ);Protein (g);Fat\r\n"
        'Flapjack;8;"200 g oats\r\n100 g butter";1.724;5,5;12\r\n'
        "\r\nSoup;4;1 onion | 2 carrots;800;3;1,2\r\n",
    )  # fmt: skip
    collection = read_collection(tmp_path)
    places = collection.recipe[["title", "source_line"]].values.tolist()
    assert places == [["Flapjack", 2], ["Soup", 5]]
    assert lines(collection) == ["200 g oats", "100 g butter", "1 onion", "2 carrots"]
    assert stated(collection, "wide.csv") == pytest.approx(
        {"ENERC_KCAL": 1724 / 4.184, "PROCNT": 5.5, "FAT": 12}
    )


def test_numbered_ingredient_columns(tmp_path):
    write(
        tmp_path, "n.csv", "name,serves,ingredient 2,ingredient 1,kcal\nA,2,1 egg,200 g rice,500\n"
    )
    assert lines(read_collection(tmp_path)) == ["200 g rice", "1 egg"]


def test_tidy_csv_groups_rows_and_keeps_their_order(tmp_path):
    write(
        tmp_path, "tidy.csv",
        "recipe,line_no,ingredient,amount,unit,section,serves,kcal,basis\n"
        "Bowl,2,tofu,100,g,For the top,2,1000,per recipe\n"
        "Toast,1,bread,1,slice,,1,90,\n"
        "Bowl,1,rice,200,g,,2,1000,per recipe\n"
        ",2,butter,10,g,,,,\n",
    )  # fmt: skip
    collection = read_collection(tmp_path)
    assert collection.recipe["title"].tolist() == ["Bowl", "Toast"]
    assert lines(collection, "tidy.csv") == ["200 g rice", "100 g tofu", "10 g butter"]
    assert lines(collection, "tidy.csv#2") == ["1 slice bread"]
    assert collection.stated["basis"].tolist() == ["per_recipe", "per_serving"]


def test_parquet_tidy_and_wide(tmp_path):
    target = tmp_path / "wide.parquet"
    duckdb.sql(
        "copy (select 'A' as title, 2 as servings, ['1 egg', '2 toast'] as ingredients, 200.5 as kcal) "
        f"to '{target}'"
    )
    duckdb.sql(
        "copy (select * from (values ('r1', 'B', '1 egg', 3), ('r1', 'B', '2 figs', 3)) "
        f"t(recipe_id, title, line, servings)) to '{tmp_path / 'tidy.parquet'}'"
    )
    collection = read_collection(tmp_path)
    assert collection.recipe["recipe_id"].tolist() == ["r1", "wide.parquet"]
    assert lines(collection) == ["1 egg", "2 figs", "1 egg", "2 toast"]
    assert stated(collection) == {"ENERC_KCAL": 200.5}


def test_spreadsheet_with_a_table_and_with_cards(tmp_path):
    book = openpyxl.Workbook()
    card, plain_card, sheet = book.active, book.create_sheet(), book.create_sheet()
    for row in (
        ["Chickpea bowl"],
        ["Serves", 2],
        [],
        ["Ingredient", "Amount", "Unit"],
        ["chickpeas, drained", 240, "g"],
        ["olive oil", 1, "tbsp"],
        ["Dressing:"],
        ["lemon", "1/2"],
        [],
        ["Calories", 410],
        ["Protein", "15 g"],
        ["Fat (g)", 14],
    ):
        card.append(row)  # fmt: skip
    for row in (
        ["Plain oats"],
        ["Serves 1"],
        ["Oats", 40, "g"],
        ["Milk", 250, "ml"],
        ["Nutrition"],
        ["kcal", 310],
    ):
        plain_card.append(row)  # fmt: skip
    for row in (
        ["Title", "Servings", "Ingredients", "kcal"],
        ["Egg toast", 2, "1 egg\n2 toast", 200],
    ):
        sheet.append(row)
    book.save(tmp_path / "book.xlsx")
    collection = read_collection(tmp_path)
    assert collection.recipe["title"].tolist() == ["Chickpea bowl", "Plain oats", "Egg toast"]
    assert collection.recipe["servings"].tolist() == [2, 1, 2]
    assert lines(collection) == [
        "240 g chickpeas, drained", "1 tbsp olive oil", "Dressing:", "1/2 lemon",
        "40 g Oats", "250 ml Milk", "1 egg", "2 toast",
    ]  # fmt: skip
    assert stated(collection, "book.xlsx") == {"ENERC_KCAL": 410, "PROCNT": 15, "FAT": 14}
    assert not errors(collection)


# --- cards and Markdown -----------------------------------------------------------------------

CARDS = """\
Lentil soup with lemon
by Maren Okafor
Serves 4

A quick soup, high in protein.

Ingredients
- 250 g red lentils, rinsed
- 1½ litres vegetable stock
For the topping:
- 2 tbsp olive oil
- Salt and pepper

Method
1. Rinse the lentils 2 times.
2. Simmer for 20 minutes.

Per serving: 312 kcal, P 15 g, C 41 g, F 9 g
---
Oat squares
Makes 12 squares

200 g rolled oats
100 g butter
2 eggs
a pinch of salt

Mix everything and bake for 20 minutes at 180 degrees until golden

Macros (per square): 210 kcal | 12P 20C 9F

Banana bread
Serves: 10 slices
3 ripe bananas
250g plain flour
SYRUP
2 tbsp honey

Nutrition (per slice)
Calories: 240
Protein: 5 g
Salt: 0.25 g
"""


def test_cards_of_a_text_file(tmp_path):
    write(tmp_path, "soups/cards.txt", CARDS)
    collection = read_collection(tmp_path)
    frame = collection.recipe
    assert frame["recipe_id"].tolist() == [
        "soups/cards.txt", "soups/cards.txt#2", "soups/cards.txt#3"
    ]  # fmt: skip
    assert frame["title"].tolist() == ["Lentil soup with lemon", "Oat squares", "Banana bread"]
    assert frame["servings"].tolist() == [4, 12, 10]
    assert frame["serving_word"].tolist() == ["servings", "squares", "slices"]
    assert frame["creator"].tolist() == ["Maren Okafor", "", ""]
    assert frame["description"].tolist()[0] == "A quick soup, high in protein."
    assert lines(collection, "soups/cards.txt") == [
        "250 g red lentils, rinsed", "1½ litres vegetable stock", "For the topping:",
        "2 tbsp olive oil", "Salt and pepper",
    ]  # fmt: skip
    assert lines(collection, "soups/cards.txt#2") == [
        "200 g rolled oats", "100 g butter", "2 eggs", "a pinch of salt"
    ]  # fmt: skip
    assert lines(collection, "soups/cards.txt#3") == [
        "3 ripe bananas", "250g plain flour", "SYRUP:", "2 tbsp honey"
    ]  # fmt: skip
    assert stated(collection, "soups/cards.txt") == {
        "ENERC_KCAL": 312, "PROCNT": 15, "CHOCDF": 41, "FAT": 9
    }  # fmt: skip
    assert stated(collection, "soups/cards.txt#2")["ENERC_KCAL"] == 210
    assert stated(collection, "soups/cards.txt#3") == {"ENERC_KCAL": 240, "PROCNT": 5, "NA": 100}
    text = CARDS.split("\n")
    for row in collection.line.itertuples():
        assert row.text.rstrip(":") in text[row.source_line - 1]


@pytest.mark.parametrize(
    ("card", "title", "servings", "ingredients"),
    [
        ("3 bean chilli\nServes 4\n400 g kidney beans\n1 onion\n", "3 bean chilli", 4,
         ["400 g kidney beans", "1 onion"]),
        ("Title: Rice\nServings: 2\nIngredients: 200 g rice; 1 egg; salt\nMethod: boil\n", "Rice", 2,
         ["200 g rice", "1 egg", "salt"]),
        ("Porridge\n========\n\n* 40 g oats\n* 250 ml milk\n\nYield: 1 bowl\n", "Porridge", 1,
         ["40 g oats", "250 ml milk"]),
        ("ICE LOLLIES\n\nINGREDIENTS (makes 6)\n300 g berries\n2 tbsp honey\n\nMETHOD\nFreeze.\n",
         "ICE LOLLIES", 6, ["300 g berries", "2 tbsp honey"]),
        ("Toast\nserves one\n\n1. 2 slices bread\n2. 10 g butter\n\n1. Toast it.\n", "Toast", 1,
         ["2 slices bread", "10 g butter"]),
        ("Dal\n\n\u2022 200 g lentils\n\u2022 1 tsp turmeric\n\nServes 3\n200 kcal per serving", "Dal", 3,
         ["200 g lentils", "1 tsp turmeric"]),
    ],
)  # fmt: skip
def test_card_layouts(tmp_path, card, title, servings, ingredients):
    write(tmp_path, "card.txt", card)
    collection = read_collection(tmp_path)
    recipe = only(collection)
    assert recipe["title"] == title
    assert recipe["servings"] == servings
    assert lines(collection) == ingredients


def test_numbers_for_two_pieces_divide_the_servings(tmp_path):
    write(tmp_path, "c.txt", "Rusks\nMakes 24 rusks\n200 g flour\n1 egg\n\nPer 2 rusks: 80 kcal\n")
    recipe = only(read_collection(tmp_path))
    assert (recipe["servings"], recipe["serving_word"]) == (12, "2 rusks")


MARKDOWN = """\
---
title: Chickpea stew
servings: 4
author: Bo
tags: [x, y]
---
# Chickpea stew of ours

Some **prose** with a [link](https://example.org/a).

## Ingredients

- 1 x 400 g tin _chickpeas_
- [ ] 1 onion

### For the rice

| Ingredient | Amount | Unit |
|---|---|---|
| rice | 200 | g |

## Method

1. Cook 20 minutes.

## Nutrition per 100 g

| | |
|---|---|
| Calories | 98 |
| Protein | 5 g |

## Notes
Keeps 3 days.
"""


def test_markdown_with_front_matter(tmp_path):
    write(tmp_path, "stew.md", MARKDOWN)
    collection = read_collection(tmp_path)
    recipe = only(collection)
    assert (recipe["title"], recipe["creator"], recipe["servings"]) == ("Chickpea stew", "Bo", 4)
    assert recipe["description"] == "Some prose with a link."
    assert lines(collection)[:3] == ["1 x 400 g tin chickpeas", "1 onion", "For the rice:"]
    assert lines(collection)[-1] == "200 g rice"
    assert stated(collection) == {"ENERC_KCAL": 98, "PROCNT": 5}
    assert set(collection.stated["basis"]) == {"per_100g"}


def test_markdown_with_several_recipes_under_a_page_title(tmp_path):
    one = "## {0}\n\nServes 2\n\n### Ingredients\n\n- 1 egg\n- 20 g {1}\n\n### Method\n\nCook.\n\n"
    write(
        tmp_path,
        "w.md",
        "# My week\n\n" + one.format("Monday", "oats") + one.format("Tuesday", "rye"),
    )
    collection = read_collection(tmp_path)
    assert collection.recipe["title"].tolist() == ["Monday", "Tuesday"]
    assert lines(collection) == ["1 egg", "20 g oats", "1 egg", "20 g rye"]


# --- the collection ---------------------------------------------------------------------------


def test_tables_have_their_columns_and_types_also_when_empty(tmp_path):
    for collection in (read_collection(tmp_path), read_collection("-", stdin=CARDS)):
        assert list(collection.recipe) == tables.RECIPE
        assert list(collection.stated) == tables.STATED
        assert list(collection.line) == tables.LINE
        assert collection.recipe["servings"].dtype == "float64"
        assert str(collection.line["source_line"].dtype) == "Int64"


def test_standard_input_takes_every_text_form():
    for text in (CARDS, json.dumps(JSON_LD), OWN, MARKDOWN, MICRODATA,
                 "title,serves,ingredients\nA,2,1 egg|2 figs\n"):  # fmt: skip
        collection = read_collection("-", stdin=text)
        assert len(collection.recipe) >= 1
        assert set(collection.recipe["source"]) == {"-"}
        assert not errors(collection)
    assert read_collection(["-"], stdin=CARDS.encode()).recipe["recipe_id"].tolist() == [
        "stdin", "stdin#2", "stdin#3"
    ]  # fmt: skip


def test_content_decides_over_the_ending(tmp_path):
    write(tmp_path, "a.txt", json.dumps(JSON_LD))
    write(tmp_path, "b.json", MICRODATA)
    write(tmp_path, "c.csv", json.dumps(JSON_LD).replace("barley-1", "barley-2"))
    write(tmp_path, "d.txt", "title;servings;ingredients\nA;2;1 egg | 1 fig\n")
    write(tmp_path, "e.txt", "[Sauce]\nTomato sauce\nServes 2\n\n- 400 g tomatoes\n- 1 onion\n")
    collection = read_collection(tmp_path)
    assert collection.recipe["format"].tolist() == ["json-ld", "html", "json-ld", "csv", "card"]


def test_folder_order_companions_and_what_is_left_out(tmp_path):
    card = "{}\nServes 2\n\n- 1 egg\n- 20 g oats\n"
    for name in (
        "b/z.txt",
        "b/a.txt",
        "a.txt",
        ".hidden/x.txt",
        "out/x.txt",
        ".git/x.txt",
        "node_modules/x.txt",
        "verified/x.txt",
    ):
        write(tmp_path, name, card.format(Path(name).stem + name))  # fmt: skip
    for name in ("verified/findings.csv", "verified/report.json", "photo.jpg", "README.md"):
        write(tmp_path, name, b"\xff\xd8\xff")
    for name in ("pantry.csv", "decisions.csv", "steelyard.toml"):
        write(tmp_path, name, "food_name\n")
    collection = read_collection(tmp_path, settings=Settings(creator="Rui"))
    assert collection.recipe["source"].tolist() == ["a.txt", "b/a.txt", "b/z.txt"]
    assert set(collection.recipe["creator"]) == {"Rui"}
    assert collection.pantry_path == tmp_path / "pantry.csv"
    assert collection.decisions_path == tmp_path / "decisions.csv"
    assert not errors(collection)


def test_outputs_written_beside_the_recipes_are_not_read_again(tmp_path):
    write(tmp_path, "a.txt", "A\nServes 2\n\n- 1 egg\n- 20 g oats\n")
    for name in ("findings.csv", "report.json", "recipes.csv", "lines.csv"):
        write(tmp_path, name, "recipe_id,line,title\nx,1 egg,X\n")
    assert read_collection(tmp_path).recipe["title"].tolist() == ["A"]


@pytest.mark.parametrize(
    "names", [("findings.csv", "report.json"), ("drift.html", "drift_recipes.csv")]
)
def test_results_in_a_folder_of_the_collection_are_not_read_again(tmp_path, names):
    write(tmp_path, "a.txt", "A\nServes 2\n\n- 1 egg\n- 20 g oats\n")
    for name in (*names, "report.html", "pages/b.html"):
        write(tmp_path, f"last week/{name}", "recipe_id,line,title\nx,1 egg,X\n")
    assert read_collection(tmp_path).recipe["title"].tolist() == ["A"]


def test_roots(tmp_path):
    one = write(tmp_path, "x/one.txt", "a")
    two = write(tmp_path, "y/two.txt", "a")
    assert collection_root([one]) == tmp_path / "x"
    assert collection_root([tmp_path / "x"]) == tmp_path / "x"
    assert collection_root([one, two]) == tmp_path
    assert collection_root(["-"]) == Path.cwd()


def test_ids_that_repeat_are_told_apart_and_said(tmp_path):
    node = {"@type": "Recipe", "identifier": "r", "name": "A", "recipeIngredient": ["1 egg"]}
    write(tmp_path, "a.json", [node, node])
    write(tmp_path, "b.json", node)
    collection = read_collection(tmp_path)
    assert collection.recipe["recipe_id"].tolist() == ["r", "r~2", "r~3"]
    assert [p.recipe_id for p in collection.problems if p.code == "duplicate-id"] == ["r~2", "r~3"]
    assert collection.line["recipe_id"].tolist() == ["r", "r~2", "r~3"]


def test_one_number_a_nutrient_the_serving_first(tmp_path):
    write(
        tmp_path, "a.txt",
        "Soup\nServes 2\n\n- 200 g peas\n- 1 onion\n\nPer 100 g: 50 kcal\nPer serving: 120 kcal, 8 g fat\n"
        "Whole recipe: 240 kcal\n",
    )  # fmt: skip
    collection = read_collection(tmp_path)
    assert stated(collection) == {"ENERC_KCAL": 120, "FAT": 8}
    assert set(collection.stated["basis"]) == {"per_serving"}
    assert not [p for p in collection.problems if p.code == "stated-twice"]


texts = st.text("abcdefghij xyzé", min_size=1, max_size=20).map(str.strip).filter(bool)


@given(
    title=texts, servings=st.integers(1, 50),
    foods=st.lists(texts, min_size=1, max_size=6), kcal=st.integers(1, 2000),
)  # fmt: skip
def test_every_text_form_round_trips_the_same_recipe(title, servings, foods, kcal):
    ingredients = [f"{at + 1} g {food}" for at, food in enumerate(foods)]
    schema = {"@type": "Recipe", "name": title, "recipeYield": f"{servings} servings",
              "recipeIngredient": ingredients, "nutrition": {"calories": f"{kcal} kcal"}}  # fmt: skip
    own = {
        "title": title,
        "servings": servings,
        "ingredients": ingredients,
        "stated": {"kcal": kcal},
    }
    forms = {
        "json-ld": json.dumps(schema),
        "json": json.dumps(own),
        "yaml": yaml.safe_dump(own, allow_unicode=True, sort_keys=False),
    }
    for form, text in forms.items():
        collection = read_collection("-", stdin=text)
        recipe = only(collection)
        assert recipe["format"] == form
        assert recipe["title"] == " ".join(title.split())
        assert recipe["servings"] == servings
        assert lines(collection) == [" ".join(i.split()) for i in ingredients]
        assert stated(collection) == {"ENERC_KCAL": kcal}


def test_missing_numbers_are_missing_and_never_zero(tmp_path):
    write(tmp_path, "a.txt", "Soup\n\nIngredients\n- 200 g peas\n")
    collection = read_collection(tmp_path)
    assert math.isnan(only(collection)["servings"])
    assert collection.stated.empty
    assert [p.code for p in collection.problems] == ["nothing-stated"]


@pytest.mark.parametrize(
    ("keys", "energy", "basis"),
    [
        ("calories: 320\nprotein: 17 g\ncarbs: 44\nfat: 8", 320, "per_serving"),
        ("kcal: 320\nfat_g: 8", 320, "per_serving"),
        ("energy_kj: 1339", pytest.approx(320, abs=0.1), "per_serving"),
        ("calories: 320\nbasis: per_100g", 320, "per_100g"),
        ("Calories per 100 g: 320", 320, "per_100g"),
        ("energy: 1,339 kJ\nnet carbs: 40 g", pytest.approx(320, abs=0.1), "per_serving"),
    ],
)
def test_numbers_among_the_keys_of_front_matter_are_read(tmp_path, keys, energy, basis):
    (tmp_path / "dal.md").write_text(
        f"---\ntitle: Dal\nserves: 4\n{keys}\n---\n# Dal\n\n- 250 g dried red lentils\n"
    )
    got = read_collection(tmp_path)
    assert got.problems == []
    assert got.recipe["title"].tolist() == ["Dal"]
    assert got.line["text"].tolist() == ["250 g dried red lentils"]
    rows = got.stated[got.stated["nutrient"] == "ENERC_KCAL"]
    assert rows["amount"].tolist() == [energy]
    assert rows["basis"].tolist() == [basis]


def test_numbers_under_a_key_of_their_own_win_over_those_beside_it(tmp_path):
    (tmp_path / "dal.md").write_text(
        "---\ntitle: Dal\nserves: 4\ncalories: 999\nnutrition:\n  calories: 320\n---\n- 250 g lentils\n"
    )
    got = read_collection(tmp_path)
    assert got.stated["amount"].tolist() == [320]
