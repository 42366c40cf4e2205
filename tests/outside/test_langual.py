"""Profiles against USDA's own LanguaL codes of 2,662 foods.

Source of the expected codes: USDA National Nutrient Database for Standard Reference, release 28
(2016), files LANGUAL and LANGDESC of the full version. They do not travel with the program: unpack
them as CSV into a folder and name it in STEELYARD_SR28_FULL. What agreement means per facet stands
in ``benchmarks/langual_agreement.py``; ``make bench-profile`` prints the disagreements.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from pipeline.foods import profiles

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

import langual_agreement as langual
import profiles as bench
from food_table import load_foods

FULL = Path(
    os.environ.get(
        "STEELYARD_SR28_FULL", Path(__file__).parents[3] / "shared/data/fetched/sr28-full"
    )
)
needs_codes = pytest.mark.skipif(
    not (FULL / "LANGUAL.csv").is_file(),
    reason=f'no LANGUAL.csv of SR28\'s full version in "{FULL}"; set STEELYARD_SR28_FULL',
)


@pytest.fixture(scope="module")
def coded(snapshot):
    """(descriptions, USDA's codes, our codes) of the foods that USDA coded."""
    with snapshot.connect() as con:
        table = load_foods(con)
    read = profiles(
        table.description, manufacturers=table.manufacturer, categories=table.category,
        composition=bench.columns_of(table),
    )  # fmt: skip
    codes = langual.read_codes(FULL)
    places = [at for at, code in enumerate(table.source_code) if code in codes]
    return (
        [table.description[at] for at in places],
        [codes[table.source_code[at]] for at in places],
        [read[at].facets for at in places],
    )


@needs_codes
def test_the_release_is_the_one_meant(coded) -> None:
    assert len(coded[0]) == 2662


@needs_codes
@pytest.mark.parametrize("facet", langual.FACETS)
def test_agreement(coded, facet: str) -> None:
    found = langual.compare(*coded, facets=facet)[facet]
    assert found.coded > 2600
    assert found.share >= 95.0


@needs_codes
@pytest.mark.parametrize("facet", langual.FACETS)
def test_agreement_of_the_half_that_was_never_looked_at(coded, facet: str) -> None:
    apart = [all_ for all_ in zip(*coded, strict=True) if langual.kept_apart(all_[0])]
    found = langual.compare(*map(list, zip(*apart, strict=True)), facets=facet)[facet]
    assert found.coded > 1200
    assert found.share >= 92.5


@needs_codes
def test_a_reading_that_says_nothing_does_not_pass(coded) -> None:
    """The floor: empty answers agree where USDA says that nothing is known or done, and no more."""
    descriptions, usda, _ = coded
    silent = langual.compare(descriptions, usda, [{}] * len(usda))
    assert {letter: round(found.share) for letter, found in silent.items()} == {
        "C": 0, "F": 8, "G": 56, "J": 70, "K": 93,
    }  # fmt: skip


def test_broader_terms_agree_and_others_do_not() -> None:
    meat, skinless, lean, liver = (frozenset({c}) for c in ("C0125", "C0268", "C0270", "C0176"))
    assert langual.agrees(meat, lean) == (True, False)
    assert langual.agrees(lean, lean) == (True, True)
    assert langual.agrees(skinless, lean) == (True, False)
    assert langual.agrees(liver, lean) == (False, False)
    nothing: frozenset[str] = frozenset()
    assert langual.agrees(frozenset({"G0003"}), nothing) == (True, True)
    assert langual.agrees(frozenset({"G0005"}), nothing) == (False, False)
    assert langual.agrees(nothing, frozenset({"G0005"})) == (False, False)
