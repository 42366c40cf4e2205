"""Whole texts and grids explained by what their parts are (the files are invented, and in-sample)."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import openpyxl
import pytest
from cases import cases
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake import read_collection
from pipeline.intake.reading import read_text
from pipeline.intake.tables.grid import better_reading
from pipeline.intake.text.card import read_roles
from pipeline.intake.text.clauses import clauses_of
from pipeline.intake.text.decoder import decode, decoded
from pipeline.intake.text.plain_lines import card_lines

_NAMES = list(cases(__file__, "files"))


@pytest.mark.parametrize("name", _NAMES)
def test_a_file_of_nobodys_layout(tmp_path: Path, name: str) -> None:
    case = cases(__file__, "files")[name]
    path = tmp_path / case["file"]
    if path.suffix == ".xlsx":
        book = openpyxl.Workbook()
        for row in csv.reader(io.StringIO(case["text"])):
            book.active.append(
                [float(c) if c.replace(".", "").isdigit() else c or None for c in row]
            )
        book.save(path)
    else:
        path.write_text(case["text"], encoding="utf-8")
    read = read_collection([path])
    energy = read.stated[read.stated["nutrient"] == "ENERC_KCAL"]
    lines = read.line.groupby("recipe_id", sort=False)["text"].apply(list)
    found = [
        {
            "title": title,
            "kcal": energy[energy["recipe_id"] == one]["amount"].tolist(),
            "lines": lines[one],
        }
        for one, title in zip(read.recipe["recipe_id"], read.recipe["title"], strict=True)
    ]
    expected = [
        {"title": r["title"], "kcal": r["kcal"], "lines": r["lines"]} for r in case["recipes"]
    ]
    assert found == expected
    servings = [r.get("servings") for r in case["recipes"]]
    assert [
        told for told, wanted in zip(read.recipe["servings"], servings, strict=True) if wanted
    ] == [wanted for wanted in servings if wanted]
    assert bool(found) or any(
        p.code in ("no-recipe", "table-columns-unknown") for p in read.problems
    )


def _items(line: str) -> list[str]:
    text = (
        f"Bean stew\nserves 2\n400 g beans\n{line}\n300 kcal, 10 g protein, 40 g carbs, 8 g fat\n"
    )
    recipes, _ = decode(card_lines(text))
    return [span.text for label, span in recipes[0].spans if label in ("item", "bare")][1:]


@pytest.mark.parametrize(
    "line",
    ["1 cup / 240 ml milk", "4 x 150 g / 5 oz salmon fillets", "1 can (400 g / 14 oz) tomatoes",
     "2 large eggs, 1 beaten", "oats, 60 g", "2 salmon fillets, 260g the pair", "1 onion, chopped"],
)  # fmt: skip
def test_one_food_said_in_several_ways_is_one_line(line: str) -> None:
    assert _items(line) == [line]


@pytest.mark.parametrize(
    "line",
    ["Bake at 180 C / 350 F / gas 4", "Prep 10 | Cook 40 | Feeds four", "Simmer for half an hour."],
)
def test_what_is_no_food_is_no_line(line: str) -> None:
    assert _items(line) == []


def test_a_list_in_sentences_is_cut_before_its_amounts() -> None:
    assert _items("300 g lean lamb browned in 2 tbsp oil, then 200 g leeks.")[-3:] == [
        "300 g lean lamb browned in", "2 tbsp oil", "then 200 g leeks.",
    ]  # fmt: skip


def test_a_thread_is_read_without_the_names_of_its_speakers() -> None:
    text = (
        "Maud: what was that soup\nJo: pea soup, serves 2\nJo: 300 g peas\nJo: 1 onion\n"
        "Jo: 20 g butter\nJo: 210 kcal each, 11 g protein\nMaud: thanks\n"
    )
    (recipe,) = read_text(text, "thread.txt").recipes
    assert [line.text for line in recipe.lines] == ["300 g peas", "1 onion", "20 g butter"]
    assert recipe.servings == 2


@settings(max_examples=examples(60), deadline=None)
@given(st.text(alphabet="ab 12gk.,:;/|()-\n•é½", max_size=200))
def test_any_text_is_decoded_in_order(text: str) -> None:
    lines = card_lines(text)
    recipes, clauses = decode(lines)
    firsts = [span.first for recipe in recipes for _, span in recipe.spans]
    assert firsts == sorted(set(firsts))
    assert all(span.last < len(clauses) for recipe in recipes for _, span in recipe.spans)
    assert all(c.line.text[c.start : c.end].strip() for c in clauses_of(lines))
    assert {line.no for line in decoded(lines)} <= {line.no for line in lines}


@settings(max_examples=examples(40), deadline=None)
@given(
    st.lists(
        st.lists(
            st.sampled_from(["", "oats", "50", "2 eggs", "kcal", "Soup", "serves 2"]), max_size=4
        ),
        max_size=8,
    )
)
def test_any_grid_is_read_without_a_fault(rows: list[list[str]]) -> None:
    numbered = [(no, cells) for no, cells in enumerate(rows, start=1) if any(cells)]
    for recipe in better_reading(numbered, "csv", ()):
        assert recipe.title
        assert recipe.lines


def test_lines_of_a_card_with_only_its_energy_stay_as_written() -> None:
    card = (
        "Quayside supper\nServes 2\n\n2 eggs + 100 g egg whites\n1 tbsp soy sauce and 1 tbsp honey\n"
        "Batter from above\n\nPer serving: 300 kcal\n"
    )
    (recipe,) = read_text(card, "supper.txt").recipes
    assert [line.text for line in recipe.lines] == card.splitlines()[3:6]


def test_a_front_matter_that_tells_title_and_numbers_leaves_no_doubt_of_its_list() -> None:
    text = "---\ntitle: Pier soup\nserves: 2\ncalories: 120\n---\n\n* 200 g peas and carrots\n* 1 onion\n"
    (recipe,) = read_text(text, "soup.md").recipes
    assert [line.text for line in recipe.lines] == ["200 g peas and carrots", "1 onion"]


BUNS = """Harbour buns

450 g self-raising flour
100 g butter
220 ml milk

A bun: 1135 kJ, which is 271 kcal, protein 6 g, carbohydrate 40 g, fat 10 g

Twelve minutes in a hot oven.
"""


def test_one_of_what_the_title_names_is_what_the_numbers_are_for() -> None:
    (recipe,) = read_roles(decoded(card_lines(BUNS)), "card")
    assert (recipe.served, len(recipe.lines), len(recipe.stated)) == ("bun", 3, 4)


def test_the_word_above_a_list_may_tell_what_it_makes() -> None:
    text = BUNS.replace("450 g", "What goes in (9 fine buns)\n\n450 g")
    (recipe,) = read_roles(decoded(card_lines(text)), "card")
    assert (recipe.servings, len(recipe.lines)) == (9, 3)
