"""Files in forms that nobody listed (invented): what each says is read by general rules."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from pipeline.intake import Collection, read_collection
from pipeline.intake.by_content import best_title
from pipeline.intake.columns import field_of, nutrient_column, nutrient_named
from pipeline.intake.counted import count_of
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
    "a costing sheet: what is used of what was bought, its count beside the title, no total": (
        "sheet.csv",
        "Galley costs, week 9,,,,\n,,,,\nRECIPE,Tray flapjack,,bars,24\n"
        "ingredient,pack size,weight used,cost/pack,cost line\nRolled oats,1 kg,700,1.10,0.77\n"
        "Butter,250 g,350,2.20,3.08\nGolden syrup,907 g tin,250,2.75,0.76\nTOTAL,,,,4.61\n"
        "PER BAR,cal 286,prot 4,fat 14,\n",
        24, ["700 g Rolled oats", "350 g Butter", "250 g Golden syrup"],
        _per_serving(286, 4, FAT=14),
    ),
    "amounts under their name stand, whatever was purchased": (
        "pudding.csv",
        "Rice pudding,,\nserves 6,,\nproduct,purchased,amount used\nPudding rice,500 g packet,150 g\n"
        "Whole milk,2 L,1.2 litres\nSugar,1 kg,80 g\nkcal per serving,268,\nprotein per serving,8,\n",
        6, ["150 g Pudding rice", "1.2 litres Whole milk", "80 g Sugar"], _per_serving(268, 8),
    ),
    "what numbers are for one of is counted in an aside above the list": (
        "burgers.txt",
        "Turkey rounds\n(gives you 6 patties, no buns counted)\n- 900 g turkey mince\n- 2 eggs\n\n"
        "Count for one patty: energy 264 kcal, protein 31 g.\n",
        6, ["900 g turkey mince", "2 eggs"], _per_serving(264, 31),
    ),
    "what numbers are for one of, counted in a word of two": (
        "salad.txt",
        "Bean salad\n3 lunchboxes\n\n- 480 g white beans\n- 100 g red onion\n- 60 ml olive oil\n\n"
        "per box: 330 kcal, 12 g protein\n",
        3, ["480 g white beans", "100 g red onion", "60 ml olive oil"], _per_serving(330, 12),
    ),
    "dozens of what the numbers are for one of": (
        "nuts.txt",
        "Ginger nuts\nthis gives half a dozen\n\n- 200 g flour\n- 60 g butter\n\n"
        "Per nut: 195 kcal, protein 3.6 g\n",
        6, ["200 g flour", "60 g butter"], _per_serving(195, 3.6),
    ),
    "a list parted by slashes over several lines, and what one of the pots weighs": (
        "label.txt",
        "HARICOT POT\n kettle gives 8 tubs, 250 g in the tub\n"
        " haricot beans 700 g (dry) / smoked bacon 200 g / treacle 100 g /\n"
        " eggs, 4 hard boiled (200 g) / onions 2 (220 g) / tomato paste 80 g\n"
        " EACH TUB HAS 1540 kJ (368 kcal) protein 19 g\n",
        8, ["haricot beans 700 g (dry)", "smoked bacon 200 g", "treacle 100 g",
            "eggs, 4 hard boiled (200 g)", "onions 2 (220 g)", "tomato paste 80 g"],
        _per_serving(368, 19),
    ),
    "a table of a text whose columns have names of their own": (
        "bake.md",
        "# Potato bake\n\nServes 8\n\n| how much | of what | watch |\n|---|---|---|\n"
        "| 3 lb | potatoes | thin |\n| 2 | onions | rings |\n| 1 jug, 600 ml | milk | warm |\n\n"
        "Each: 215 kcal, protein 6 g\n",
        8, ["3 lb potatoes, thin", "2 onions, rings", "milk (1 jug, 600 ml), warm"],
        _per_serving(215, 6),
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
     ("grams_used", "grams"), ("qty_in_recipe", "amount"), ("weight_of_pack", None),
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


def test_a_table_on_its_side_with_units_in_the_names_of_its_rows(tmp_path: Path) -> None:
    text = (
        "name,Deck oats,Bean pot\nkcal,310,280\nprotein_g,11,15\nserves,2,4\noats_g,100,\n"
        "whole_milk_ml,300,\nbutter_g,20,15\nharicot_beans_g,,300\n"
    )
    read = _read(tmp_path, "side.csv", text)
    assert read.recipe["servings"].tolist() == [2, 4]
    assert read.line["text"].tolist() == [
        "100 g oats", "300 ml whole milk", "20 g butter", "15 g butter", "300 g haricot beans"
    ]  # fmt: skip


def test_what_one_pot_weighs_is_no_food(tmp_path: Path) -> None:
    read = _read(
        tmp_path, "label.txt", _FILES[next(n for n in _FILES if "one of the pots" in n)][1]
    )
    assert read.recipe["yield_g"].tolist() == [2000]


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("(a dozen. From the freezer)", "12 nuts"),
        ("makes two dozen", "24 nuts"),
        ("Half a dozen, small", "6 nuts"),
        ("made it a dozen times", ""),
        ("a dozen eggs", ""),
    ],
)
def test_dozens_without_a_noun(text: str, count: str) -> None:
    assert count_of("nut", [text]) == count


@pytest.mark.parametrize(
    ("texts", "title"),
    [
        (["Harbour supper", "Leeks in butter, fish last. Never boil it."], "Harbour supper"),
        (["Stir the peas until they are soft.", "Monday pot"], "Monday pot"),
        (["JOB C", "Pea stew!"], "Pea stew!"),
    ],
)
def test_a_sentence_is_no_title_beside_another_text(texts: list[str], title: str) -> None:
    assert best_title(texts, ["200 g dried peas", "30 g butter", "2 leeks"]) == title


@pytest.mark.parametrize(
    ("key", "tag"),
    [("of_it_sugars", "SUGAR"), ("fibre in that", "FIBTG"), ("of_milk", None), ("of_it", None)],
)
def test_a_nutrient_said_to_be_part_of_another(key: str, tag: str | None) -> None:
    column = nutrient_column(key)
    assert (column and column.tag) == tag


def test_a_line_of_a_list_that_names_another_recipe_of_the_page(tmp_path: Path) -> None:
    page = (
        "<!DOCTYPE html><html><body><h1>Sunday pot</h1><p>It feeds six.</p><h3>You want</h3>"
        "<div>1 kg silverside, soaked overnight</div><div>500 g carrots</div>"
        "<div>the herb dumplings from further down, all of them</div><h3>Method</h3>"
        "<p>Simmer two hours, then add the herb dumplings.</p>"
        "<p>A bowl: 420 kcal, protein 38 g, carbs 22 g, fat 19 g.</p>"
        "<h1>Herb dumplings</h1><p>Comes out at 600 g.</p><div>200 g self-raising flour</div>"
        "<div>100 g suet</div><p>The entire lot: 1,500 kcal, protein 22 g, fat 90 g.</p></body></html>"
    )
    read = _read(tmp_path, "pot.html", page)
    assert read.line["text"].tolist()[1:] == [
        "1 kg silverside, soaked overnight", "500 g carrots",
        "the herb dumplings from further down, all of them",
        "200 g self-raising flour", "100 g suet",
    ]  # fmt: skip
    assert read.recipe["yield_g"].tolist()[1] == 600


def test_a_line_nobody_knows_costs_neither_title_nor_servings(tmp_path):
    (tmp_path / "a.txt").write_text(
        "Mush 5\nServes 2\n\n100 g rice\n10 g butter\n10 g X5\n\nPer serving: 217 kcal\n"
    )
    found = read_collection([tmp_path])
    assert found.recipe["title"].tolist() == ["Mush 5"]
    assert found.recipe["servings"].tolist() == [2]
    assert found.line["text"].tolist() == ["100 g rice", "10 g butter", "10 g X5"]


SHEET = [
    ["Harbour pea soup"], ["Cuts", 10, "bowls of 350 g"], ["Ingredient", "Qty (g)", "£/kg", "Cost"],
    ["Split peas", 900, 2.1, 1.89], ["Onions", 400, 0.7, 0.28], ["Rapeseed oil", 60, 3.2, 0.19],
    ["Total cost", None, None, 2.36], ["Sell at", 4.5, "per bowl"], ["Cooked weight", 3500],
    [], ["Per 100 g", "kcal", 106], [None, "Protein", 6.1], [None, "Fat", 2.2],
]  # fmt: skip


@pytest.mark.parametrize("sums", ["Total cost", "Total"])
def test_below_the_total_of_a_list_nothing_is_food(tmp_path: Path, sums: str) -> None:
    book = openpyxl.Workbook()
    for row in SHEET:
        book.active.append([sums if cell == "Total cost" else cell for cell in row])
    book.save(tmp_path / "costs.xlsx")
    read = read_collection([tmp_path])
    assert read.line["text"].tolist() == ["900 g Split peas", "400 g Onions", "60 g Rapeseed oil"]
    assert read.recipe[["servings", "yield_g"]].to_numpy().tolist() == [[10, 3500]]
    assert _stated(read)["ENERC_KCAL"] == (106, "per_100g")


def test_a_list_goes_on_below_the_total_of_a_part(tmp_path: Path) -> None:
    rows = ["Pie,", "serves,4", "Ingredient,Grams", "flour,300", "butter,150", "Total,450",
            "apples,600", "sugar,60", "Total,660", ",", "kcal per serving,707", "protein,7"]  # fmt: skip
    (tmp_path / "pie.csv").write_text("\n".join(rows), encoding="utf-8")
    assert read_collection([tmp_path]).line["text"].tolist() == [
        "300 g flour", "150 g butter", "600 g apples", "60 g sugar",
    ]  # fmt: skip


@pytest.mark.parametrize("last", [[], ["Thu: nothing, we are at sea"]])
def test_foods_with_their_own_energy_stand_below_a_title_beside_what_it_makes(
    tmp_path: Path, last: list[str]
) -> None:
    book = openpyxl.Workbook()
    for row in (
        ["Mon: pea rice", None, None, "2 boxes"], [None, "g", "kcal", "protein", "fat"],
        ["Rice, cooked", 400, 520, 10.8, 1.2], ["Peas", 200, 162, 10.8, 0.8],
        ["Total", None, 682, 21.6, 2], ["Per box", None, 341, 10.8, 1], [],
        ["Tue: egg rice"], [None, "g", "kcal", "protein", "fat"],
        ["Rice, cooked", 200, 260, 5.4, 0.6], ["Eggs", 100, 143, 12.6, 9.5],
        ["Per box", None, 403, 18, 10.1], [], last,
    ):  # fmt: skip
        book.active.append(row)
    book.save(tmp_path / "week.xlsx")
    read = read_collection([tmp_path])
    assert read.recipe["title"].tolist() == ["Mon: pea rice", "Tue: egg rice"]
    assert read.recipe["servings"].tolist()[0] == 2
    assert read.line["text"].tolist() == [
        "400 g Rice, cooked", "200 g Peas", "200 g Rice, cooked", "100 g Eggs",
    ]  # fmt: skip
    energy = read.stated[read.stated["nutrient"] == "ENERC_KCAL"]
    assert (341, "per_serving") in set(zip(energy["amount"], energy["basis"], strict=True))
