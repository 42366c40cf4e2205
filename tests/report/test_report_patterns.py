"""Patterns speak when several recipes share a cause, and are silent otherwise."""

from __future__ import annotations

from collections.abc import Callable

from pipeline.report.patterns import patterns
from pipeline.run import Result


def carbs_low(n: int, of: int, gap: float, fibre: float) -> list[tuple[object, ...]]:
    specs: list[tuple[object, ...]] = []
    for i in range(of):
        off = gap if i < n else 0.0
        verdict = "disagrees" if i < n else "agrees"
        carbs = (50.0 - off, 50.0, 48.0, 52.0, 5.0, verdict)
        numbers = {"carbs_g": carbs, "fiber_g": (fibre, fibre, 9.0, 11.0, 2.0, "agrees")}
        specs.append((f"r{i}", f"Bowl {i}", "", verdict, numbers))
    return specs


def headlines(result: Result) -> list[str]:
    return [p.headline for p in patterns(result)]


def test_carbohydrate_low_by_the_fibre_asks_for_net_carbs(make: Callable[..., Result]) -> None:
    found = patterns(make(carbs_low(9, 12, gap=10.0, fibre=10.0), explanations=[]))
    first = found[0]
    assert first.headline == "Carbohydrate is low in 9 of 12 recipes that state it"
    assert first.advice.startswith("In 9 of them the gap is about the fibre")
    assert first.recipe_ids == [f"r{i}" for i in range(9)]


def test_carbohydrate_low_for_another_reason_does_not(make: Callable[..., Result]) -> None:
    found = patterns(make(carbs_low(9, 12, gap=30.0, fibre=4.0), explanations=[]))
    assert "not the fibre" in found[0].advice


def test_faults_on_both_sides_are_no_pattern(make: Callable[..., Result]) -> None:
    specs = [
        (f"r{i}", f"Bowl {i}", "", "disagrees",
         {"fat_g": (10.0 + (8 if i % 2 else -8), 10.0, 9.0, 11.0, 1.5, "disagrees")})
        for i in range(10)
    ]  # fmt: skip
    assert not [h for h in headlines(make(specs, explanations=[])) if "Fat is" in h]


def test_one_faulty_recipe_is_no_pattern(make: Callable[..., Result]) -> None:
    assert headlines(make(carbs_low(1, 12, gap=10.0, fibre=10.0), explanations=[])) == []


def test_numbers_that_lean_one_way_within_tolerance(make: Callable[..., Result]) -> None:
    specs = [
        (f"r{i}", f"Bowl {i}", "", "agrees",
         {"kcal": (420.0, 400.0, 390.0, 410.0, 40.0, "agrees")})
        for i in range(10)
    ]  # fmt: skip
    assert headlines(make(specs, explanations=[])) == [
        "Energy lies above the sum in 10 of 10 recipes within reach, by 5% in the middle"
    ]


def test_the_same_slip_and_the_same_food(make: Callable[..., Result]) -> None:
    specs = carbs_low(4, 4, gap=20.0, fibre=1.0)
    slips = [
        (f"r{i}", 1, "unit_slip", 1, 0.9, "If line 1 had been read otherwise ...",
         1.0, 1.0, 1.0, 1.0, 1.0, "per_serving")
        for i in range(4)
    ]  # fmt: skip
    found = headlines(make(specs, explanations=slips))
    assert "A line measured in another unit: the likeliest slip in 4 recipes" in found
    assert "Lentils is the line in question in 4 recipes" in found


def test_a_line_that_waits_in_several_recipes_is_one_question(
    make: Callable[..., Result],
) -> None:
    specs = [(f"r{i}", f"R{i}", "", "not_judged", {}) for i in range(3)]
    texts = {f"r{i}": ["1 scoop pea protein"] for i in range(3)}
    found = patterns(make(specs, texts=texts, explanations=[]))
    assert [p.headline for p in found] == ["“1 scoop pea protein” waits for an answer in 3 recipes"]


def test_an_empty_run_has_no_patterns(make: Callable[..., Result]) -> None:
    assert patterns(make([], explanations=[])) == []
