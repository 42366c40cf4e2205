"""Recipes told as text in the values of data: posts of an export, notes of a plan."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.reading import read_text

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


SCALARS = st.none() | st.booleans() | st.floats(allow_nan=False) | st.text(max_size=60)
OBJECTS = st.dictionaries(st.text(max_size=8), SCALARS | st.lists(SCALARS, max_size=2), max_size=3)


@given(st.lists(OBJECTS | st.dictionaries(st.text(max_size=8), OBJECTS, max_size=2), max_size=3))
def test_any_tree_is_read_without_a_fault_of_ours(tree):
    assert not [p for p in read(tree).problems if p.code == "file-unreadable"]
