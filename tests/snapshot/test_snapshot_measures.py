"""Measure texts of composition tables, read into parts."""

from __future__ import annotations

from typing import Any

import pytest
from cases import cases
from hypothesis import given
from hypothesis import strategies as st

from pipeline.snapshot.measures import inner_volume, read_measure


@pytest.mark.parametrize(
    ("text", "description", "parts"), cases(__file__, "the_tables_own_wording")
)
def test_the_tables_own_wording(text: str, description: str, parts: list[Any]) -> None:
    read = read_measure(text, description=description)
    assert read is not None
    assert [read.amount, read.unit, read.qualifier, read.size] == parts


def test_an_amount_told_apart_is_not_looked_for_in_the_text() -> None:
    read = read_measure("serving 8 fl oz", amount=1)
    assert read is not None
    assert (read.amount, read.unit, read.qualifier) == (1, "portion", "8 fl oz")


@pytest.mark.parametrize(
    ("text", "volume"),
    [("1 serving, 1/2 cup", (0.5, "cup")), ("1 serving,  (8 fl oz)", (8, "fl_oz")),
     ("1 serving,  (makes about 1 cup prepared)", None), ("1 serving", None),
     ("1 cup,  (8 fl oz)", None)],
)  # fmt: skip
def test_a_serving_that_names_its_volume(text: str, volume: tuple[float, str] | None) -> None:
    stated = read_measure(text)
    assert stated is not None
    inside = inner_volume(stated)
    assert (inside and (inside.amount, inside.unit)) == volume


@pytest.mark.parametrize("text", ["", "   ", "0 cup", "1/0 cup "])
def test_nothing_to_read_is_none_or_kept_as_words(text: str) -> None:
    read = read_measure(text)
    assert read is None or read.unit not in ("cup", "tbsp")


@given(st.text(max_size=60), st.text(max_size=20))
def test_any_text_is_read_or_refused_without_a_fault(text: str, description: str) -> None:
    stated = read_measure(text, description=description)
    inside = inner_volume(stated) if stated is not None else None
    for read in (stated, inside):
        if read is None:
            continue
        assert read.amount > 0
        assert read.qualifier == read.qualifier.strip()


@given(
    st.integers(1, 40),
    st.sampled_from(["cup", "tbsp", "tsp", "fl oz"]),
    st.sampled_from(["", "chopped"]),
)
def test_amount_and_unit_come_back(amount: int, unit: str, note: str) -> None:
    read = read_measure(f"{amount} {unit}{', ' + note if note else ''}")
    assert read is not None
    assert (read.amount, read.unit, read.qualifier) == (amount, unit.replace(" ", "_"), note)
