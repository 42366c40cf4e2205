"""Which lines mean a recipe of the collection: on purpose, or by one's own title."""

from __future__ import annotations

from types import MappingProxyType

import duckdb
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.foods.title_words import key_of, title_key
from pipeline.lines import parse_many
from pipeline.match.titles import DISH_UNITS, counting_word, refers
from pipeline.reading import find_uses


def parsed(text):
    return parse_many([text])[0]


CON = duckdb.connect()  # opening one takes longer than all that is asked of it


def uses(texts, recipes, known, sections=MappingProxyType({}), *, itself=True):
    """(recipe_id, line_no) → recipe used, when every recipe holds every text; ``itself``: those that
    name its title too."""
    with CON.cursor() as con:
        con.execute(
            "create or replace temp table recipe (recipe_id text, title_key text, creator text, source text,"
            " portion text, servings double)"
        )
        con.executemany(
            "insert into recipe values (?, ?, ?, ?, 'bag', ?)",
            [(i, " ".join(title_key(t)), c, s, *(n or [4.0])) for i, t, c, s, *n in recipes],
        )
        con.execute(
            "create or replace temp table line (recipe_id text, line_no int, section text, text text)"
        )
        con.executemany(
            "insert into line values (?, ?, ?, ?)",
            [
                (r[0], n, sections.get(t), t)
                for r in recipes
                for n, t in enumerate(texts)
                if itself or title_key(r[1]) != key_of(parsed(t).name)
            ],
        )
        con.execute(
            "create or replace temp table matched (text text, name_key text, dish boolean, said_unit text,"
            " said_amount double, said_piece text, said text, known boolean)"
        )
        for text, sure in zip(texts, known, strict=True):
            line = parsed(text)
            dish = any(m.unit in DISH_UNITS for m in line.measures)
            con.execute(
                "insert into matched values (?, ?, ?, ?, 1, ?, ?, ?)",
                [
                    text,
                    " ".join(key_of(line.name)),
                    dish,
                    line.measures[0].unit if line.measures else "",
                    counting_word(line),
                    "recipe" if dish and refers([text])[0] != "share" else refers([text])[0],
                    sure,
                ],
            )
        return {(key, no): used for key, no, used, *_ in find_uses(con).fetchall()}


def found(text, recipes, within="me", *, known=True, itself=False):
    return uses([text], recipes, [known], itself=itself).get((within, 0))


PAGES = [("me", "Harbour bowls", "", "a.json"), ("relish", "Plum relish", "", "b.json")]


@pytest.mark.parametrize(
    ("text", "used"),
    [
        ("2 tbsp plum relish", None),  # a food the table knows: any plum relish will do
        ("2 tbsp homemade plum relish", "relish"),
        ("200 g of the plum relish", "relish"),
        ("1 batch plum relish", "relish"),
        ("2 tbsp plum relish (see recipe)", "relish"),
        ("2 portions relish", "relish"),
        ("80 g of the relish", "relish"),
        ("80 g relish", None),
        ("2 tbsp plum relish for the table", None),
    ],
)
def test_a_known_food_is_a_recipe_only_on_purpose(text, used):
    assert found(text, PAGES) == used


def test_what_the_table_lacks_is_the_recipe_of_the_same_folder():
    assert found("2 tbsp plum relish", PAGES, known=False) == "relish"
    elsewhere = [
        ("me", "Harbour bowls", "", "mine/a.json"),
        ("relish", "Plum relish", "", "b.json"),
    ]
    assert found("2 tbsp plum relish", elsewhere, known=False) is None
    assert found("2 tbsp of the plum relish", elsewhere, known=False) == "relish"


def test_the_same_creator_means_the_own_recipe_and_another_creator_is_not_meant():
    both = [
        ("me", "Harbour bowls", "Ro Quill", "a.json"), ("mine", "Plum relish", "Ro Quill", "c/b.json"),
        ("theirs", "Plum relish", "Bo Lark", "c.json"),
    ]  # fmt: skip
    assert found("2 tbsp plum relish", both) == "mine"
    assert found("2 tbsp plum relish", [both[0], both[2]], known=False) is None
    assert found("2 tbsp homemade plum relish", [both[0], both[2]]) is None
    assert found("2 tbsp plum relish (recipe below)", [both[0], both[2]]) == "theirs"


def test_what_a_recipe_is_portioned_into_points_to_it():
    book = [("me", "Harbour bowls", "", "a.json"), ("relish", "Plum relish", "", "a.json")]
    assert found("2 bags plum relish", book) == "relish"  # it makes freezer bags
    assert found("2 jars plum relish", book) is None
    assert found("2 bags plum relish", [book[0], ("relish", "Plum relish", "", "x/b.json")]) is None


def test_pieces_of_what_the_table_lacks_are_of_the_recipe_that_ends_so():
    book = [("me", "Harbour bowls", "", "a.json"), ("base", "Bean and corn filling", "", "a.json")]
    assert found("1 scoop filling (230 g)", book, known=False) == "base"
    assert found("2 bags filling", book) == "base"  # it makes bags
    assert found("1 scoop filling (230 g)", book) is None
    assert found("230 g filling", book, known=False) is None
    two = [*book, ("other", "Pie filling", "", "a.json")]
    assert found("1 scoop filling (230 g)", two, known=False) is None


@pytest.mark.parametrize("nothing", [None, float("nan")])
@pytest.mark.parametrize("file", ["a.json", "b.json"])
def test_what_says_no_servings_is_made_to_be_used(file, nothing):
    """A base has a weight or a pot; beside recipes that are served it is the one that they mean."""
    base = ("relish", "Plum relish", "", file, nothing)
    served = ("me", "Harbour bowls", "", "a.json", 2.0)
    assert found("2 tbsp plum relish", [served, base]) == "relish"
    assert found("2 tbsp plum relish", [(*served[:4], nothing), base]) is None
    assert found("2 tbsp plum relish", [served, (*base[:3], f"x/{file}", nothing)]) is None


def test_a_recipe_that_takes_the_food_it_is_called_by_is_not_meant_by_that_name():
    """ "Egg" is a wrap with eggs in it: an egg elsewhere is none of its portions."""
    base = ("wrap", "Egg", "", "a.json", None)
    served = ("me", "Harbour bowls", "", "a.json", 2.0)
    assert found("2 eggs", [served, base]) == "wrap"
    assert found("2 eggs", [served, base], itself=True) is None
    assert found("half of the egg", [served, base], itself=True) == "wrap"


def test_two_that_could_be_meant_are_none():
    two = [*PAGES, ("other", "Plum relish", "", "d.json")]
    assert found("200 g of the plum relish", two) is None
    assert found("200 g of the plum relish", two, within="other", itself=True) == "relish"


TEXTS = [
    "2 tbsp plum relish", "100 g of the plum relish", "2 portions plum relish", "1 batch plum",
    "homemade plum relish", "80 g of the relish", "half the broth", "3 portions relish", "2 cups base broth", "our base broth", "4 eggs",
]  # fmt: skip
RECIPES = st.lists(
    st.tuples(
        st.sampled_from(["Plum relish", "Base broth", "Eggs", "Plum relish with eggs", ""]),
        st.sampled_from(["", "Ro Quill", "Bo Lark"]),
        st.sampled_from(["a.json", "x/a.json", "x/b.json"]),
    ),
    min_size=1, max_size=6,
)  # fmt: skip


@settings(max_examples=examples(30))
@given(RECIPES, st.lists(st.booleans(), min_size=len(TEXTS), max_size=len(TEXTS)))
def test_a_line_means_a_recipe_whose_title_holds_its_words_and_never_its_own(recipes, known):
    rows = [(f"r{i}", *r) for i, r in enumerate(recipes)]
    titles = {i: set(key_of(t)) for i, t, _, _ in rows}
    got = uses(TEXTS, rows, known)
    for (key, no), used in got.items():
        assert used != key
        assert set(key_of(parsed(TEXTS[no]).name)) <= titles[used]
    assert uses(TEXTS, rows[::-1], known) == got  # whatever the order of the collection


BOOK = [
    ("me", "Friday gnocchi", "", "shed/book.md"),
    ("ragu", "Big mushroom ragu", "", "shed/book.md"),
    ("lamb", "Lamb ragu", "", "shed/other.md"),
]


@pytest.mark.parametrize(
    "text",
    [
        "half the big mushroom ragu (about 600 g)",  # "big" is a size, and a word of the title
        "the other half of the ragu, 600 g or so",
        "a third of yesterday's ragu",
        "3 ladles of ragu from above",
        "all of the ragu",
    ],
)
def test_a_share_means_the_recipe_of_the_same_file_whatever_amount_stands_beside_it(text):
    assert found(text, BOOK) == "ragu"


def test_a_section_of_the_recipe_itself_is_meant_before_another_recipe():
    texts = ["300 g mushrooms", "half of the ragu"]
    made = {"300 g mushrooms": "For the ragu"}
    assert ("me", 1) in uses(texts, BOOK, [True, True])
    assert ("me", 1) not in uses(texts, BOOK, [True, True], made)


@pytest.mark.parametrize(
    ("title", "named"),
    [
        ("Our Friday onion base (keep this one, you will need it)", "friday onion base"),
        ("Onion base [recipe as my aunt wrote it down]", "onion base"),
        ("Onion base (vegan)", "onion base vegan"),  # a few words part it from another base
        ("(for the whole crew of the Wren)", "for the whole crew of the wren"),
    ],
)
def test_a_remark_behind_a_title_is_no_part_of_its_name(title: str, named: str) -> None:
    assert title_key(title) == key_of(named)
    assert title_key(title) == title_key(title + " ")
