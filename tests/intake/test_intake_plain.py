"""Lines that need no second look are read as those that get one: the same recipes and problems."""

from unittest.mock import patch

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake import entries
from pipeline.intake.building import Building
from pipeline.intake.entries import Entries, are_plain
from pipeline.intake.structured.documents import recipes_of
from pipeline.intake.tables import table

ODD = (
    "", " ", "Sauce:", "For the sauce:", "For your sauce", "to make the top", "To make your top",
    "salt: ", "½ cup  milk", " 1 egg", "2 eggs ", "1\ttbsp oil", "1 egg\n2 eggs", "<b>1 egg</b>",
    "salt &amp; pepper", "a\u200bb", "x:y",
    "1\u00a0kg flour", "\ud83d", "a" * 2_001, "n/a", "-1", "12 g", "1,724 kJ", "4-6", "1 loaf (12 slices)",
)  # fmt: skip
PLAIN = ("200 g oats", "1 onion, sliced", "2 tbsp crème fraîche", "salt", "412", "4")
texts = st.one_of(
    st.sampled_from(PLAIN), st.sampled_from(ODD), st.text(max_size=12), st.from_regex(r"[ -~]{1,8}")
)


@pytest.mark.parametrize("odd", ODD)
def test_each_odd_text_is_looked_at_where_it_has_to_be(odd):
    for given_texts in ([odd], ["salt", odd, "4"], [odd, "salt"]):
        test_plain_texts_are_the_lines_they_would_be_read_as.hypothesis.inner_test(given_texts)


@given(st.lists(texts, max_size=6))
def test_plain_texts_are_the_lines_they_would_be_read_as(given_texts):
    careful = Entries(find_line=lambda _: None)
    careful.add(given_texts)
    if are_plain(given_texts):
        assert [(one.text, one.section) for one in careful.lines] == [(t, "") for t in given_texts]
        assert not careful.problems


@given(st.lists(st.sampled_from(PLAIN), min_size=1, max_size=6))
def test_everyday_lines_are_plain(given_texts):
    assert are_plain(given_texts)


def built(read_it):
    """What a reader gives as tables and problems, and the same where no text counts as plain."""
    given = []
    for plain in (are_plain, lambda _: False):
        with patch.object(entries, "are_plain", plain), patch.object(table, "are_plain", plain):
            read = read_it()
        building, problems = Building(""), list(read.problems)
        building.add("file", read, problems)
        frames = [f.astype(object).fillna("missing").values.tolist() for f in building.frames()]
        given.append((frames, problems))
    return given


COLUMNS = ("recipe_id", "title", "servings", "line", "section", "line_no", "kcal", "kJ", "fat_g")


@given(
    st.lists(st.sampled_from(COLUMNS), unique=True, min_size=3),
    st.lists(st.lists(texts, min_size=len(COLUMNS), max_size=len(COLUMNS)), max_size=12),
)
def test_tidy_tables(columns, cells):
    names = [*columns, "ingredient"]
    rows = [[*row[: len(columns)], row[-1]] for row in cells]
    plain, careful = built(lambda: table.read_rows(names, rows, format="csv", first_line=2))
    assert plain == careful


values = st.one_of(texts, st.integers(-3, 900), st.floats(), st.booleans(), st.none())
recipes = st.fixed_dictionaries(
    {},
    optional={
        "id": values, "title": values, "servings": values, "description": values, "kcal": values,
        "ingredients": st.one_of(values, st.lists(st.one_of(texts, values), max_size=6)),
        "stated": st.one_of(values, st.dictionaries(
            st.sampled_from(("basis", "kcal", "kJ", "protein_g", "fat_g", "unheard_of")), values)),
    },
)  # fmt: skip


@given(st.lists(recipes, max_size=3))
def test_recipes_of_our_form(trees):
    def read():
        return table.Read(recipes=recipes_of(trees, None))

    plain, careful = built(read)
    assert plain == careful
