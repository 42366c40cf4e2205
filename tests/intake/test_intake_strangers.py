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


def _stated(collection: Collection) -> dict[str, tuple[float, str]]:
    stated = collection.stated[["nutrient", "amount", "basis"]]
    return {tag: (amount, basis) for tag, amount, basis in stated.itertuples(index=False)}


def _per_serving(kcal: float, protein: float, **more: float) -> dict[str, tuple[float, str]]:
    values = {"ENERC_KCAL": kcal, "PROCNT": protein, **more}
    return {tag: (value, "per_serving") for tag, value in values.items()}


#: File, its text, and what is read: servings, ingredient lines and stated numbers.
_FILES = {
    "a table with a column a basis keeps them apart": (
        "pot.md",
        "# Smoky bean pot\n\nServes 4\n\n| Nutrition | Per serving | Per 100 g |\n|---|---|---|\n"
        "| Energy | 312 kcal | 89 kcal |\n| Protein | 15 g | 4.3 g |\n\n- 400 g black beans\n",
        4, ["400 g black beans"], _per_serving(312, 15),
    ),
    "a German table with decimal commas": (
        "suppe.csv",
        "Titel;Portionen;Zutaten;kcal;Eiweiß;Kohlenhydrate;Fett\n"
        'Linsensuppe;4;"250 g rote Linsen|1 Zwiebel";285,5;16,2;41,0;7,5\n',
        4, ["250 g rote Linsen", "1 Zwiebel"], _per_serving(285.5, 16.2, CHOCDF=41, FAT=7.5),
    ),
    "a German card": (
        "salat.txt",
        "Kartoffelsalat\nFür 4 Personen\n\nZutaten:\n- 800 g Kartoffeln\n\nZubereitung:\n"
        "Kartoffeln kochen.\n\nNährwerte pro Portion: 260 kcal, 4 g Eiweiß, 11 g Fett\n",
        4, ["800 g Kartoffeln"], _per_serving(260, 4, FAT=11),
    ),
    "a list on one line ends with it": (
        "omelette.txt",
        "Green omelette\n\nServes one.\n\nIngredients: 3 eggs, 1 tbsp butter, 30 g feta.\n\n"
        "Whisk, fry, fold.\n\n412 kcal, 27 g protein per serving.\n",
        1, ["3 eggs", "1 tbsp butter", "30 g feta"], _per_serving(412, 27),
    ),
    "keys in words of their own": (
        "pancakes.yml",
        "name: Banana pancakes\nportion count: 2\nwhat you need:\n  - 2 bananas\n  - 4 eggs\n"
        "nutrition per portion:\n  energy: 330 kcal\n  protein: 15 g\n",
        2, ["2 bananas", "4 eggs"], _per_serving(330, 15),
    ),
    "what the numbers were divided by wins over a range": (
        "traybake.txt",
        "Chickpea traybake\nServes: 3-4\n\nYou will need\n- 400 g chickpeas\n\n"
        "Nutrition (per serving, based on 4)\nCalories 190 kcal\nProtein 8 g\n",
        4, ["400 g chickpeas"], _per_serving(190, 8),
    ),
    "letters among columns are macros": (
        "rice.csv",
        "dish\tportions\tkcal/portion\tP\tC\tF\tingredients\nEgg rice\t2\t480\t16\t68\t15\t200 g rice\n",
        2, ["200 g rice"], _per_serving(480, 16, CHOCDF=68, FAT=15),
    ),
    "numbers per piece under a key of its name": (
        "fritters.yaml",
        "title: Corn fritters\nyield: 8 fritters\ningredients:\n  - 2 eggs\n"
        "per fritter: {kcal: 95, protein: 4}\n",
        8, ["2 eggs"], _per_serving(95, 4),
    ),
    "a line that only says for how many": (
        "a.txt",
        "Salmon\n(for 2)\n- 240 g salmon\n- 15 g butter\n\n455 kcal, 24 g protein\n",
        2, ["240 g salmon", "15 g butter"], _per_serving(455, 24),
    ),
}  # fmt: skip


@pytest.mark.parametrize(
    ("name", "text", "servings", "lines", "stated"), _FILES.values(), ids=list(_FILES)
)
def test_a_file_is_read(
    tmp_path: Path, name: str, text: str, servings: float, lines: list[str],
    stated: dict[str, tuple[float, str]],
) -> None:  # fmt: skip
    read = _read(tmp_path, name, text)
    assert read.recipe["servings"].tolist() == [servings]
    assert read.line["text"].tolist() == lines
    assert _stated(read) == stated
    assert not [p for p in read.problems if p.severity != "note"]


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


def test_recipes_deep_in_a_plan_are_found_in_their_order(tmp_path: Path) -> None:
    meal = '{{"meal": "x", "dish": {{"title": "{}", "serves": 1, "ingredients": ["50 g ham"]}}}}'
    text = f'{{"days": [{{"meals": [{meal.format("One")}, {meal.format("Two")}]}}]}}'
    assert _read(tmp_path, "plan.json", text).recipe["title"].tolist() == ["One", "Two"]


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
