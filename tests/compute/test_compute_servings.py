"""The servings, where words leave them open: by the stated energy, shown, and never invented."""

from __future__ import annotations

import json
import math

import pytest

import pipeline
from pipeline.run import verify

#: 4 x 100 g white sugar: 1,548 kcal by the table.
LINES = ["400 g granulated sugar"]


def write_page(folder, made, size, kcal, *, name="Lantern brittle"):
    node = {
        "@type": "Recipe", "name": name, "recipeYield": made,
        "recipeIngredient": LINES,
        "nutrition": {"servingSize": size, "calories": f"{kcal} kcal"},
    }  # fmt: skip
    (folder / f"{name}.json").write_text(json.dumps(node), encoding="utf-8")


def page(tmp_path, made, size, kcal):
    write_page(tmp_path, made, size, kcal)
    return verify(tmp_path)


FITTING = [
    ("8", "2 pieces", 387, 4),
    ("8", "2 pieces", 194, 8),
    ("8-10", None, 155, 10),
    ("8-10", None, 193, 8),
    ("8-10", None, 172, 9),
    ("1 loaf", "1 serving", 1550, 1),
    ("12 pieces", "12 pieces", 1540, 1),
    ("12 pieces", "12 pieces", 129, 12),
    ("16 tablespoons", "1 serving", 97, 16),
    ("1 cake", "1 slice (50 g)", 194, 8),  # by weight: 400 g
    ("8 servings", "1 serving", 770, 8),  # the words are plain: energy does not overrule them
]


@pytest.fixture(scope="module")
def fitting(tmp_path_factory, snapshot):
    """One run over a page of each."""
    folder = tmp_path_factory.mktemp("fitting")
    for n, (made, size, kcal, _) in enumerate(FITTING):
        write_page(folder, made, size, kcal, name=f"Lantern brittle {n}")
    return verify(folder)


@pytest.mark.parametrize("case", FITTING, ids=str)
def test_the_reading_that_fits_the_stated_energy_is_taken(fitting, case):
    title = f"Lantern brittle {FITTING.index(case)}"
    for table in (fitting.recipes, fitting.collection.recipe):
        assert table.set_index("title").loc[title, "servings"] == pytest.approx(case[-1])


def test_the_reading_is_shown_with_what_the_other_would_give(tmp_path):
    result = page(tmp_path, "8", "2 pieces", 387)
    how = result.collection.recipe["servings_how"].item()
    assert "at 2 pieces" in how
    assert "194 kcal" in how
    note = result.problems[result.problems["code"] == "servings-read"]
    assert note["why"].item() == how


@pytest.mark.parametrize(
    ("made", "size", "kcal"), [("1 loaf", "1 serving", 150), ("2 litres", "1 glass", 150)]
)
def test_a_container_or_a_volume_is_never_a_divisor(tmp_path, made, size, kcal):
    result = page(tmp_path, made, size, kcal)
    assert math.isnan(result.recipes["servings"].item())
    assert result.recipes["verdict"].item() == "not_judged"
    said = set(result.problems["code"])
    assert said & {"servings-not-counted", "servings-missing"}


CARD = """Lantern toffee {n}
{made}

400 g granulated sugar

Per {what}: {kcal} kcal
"""
OWN_WORDS = [
    ("Makes 8 portions (about 1.2 kg)", "portion", 194, 8, 1200),
    ("Makes 12 mini bars (2 per serving)", "serving", 258, 6, math.nan),
    ("Makes 12 mini bars (2 per serving)", "bar", 129, 12, math.nan),
    ("Makes 4 jars", "jar", 387, 4, math.nan),
    ("Makes 12 bars", "2 bars", 258, 6, math.nan),
    ("Feeds a family of 4", "person", 387, 4, math.nan),
    ("Makes 12 bars; serves 6", "serving", 258, 6, math.nan),
    ("Makes 4 pots", "serving", 387, 4, math.nan),
    ("Makes 2 slabs, 16 pieces (about 400 g)", "piece", 97, 16, 400),
]


@pytest.fixture(scope="module")
def own_words(tmp_path_factory, snapshot):
    """One run over a card of each."""
    folder = tmp_path_factory.mktemp("words")
    for n, (made, what, kcal, *_) in enumerate(OWN_WORDS):
        card = CARD.format(n=n, made=made, what=what, kcal=kcal)
        (folder / f"{n}.txt").write_text(card, encoding="utf-8")
    return verify(folder)


@pytest.mark.parametrize("case", OWN_WORDS, ids=str)
def test_cards_say_it_in_their_own_words(own_words, case):
    *_, servings, weight = case
    title = f"Lantern toffee {OWN_WORDS.index(case)}"
    row = own_words.recipes.set_index("title").loc[title]
    assert row["servings"] == pytest.approx(servings)
    assert row["verdict"] == "agrees"
    read = own_words.collection.recipe.set_index("title").loc[title]
    assert read["yield_g"] == pytest.approx(weight, nan_ok=True)


def test_a_stated_weight_of_the_dish_is_what_shares_of_it_are_taken_from():
    text = """Lantern syrup
Makes 10 portions (about 800 g)

400 g granulated sugar
---
Dockside pancakes
Serves 2

200 g of the lantern syrup
---
Dockside fritters
Serves 2

200 g of the syrup
"""
    result = pipeline.verify("-", stdin=text)
    kcal = result.recipes.set_index("title")["kcal_computed"]
    assert kcal["Dockside pancakes"] == pytest.approx(kcal["Lantern syrup"] * 10 / 4 / 2)
    assert kcal["Dockside fritters"] == pytest.approx(kcal["Dockside pancakes"])


@pytest.mark.parametrize(
    ("said", "kcal", "basis", "verdict"),
    [
        ("", 387, "per_serving", "agrees"),
        ("", 1548, "per_recipe", "agrees"),
        ("Per serving: ", 1548, "per_serving", "disagrees"),  # words win over what would follow
        ("", 900, "per_serving", "disagrees"),  # no reading follows
    ],
)
def test_what_no_word_says_the_basis_of_follows_from_the_lines(
    tmp_path, said, kcal, basis, verdict
):
    card = f"Lantern toffee\nServes 4\n\n400 g granulated sugar\n\n{said}{kcal} kcal, 0 g fat\n"
    (tmp_path / "toffee.txt").write_text(card, encoding="utf-8")
    result = verify([tmp_path])
    assert set(result.collection.stated["basis"]) == {basis}
    assert result.recipes["verdict"].item() == verdict
    assert result.recipes["servings"].item() == 4
    assert ("basis-read" in set(result.problems["code"])) == (basis == "per_recipe")
