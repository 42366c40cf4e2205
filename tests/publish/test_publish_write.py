"""A starter collection, exports for other programs, and the schemas of the files people keep."""

import csv
import json
import tomllib
from dataclasses import asdict

import jsonschema
import pandas as pd
import pytest

from pipeline.intake import read_collection
from pipeline.memory import decisions, pantry
from pipeline.publish.write import export, new_collection, slug, write_cards
from pipeline.resources import shared_path
from pipeline.settings import Settings, load_settings

CARDS = """\
Pea soup: quick
by Ada
Makes 4 bowls
Cooked weight: 1.2 kg

Description: High in fibre.

Ingredients
- 400 g peas
For the top:
- 2 tbsp yogurt

Per bowl: 210 kcal, protein 12 g, net carbs 20 g, salt 0.5 g
---
Pea soup: quick
Serves 2

- 200 g rice
- 1 egg

Per 100 g: 130 kcal
"""


@pytest.fixture
def collection():
    return read_collection("-", stdin=CARDS)


def test_a_starter_collection_is_a_working_one(tmp_path):
    made = new_collection(tmp_path / "mine")
    assert {p.name for p in made.paths} == {
        "lemon-lentil-soup.txt", "pantry.csv", "decisions.csv", "steelyard.toml"
    }  # fmt: skip
    assert load_settings(tmp_path / "mine") == Settings()
    collection = read_collection(tmp_path / "mine")
    assert not collection.problems
    assert collection.recipe["servings"].tolist() == [4]
    assert len(collection.line) == 7
    assert len(collection.stated) == 4
    foods, problems = pantry.load_pantry(collection.pantry_path)
    assert len(foods.foods) == 1
    assert not problems
    answers, problems = decisions.load_decisions(collection.decisions_path)
    assert not answers.rows
    assert not problems


def test_the_starter_settings_name_every_setting_with_its_default(tmp_path):
    new_collection(tmp_path)
    text = (tmp_path / "steelyard.toml").read_text()
    uncommented = "\n".join(line[2:] for line in text.split("\n") if " = " in line)
    assert tomllib.loads(uncommented) == asdict(Settings())


def test_what_is_there_is_left_alone(tmp_path):
    (tmp_path / "pantry.csv").write_text("mine")
    made = new_collection(tmp_path)
    assert (tmp_path / "pantry.csv").read_text() == "mine"
    assert [p.code for p in made.problems] == ["file-exists"]
    assert len(made.paths) == 3


def test_json_ld_holds_the_verified_numbers(collection, tmp_path):
    verified = pd.DataFrame({"recipe_id": ["stdin"], "kcal": [222.0], "fiber_g": [float("nan")]})
    paths = export(collection, tmp_path, "json-ld", verified)
    assert [p.name for p in paths] == ["pea-soup-quick.json", "pea-soup-quick-2.json"]
    first, second = (json.loads(p.read_text()) for p in paths)
    assert first["name"] == "Pea soup: quick"
    assert first["recipeYield"] == "4 bowls"
    assert first["nutrition"] == {
        "@type": "NutritionInformation", "servingSize": "1 serving", "calories": "222 kcal"
    }  # fmt: skip
    assert second["nutrition"]["servingSize"] == "100 g"
    again = read_collection(tmp_path)
    assert again.line.drop(columns="source_line").sort_values(["text"])["text"].tolist() == sorted(
        collection.line["text"]
    )


SOUP = """Weir soup
Makes 1 bowl

Ingredients
- 400 g peas

Per serving: 320 kcal

Method
Boil the peas 10 minutes.
Serve with 20 g butter on top.
"""


def test_the_method_goes_out_with_the_recipe_and_comes_back(tmp_path):
    collection = read_collection("-", stdin=SOUP)
    steps = ["Boil the peas 10 minutes.", "Serve with 20 g butter on top."]
    path = export(collection, tmp_path / "j", "json-ld")[0]
    node = json.loads(path.read_text())
    assert [step["text"] for step in node["recipeInstructions"]] == steps
    assert node["recipeYield"] == "1 bowl"
    made = write_cards(collection, tmp_path / "c")
    assert not made.problems
    export(collection, tmp_path / "t" / "all.csv", "csv")
    for folder in ("j", "c", "t"):
        again = read_collection(tmp_path / folder)
        assert again.recipe["method"].item().splitlines()[-2:] == steps
        assert again.line["text"].tolist() == ["400 g peas"]
        assert again.stated["amount"].tolist() == [320.0]


def test_cards_read_back_as_the_same_collection(collection, tmp_path):
    made = write_cards(collection, tmp_path)
    assert [p.name for p in made.paths] == ["pea-soup-quick.txt", "pea-soup-quick-2.txt"]
    again = read_collection(made.paths)
    same = ["title", "servings", "serving_word", "yield_g", "creator", "description"]
    pd.testing.assert_frame_equal(again.recipe[same], collection.recipe[same])
    assert again.line["text"].tolist() == collection.line["text"].tolist()
    assert again.stated["amount"].tolist() == collection.stated["amount"].tolist()


def test_a_method_that_would_be_read_as_something_else_is_told(tmp_path):
    collection = read_collection("-", stdin=SOUP)
    collection.recipe["method"] = "Boil.\n\n---\n\nOther soup\nServes 2\n\n- 2 eggs"
    made = write_cards(collection, tmp_path)
    assert [p.code for p in made.problems] == ["method-left-out"]
    assert "2 eggs" not in made.paths[0].read_text()


def test_parquet_reads_back_as_the_same_collection(collection, tmp_path):
    export(collection, tmp_path / "all.parquet", "parquet")
    again = read_collection(tmp_path)
    same = ["recipe_id", "title", "servings", "serving_word", "yield_g", "creator", "description"]
    pd.testing.assert_frame_equal(again.recipe[same], collection.recipe[same])
    columns = ["recipe_id", "line_no", "section", "text"]
    pd.testing.assert_frame_equal(again.line[columns], collection.line[columns])
    order = ["recipe_id", "nutrient"]
    keep = [*order, "amount", "basis"]
    pd.testing.assert_frame_equal(
        again.stated[keep].sort_values(order, ignore_index=True),
        collection.stated[keep].sort_values(order, ignore_index=True),
    )


def test_csv_has_one_row_a_recipe_and_reads_back(collection, tmp_path):
    export(collection, tmp_path / "all.csv", "csv")
    with (tmp_path / "all.csv").open(newline="") as handle:
        rows = list(csv.DictReader(handle))
    assert [r["kcal"] for r in rows] == ["210.0", "130.0"]
    again = read_collection(tmp_path)
    assert again.line["text"].tolist() == collection.line["text"].tolist()
    assert again.recipe["recipe_id"].tolist() == ["stdin", "stdin#2"]


def test_file_names_hold_no_path():
    assert slug("../../etc/passwd") == "etc-passwd"
    assert slug("Crème brûlée ½!") == "creme-brulee-12"
    assert slug("???") == "recipe"


@pytest.mark.parametrize(
    ("schema", "columns", "good", "bad"),
    [
        ("pantry", pantry.COLUMNS, {"food_name": "Whey", "serving_g": "30", "kcal": "118", "fat_g": ""},
         {"food_name": "Whey", "serving_g": 0, "kcal": 118}),
        ("decisions", decisions.COLUMNS, {"text": "1 egg", "food_id": "sr28:01123", "grams": "50"},
         {"text": "1 egg", "grams": "-5"}),
    ],
)  # fmt: skip
def test_schemas_of_pantry_and_decisions(schema, columns, good, bad):
    published = json.loads(shared_path(f"{schema}.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(published)
    assert list(published["properties"]) == columns
    jsonschema.validate(good, published)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(bad, published)
