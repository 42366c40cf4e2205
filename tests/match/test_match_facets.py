"""A table's food name taken apart."""

from __future__ import annotations

import pytest

from pipeline.match.facets import facets


@pytest.mark.parametrize(
    ("description", "head", "states"),
    [
        ("Rice, brown, long-grain, cooked", ("rice",), {"cooked"}),
        ("Beans, black, mature seeds, cooked, boiled, without salt", ("bean",),
         {"cooked", "boiled", "unsalted"}),
        ("Peanut butter, smooth style, with salt", ("peanut", "butter"), {"salted"}),
        ("Milk, canned, condensed, sweetened", ("milk",), {"canned", "sweetened"}),
        ("Applesauce, canned, unsweetened, without added ascorbic acid", ("applesauce",),
         {"canned", "unsweetened"}),
        ("Fish, salmon, pink, canned, drained solids", ("fish",), {"canned", "drained"}),
    ],
)  # fmt: skip
def test_head_and_states(description: str, head: tuple[str, ...], states: set[str]) -> None:
    read = facets(description)
    assert read.head == head
    assert read.states == states


def test_a_brand_in_capitals_or_a_maker_is_seen() -> None:
    assert facets("Cereals, QUAKER, quick oats, dry").brand
    assert facets("Yogurt, plain", "A. Maker").brand
    assert not facets("Sweet potato, raw, unprepared (Includes foods for USDA's program)").brand
