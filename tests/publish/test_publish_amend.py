"""Servings, yield and a line in two, changed in a recipe's own file and nothing else."""

from __future__ import annotations

import difflib
import json
from pathlib import Path

import pandas as pd
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake import read_collection
from pipeline.problems import SteelyardError
from pipeline.publish.amend import Amendment, amend

CARD = "Pier soup\nServes 2 sailors\n\n- 200 g peas and carrots # ours\n- 1 onion\n\nPer serving: 120 kcal\n"
TWO = CARD + "\n---\n\nGull pie\nMakes 8 slices\n\n- 100 g flour\n\nPer slice: 90 kcal\n"
MARKDOWN = (
    "---\ntitle: Pier soup\nserves: 2\ncalories: 120\n---\n\n* 200 g peas and carrots\n* 1 onion\n"
)
YAML = "- title: Pier soup\n  servings: 2\n  ingredients:\n    - 200 g peas and carrots\n    - 1 onion\n  stated:\n    kcal: 120\n- title: Gull pie\n  ingredients: [100 g flour]\n"
JSON = json.dumps(
    {"@type": "Recipe", "name": "Pier soup", "recipeYield": "2 servings",
     "recipeIngredient": ["1 onion", "200 g peas and carrots"]}, indent=1,
)  # fmt: skip
CSV = "recipe,servings,line,kcal\nPier soup,2,200 g peas and carrots,120\nPier soup,2,1 onion,120\n"


def changed(tmp_path: Path, name: str, text: str, change: Amendment, at: int = 0) -> list[str]:
    """The lines that differ, as a diff shows them; the change reads back as asked."""
    (tmp_path / name).write_bytes(text.encode())
    collection = read_collection(tmp_path)
    recipe_id = collection.recipe["recipe_id"].iloc[at]
    done = amend(collection, recipe_id, change)
    assert done.path == tmp_path / name
    assert done.before.encode() == text.encode()
    done.path.write_bytes(done.after.encode())
    again = read_collection(tmp_path)
    row = again.recipe.iloc[at]
    if change.servings is not None:
        assert row["servings"] == change.servings
    if change.yield_g is not None:
        assert row["yield_g"] == change.yield_g
    diff = difflib.ndiff(text.splitlines(), done.after.splitlines())
    found = [d for d in diff if d[0] in "-+"]
    return sorted(found, key=lambda d: d[0] == "+")


@pytest.mark.parametrize(
    ("name", "text", "diff"),
    [
        ("a.txt", CARD, ["- Serves 2 sailors", "+ Serves 6 sailors"]),
        ("a.txt", CARD.replace("Serves 2 sailors\n", ""), ["+ Serves 6"]),
        ("a.md", MARKDOWN, ["- serves: 2", "+ serves: 6"]),
        ("a.yaml", YAML, ["-   servings: 2", "+   servings: 6"]),
        ("a.json", JSON, ['-  "recipeYield": "2 servings",', '+  "recipeYield": "6 servings",']),
    ],
)
def test_servings(tmp_path: Path, name: str, text: str, diff: list[str]) -> None:
    assert changed(tmp_path, name, text, Amendment(servings=6)) == diff


def test_only_the_recipe_that_is_meant_changes(tmp_path: Path) -> None:
    assert changed(tmp_path, "two.txt", TWO, Amendment(servings=10), at=1) == [
        "- Makes 8 slices", "+ Makes 10 slices",
    ]  # fmt: skip
    assert changed(tmp_path, "two.txt", TWO, Amendment(servings=3)) == [
        "- Serves 2 sailors", "+ Serves 3 sailors",
    ]  # fmt: skip
    (tmp_path / "two.txt").unlink()
    assert changed(tmp_path, "a.yaml", YAML, Amendment(servings=12), at=1) == ["+   servings: 12"]


@pytest.mark.parametrize(
    ("name", "text", "diff"),
    [
        ("a.txt", CARD, ["+ Cooked weight: 900 g"]),
        ("a.txt", CARD.replace("\n\n- 200", "\nCooked weight: 1.2 kg\n\n- 200"),
         ["- Cooked weight: 1.2 kg", "+ Cooked weight: 900 g"]),
        ("a.yaml", YAML, ["+   yield_g: 900"]),
    ],
)  # fmt: skip
def test_weight_of_the_whole(tmp_path: Path, name: str, text: str, diff: list[str]) -> None:
    assert changed(tmp_path, name, text, Amendment(yield_g=900)) == diff


@pytest.mark.parametrize(
    ("name", "text", "line_no", "diff"),
    [
        ("a.txt", CARD, 1, ["- - 200 g peas and carrots # ours", "+ - 120 g peas # ours", "+ - 80 g carrots # ours"]),
        ("a.md", MARKDOWN, 1, ["- * 200 g peas and carrots", "+ * 120 g peas", "+ * 80 g carrots"]),
        ("a.yaml", YAML, 1, ["-     - 200 g peas and carrots", "+     - 120 g peas", "+     - 80 g carrots"]),
        ("a.json", JSON, 2, ['-   "200 g peas and carrots"', '+   "120 g peas",', '+   "80 g carrots"']),
        ("a.csv", CSV, 1, ["- Pier soup,2,200 g peas and carrots,120", "+ Pier soup,2,120 g peas,120",
                           "+ Pier soup,2,80 g carrots,120"]),
    ],
)  # fmt: skip
def test_two_foods_of_one_line(
    tmp_path: Path, name: str, text: str, line_no: int, diff: list[str]
) -> None:
    collection_text = read_texts(tmp_path, name, text)
    suffix = " # ours" if "# ours" in collection_text[line_no - 1] else ""
    texts = (f"120 g peas{suffix}", f"80 g carrots{suffix}")
    assert changed(tmp_path, name, text, Amendment(line_no=line_no, texts=texts)) == diff


@pytest.mark.parametrize("cell", ["16 squares", "about 16 squares", "16 bars", "Makes 16 squares"])
def test_the_words_of_a_cell_stay_when_its_number_changes(tmp_path: Path, cell: str) -> None:
    text = f'Recipe,Makes,Ingredients,Calories\nPier bars,{cell},"200 g oats\n100 g butter",120\n'
    (tmp_path / "a.csv").write_text(text)
    read = read_collection(tmp_path)
    done = amend(read, read.recipe["recipe_id"].iloc[0], Amendment(servings=20))
    assert done.after == text.replace("16", "20")


def test_blocks_change_in_their_row_and_a_table_without_the_column_does_not(tmp_path: Path) -> None:
    pie = "Haddock pie,\nPortions,4\nkcal,410\nprotein,32\n400 g haddock,\n500 g potatoes,\n30 g butter,\n,\n"
    soup = "Leek soup,\nPortions,2\nkcal,180\nprotein,5\n3 leeks,\n200 g potatoes,\n20 g butter,\n"
    assert changed(tmp_path, "a.csv", pie + soup, Amendment(servings=20)) == [
        "- Portions,4", "+ Portions,20",
    ]  # fmt: skip
    (tmp_path / "a.csv").write_text("title,ingredients,kcal\nPier bars,200 g oats,120\n")
    collection = read_collection(tmp_path)
    with pytest.raises(SteelyardError):
        amend(collection, "a.csv", Amendment(servings=20))


def test_a_file_that_is_no_utf_8_is_left_to_the_person(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_bytes(CARD.encode("utf-16"))
    collection = read_collection(tmp_path)
    with pytest.raises(SteelyardError):
        amend(collection, "a.txt", Amendment(servings=20))
    with pytest.raises(KeyError):
        amend(collection, "b.txt", Amendment(servings=20))
    (tmp_path / "a.txt").write_text("Nothing any more.\n")
    both = collection.recipe.assign(recipe_id=["b.txt"])
    collection.recipe = pd.concat([collection.recipe, both], ignore_index=True)
    with pytest.raises(SteelyardError):
        amend(collection, "a.txt", Amendment(servings=20))


def read_texts(tmp_path: Path, name: str, text: str) -> list[str]:
    (tmp_path / name).write_text(text)
    return read_collection(tmp_path).line["text"].tolist()


def test_line_ends_of_windows_stay(tmp_path: Path) -> None:
    text = CARD.replace("\n", "\r\n")
    changed(tmp_path, "a.txt", text, Amendment(servings=5))
    assert (tmp_path / "a.txt").read_bytes() == text.replace("Serves 2", "Serves 5").encode()


@pytest.mark.parametrize(
    ("text", "change"),
    [
        (CARD, Amendment(line_no=1, texts=("Per serving: 3 kcal", "80 g carrots"))),
        (CARD, Amendment(line_no=1, texts=("---", "80 g carrots"))),
        (CARD.replace("peas", "purée").encode("cp1252").decode("latin-1"), Amendment(servings=0)),
    ],
)
def test_what_would_not_read_back_is_refused_with_the_place(
    tmp_path: Path, text: str, change: Amendment
) -> None:
    (tmp_path / "a.txt").write_bytes(text.encode())
    collection = read_collection(tmp_path)
    with pytest.raises(SteelyardError) as told:
        amend(collection, collection.recipe["recipe_id"].iloc[0], change)
    assert told.value.problem.source == "a.txt"
    assert told.value.problem.fix
    assert (tmp_path / "a.txt").read_bytes() == text.encode()


@settings(max_examples=examples(40))
@given(st.floats(0.25, 400).map(lambda x: round(x, 2)))
def test_any_number_of_servings_reads_back(tmp_path_factory, servings: float) -> None:
    folder = tmp_path_factory.mktemp("amend")
    for name, text in (("a.txt", CARD), ("b.yaml", YAML)):
        changed(folder, name, text, Amendment(servings=servings))
        (folder / name).unlink()


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_servings_that_stand_on_every_row_of_a_table(tmp_path: Path, end: str) -> None:
    rows = ['title,servings,line,kcal', 'Pier bowl,2,"100 g rice, dry",300', "Pier bowl,2,20 g oil,300",
            "Bean bowl,2,100 g beans,200"]  # fmt: skip
    (tmp_path / "t.csv").write_bytes(end.join([*rows, ""]).encode())
    read = read_collection([tmp_path])
    after = amend(read, "t.csv", Amendment(servings=3)).after
    assert after == end.join([rows[0], rows[1].replace(",2,", ",3,"), rows[2].replace(",2,", ",3,"),
                              rows[3], ""])  # fmt: skip


def test_a_card_whose_numbers_stand_elsewhere_takes_its_servings(tmp_path):
    """Read alone it is no recipe; the ledger beside it says that it is one."""
    ledger = "dish;kcal;protein;carbs;fat\nPier salad;286;9;27;14\n"
    (tmp_path / "numbers.csv").write_text(ledger, encoding="utf-8")
    text = "Pier salad\n\na word about the pier\n\n1 kg waxy potatoes\n90 g mayonnaise\n"
    assert "+ Serves 6" in changed(tmp_path, "salad.txt", text, Amendment(servings=6))
