"""Recipes told as text in the values of data: posts of an export, notes of a plan."""

from __future__ import annotations

import json
from pathlib import Path

import openpyxl
import pytest
from growth import cpu_seconds, growth
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.files import SourceFile
from pipeline.intake.reading import read_file, read_text
from pipeline.publish.numbers import Original
from pipeline.publish.tree import edit_json

POST = "Quay pea soup, makes 3 bowls\n500 g frozen peas\n1 onion\n30 g butter\n\nper bowl 235 kcal, 10 g protein"
BODY = POST.partition("\n")[2]
POST_LIST = BODY.partition("\n\n")[0] + "\nBoil it all for ten minutes, then mash."
PAGE = (
    "<p>It rained on the quay.</p><ul><li>500 g frozen peas</li><li>1 onion</li>"
    "<li>30 g butter</li></ul><p>Makes 3 bowls. Per bowl 235 kcal, 10 g protein.</p>"
)
LINES = ["500 g frozen peas", "1 onion", "30 g butter"]
STATED = [("ENERC_KCAL", 235.0), ("PROCNT", 10.0)]


def read(tree):
    return read_text(json.dumps(tree, indent=1), "posts.json")


@pytest.mark.parametrize(
    "tree",
    [
        [{"words": POST, "hearts": 1200}, {"words": "who else hates wet Mondays on the quay", "hearts": 3}],
        {"export": {"items": [{"id": 7, "data": {"body": POST, "markup": None}}]}},
        [{"title": "Quay pea soup", "makes": "3 bowls", "body": BODY}],
        [{"title": {"rendered": "Quay pea soup"}, "content": {"rendered": PAGE, "protected": False}}],
        [{"head": "Quay pea soup", "on it": "3 bowls. 235 kcal, protein 10 g", "front": POST_LIST}],
        [{"text": POST, "text_html": POST.replace("\n", "<br>")}],
    ],
)  # fmt: skip
def test_a_recipe_told_in_a_value_is_read_once_whatever_its_key(tree):
    (recipe,) = read(tree).recipes
    assert recipe.title == "Quay pea soup"
    assert [line.text for line in recipe.lines] == LINES
    assert [(s.nutrient, s.amount) for s in recipe.stated] == STATED
    assert recipe.servings == 3


def test_a_column_of_posts_is_read_a_row_a_post():
    rows = f'id,day,words,hearts\n1,2026-01-02,"{POST}",1200\n2,2026-01-03,wet again,10\n'
    (recipe,) = read_text(rows, "posts.csv").recipes
    assert recipe.title == "Quay pea soup"
    assert [line.text for line in recipe.lines] == LINES
    assert recipe.source_line == 2


def test_yaml_notes_are_read_and_know_their_line():
    note = POST.replace("\n", "\n    ")
    (recipe,) = read_text(
        f"- day: Monday\n  note: |\n    {note}\n- day: Tuesday\n  note: rest\n", "week.yaml"
    ).recipes
    assert [line.text for line in recipe.lines] == LINES
    assert {line.source_line for line in recipe.lines} == {2}


def test_lines_of_a_json_export_stand_at_the_line_of_their_text():
    first, second = read([{"post": POST}, {"post": POST.replace("pea", "bean")}]).recipes
    assert first.source_line == 3
    assert second.source_line == 6


def test_a_number_beside_the_text_stands_where_it_is_written():
    card = {"head": "Quay pea soup", "front": POST_LIST, "back": "4 people. 235 kcal, P 10"}
    (recipe,) = read([card]).recipes
    assert [number.source_line for number in recipe.stated] == [5, 5]
    assert {line.source_line for line in recipe.lines} == {4}


def test_a_name_of_another_thing_is_no_title_where_the_text_has_one():
    (recipe,) = read([{"name": "Marek", "message": POST}]).recipes
    assert recipe.title == "Quay pea soup"


def test_a_text_that_states_its_own_numbers_stands_once():
    (recipe,) = read([{"title": "Quay pea soup", "content": PAGE.replace("<li>", "<li> ")}]).recipes
    assert recipe.title == "Quay pea soup"
    assert len(recipe.lines) == len(LINES)


def test_keys_that_hold_ingredients_win_over_texts_beside_them():
    (recipe,) = read(
        [{"title": "Rye porridge", "ingredients": ["80 g rye flakes"], "story": POST}]
    ).recipes
    assert [line.text for line in recipe.lines] == ["80 g rye flakes"]


KEPT = {
    "title": "Rye porridge", "serves": 2, "ingredients": ["80 g rye flakes", "400 ml milk"],
    "macros": {"kcal": 320, "protein_g": 12},
}  # fmt: skip
KEPT_AS_TEXT = (
    "Rye porridge tonight\n80g rye flakes\n400 ml milk\n\nserves 2, each 320 kcal, 12 g protein"
)
TALK = "We ran 12 km along the quay this morning, 3 of us and 2 dogs. It rained all the way home."


@pytest.mark.parametrize(
    "tree",
    [
        [{"words": "See the app for all of it, as ever", "recipe": KEPT}, {"words": POST, "recipe": None}, {"words": TALK}],
        {"recipes": [KEPT], "drafts": [{"body": POST}], "about": TALK},
        {"pages": {"one": {"text": POST}, "two": KEPT, "three": {"text": TALK}}},
        {"day": [{"lunch": KEPT}, {"lunch": {"note": POST, "at": "12:30"}}]},
        [{"words": KEPT_AS_TEXT, "recipe": KEPT}, {"words": POST}],
        {"posts": [{"words": KEPT_AS_TEXT}, {"words": POST}], "recipes": [KEPT]},
        [KEPT, {"title": "Quay pea soup", "serves": 3, "text": BODY}],
        [{**KEPT, "ideas": [{"text": TALK}, {"text": POST}]}],
    ],
)  # fmt: skip
def test_what_keys_leave_over_is_read_as_text_and_what_a_text_repeats_is_not(tree):
    kept, told = read(tree).recipes
    assert kept.title == "Rye porridge"
    assert told.title == "Quay pea soup"
    assert [[line.text for line in one.lines] for one in (kept, told)] == [
        KEPT["ingredients"],
        LINES,
    ]
    assert (kept.servings, told.servings) == (2, 3)
    assert [one.position for one in (kept, told)] == [0, 1]


def test_other_numbers_of_a_text_make_it_another_version():
    other = KEPT_AS_TEXT.replace("320", "410")
    assert len(read([{"words": other, "recipe": KEPT}]).recipes) == 2


@pytest.mark.parametrize("inside", [True, False])
def test_a_text_beside_a_list_says_what_no_key_does(inside):
    bare = {"title": "Rye porridge", "ingredients": KEPT["ingredients"]}
    said = "Rye night on the quay! Per bowl 320 kcal, 12 g protein. Serves 2, go for it."
    tree = [{"words": said, "recipe": bare}] if inside else [{**bare, "words": said}]
    (recipe,) = read([*tree, {"words": TALK}]).recipes
    assert [(s.nutrient, s.amount) for s in recipe.stated] == [("ENERC_KCAL", 320), ("PROCNT", 12)]
    assert recipe.servings == 2
    assert [line.text for line in recipe.lines] == KEPT["ingredients"]


def test_each_text_of_an_object_that_tells_a_recipe_is_one():
    found = read([{"day": "Monday", "lunch": POST, "dinner": KEPT_AS_TEXT, "note": TALK}]).recipes
    assert sorted(one.title for one in found) == ["Quay pea soup", "Rye porridge tonight"]


def test_corrected_numbers_of_a_recipe_by_its_keys_stay_in_their_place_beside_one_told_as_text():
    text = json.dumps([{"words": POST}, {"recipe": KEPT}])
    (kept, _) = read_text(text, "posts.json").recipes
    original = Original(text.encode(), Path("posts.json"), "posts.json")
    (again, told) = read_text(
        edit_json(original, {kept.position: {"ENERC_KCAL": 290.0}}).decode(), "posts.json"
    ).recipes
    assert [s.amount for s in again.stated] == [290, 12]
    assert [(s.nutrient, s.amount) for s in told.stated] == STATED


def test_xml_in_which_some_entries_are_texts():
    rows = "<x>80 g rye flakes</x><x>400 ml milk</x>"
    entry = f"<e><name>Rye porridge</name><serves>2</serves><ingredients>{rows}</ingredients></e>"
    found = read_text(
        f"<book>{entry}<e><t>{POST}</t></e><e><t>{TALK}</t></e></book>", "b.xml"
    ).recipes
    assert [one.title for one in found] == ["Rye porridge", "Quay pea soup"]


TABLE = [
    ["title", "servings", "ingredients", "kcal", "notes"],
    ["Rye porridge", "2", "80 g rye flakes; 400 ml milk", "320", "warm it slowly"],
    ["Quay pea soup", "", "", "", POST],
    ["Barley pot", "4", "200 g pearl barley; 2 carrots", "190", ""],
]


def test_a_row_of_a_table_without_ingredients_is_what_its_text_tells(tmp_path):
    rows = "\n".join(",".join(f'"{cell}"' for cell in row) for row in TABLE)
    (tmp_path / "plan.csv").write_text(rows, encoding="utf-8")
    book = openpyxl.Workbook()
    for row in TABLE:
        book.active.append(row)
    book.save(tmp_path / "plan.xlsx")
    for name in ("plan.csv", "plan.xlsx"):
        found = read_file(SourceFile(tmp_path / name, name, named=True)).recipes
        assert [one.title for one in found] == ["Rye porridge", "Quay pea soup", "Barley pot"]
        assert [line.text for line in found[1].lines] == LINES
        assert [(s.nutrient, s.amount) for s in found[1].stated] == STATED
        assert [one.position for one in found] == [0, 1, 2]


@pytest.mark.parametrize("rows", [[[POST], [TALK], [KEPT_AS_TEXT]], [["Week 12"], ["Mon", POST], ["Tue", TALK], ["Wed", KEPT_AS_TEXT]]])  # fmt: skip
def test_a_sheet_of_texts_is_read_cell_by_cell_with_a_header_or_without(tmp_path, rows):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.save(tmp_path / "posts.xlsx")
    found = read_file(SourceFile(tmp_path / "posts.xlsx", "posts.xlsx", named=True)).recipes
    assert [one.title for one in found] == ["Quay pea soup", "Rye porridge tonight"]
    assert [len(one.lines) for one in found] == [3, 2]


def test_reading_what_is_left_over_grows_with_the_text():
    def seconds(n: int) -> float:
        own = [{**KEPT, "title": f"Rye {at}"} for at in range(n)]
        tree = [{"words": POST, "no": at, "recipes": own if at == 1 else None} for at in range(n)]
        return cpu_seconds(lambda: read(tree))

    assert growth(seconds, 40) <= 5


SCALARS = st.none() | st.booleans() | st.floats(allow_nan=False) | st.text(max_size=60)
OBJECTS = st.dictionaries(st.text(max_size=8), SCALARS | st.lists(SCALARS, max_size=2), max_size=3)


@given(st.lists(OBJECTS | st.dictionaries(st.text(max_size=8), OBJECTS, max_size=2), max_size=3))
def test_any_tree_is_read_without_a_fault_of_ours(tree):
    assert not [p for p in read(tree).problems if p.code == "file-unreadable"]
