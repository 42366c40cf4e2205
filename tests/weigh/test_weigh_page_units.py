"""A page's own definition of a measure rules on that page, and nowhere else."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import pipeline
from pipeline.lines import parse
from pipeline.weigh.page_units import own_units


@pytest.mark.parametrize(
    ("text", "units"),
    [
        ("1 cup* = 180 ml", {"cup": 180}),
        ("*1 rice cup = 180ml", {"cup": 180}),
        ("We use metric spoons: 1 tablespoon = 20 ml, 1 teaspoon = 5 ml.", {"tbsp": 20, "tsp": 5}),
        ("1 cup is 2 dl", {}),
        ("1 cup = 25 cl", {"cup": 250}),
        ("1 cup = 900 ml", {}),  # no cup
        ("1 cup (180 ml) rice", {}),  # a line that says its amount twice
        ("1/2 cup = 120 ml", {}),
        ("200 ml milk", {}),
    ],
)
def test_definitions(text: str, units: dict[str, float]) -> None:
    assert own_units([text]) == units


@given(st.integers(100, 450))
def test_any_size_of_a_cup(ml: int) -> None:
    assert own_units(["2 eggs", f"1 cup = {ml} ml"]) == {"cup": float(ml)}


def test_a_definition_names_no_food() -> None:
    assert parse("*1 cup = 180 ml").kind == "not_food"
    assert parse("1 cup milk").kind == "food"


def test_lines_of_that_page_alone_follow_it(tmp_path: Path) -> None:
    card = "{title}\nServes 2\n\n{lines}\n\nPer serving: 300 kcal\n"
    lines = "1 cup* white rice\n100 g (1 cup) leeks\n2 tbsp oil\n{more}"
    (tmp_path / "a.txt").write_text(
        card.format(title="Watch rice", lines=lines.format(more="1 cup* = 180 ml")), "utf-8"
    )
    (tmp_path / "b.txt").write_text(
        card.format(title="Other rice", lines=lines.format(more="1 egg")), "utf-8"
    )
    found = pipeline.verify(tmp_path).lines
    own, other = (found[found["recipe_id"] == r].reset_index() for r in ("a.txt", "b.txt"))
    ratio = (own["grams"] / other["grams"])[:3].tolist()
    assert ratio == pytest.approx([180 / 236.588, 1.0, 1.0], rel=1e-4)
    assert "this recipe's cup holds 180 ml" in own["weigh_reason"][0]
