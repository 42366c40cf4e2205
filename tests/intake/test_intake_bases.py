"""Recipes of a text that others are built on: lists without numbers, lines that name one of them."""

from __future__ import annotations

from pathlib import Path

import pytest
from growth import cpu_seconds, growth

from pipeline.intake.model import RawLine, RawRecipe
from pipeline.intake.text.bases import with_bases
from pipeline.intake.text.card_line import CardLine
from pipeline.run import verify

BASE = """## {title}

- 75 g couscous, dry
- 1 tbsp olive oil
- 100 g chickpeas, tinned, drained
"""
BOWLS = """# Dockside bowls

{base}
## Salmon bowl
Serves 1

{uses}
- 120 g salmon fillet
- 80 g broccoli

Per bowl: 812 kcal, 40 g protein

## Egg bowl
Serves 1

{uses}
- 2 large eggs
- 40 g feta

Per bowl: 840 kcal, 33 g protein
"""


def lines_of(tmp_path: Path, text: str) -> dict[str, list[tuple[str, str]]]:
    (tmp_path / "bowls.md").write_text(text, encoding="utf-8")
    result = verify([tmp_path])
    titles = dict(zip(result.recipes["recipe_id"], result.recipes["title"], strict=True))
    found: dict[str, list[tuple[str, str]]] = {title: [] for title in titles.values()}
    for line in result.lines.itertuples():
        found[titles[line.recipe_id]].append((line.text, line.origin))
    found["told"] = [(p.code, p.what) for p in result.collection.problems]
    return found


@pytest.mark.parametrize(
    "uses",
    [
        "Base, plus",
        "Everything in the base, plus:",
        "- base",
        "The base and",
        "Start with the base, then add",
    ],
)
@pytest.mark.parametrize("title", ["Base", "Base – every bowl starts with this", "Grain base"])
def test_a_base_without_numbers_is_a_recipe_that_others_use(tmp_path, title, uses):
    found = lines_of(tmp_path, BOWLS.format(base=BASE.format(title=title), uses=uses))
    assert len(found[title]) == 3
    for bowl in ("Salmon bowl", "Egg bowl"):
        assert [origin for _, origin in found[bowl]] == ["recipe", "table", "table"]
    assert "list-without-recipe" not in [code for code, _ in found["told"]]


def test_a_list_that_no_recipe_names_is_reported(tmp_path):
    other = BASE.format(title="Picnic crust")
    found = lines_of(tmp_path, BOWLS.format(base=other, uses=""))
    assert "Picnic crust" not in found
    told = [what for code, what in found["told"] if code == "list-without-recipe"]
    assert told == ['"Picnic crust" lists 3 ingredients and is not read as a recipe']


def test_a_heading_above_a_part_of_the_list_stays_a_heading(tmp_path):
    text = """# Pies

## Fish pie
Serves 4
- 400 g cod
- 500 g potatoes
### Sauce
- 300 ml whole milk
- 30 g butter
Per serving: 330 kcal, 25 g protein

## Sauce
Serves 4
- 200 g tomatoes
- 10 ml olive oil
Per serving: 35 kcal, 1 g protein
"""
    found = lines_of(tmp_path, text)
    assert ("Sauce:", "none") in found["Fish pie"]
    assert len(found["Sauce"]) == 2


def test_one_box_of_a_base_is_a_share_of_what_its_numbers_say_it_makes(tmp_path):
    text = """# Trays

## The Quay tray (base)
* 200 g quinoa, uncooked
* 400 g carrots
* 240 g chickpeas, tinned, drained
* 2 tbsp olive oil

One box on its own: 392 kcal, 13 g protein, 58 g carbs, 12 g fat.

## Feta bowl
one box from the Quay tray, plus

* 40 g feta
* 30 g spinach

whole bowl: 505 kcal, 19 g protein
"""
    (tmp_path / "trays.md").write_text(text, encoding="utf-8")
    result = verify([tmp_path])
    verdicts = dict(zip(result.recipes["title"], result.recipes["verdict"], strict=True))
    assert verdicts == {"The Quay tray (base)": "agrees", "Feta bowl": "agrees"}
    assert result.collection.recipe["servings"].tolist()[0] == 4


def test_a_book_of_bowls_takes_as_long_for_each_however_many_there_are():
    """Recipes times lines, or times recipes, would be a minute for a book."""

    def seconds(recipes: int) -> float:
        lines: list[CardLine] = []
        bowls: list[RawRecipe] = []
        for n in range(recipes):
            texts = [f"Quay bowl number {n}", f"base {n}, plus", "90 g lentils", "2 eggs"]
            first = len(lines) + 1
            lines += [CardLine(first + at, text) for at, text in enumerate(texts)]
            listed = [RawLine(text, "", first + at) for at, text in enumerate(texts) if at > 1]
            bowls.append(RawRecipe(texts[0], "card", n, source_line=first, lines=listed))
        return cpu_seconds(lambda: with_bases(bowls, [], lines))

    assert growth(seconds, 200, within=6) <= 6
