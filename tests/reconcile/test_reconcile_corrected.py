"""Which stated numbers a corrected copy changes: the wrong ones, and what no longer goes with them."""

from __future__ import annotations

import math
from collections.abc import Collection

import pandas as pd
import pytest

from pipeline.reconcile.corrected import without_agreeing, wrong_as_a_whole

Numbers = dict[str, tuple[float, float, str]]


def changed(
    numbers: Numbers, allowed: float = 30.0, whole: Collection[str] = ()
) -> dict[str, float]:
    """The numbers that are written, of stated, corrected and verdict."""
    corrected = pd.DataFrame([{"recipe_id": "a", **{c: new for c, (_, new, _) in numbers.items()}}])
    findings = pd.DataFrame(
        [("a", c, stated, allowed, verdict) for c, (stated, _, verdict) in numbers.items()],
        columns=["recipe_id", "nutrient", "stated", "allowed", "verdict"],
    )
    row = without_agreeing(corrected, findings, whole).iloc[0].drop("recipe_id").to_dict()
    return {c: v for c, v in row.items() if not math.isnan(v)}


LETTUCE: Numbers = {
    "kcal": (312, 309, "agrees"), "protein_g": (83, 38, "disagrees"),
    "carbs_g": (13, 12, "agrees"), "fat_g": (12, 12, "agrees"),
}  # fmt: skip


def test_only_the_number_that_is_wrong_changes() -> None:
    assert changed(LETTUCE) == {"protein_g": 38}


def test_numbers_that_do_not_disagree_but_are_unsure_change_with_it() -> None:
    assert changed({**LETTUCE, "carbs_g": (13, 9, "uncertain")}) == {"protein_g": 38, "carbs_g": 9}


def test_numbers_that_no_longer_add_up_with_the_corrected_ones_change_too() -> None:
    # the energy agreed by being halfway; with the fat put right it would be 60 kcal off its macros
    numbers: Numbers = {
        "kcal": (400, 440, "agrees"), "protein_g": (20, 20, "agrees"),
        "carbs_g": (45, 40, "agrees"), "fat_g": (15, 22, "disagrees"),
    }  # fmt: skip
    assert changed(numbers, allowed=30) == {c: new for c, (_, new, _) in numbers.items()}
    assert changed(numbers, allowed=80) == {"fat_g": 22}


@pytest.mark.parametrize(("fibre", "stays"), [(4.0, True), (14.0, False)])
def test_a_part_stays_as_long_as_its_whole_holds_it(fibre: float, stays: bool) -> None:
    numbers: Numbers = {
        "carbs_g": (38, 12, "disagrees"), "fiber_g": (fibre, 5, "agrees"),
        "protein_g": (3, 3, "agrees"),
    }  # fmt: skip
    assert ("fiber_g" in changed(numbers)) is not stays
    assert changed(numbers)["carbs_g"] == 12


def test_of_numbers_that_all_disagree_every_one_changes() -> None:
    all_off: Numbers = {c: (s * 2, s, "disagrees") for c, (s, *_) in LETTUCE.items()}
    assert changed(all_off) == {c: s for c, (s, *_) in LETTUCE.items()}


@pytest.mark.parametrize(
    ("kind", "belief", "whole"),
    [
        ("servings_slip", 0.7, True), ("per_100g_stated_as_serving", 0.9, True),
        ("servings_slip", 0.3, False), ("line_left_out", 0.9, False),
    ],
)  # fmt: skip
def test_a_number_that_agrees_by_chance_goes_with_the_others(
    kind: str, belief: float, whole: bool
) -> None:
    """Divided by eight in place of six, a small number may stay within the tolerance."""
    found = pd.DataFrame({
        "recipe_id": ["a", "a"], "rank": [1, 2], "kind": [kind, "servings_slip"],
        "probability": [belief, 0.05],
    })  # fmt: skip
    assert wrong_as_a_whole(found) == ({"a"} if whole else set())
    assert wrong_as_a_whole(found.iloc[:0]) == set()
    numbers: Numbers = {"fat_g": (11, 14.6, "disagrees"), "protein_g": (3.4, 4.4, "agrees")}
    every = {"fat_g": 14.6, "protein_g": 4.4}
    assert changed(numbers, whole=wrong_as_a_whole(found)) == (every if whole else {"fat_g": 14.6})
