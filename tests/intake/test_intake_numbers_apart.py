"""Numbers that stand apart from the ingredients: ledgers, sheets of totals, tables at the end of a book."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from pipeline.intake import Collection, read_collection
from pipeline.intake.model import RawLine, RawMark, RawRecipe, RawStated, Read
from pipeline.intake.numbers_apart import join, name_recipes, title_words
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.number_list import number_lists
from pipeline.problems import SteelyardError
from pipeline.publish.amend import Amendment, amend
from pipeline.publish.correct import write_corrected
from pipeline.run import verify
from pipeline.web.reread import with_files_read_again

#: Title, servings, ingredients and numbers (kcal, protein, carbohydrate, fat).
RECIPES = {
    "Quay chilli": (5, ["600 g beef mince", "480 g kidney beans"], (420, 34, 35, 16)),
    "Tunnel macaroni": (4, ["400 g macaroni", "250 g cheddar"], (703, 29, 78, 32)),
    "Red lentil and cumin soup": (6, ["300 g red lentils", "30 g olive oil"], (286, 20, 40, 9)),
}
NUMBERS = {
    title: dict(zip(("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT"), map(float, row), strict=True))
    for title, (_, _, row) in RECIPES.items()
}


def _cards(folder: Path) -> None:
    for title, (servings, lines, _) in RECIPES.items():
        text = f"{title}\nServes {servings}\n\n" + "\n".join(lines) + "\n\nCook it slowly.\n"
        (folder / f"{title}.txt").write_text(text)


def _csv(folder: Path) -> None:
    _cards(folder)
    rows = (f"{t.upper()};{a};{b},0;{c};{d}" for t, (_, _, (a, b, c, d)) in RECIPES.items())
    (folder / "sums.csv").write_text("\n".join(["Dish;kcal each;Protein;Carbs;Fat", *rows]))


def _turned(folder: Path) -> None:
    _cards(folder)
    names = ("kcal", "protein (g)", "carbs (g)", "fat (g)")
    columns = zip(*(numbers for _, _, numbers in RECIPES.values()), strict=True)
    rows = [",".join([n, *map(str, c)]) for n, c in zip(names, columns, strict=True)]
    (folder / "sums.csv").write_text("\n".join([",".join(["per serving", *RECIPES]), *rows]))


def _workbook(folder: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Recipe", "Serves", "Ingredient"])
    for title, (servings, lines, _) in RECIPES.items():
        for line in lines:
            sheet.append([title, servings, line])
    totals = book.create_sheet("Totals")
    totals.append(["What a portion has"])
    totals.append([])
    totals.append(["", "kcal", "P", "C", "F"])
    for title, (_, _, numbers) in RECIPES.items():
        totals.append([title, *numbers])
    book.save(folder / "kitchen.xlsx")


def _json(folder: Path) -> None:
    _cards(folder)
    keys = ("calories", "protein", "carbs", "fat")
    by_title = {t: dict(zip(keys, n, strict=True)) for t, (_, _, n) in RECIPES.items()}
    (folder / "macros.json").write_text(json.dumps({"per serving": by_title}))


def _yaml(folder: Path) -> None:
    _cards(folder)
    rows = (
        f"- name: {t}\n  calories: {a}\n  protein: {b} g\n  carbs: {c} g\n  fat: {d} g\n"
        for t, (_, _, (a, b, c, d)) in RECIPES.items()
    )
    (folder / "macros.yaml").write_text("".join(rows))


def _said(title: str) -> str:
    a, b, c, d = RECIPES[title][2]
    return f"{a} kcal, {b} g protein, {c} g carbs, {d} g fat"


def _list(folder: Path) -> None:
    _cards(folder)
    rows = "\n".join(f"{title} - {_said(title)}" for title in RECIPES)
    (folder / "sums.txt").write_text(f"What each portion comes to\n\n{rows}\n")


def _below_titles(folder: Path) -> None:
    _cards(folder)
    rows = "\n\n".join(f"{title}\nPer serving: {_said(title)}" for title in RECIPES)
    (folder / "sums.txt").write_text(rows)


def _blocks(folder: Path) -> None:
    _cards(folder)
    names = ("Energy: {} kcal", "Protein: {} g", "Carbs: {} g", "Fat: {} g")
    parts = [
        "\n".join(
            [f"## {t}", "", *(f"- {name.format(v)}" for name, v in zip(names, n, strict=True))]
        )
        for t, (_, _, n) in RECIPES.items()
    ]
    (folder / "sums.md").write_text("\n\n".join(["# Nutrition per portion", *parts]))


def _aligned(folder: Path) -> None:
    _cards(folder)
    rows = (f"{t:30}{a:>6}{b:>6}{c:>6}{d:>6}" for t, (_, _, (a, b, c, d)) in RECIPES.items())
    head = f"{'Dish':30}  kcal  prot  carb   fat\n" + "-" * 54
    (folder / "sums.txt").write_text("\n".join(["WHAT IT COMES TO", "", head, *rows]))


def _lists(folder: Path) -> None:
    """Lists of which nothing but the ledger shows that they are recipes."""
    parts = ["\n".join([title, "", *lines]) for title, (_, lines, _) in RECIPES.items()]
    (folder / "what goes in.txt").write_text("\n\n\n".join(parts))
    rows = (f"{t},{s},{a},{b},{c},{d}" for t, (s, _, (a, b, c, d)) in RECIPES.items())
    (folder / "ledger.csv").write_text("\n".join(["Dish,Serves,kcal,protein,carbs,fat", *rows]))


def _lettered(folder: Path) -> None:
    lettered = list(zip("ABC", RECIPES.items(), strict=True))
    parts = [
        "\n".join([f"{letter}.  {title}      does {servings}", "", *lines])
        for letter, (title, (servings, lines, _)) in lettered
    ]
    (folder / "what goes in.txt").write_text("\n\n\n".join(parts))
    rows = (f"{letter},{a},{b},{c},{d}" for letter, (_, (_, _, (a, b, c, d))) in lettered)
    (folder / "ledger.csv").write_text("\n".join(["Letter,kcal,protein,carbs,fat", *rows]))


def _book(folder: Path) -> None:
    parts = [
        f"## {title}\n\nServes {servings}\n\n" + "\n".join(f"- {line}" for line in lines)
        for title, (servings, lines, _) in RECIPES.items()
    ]
    cells = ("| {} | {} | {} g | {} g | {} g |".format(t, *n) for t, (_, _, n) in RECIPES.items())
    head = "## Numbers, per serving\n\n| Recipe | kcal | Protein | Carbs | Fat |\n|---|---|---|---|---|"
    table = "\n".join([head, *cells])
    (folder / "book.md").write_text("\n\n".join(["# Harbour food", *parts, table]) + "\n")


def _page(folder: Path) -> None:
    _cards(folder)
    row = "<tr><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>"
    rows = "".join(row.format(title, *numbers) for title, (_, _, numbers) in RECIPES.items())
    head = "<tr><th>Recipe</th><th>kcal</th><th>Protein</th><th>Carbs</th><th>Fat</th></tr>"
    page = f"<html><body><h1>Per serving</h1><table>{head}{rows}</table></body></html>"
    (folder / "numbers.html").write_text(page)


def _by_id(folder: Path) -> None:
    numbered = [(no, *one) for no, one in enumerate(RECIPES.items(), start=11)]
    heads = [f"{no},{title},{servings}" for no, title, (servings, _, _) in numbered]
    lines = [f"{no},{line}" for no, _, (_, lines, _) in numbered for line in lines]
    sums = [",".join(map(str, (no, *numbers))) for no, _, (_, _, numbers) in numbered]
    (folder / "recipes.csv").write_text("\n".join(["id,name,servings", *heads]))
    (folder / "ingredients.csv").write_text("\n".join(["recipe_id,ingredient", *lines]))
    (folder / "nutrition.csv").write_text("\n".join(["recipe_id,kcal,protein,carbs,fat", *sums]))


def _numbers(read: Collection) -> dict[str, dict[str, float]]:
    titles = dict(zip(read.recipe["recipe_id"], read.recipe["title"], strict=True))
    found: dict[str, dict[str, float]] = {title: {} for title in titles.values()}
    for row in read.stated.to_dict("records"):
        assert row["basis"] == "per_serving"
        found[titles[row["recipe_id"]]][row["nutrient"]] = row["amount"]
    return {re.sub(r"^[A-C]\. +", "", title): numbers for title, numbers in found.items()}


@pytest.mark.parametrize(
    "make",
    [
        _csv,
        _turned,
        _workbook,
        _json,
        _yaml,
        _list,
        _below_titles,
        _blocks,
        _aligned,
        _book,
        _page,
        _by_id,
        _lists,
        _lettered,
    ],
)
def test_numbers_beside_the_recipes_are_theirs(
    tmp_path: Path, make: Callable[[Path], None]
) -> None:
    make(tmp_path)
    read = read_collection(tmp_path)
    assert _numbers(read) == NUMBERS
    assert sorted(read.recipe["servings"]) == [4, 5, 6]
    assert {p.code for p in read.problems} <= {"numbers-elsewhere", "spoken-doubtful"}
    notes = [p for p in read.problems if p.code == "numbers-elsewhere"]
    assert len(notes) == len(RECIPES)
    assert all(p.recipe_id for p in notes)


def _ledger(folder: Path, *rows: str, head: str = "Dish,kcal,Protein") -> Collection:
    _cards(folder)
    (folder / "ledger.csv").write_text("\n".join([head, *rows]))
    return read_collection(folder)


def _codes(read: Collection) -> set[str]:
    return {p.code for p in read.problems} - {"nothing-stated", "numbers-elsewhere"}


@pytest.mark.parametrize(
    "named", ["quay chilli", "The quay chilli", "Quay chili", "Chilli", "Quay chilli (hot)"]
)
def test_a_title_may_be_written_a_little_otherwise(tmp_path: Path, named: str) -> None:
    read = _ledger(tmp_path, f"{named},420,34")
    assert _numbers(read)["Quay chilli"] == {"ENERC_KCAL": 420, "PROCNT": 34}
    assert not _codes(read)


def test_rows_of_no_recipe_and_of_several_are_told(tmp_path: Path) -> None:
    (tmp_path / "more.txt").write_text("Tunnel chilli\nServes 2\n\n300 g beans\n100 g beef mince\n")
    read = _ledger(tmp_path, "Tunnel macaroni,703,29", "Chilli,1,1", "Eel pie,500,30", "Toad,,")
    told = {p.code: p for p in read.problems if p.severity == "warning"}
    assert set(told) == {"numbers-of-several", "numbers-without-recipe"}
    assert told["numbers-of-several"].where == "ledger.csv:3"
    assert '"Quay chilli", "Tunnel chilli"' in told["numbers-of-several"].what
    assert told["numbers-without-recipe"].where == "ledger.csv:4"
    assert {t: n for t, n in _numbers(read).items() if n}.keys() == {"Tunnel macaroni"}


def test_one_of_two_likely_names_that_another_row_has_in_full_is_not_meant(tmp_path: Path) -> None:
    (tmp_path / "more.txt").write_text("Tunnel chilli\nServes 2\n\n300 g beans\n100 g beef mince\n")
    read = _ledger(tmp_path, "Quay chilli,420,34", "Chilli,300,20")
    assert _numbers(read)["Tunnel chilli"] == {"ENERC_KCAL": 300, "PROCNT": 20}


def test_the_recipe_of_the_same_folder_is_meant(tmp_path: Path) -> None:
    for year in ("2024", "2025"):
        (tmp_path / year).mkdir()
        _cards(tmp_path / year)
    (tmp_path / "2025" / "sums.csv").write_text("Dish,kcal\nQuay chilli,420\nTunnel macaroni,703\n")
    read = read_collection(tmp_path)
    assert set(read.stated["recipe_id"]) == {"2025/Quay chilli.txt", "2025/Tunnel macaroni.txt"}


def test_rows_that_contradict_each_other_are_told_and_not_taken(tmp_path: Path) -> None:
    same = _ledger(tmp_path, "Quay chilli,420,34", "Quay chilli,420,34", "Tunnel macaroni,703,29")
    assert _numbers(same)["Quay chilli"]["ENERC_KCAL"] == 420
    assert not _codes(same)
    other = _ledger(tmp_path, "Quay chilli,420,34", "Quay chilli,510,34", "Tunnel macaroni,703,29")
    assert _numbers(other)["Quay chilli"] == {}
    assert _codes(other) == {"numbers-told-twice"}


def test_numbers_with_the_ingredients_come_first(tmp_path: Path) -> None:
    card = "Eel pie\nServes 2\n\n300 g eel\n100 g flour\n\nPer serving: {} kcal\n"
    (tmp_path / "pie.txt").write_text(card.format(500))
    read = _ledger(tmp_path, "Eel pie,500,30")
    assert _numbers(read)["Eel pie"] == {"ENERC_KCAL": 500, "PROCNT": 30}
    (tmp_path / "pie.txt").write_text(card.format(640))
    read = _ledger(tmp_path, "Eel pie,500,30")
    assert _numbers(read)["Eel pie"] == {"ENERC_KCAL": 640}
    assert _codes(read) == {"numbers-differ"}


def test_numbers_are_for_the_servings_beside_them(tmp_path: Path) -> None:
    read = _ledger(tmp_path, "Quay chilli,3,700", "Tunnel macaroni,4,703", head="Dish,Serves,kcal")
    made = dict(zip(read.recipe["title"], read.recipe["servings"], strict=True))
    assert made == {"Quay chilli": 3, "Tunnel macaroni": 4, "Red lentil and cumin soup": 6}
    assert _codes(read) == {"servings-differ"}


@pytest.mark.parametrize(
    "text",
    [
        "name,kcal,protein\nButter,717,1\nBeef mince,250,17\nChilli powder,282,13\n",  # foods
        "Dish,kcal\n" + "".join(f"Soup no {k} of barley,{k}\n" for k in range(30)) + "Chilli,9\n",
        "day,weight\nMonday,80\nTuesday,81\n",
    ],
)
def test_a_table_of_anything_else_is_read_as_before(tmp_path: Path, text: str) -> None:
    _cards(tmp_path)
    (tmp_path / "table.csv").write_text(text)
    read = read_collection(tmp_path)
    assert read.stated.empty
    assert "table-columns-unknown" in _codes(read)


def test_foods_with_their_numbers_are_no_recipes_of_the_text() -> None:
    foods = [RawRecipe(title, "card", 0) for title in ("Oats", "Milk", "Honey")]
    assert not name_recipes(foods, [RawRecipe("Porridge", "card", 0)])


@pytest.mark.parametrize(
    "lines",
    [
        ["Per serving: 400 kcal", "Per recipe: 1600 kcal"],
        ["200 g oats, 700 kcal", "100 g honey, 300 kcal"],
        ["Energy 400 kcal", "Fat 12 g", "Protein 9 g"],
        ["Quay chilli - 420 kcal"],
        ["Stir it.", "420 kcal, 34 g protein"],
    ],
)
def test_numbers_of_one_recipe_are_no_list_of_several(lines: list[str]) -> None:
    assert number_lists([CardLine(no, line) for no, line in enumerate(lines, 1)], "card") == []


def test_words_of_a_title_leave_out_what_only_binds_and_numbers() -> None:
    assert title_words("A. The Sausage & bean bakes") == title_words("3) sausage and bean bake")
    assert title_words("щи") == {"щи"}


def test_joined_numbers_are_judged_and_their_files_read_together(tmp_path: Path) -> None:
    read = _ledger(tmp_path, "Quay chilli,420,34", "Tunnel macaroni,703,29")
    assert read.together == {"ledger.csv", "Quay chilli.txt", "Tunnel macaroni.txt"}
    result = verify(tmp_path)
    judged = dict(zip(result.recipes["title"], result.recipes["verdict"], strict=True))
    assert [t for t, verdict in judged.items() if verdict == "not_judged"] == [
        "Red lentil and cumin soup"
    ]
    for name, alone in (("Quay chilli", False), ("Red lentil and cumin soup", True)):
        again = with_files_read_again(read, {tmp_path / f"{name}.txt"}, result.settings)
        assert (again is not None) is alone


@pytest.mark.parametrize(
    ("head", "row"),
    [
        ("CALORIES PER PORTION", "{} ........ {}"),
        ("kcal each (from the app)", "- {}: {}"),
        ("Energy", "{}    {}"),
    ],
)
def test_a_list_of_bare_numbers_is_of_energies_where_the_line_above_says_so(
    tmp_path: Path, head: str, row: str
) -> None:
    _cards(tmp_path)
    rows = (row.format(title, numbers[0]) for title, (_, _, numbers) in RECIPES.items())
    (tmp_path / "list.txt").write_text("\n".join([head, "", *rows]))
    found = _numbers(read_collection(tmp_path))
    assert found == {t: {"ENERC_KCAL": n["ENERC_KCAL"]} for t, n in NUMBERS.items()}
    (tmp_path / "list.txt").write_text("\n".join(["Minutes", "", *rows]))
    assert read_collection(tmp_path).stated.empty


def test_a_list_may_have_its_title_in_the_name_of_its_file(tmp_path: Path) -> None:
    _lists(tmp_path)
    (tmp_path / "what goes in.txt").unlink()
    for title, (_, lines, _) in RECIPES.items():
        (tmp_path / f"{title.lower().replace(' ', '_')}.txt").write_text("\n".join(lines))
    found = _numbers(read_collection(tmp_path))
    assert found == {title.lower(): numbers for title, numbers in NUMBERS.items()}


def test_a_list_that_only_the_ledger_shows_to_be_a_recipe_is_amended_by_hand(
    tmp_path: Path,
) -> None:
    _lists(tmp_path)
    read = read_collection(tmp_path)
    with pytest.raises(SteelyardError, match=r"what goes in\.txt"):
        amend(read, "what goes in.txt#2", Amendment(servings=3))


def test_what_to_correct_in_another_file_is_said(tmp_path: Path) -> None:
    read = _ledger(tmp_path, "Quay chilli,820,34", "Tunnel macaroni,703,29")
    wanted = pd.DataFrame({"recipe_id": ["Quay chilli.txt"], "kcal": [401.0], "protein_g": [33.0]})
    copies = write_corrected(read, wanted, tmp_path / "fixed")
    assert copies.paths == []
    (told,) = copies.problems
    assert "ledger.csv:2" in told.what
    assert told.fix == "write there: energy 401, protein 33"


def test_a_title_with_its_servings_begins_the_next_list(tmp_path: Path) -> None:
    text = "Quay chilli (serves 5)\n\n600 g mince\n\nSauce (makes 2 cups)\n\n50 g butter\n\n"
    (tmp_path / "a.txt").write_text(
        f"{text}Tunnel macaroni (serves 4)\n\n400 g macaroni\n100 g ham\n"
    )
    read = read_collection(tmp_path)
    assert dict(zip(read.recipe["title"], read.recipe["servings"], strict=True)) == {
        "Quay chilli": 5, "Tunnel macaroni": 4,
    }  # fmt: skip


def test_marks_of_a_script_follow_numbers_that_are_joined() -> None:
    total = RawStated("ENERC_KCAL", 420.0, "per_serving", 1.0, "420 calories")
    spoken = [
        RawRecipe("Quay chilli", "script", 0, lines=[RawLine("600 g beef mince")]),
        RawRecipe("Quay chilli", "script", 1, stated=[total]),
        RawRecipe("Pea soup", "script", 2, lines=[RawLine("500 g peas")]),
    ]
    marks = [RawMark(10 * at, 10 * at + 5, "title", recipe=at) for at in range(3)]
    read = Read(spoken, found="a spoken script", marks=[*marks, RawMark(50, 55, "talk")])
    join([("talk.srt", read)])
    assert [one.title for one in read.recipes] == ["Quay chilli", "Pea soup"]
    assert [(m.start, m.recipe) for m in read.marks] == [(0, 0), (10, 0), (20, 1), (50, None)]


def test_one_row_of_a_ledger_may_name_the_only_recipe_at_hand(tmp_path: Path) -> None:
    (tmp_path / "Quay chilli.txt").write_text(
        "Quay chilli\nServes 5\n\n600 g beef mince\n480 g kidney beans\n"
    )
    rows = ["Dish;kcal;protein;carbs;fat;per", "Quay chilli;420;34;35;16;serving"]
    rows += [f"Dish number {n} of the pier;300;20;30;10;serving" for n in "abcdefgh"]
    (tmp_path / "ledger.csv").write_text("\n".join(rows))
    collection = read_collection(tmp_path)
    assert collection.recipe["title"].tolist() == ["Quay chilli"]
    assert sorted(collection.stated["amount"]) == [16, 34, 35, 420]


def test_a_workbook_with_dishes_and_their_numbers_in_two_tables_of_one_sheet(
    tmp_path: Path,
) -> None:
    book = openpyxl.Workbook()
    for row in (
        ["Galley, week 7"], ["Day", "Dish", "Product", "Amount", "Unit"],
        ["Mon", "Pea soup", "Split peas", 1500, "g"], ["Mon", "Pea soup", "Smoked ham", 600, "g"],
        ["Tue", "Fish pie", "Cod", 2000, "g"], ["Tue", "Fish pie", "Potatoes", 3000, "g"], [],
        ["Per portion"], ["Dish", "Portions", "kcal"], ["Pea soup", 15, 384], ["Fish pie", 12, 313],
    ):  # fmt: skip
        book.active.append(row)
    book.save(tmp_path / "galley.xlsx")
    found = read_collection([tmp_path])
    assert found.recipe["title"].tolist() == ["Pea soup", "Fish pie"]
    assert found.recipe["servings"].tolist() == [15, 12]
    assert found.stated["amount"].tolist() == [384, 313]
    assert len(found.line) == 4
    assert any("Product" in problem.what for problem in found.problems)
