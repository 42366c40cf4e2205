"""Files in forms that nobody listed (invented): what each says is read by general rules."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from pipeline.intake import Collection, read_collection
from pipeline.intake.columns import field_of, nutrient_named
from pipeline.intake.servings import read_yield


def _read(tmp_path: Path, name: str, text: str) -> Collection:
    (tmp_path / name).write_text(text, encoding="utf-8")
    return read_collection([tmp_path / name])


def _stated(collection: Collection, title: str = "") -> dict[str, tuple[float, str]]:
    recipe = collection.recipe
    wanted = recipe.loc[recipe["title"] == title, "recipe_id"] if title else recipe["recipe_id"]
    mine = collection.stated[collection.stated["recipe_id"].isin(wanted)]
    return {
        tag: (amount, basis)
        for tag, amount, basis in zip(mine["nutrient"], mine["amount"], mine["basis"], strict=True)
    }


def test_a_markdown_table_with_a_column_a_basis_keeps_them_apart(tmp_path: Path) -> None:
    read = _read(
        tmp_path,
        "pot.md",
        "# Smoky bean pot\n\nServes 4\n\n| Nutrition | Per serving | Per 100 g |\n|---|---|---|\n"
        "| Energy | 312 kcal | 89 kcal |\n| Protein | 15 g | 4.3 g |\n\n- 400 g black beans\n",
    )
    assert _stated(read) == {
        "ENERC_KCAL": (312.0, "per_serving"),
        "PROCNT": (15.0, "per_serving"),
    }


@pytest.mark.parametrize(
    ("text", "count"),
    [("2 trays of 6", 12), ("1 batch of 24 cookies", 24), ("2 loaves of 10 slices", 20)],
)
def test_containers_of_several_count_what_is_in_them(text: str, count: float) -> None:
    assert read_yield(text).servings == count


def test_a_sheet_whose_first_cell_names_the_second(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (
        ["Recipe", "Cottage pie"], ["Author", "A. Cook"], ["Portions", 4], [],
        ["Ingredient", "Amount", "Unit"], ["Beef mince", 500, "g"], ["Onion", 1, None],
    ):  # fmt: skip
        sheet.append(row)
    book.save(tmp_path / "pie.xlsx")
    recipe = read_collection([tmp_path / "pie.xlsx"]).recipe
    assert recipe[["title", "creator", "servings"]].values.tolist() == [
        ["Cottage pie", "A. Cook", 4]
    ]


def test_a_german_table_with_decimal_commas(tmp_path: Path) -> None:
    read = _read(
        tmp_path,
        "suppe.csv",
        "Titel;Portionen;Zutaten;kcal;Eiweiß;Kohlenhydrate;Fett\n"
        'Linsensuppe;4;"250 g rote Linsen|1 Zwiebel";285,5;16,2;41,0;7,5\n',
    )
    assert read.recipe["servings"].tolist() == [4.0]
    assert read.line["text"].tolist() == ["250 g rote Linsen", "1 Zwiebel"]
    assert {t: v for t, (v, _) in _stated(read).items()} == {
        "ENERC_KCAL": 285.5, "PROCNT": 16.2, "CHOCDF": 41.0, "FAT": 7.5,
    }  # fmt: skip


def test_a_german_card(tmp_path: Path) -> None:
    read = _read(
        tmp_path,
        "salat.txt",
        "Kartoffelsalat\nFür 4 Personen\n\nZutaten:\n- 800 g Kartoffeln\n\nZubereitung:\n"
        "Kartoffeln kochen.\n\nNährwerte pro Portion: 260 kcal, 4 g Eiweiß, 11 g Fett\n",
    )
    assert read.recipe["servings"].tolist() == [4.0]
    assert read.line["text"].tolist() == ["800 g Kartoffeln"]
    assert _stated(read)["FAT"] == (11.0, "per_serving")
    assert not [p for p in read.problems if p.severity != "note"]


def test_a_list_on_one_line_ends_with_it(tmp_path: Path) -> None:
    read = _read(
        tmp_path,
        "omelette.txt",
        "Green omelette\n\nServes one.\n\nIngredients: 3 eggs, 1 tbsp butter, 30 g feta.\n\n"
        "Whisk, fry, fold.\n\n412 kcal, 27 g protein per serving.\n",
    )
    assert read.line["text"].tolist() == ["3 eggs", "1 tbsp butter", "30 g feta"]


def test_keys_in_words_of_their_own(tmp_path: Path) -> None:
    read = _read(
        tmp_path,
        "pancakes.yml",
        "name: Banana pancakes\nportion count: 2\nwhat you need:\n  - 2 bananas\n  - 4 eggs\n"
        "nutrition per portion:\n  energy: 330 kcal\n  protein: 15 g\n",
    )
    assert read.recipe["servings"].tolist() == [2.0]
    assert len(read.line) == 2
    assert _stated(read)["PROCNT"] == (15.0, "per_serving")


@pytest.mark.parametrize(
    ("name", "field"),
    [("how_many_servings", "servings"), ("number_of_portions", "servings"),
     ("serving_size", None), ("per_serving_size", None), ("colour", None)],
)  # fmt: skip
def test_a_column_is_known_by_its_words(name: str, field: str | None) -> None:
    assert field_of(name, "column") == field


@pytest.mark.parametrize(
    ("name", "tag"),
    [("Eiweiß", "PROCNT"), ("eiweiss", "PROCNT"), ("Total Fat", "FAT"), ("net carbs", "CHOAVLDF"),
     ("of which sugars", "SUGAR"), ("trans fat", None), ("colour", None)],
)  # fmt: skip
def test_names_of_nutrients_are_one_table(name: str, tag: str | None) -> None:
    found = nutrient_named(name)
    assert (found[0] if found else None) == tag


def test_what_the_numbers_were_divided_by_wins_over_a_range(tmp_path: Path) -> None:
    read = _read(
        tmp_path,
        "traybake.txt",
        "Chickpea traybake\nServes: 3-4\n\nYou will need\n- 400 g chickpeas\n\n"
        "Nutrition (per serving, based on 4)\nCalories 190 kcal\nProtein 8 g\n",
    )
    assert read.recipe["servings"].tolist() == [4.0]


def test_letters_among_columns_are_macros(tmp_path: Path) -> None:
    read = _read(
        tmp_path,
        "rice.csv",
        "dish\tportions\tkcal/portion\tP\tC\tF\tingredients\nEgg rice\t2\t480\t16\t68\t15\t200 g rice\n",
    )
    assert {t: v for t, (v, _) in _stated(read).items()} == {
        "ENERC_KCAL": 480, "PROCNT": 16, "CHOCDF": 68, "FAT": 15,
    }  # fmt: skip


def test_recipes_deep_in_a_plan_are_found_in_their_order(tmp_path: Path) -> None:
    meal = '{{"meal": "x", "dish": {{"title": "{}", "serves": 1, "ingredients": ["50 g ham"]}}}}'
    text = f'{{"days": [{{"meals": [{meal.format("One")}, {meal.format("Two")}]}}]}}'
    assert _read(tmp_path, "plan.json", text).recipe["title"].tolist() == ["One", "Two"]


def test_numbers_per_piece_under_a_key_of_its_name(tmp_path: Path) -> None:
    read = _read(
        tmp_path,
        "fritters.yaml",
        "title: Corn fritters\nyield: 8 fritters\ningredients:\n  - 2 eggs\n"
        "per fritter: {kcal: 95, protein: 4}\n",
    )
    assert _stated(read) == {"ENERC_KCAL": (95, "per_serving"), "PROCNT": (4, "per_serving")}


@pytest.mark.parametrize(
    ("title", "servings"),
    [
        ("Brownies (16 squares)", [16.0]),
        ("Pasta (5 ingredients)", []),
        ("Soup (20 minutes)", []),
        ("Rice (meal three)", []),
    ],
)
def test_pieces_in_the_brackets_of_a_title(
    tmp_path: Path, title: str, servings: list[float]
) -> None:
    read = _read(
        tmp_path, "a.txt", f"{title}\n- 200 g oats\n- 2 eggs\n\n228 kcal, 3 g protein each\n"
    )
    assert read.recipe["servings"].dropna().tolist() == servings


def test_a_line_that_only_says_for_how_many(tmp_path: Path) -> None:
    read = _read(tmp_path, "a.txt", "Salmon\n(for 2)\n- 240 g salmon\n- 15 g butter\n\n455 kcal\n")
    assert read.recipe["servings"].tolist() == [2.0]


def test_amounts_that_only_the_steps_say(tmp_path: Path) -> None:
    read = _read(
        tmp_path,
        "orzo.txt",
        "One-pot orzo\n\nServes 3\n\n1. Heat 1 tbsp olive oil in a pot and soften 1 chopped onion.\n"
        "2. Add 250 g orzo and 600 ml vegetable stock.\n\nPer serving: 455 kcal, 18 g protein\n",
    )
    lines = list(zip(read.line["text"], read.line["source_line"], strict=True))
    assert lines == [
        ("1 tbsp olive oil", 5), ("1 chopped onion", 5), ("250 g orzo", 6),
        ("600 ml vegetable stock", 6),
    ]  # fmt: skip
    assert [p.code for p in read.problems] == ["lines-from-steps"]
