"""Pack values as typed: read, brought to a serving, and questioned where they cannot be right."""

from __future__ import annotations

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.memory.pantry import COLUMNS, read_pantry_food
from pipeline.web.pack import FIELDS, read_pack

GOOD = {
    "food_name": "Quay quark", "serving_g": "250", "serving_name": "1 tub", "per": "serving",
    "kcal": "168", "protein_g": "30", "carbs_g": "10", "fat_g": "0,5",
}  # fmt: skip


def test_values_of_a_serving_are_kept_as_typed() -> None:
    pack = read_pack(GOOD)
    assert not pack.faults
    assert not pack.doubts
    assert list(pack.row) == COLUMNS
    assert (pack.row["kcal"], pack.row["fat_g"], pack.row["fiber_g"]) == ("168", "0.5", "")


def test_values_of_100_g_are_brought_to_the_serving() -> None:
    row = read_pack(
        {**GOOD, "per": "100g", "kcal": "67.2", "protein_g": "12", "carbs_g": "4", "fat_g": "0.2"}
    ).row
    assert (row["kcal"], row["protein_g"]) == ("168", "30")
    assert read_pantry_food(row).per_100g["ENERC_KCAL"] == pytest.approx(67.2)


def test_salt_is_sodium_times_two_and_a_half() -> None:
    assert read_pack({**GOOD, "salt_g": "1.25"}).row["sodium_mg"] == "500"
    assert read_pack({**GOOD, "salt_g": "1.25", "sodium_mg": "480"}).row["sodium_mg"] == "480"


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("food_name", ""), ("food_name", "=1+1"), ("food_name", "творог"), ("food_name", "x" * 200),
        ("serving_g", ""), ("serving_g", "0"), ("serving_g", "a tub"), ("kcal", ""),
        ("kcal", "-3"), ("kcal", "inf"), ("protein_g", "1e9"), ("aliases", "@x"),
    ],
)  # fmt: skip
def test_each_fault_is_said_at_its_field(field: str, typed: str) -> None:
    pack = read_pack({**GOOD, field: typed})
    assert list(pack.faults) == [field]
    assert pack.row == {}
    assert pack.values[field] == typed


def test_more_than_the_serving_holds_has_to_be_corrected() -> None:
    pack = read_pack({**GOOD, "fat_g": "510"})
    assert not pack.row
    assert "cannot be" in pack.faults["fat_g"]


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"kcal": "16.8"}, "does not follow"), ({"protein_g": "246"}, "come to"),
        ({"sugar_g": "30"}, "sugars 30"), ({"kcal": "1680"}, "kcal"),
    ],
)  # fmt: skip
def test_values_that_cannot_be_right_are_questioned(change: dict[str, str], word: str) -> None:
    pack = read_pack({**GOOD, **change})
    assert not pack.faults
    assert any(word in doubt.lower() for doubt in pack.doubts)
    assert not any("_g" in doubt for doubt in pack.doubts)


@settings(max_examples=examples(60))
@given(
    st.dictionaries(
        st.sampled_from(["food_name", "serving_g", "per", *(f.column for f in FIELDS)]),
        st.text(max_size=30),
    )
)
def test_whatever_is_typed_gives_a_row_or_a_fault_never_an_error(form: dict[str, str]) -> None:
    pack = read_pack(form)
    assert bool(pack.row) != bool(pack.faults)
    if pack.row:
        read_pantry_food(pack.row)
