"""Spoken scripts: every recipe, 95 % of the ingredient mentions, every stated total."""

from pathlib import Path

import pandas as pd
import pytest
import yaml
from examples import examples
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pipeline.intake import read_collection
from pipeline.intake.spoken.captions import Piece, pieces
from pipeline.intake.spoken.script import looks_spoken, read_script
from pipeline.intake.spoken.words import words_of
from pipeline.publish.write import write_cards
from pipeline.tables import SCRIPT_MARK_KINDS

SCRIPTS = Path(__file__).parent / "scripts"
EXPECTED = yaml.safe_load((SCRIPTS / "expected.yaml").read_text(encoding="utf-8"))
TAGS = {
    "kcal": "ENERC_KCAL",
    "protein": "PROCNT",
    "carbs": "CHOCDF",
    "fat": "FAT",
    "fibre": "FIBTG",
}


@pytest.fixture(scope="module")
def collection():
    return read_collection([p for p in sorted(SCRIPTS.iterdir()) if p.suffix != ".yaml"])


def heard(collection, source):
    """Recipes of one script, in order: title, servings, lines without headings, stated."""
    out = []
    for recipe in collection.recipe[collection.recipe["source"] == source].itertuples():
        lines = collection.line[collection.line["recipe_id"] == recipe.recipe_id]
        stated = collection.stated[collection.stated["recipe_id"] == recipe.recipe_id]
        texts = [t for t in lines["text"] if not t.endswith(":")]
        out.append((recipe, texts, dict(zip(stated["nutrient"], stated["amount"], strict=True))))
    return out


@pytest.mark.parametrize("source", sorted(EXPECTED))
def test_all_recipes_and_all_totals(collection, source):
    found = heard(collection, source)
    assert [len(found)] == [len(EXPECTED[source])]
    for (recipe, _, stated), expected in zip(found, EXPECTED[source], strict=True):
        assert stated == {TAGS[k]: v for k, v in expected["stated"].items()}
        assert recipe.servings == expected["servings"]
        if expected["title"]:
            assert recipe.title == expected["title"]


def test_nearly_all_mentions_and_hardly_any_that_were_not_made(collection):
    wanted = given = right = 0
    for source, recipes in EXPECTED.items():
        for (_, texts, _), expected in zip(heard(collection, source), recipes, strict=True):
            wanted += len(expected["lines"])
            given += len(texts)
            right += sum(min(texts.count(t), expected["lines"].count(t)) for t in set(texts))
    assert right / wanted >= 0.95
    assert right / given >= 0.95


def test_each_line_knows_where_it_was_said(collection):
    for row in collection.line.itertuples():
        source = collection.recipe.set_index("recipe_id").at[row.recipe_id, "source"]
        text = (SCRIPTS / source).read_text(encoding="utf-8").split("\n")
        assert text[row.source_line - 1].strip()
        if source.endswith((".vtt", ".srt")):
            assert collection.said_at[row.recipe_id, row.line_no].count(":") == 2
    honey = collection.line[collection.line["text"] == "1 drizzle honey"].iloc[0]
    assert collection.said_at[honey["recipe_id"], honey["line_no"]] == "00:00:33"


def test_marks_lie_in_the_speech_and_point_to_their_lines(collection):
    texts = dict(zip(collection.scripts["source"], collection.scripts["text"], strict=True))
    assert set(texts) == set(EXPECTED)
    lines = collection.line.set_index(["recipe_id", "line_no"])
    told = collection.recipe.set_index("recipe_id")["source"]
    for mark in collection.script_marks.itertuples():
        assert mark.kind in SCRIPT_MARK_KINDS
        assert 0 <= mark.start < mark.end <= len(texts[mark.source])
        assert "-->" not in texts[mark.source][mark.start : mark.end]
        if mark.recipe_id:
            assert told[mark.recipe_id] == mark.source
        if not pd.isna(mark.line_no):
            assert (mark.recipe_id, mark.line_no) in lines.index
    honey = [
        texts[m.source][m.start : m.end]
        for m in collection.script_marks.itertuples()
        if m.kind == "ingredient"
        and lines.at[(m.recipe_id, m.line_no), "text"] == "1 drizzle honey"
    ]  # fmt: skip
    assert [" ".join(said.split()) for said in honey] == ["a drizzle of honey"]


def test_cards_of_scripts_read_back_the_same(collection, tmp_path):
    made = write_cards(collection, tmp_path)
    assert len(made.paths) == len(collection.recipe)
    again = read_collection(tmp_path)
    assert set(again.recipe["format"]) == {"card"}
    for table in ("line", "stated"):
        column = "text" if table == "line" else "amount"
        before, after = getattr(collection, table), getattr(again, table)
        names = collection.recipe.set_index("recipe_id")["title"]
        titles = again.recipe.set_index("recipe_id")["title"]
        expected = before.groupby(before["recipe_id"].map(names))[column].agg(list)
        if table == "line":
            after = after[~after["text"].str.endswith(":")]  # sections are headings in a card
        found = after.groupby(after["recipe_id"].map(titles))[column].agg(list)
        assert expected.to_dict() == found.to_dict()
    text = (tmp_path / "cherry-bakewell.txt").read_text()
    assert "- 70 g frozen cherries  [00:00:28]\n" in text
    assert not write_cards(collection, tmp_path).paths  # nothing is replaced


def one(text, kind="script"):
    read = read_script(text, kind=kind)
    return read, [r.text for recipe in read.recipes for r in recipe.lines]


@pytest.mark.parametrize(
    ("said", "lines"),
    [
        ("add 120 grams of rolled oats and a scoop of vanilla protein powder",
         ["120 g rolled oats", "1 scoop vanilla protein powder"]),
        ("that's 120 grams again that's 120 grams of rolled oats", ["120 g rolled oats"]),
        ("take a kilo of potatoes no sorry half a kilo", ["1/2 kg potatoes"]),
        ("throw in half an avocado and two eggs", ["1/2 avocado", "2 eggs"]),
        ("add two 400 gram tins of chickpeas drained", ["2 x 400 g tins chickpeas, drained"]),
        ("add 250 grams of zero percent greek yogurt", ["250 g 0% greek yogurt"]),
        ("fry it without butter and add ten grams of olive oil", ["10 g olive oil"]),
        ("spinach about 50 grams feta 30 grams and one tomato", ["50 g spinach", "30 g feta", "1 tomato"]),
        ("add 30 grams of protein powder and 40 grams of low fat cream cheese",
         ["30 g protein powder", "40 g low fat cream cheese"]),
        ("add 100 grams of butter with 100 grams of peanut butter",
         ["100 g butter", "100 g peanut butter"]),
        ("cook it for five minutes at 200 degrees then add 80 grams of peas", ["80 g peas"]),
    ],
)  # fmt: skip
def test_ways_to_say_an_ingredient(said, lines):
    assert one(said)[1] == lines


def test_an_amount_without_a_food_is_reported_and_not_invented():
    read, lines = one(
        "so add 200 grams of that and stir. Then add 100 grams of rice. Then 50 millilitres. Done."
    )
    assert lines == ["100 g rice"]
    unclear = [p for p in read.problems if p.code == "spoken-amount-unclear"]
    assert ["200 g" in unclear[0].what, "50 ml" in unclear[1].what] == [True, True]


@pytest.mark.parametrize(
    "said",
    ["all of these are under 500 calories and at least 30 grams of protein", "my goal is 2000 calories a day",
     "that's 150 calories already", "the oats are 150 calories per tablespoon"],
)  # fmt: skip
def test_limits_and_goals_are_no_totals(said):
    read, _ = one(f"add 100 grams of rice and 50 grams of peas and by the way {said}")
    assert [r.stated for r in read.recipes] == [[]]


def test_a_whole_tray_and_each_piece():
    whole, _ = one(
        "add 100 grams of oats it makes 4 bars the whole tray is 900 calories and 40 grams of protein"
    )
    assert {s.basis for s in whole.recipes[0].stated} == {"per_recipe"}
    each, _ = one(
        "add 100 grams of oats and 2 eggs that's 225 calories each and 10 grams of protein"
    )
    assert {s.basis for s in each.recipes[0].stated} == {"per_serving"}
    assert each.recipes[0].servings != each.recipes[0].servings  # more than one, but how many?


def test_rolling_captions_are_heard_once():
    text = (
        "WEBVTT\n\n1\n00:01.000 --> 00:02.000\nadd 120 grams of oats and\n\n2\n00:02.000 --> 00:03.000\n"
        "add 120 grams of oats and\n<c>one egg</c> [Music]\n\n3\n00:03.000 --> 00:04.000\none egg\n10 g of honey\n"
    )
    assert [p.text for p in pieces(text, "webvtt")] == [
        "add 120 grams of oats and",
        "one egg",
        "10 g of honey",
    ]
    assert one(text, "webvtt")[1] == ["120 g oats", "1 egg", "10 g honey"]


@pytest.mark.parametrize(
    ("said", "value"),
    [("a hundred and twenty", 120), ("one twenty", 120), ("four thirty five", 435), ("two fifty", 250),
     ("fifteen hundred", 1500), ("thirty-one", 31), ("one point five", 1.5), ("two and a half", 2.5),
     ("three quarters of a", 0.75), ("half a dozen", 6), ("a dozen", 12), ("two thirds", 2 / 3),
     ("one thousand two hundred and five", 1205), ("1 1/2", 1.5), ("2½", 2.5), ("1,200", 1200)],
)  # fmt: skip
def test_numbers_as_they_are_said(said, value):
    words = words_of([Piece(said, 1)])
    assert len(words) == 1
    assert words[0].value == pytest.approx(value)


@given(st.integers(1, 999))
def test_spoken_integers_are_understood(number):
    ones = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"]  # fmt: skip
    tens = ["", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]

    def below_hundred(n):
        return ones[n] if n < 20 else tens[n // 10] + (f" {ones[n % 10]}" if n % 10 else "")

    hundreds, rest = divmod(number, 100)
    spoken = f"{ones[hundreds]} hundred" if hundreds else ""
    if rest:
        spoken += (" and " if hundreds else "") + below_hundred(rest)
    (word,) = words_of([Piece(spoken, 1)])
    assert word.value == number


@settings(max_examples=examples(150))
@given(
    st.lists(
        st.one_of(
            st.sampled_from(
                [
                    "first",
                    "up",
                    "is",
                    "number",
                    "two",
                    "the",
                    "base",
                    "same",
                    "half",
                    "of",
                    "it",
                    "remaining",
                    "quarter",
                    "add",
                    "and",
                    "a",
                    "120",
                    "grams",
                    "oats",
                    "cup",
                    "egg",
                    "calories",
                    "protein",
                    "31",
                    "fat",
                    "each",
                    "makes",
                    "four",
                    "portions",
                    "swap",
                    "for",
                    "instead",
                    "so",
                    ",",
                    ".",
                    "percent",
                    "x",
                    "tin",
                    "of",
                    "butter",
                    "the",
                    "rest",
                    "again",
                    "3/4",
                    "that's",
                    "0",
                    "per",
                    "person",
                ]
            ),
            st.text(max_size=6),
        ),
        max_size=60,
    )
)
@example(words=["oats", "0", "oats"])
def test_reading_is_total(words):
    for kind in ("script", "webvtt", "srt"):
        read = read_script("WEBVTT\n\n00:01.000 --> 00:02.000\n" + " ".join(words), kind=kind)
        for recipe in read.recipes:
            assert all(line.text for line in recipe.lines)


def test_cards_are_not_taken_for_talk():
    card = "Soup\nServes 2\n\n- 200 g peas\n- 1 onion\n\nChop the onion and add it to the pan with the peas.\n"
    assert not looks_spoken(card)
    assert read_collection("-", stdin=card).recipe["format"].tolist() == ["card"]
