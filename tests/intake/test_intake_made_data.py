"""Known recipes in shapes composed of independent choices: how much of them is read.

The floors lie a little below what is read today. The values of each choice are parted into halves; rules were
worked out on the first, and the second says how far they carry.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest
from made_data import NUTRIENTS, Dish, Line, case

from pipeline.intake import read_collection

CASES = 60
#: Of what is stored, what is read at the least: recipes, lines, servings, numbers; and lines and
#: recipes too many, a recipe.
FLOORS = {
    False: {"recipes": 0.78, "lines": 0.76, "servings": 0.72, "stated": 0.70},
    True: {"recipes": 0.52, "lines": 0.49, "servings": 0.45, "stated": 0.43},
}
MOST_EXTRA = 0.55


def plain(title: str) -> str:
    return " ".join(re.findall(r"[a-z]+", title.lower().replace("'", "")))


def is_line(text: str, line: Line) -> bool:
    """Whether a text names the food and has its amount or its weight."""
    numbers = {float(n) for n in re.findall(r"\d+(?:\.\d+)?", text.replace("1/2", "0.5"))}
    named = line.food.split()[-1].rstrip("s") in text.lower()
    return named and not numbers.isdisjoint({line.amount, float(round(line.grams) or 1)})


def read(folder: Path, files: dict[str, bytes]) -> dict[str, tuple[float, list[str], set[object]]]:
    """Servings, lines and (nutrient, basis, amount) by title."""
    folder.mkdir()
    for name, data in files.items():
        (folder / name).write_bytes(data)
    found = read_collection(folder)
    texts = found.line.groupby("recipe_id")["text"].agg(list).to_dict()
    stated: dict[str, set[object]] = {}
    for one in found.stated.itertuples(index=False):
        stated.setdefault(one.recipe_id, set()).add((one.nutrient, one.basis, round(one.amount, 1)))
    return {
        plain(one.title).partition(" serves")[0]: (
            one.servings, texts.get(one.recipe_id, []), stated.get(one.recipe_id, set())
        )
        for one in found.recipe.itertuples(index=False)
    }  # fmt: skip


def count(
    made: list[Dish], basis: str, found: dict[str, tuple[float, list[str], set[object]]]
) -> Counter[str]:
    told: Counter[str] = Counter(extra=len(found))
    for dish in made:
        servings, texts, stated = found.get(plain(dish.title), (0.0, [], set()))
        told["extra"] -= plain(dish.title) in found
        told["recipes"] += plain(dish.title) in found
        told["servings"] += servings == dish.servings
        hits = sum(any(is_line(text, line) for text in texts) for line in dish.lines)
        told["lines"] += hits
        told["extra"] += max(0, len([t for t in texts if not t.endswith(":")]) - hits)
        known = zip(NUTRIENTS, dish.stated[basis], strict=True)
        told["stated"] += sum((tag, basis, round(value, 1)) in stated for tag, value in known)
    return told


@pytest.mark.parametrize("held_back", [False, True])
def test_what_is_read_of_data_in_any_shape(tmp_path: Path, held_back: bool) -> None:
    told, stored = Counter[str](), Counter[str]()
    for seed in range(CASES):
        made, shape, files = case(seed, held_back)
        told += count(made, shape["basis"], read(tmp_path / str(seed), files))
        stored["recipes"] += len(made)
        stored["servings"] += len(made)
        stored["lines"] += sum(len(dish.lines) for dish in made)
        stored["stated"] += len(NUTRIENTS) * len(made)
    shares = {name: told[name] / stored[name] for name in stored}
    assert {n: share for n, share in shares.items() if share < FLOORS[held_back][n]} == {}, shares
    assert told["extra"] <= MOST_EXTRA * stored["recipes"]
