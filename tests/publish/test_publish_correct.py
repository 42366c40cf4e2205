"""Corrected copies: new numbers in each format's own place, everything else as it was."""

import difflib
import json
from pathlib import Path

import duckdb
import openpyxl
import pandas as pd
import pytest
from cases import cases
from examples import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.intake import read_collection
from pipeline.publish.correct import write_corrected

NEW = {"kcal": 333.0, "protein_g": 21.5, "carbs_g": 44.0, "fiber_g": 6.0}
TAGS = {"kcal": "ENERC_KCAL", "protein_g": "PROCNT", "carbs_g": "CHOCDF", "fiber_g": "FIBTG"}


def changed(tmp_path: Path, name: str, content: str, new: dict[str, float] | None = None):
    """Lines taken out and put in by a correction of every recipe of a file."""
    source = tmp_path / "recipes" / name
    source.parent.mkdir(parents=True, exist_ok=True)
    source.write_bytes(content.encode())
    collection = read_collection(tmp_path / "recipes")
    wanted = collection.recipe[["recipe_id"]].assign(**(new or NEW))
    copies = write_corrected(collection, wanted, tmp_path / "corrected")
    assert not copies.problems
    assert copies.paths == [tmp_path / "corrected" / name]
    assert source.read_bytes() == content.encode()
    copy = copies.paths[0].read_bytes().decode()
    diff = list(difflib.ndiff(content.split("\n"), copy.split("\n")))
    return [d[2:] for d in diff if d[0] == "-"], [d[2:] for d in diff if d[0] == "+"]


@pytest.mark.parametrize(("name", "text", "out", "into"), cases(__file__, "in_place"))
def test_numbers_change_where_they_stand(
    tmp_path: Path, name: str, text: str, out: list[str], into: list[str]
) -> None:
    assert changed(tmp_path, name, text) == (out, into)


def test_a_card_that_states_nothing_gets_a_line(tmp_path):
    out, into = changed(
        tmp_path, "soup.txt", "Soup\nServes 2\n\n- 200 g peas\n- 1 onion\n\nBoil it.\n"
    )
    assert out == []
    assert [line for line in into if line] == [
        "Per serving: 333 kcal, protein 21.5 g, carbohydrate 44 g, fibre 6 g"
    ]


def test_kilojoules_and_salt_stay_kilojoules_and_salt(tmp_path):
    card = (
        "Soup\nServes 2\n\n- 200 g peas\n- 1 onion\n\nPer 100 g: 1,724 kJ / 412 kcal, salt 1,5 g\n"
    )
    _, into = changed(tmp_path, "s.txt", card, {"kcal": 100.0, "sodium_mg": 300.0})
    assert into == ["Per 100 g: 418 kJ / 100 kcal, salt 0,75 g"]


@pytest.mark.parametrize(
    "stated",
    ["", "stated: {kcal: 1}\n", "stated: '412 kcal, P 1 g'\n", "stated:\n  per_100g: {kcal: 9}\n",
     "stated:\n  - kcal: 3\n    fat_g: 1\n", "nutrition: |\n  412 kcal\n  protein 3 g\n"],
)  # fmt: skip
def test_every_way_to_state_numbers_in_yaml(tmp_path, stated):
    _, into = changed(
        tmp_path, "a.yaml", f"title: A\ningredients:\n  - 1 egg\n{stated}", {"kcal": 333.0}
    )
    assert any("333" in line for line in into)


def test_json_ld_keeps_units_and_gains_what_was_missing(tmp_path):
    node = {"@type": "Recipe", "name": "A", "recipeIngredient": ["½ egg"], "x": 1.50,
            "nutrition": {"calories": "1,724 kJ", "proteinContent": 32}}  # fmt: skip
    out, into = changed(tmp_path, "a.json", json.dumps(node, indent=2, ensure_ascii=False) + "\n")
    assert [line.strip() for line in into] == [
        '"calories": "1393 kJ",', '"proteinContent": 21.5,',
        '"carbohydrateContent": "44 g",', '"fiberContent": "6 g"',
    ]  # fmt: skip
    assert len(out) == 2


def test_a_page_changes_only_in_its_script(tmp_path):
    node = {"@type": "Recipe", "name": "A", "recipeIngredient": ["1 egg"], "url": "</b>",
            "nutrition": {"calories": "412 kcal"}}  # fmt: skip
    script = json.dumps(node).replace("</", "<\\/")
    page = f'<html>\n<p>412 kcal</p>\n<script type="application/ld+json">\n{script}\n</script>\n<i>&copy;</i>'
    out, into = changed(tmp_path, "a.html", page)
    assert out == [script]
    assert '"calories": "333 kcal"' in into[0]
    assert "</" not in into[0]


def test_microdata_changes_in_its_marks(tmp_path):
    page = (
        '<div itemscope itemtype="https://schema.org/Recipe"><h1 itemprop="name">A</h1>\n'
        '<li itemprop="recipeIngredient">1 egg</li>\n<div itemprop="nutrition" itemscope '
        'itemtype="https://schema.org/NutritionInformation">\n<b itemprop="calories">412 kcal</b>\n'
        '<meta itemprop="proteinContent" content="32 g">\n</div></div>'
    )
    out, into = changed(tmp_path, "a.html", page, {"kcal": 333.0, "protein_g": 21.5})
    assert into == [
        '<b itemprop="calories">333 kcal</b>', '<meta itemprop="proteinContent" content="21.5 g">'
    ]  # fmt: skip
    assert len(out) == 2


def test_csv_keeps_its_dialect(tmp_path):
    text = 'Title;Serves;Ingredients;Energy (kJ);Protein (g)\r\nA;2;"1 egg\r\n2 figs";1.724;5,5\r\n'
    out, into = changed(tmp_path, "w.csv", text)
    assert into[0] == "Title;Serves;Ingredients;Energy (kJ);Protein (g);carbs_g;fiber_g\r"
    assert into[1].endswith('2 figs";1393;21,5;44;6\r')
    assert len(out) == 2


def test_tidy_csv_states_once_a_recipe(tmp_path):
    text = "recipe,line,serves,kcal\nA,1 egg,2,500\nA,2 figs,2,\nB,1 egg,1,\n"
    _, into = changed(tmp_path, "t.csv", text, {"kcal": 333.0})
    assert into == ["A,1 egg,2,333", "B,1 egg,1,333"]


def test_markdown_in_front_matter_and_in_a_table(tmp_path):
    front = "---\ntitle: A\nnutrition: {kcal: 412}\n---\n\n- 1 egg\n- 20 g rye\n"
    _, into = changed(tmp_path / "x", "a.md", front, {"kcal": 333.0, "fat_g": 7.0})
    assert into == ["nutrition: {kcal: 333, fat_g: 7}"]
    table = "# A\n\n## Ingredients\n\n- 1 egg\n\n## Nutrition\n\n| | |\n|-|-|\n| Calories | 412 |\n| Fat | 11 g |\n"
    _, into = changed(
        tmp_path / "y", "b.md", table, {"kcal": 333.0, "fat_g": 7.0, "protein_g": 5.0}
    )
    assert into == ["| Calories | 333 |", "| Fat | 7 g |", "| Protein | 5 g |"]


def test_parquet_and_workbooks(tmp_path):
    (tmp_path / "in").mkdir()
    duckdb.sql(
        "copy (select 'A' as title, 2 as servings, ['1 egg', '2 figs'] as ingredients, 200.0::double "
        f"as kcal, 'x' as other) to '{tmp_path / 'in' / 'a.parquet'}'"
    )
    book = openpyxl.Workbook()
    for row in (["Title", "Serves", "Ingredients", "kcal"], ["B", 2, "1 egg", 200]):
        book.active.append(row)
    for row in (["Oats"], ["Serves 1"], ["40 g oats"], ["250 ml milk"], ["Calories", 310]):
        book.create_sheet("card").append(row) if len(book.sheetnames) == 1 else book["card"].append(
            row
        )
    book.save(tmp_path / "in" / "b.xlsx")
    collection = read_collection(tmp_path / "in")
    wanted = collection.recipe[["recipe_id"]].assign(kcal=333.0)
    copies = write_corrected(collection, wanted, tmp_path / "out")
    assert not copies.problems
    again = read_collection(tmp_path / "out")
    assert again.recipe["title"].tolist() == ["A", "B", "Oats"]
    assert again.stated["amount"].tolist() == [333, 333, 333]
    pd.testing.assert_frame_equal(again.line, collection.line)
    assert duckdb.sql(f"select other from '{tmp_path / 'out' / 'a.parquet'}'").fetchall() == [
        ("x",)
    ]


def test_only_files_with_a_corrected_recipe_are_copied(tmp_path):
    for name in "ab":
        (tmp_path / f"{name}.txt").write_text(
            "A\nServes 2\n\n- 1 egg\n- 20 g rye\n\n100 kcal per serving\n"
        )
    collection = read_collection(tmp_path)
    wanted = pd.DataFrame(
        {"recipe_id": ["a.txt", "b.txt", "none"], "kcal": [120.0, float("nan"), 5.0]}
    )
    copies = write_corrected(collection, wanted, tmp_path / "out")
    assert copies.paths == [tmp_path / "out" / "a.txt"]


def test_originals_are_never_the_target(tmp_path):
    (tmp_path / "a.txt").write_text("A\nServes 2\n\n- 1 egg\n- 20 g rye\n\n100 kcal per serving\n")
    before = (tmp_path / "a.txt").read_bytes()
    collection = read_collection(tmp_path)
    wanted = collection.recipe[["recipe_id"]].assign(kcal=333.0)
    copies = write_corrected(collection, wanted, tmp_path)
    assert [p.code for p in copies.problems] == ["copy-on-original"]
    assert not copies.paths
    assert (tmp_path / "a.txt").read_bytes() == before


def test_what_cannot_be_written_is_said(tmp_path):
    (tmp_path / "a.html").write_text(
        '<div class="h-recipe"><b class="p-name">A</b><i class="p-ingredient">1 egg</i></div>'
    )
    collection = read_collection(tmp_path)
    copies = write_corrected(
        collection, collection.recipe[["recipe_id"]].assign(kcal=1.0), tmp_path / "o"
    )
    assert [p.code for p in copies.problems] == ["copy-not-written"]


BOTH = "Pea pot\nServes 2\n\n- 200 g peas\n- 1 onion\n\n412 kcal per bowl\n"


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.txt", f"{BOTH}\n---\n\n{BOTH.replace('Pea', 'Leek')}"),
        ("a.yaml", "- title: Pea pot\n  ingredients: [1 egg]\n  kcal: 412\n"
                   "- title: Leek pot\n  ingredients: [1 fig]\n  kcal: 412\n"),
        ("a.jsonl", '{"title": "Pea pot", "ingredients": ["1 egg"], "kcal": 412}\n'
                    '{"title": "Leek pot", "ingredients": ["1 fig"], "kcal": 412}\n'),
        ("a.xml", "<pots><pot says='Pea pot'><in of='200 g'>peas</in><in of='1'>onion</in><feeds>2</feeds><kcal>412</kcal></pot>\n"
                  "<pot says='Leek pot'><in of='200 g'>leeks</in><in of='1'>onion</in><feeds>2</feeds><kcal>412</kcal></pot></pots>"),
        ("a.csv", "title,ingredients,nutrition\nPea pot,1 egg,412 kcal and 9 g fat\nLeek pot,1 fig,412 kcal and 9 g fat\n"),
        ("a.tsv", "recipe\tserves\tingredient\tgrams\tkcal\nPea pot\t2\tegg\t50\t412\nPea pot\t2\tfig\t40\t\n"
                  "Leek pot\t2\tegg\t50\t412\n"),
        ("b.txt", "PEA POT                        LEEK POT\nServes 4                       Serves 4\n\n"
                  "600 g chicken thighs           2 tins kidney beans\n800 g new potatoes             400 g chopped tomatoes\n"
                  "2 red peppers                  1 onion\n\nPer serving: 412 kcal          Per serving: 260 kcal\n"),
    ],
)  # fmt: skip
def test_a_recipe_beside_it_keeps_its_numbers(tmp_path: Path, name: str, text: str) -> None:
    (tmp_path / name).write_text(text)
    collection = read_collection(tmp_path)
    first, second = collection.recipe["recipe_id"]
    copies = write_corrected(
        collection, pd.DataFrame({"recipe_id": [first], "kcal": [333.0]}), tmp_path / "o"
    )
    assert not copies.problems
    again = read_collection(tmp_path / "o").stated
    kcal = again[again["nutrient"] == "ENERC_KCAL"].set_index("recipe_id")["amount"]
    then = collection.stated.set_index(["recipe_id", "nutrient"])["amount"]
    assert kcal.to_dict() == {first: 333, second: then[second, "ENERC_KCAL"]}


@pytest.mark.parametrize(
    ("name", "text", "now"),
    [
        ("a.json", '{"title": "A", "ingredients": ["1 egg"]}', "{"),
        ("a.yaml", "title: A\ningredients: [1 egg]\n", "title: [\n"),
        ("a.xml", "<r><title>A</title><ingredients>1 egg</ingredients><kcal>1</kcal></r>", "<r>"),
        ("a.csv", "title,ingredients,kcal\nA,1 egg,1\n", "x,y\n1,2\n"),
        (
            "b.csv",
            "title,ingredients,kcal\nB,1 fig,1\nA,1 egg,1\n",
            "title,ingredients,kcal\nB,1 fig,1\n",
        ),
        (
            "a.html",
            '<script type="application/ld+json">{"@type": "Recipe", "name": "A", "recipeIngredient": ["1 egg"]}</script>',
            "<p>gone</p>",
        ),
        ("c.csv", "title,ingredients,kcal\nA,1 egg,1\n", None),
    ],
)
def test_a_file_that_changed_since_it_was_read_is_left_alone(
    tmp_path: Path, name: str, text: str, now: str | None
) -> None:
    (tmp_path / name).write_text(text)
    collection = read_collection(tmp_path)
    wanted = collection.recipe.loc[collection.recipe["title"] == "A", ["recipe_id"]]
    (tmp_path / name).unlink() if now is None else (tmp_path / name).write_text(now)
    copies = write_corrected(collection, wanted.assign(kcal=333.0), tmp_path / "o")
    assert [p.code for p in copies.problems] == ["copy-not-written" if now else "file-unreadable"]
    assert not (tmp_path / "o" / name).exists()


def test_a_parquet_file_that_changed_since_it_was_read_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "a.parquet"
    duckdb.sql(f"copy (select 'A' as title, '1 egg' as ingredients, 2.0 as kcal) to '{path}'")
    collection = read_collection(path)
    wanted = collection.recipe[["recipe_id"]].assign(kcal=333.0)
    duckdb.sql(f"copy (select 1 as x) to '{path}'")
    for now in (path.read_bytes(), b"PAR1 of old"):
        path.write_bytes(now)
        copies = write_corrected(collection, wanted, tmp_path / "o")
        assert [p.code for p in copies.problems] == ["copy-not-written"]


def test_a_page_that_was_not_utf_8_is_now_and_scripts_of_other_kinds_stay(tmp_path: Path) -> None:
    scripts = [
        "<script>var a = 1</script>",
        '<script type="application/ld+json">{"@type": "WebSite", "name": "x"}</script>',
        '<script type="application/ld+json">{bad</script>',
        '<script type="application/ld+json">{"@type": "Recipe", "name": "Café", '
        '"recipeIngredient": ["1 egg"], "nutrition": {"calories": "not known"}}</script>',
    ]
    page = f"<html><head><meta charset=iso-8859-1></head>{chr(10).join(scripts)}</html>"
    (tmp_path / "a.html").write_bytes(page.encode("latin-1"))
    collection = read_collection(tmp_path)
    copies = write_corrected(
        collection, collection.recipe[["recipe_id"]].assign(kcal=333.0), tmp_path / "o"
    )
    assert not copies.problems
    meant = page.replace("iso-8859-1", "utf-8").replace("not known", "333 kcal")
    assert copies.paths[0].read_text("utf-8") == meant


def test_hidden_sheets_are_left_out_and_numbers_without_a_cell_are_told(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for sheet in (book.active, book.create_sheet("old")):
        for row in (["Title", "Serves", "Ingredients", "kcal"], ["B", 2, "1 egg", 200]):
            sheet.append(row)
    book.active.sheet_state = "visible"
    book["old"].sheet_state = "hidden"
    (tmp_path / "in").mkdir()
    book.save(tmp_path / "in" / "b.xlsx")
    collection = read_collection(tmp_path / "in")
    wanted = collection.recipe[["recipe_id"]].assign(kcal=333.0)
    assert not write_corrected(collection, wanted, tmp_path / "out").problems
    sheets = openpyxl.load_workbook(tmp_path / "out" / "b.xlsx")
    assert [sheet["D2"].value for sheet in sheets] == [333, 200]


def test_what_a_copy_does_not_state_is_said(tmp_path: Path) -> None:
    page = (
        '<div itemscope itemtype="https://schema.org/Recipe"><h1 itemprop="name">A</h1>'
        '<li itemprop="recipeIngredient">1 egg</li><div itemprop="nutrition" itemscope '
        'itemtype="https://schema.org/NutritionInformation"><b itemprop="calories">412 kcal</b>'
        '<b itemprop="fatContent">9 g</b></div></div>'
    )
    (tmp_path / "a.html").write_text(page)
    collection = read_collection(tmp_path)
    wanted = collection.recipe[["recipe_id"]].assign(kcal=333.0, protein_g=21.0)
    copies = write_corrected(collection, wanted, tmp_path / "o")
    assert [p.code for p in copies.problems] == ["correction-not-written"]
    assert "protein (21)" in copies.problems[0].what
    assert copies.paths[0].read_text() == page.replace("412", "333")


@pytest.mark.parametrize(
    ("name", "text", "why"),
    [
        ("a.yaml", "{title: A, ingredients: [1 egg, 20 g rye]}\n", "flow style"),
        ("a.json", '[["Pea pot", "serves 2", ["200 g peas", "1 onion"]], ["Leek pot", "serves 2", ["200 g leeks", "1 onion"]]]', "lists"),
        ("a.xml", "<pots><pot says='Pea pot'><in of='200 g'>peas</in><in of='1'>onion</in><feeds>2</feeds></pot></pots>", "no text of their own"),
        ("b.xml", "<pots><pot says='Pea pot'><in of='200 g'>peas</in><in of='1'>onion</in><feeds>2</feeds><kcal>4&#49;2</kcal></pot></pots>", "not as they read"),
        ("a.md", "# Week plan\n\n| | Cove curry | Inlet eggs |\n|---|---|---|\n| chickpeas, canned | 240 g | |\n"
                 "| coconut milk | 200 ml | |\n| eggs | | 3 |\n| spinach | 100 g | 50 g |\n| Serves | 2 | 1 |\n"
                 "| kcal per serving | 390 | 320 |\n", "would not read as before"),
        ("a.srt", "1\n00:00:01,000 --> 00:00:09,000\nPea pot. That is two hundred grams of peas and one onion.\n\n"
                  "2\n00:00:09,000 --> 00:00:15,000\nIt serves two, 412 calories each.\n", "write it as cards"),
    ],
)  # fmt: skip
def test_why_no_copy_was_written(tmp_path: Path, name: str, text: str, why: str) -> None:
    (tmp_path / name).write_text(text)
    collection = read_collection(tmp_path)
    wanted = collection.recipe[["recipe_id"]].assign(**NEW)
    copies = write_corrected(collection, wanted, tmp_path / "o")
    assert [p.code for p in copies.problems] == ["copy-not-written"]
    assert why in copies.problems[0].why
    assert not (tmp_path / "o" / name).exists()


def test_a_copy_that_cannot_be_saved_is_said(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text(BOTH)
    (tmp_path / "o" / "a.txt").mkdir(parents=True)
    collection = read_collection(tmp_path / "a.txt")
    wanted = collection.recipe[["recipe_id"]].assign(kcal=333.0)
    copies = write_corrected(collection, wanted, tmp_path / "o")
    assert [p.code for p in copies.problems] == ["copy-not-written"]
    assert not copies.paths


@settings(max_examples=examples(40), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    values=st.fixed_dictionaries({k: st.integers(0, 3000).map(lambda v: v / 4) for k in NEW}),
    form=st.sampled_from(
        [
            (
                "a.txt",
                "A\nServes 2\n\n- 1 egg\n- 20 g rye\n\nPer serving: 412 kcal, P 3 g, C 4 g, fibre 1 g\n",
            ),
            ("a.yaml", "title: A\ningredients: [1 egg]\nstated: {kcal: 9, carbs_g: 3}\n"),
            ("a.json", '{"@type":"Recipe","name":"A","recipeIngredient":["1 egg"]}'),
            ("a.csv", "title,ingredients,kcal\nA,1 egg,\n"),
        ]
    ),
)
def test_what_is_written_is_read_back(tmp_path_factory, values, form):
    folder = tmp_path_factory.mktemp("round")
    name, content = form
    (folder / name).write_text(content)
    collection = read_collection(folder / name)
    copies = write_corrected(
        collection, collection.recipe[["recipe_id"]].assign(**values), folder / "o"
    )
    assert not copies.problems
    again = read_collection(copies.paths[0])
    found = dict(zip(again.stated["nutrient"], again.stated["amount"], strict=True))
    assert found == pytest.approx({TAGS[k]: v for k, v in values.items()}, abs=0.0051)
    assert again.line["text"].tolist() == collection.line["text"].tolist()
