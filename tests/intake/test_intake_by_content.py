"""Tables and exports whose names say nothing: what holds the ingredients is told by its content."""

from __future__ import annotations

import json

import pytest

from pipeline.intake.by_content import column_of_lines, column_of_names, holds_lines
from pipeline.intake.columns import field_of, nutrient_column
from pipeline.intake.structured.documents import read_json, read_yaml
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
    assert [p.code for p in read.problems] == ["read-by-content"]
    assert "Bits that go in" in read.problems[0].what


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


def test_which_column_is_which() -> None:
    columns = [["1", "2"], ["Stew", "Slaw"], ["2 eggs\n1 onion", "3 figs\n5 g salt"]]
    assert (column_of_names(columns), column_of_lines(columns)) == (1, 2)
    assert column_of_lines(columns[:2]) is None


@pytest.mark.parametrize("name", ["feeds", "feeds_how_many", "how_many_servings"])
def test_a_name_that_asks_how_many(name: str) -> None:
    assert field_of(name, "column") == "servings"


def test_pp_is_per_person() -> None:
    assert (column := nutrient_column("Prot pp (g)")) is not None
    assert (column.tag, column.unit, column.basis) == ("PROCNT", "g", "per_serving")
