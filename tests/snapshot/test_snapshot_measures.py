"""Measure texts of composition tables, read into parts."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.snapshot.measures import inner_volume, read_measure


@pytest.mark.parametrize(
    ("text", "description", "parts"),
    [
        (".25 cup", "", (0.25, "cup", "", "")),
        ("1 pat,  (1\" sq, 1/3\" high)", "Butter", (1, "pat", '1" sq, 1/3" high', "")),
        ('1 fruit,  (2-1/8" dia)', "Lemons, raw", (1, "piece", '2-1/8" dia', "")),
        ("1 large", "Egg, whole", (1, "piece", "", "large")),
        ('1 potato, large (3" to 4-1/4" dia)', "Potatoes, raw",
         (1, "piece", 'potato, large (3" to 4-1/4" dia)', "large")),
        ("1 head, medium (about 5\" dia)", "Cabbage", (1, "head", 'medium (about 5" dia)', "medium")),
        ("1 cup,  (8 fl oz)", "", (1, "cup", "8 fl oz", "")),
        (".75 cup,  (1 NLEA serving)", "", (0.75, "cup", "1 NLEA serving", "")),
        ("8 fl oz", "", (8, "fl_oz", "", "")),
        ("1 NLEA serving", "", (1, "portion", "", "")),
        ("2 Tbsp", "", (2, "tbsp", "", "")),
        ("1 can, drained solids", "", (1, "tin", "drained solids", "")),
        ("1 mini bagel,  (2-1/2\" dia)", "Bagels, plain", (1, "piece", 'bagel, 2-1/2" dia', "mini")),
        ("1 piece,  (1/8 of 9\" dia)", "Pie, apple", (1, "slice", '1/8 of 9" dia', "")),
        ("1 piece, cooked, excluding refuse (yield from 1 lb raw meat with refuse)", "Beef",
         (1, "lb_raw", "cooked, excluding refuse (yield from 1 lb raw meat with refuse)", "")),
        ("1 jigger,  (1.5 fl oz)", "Rum", (1, "jigger", "1.5 fl oz", "")),
        ("10 nuts", "Nuts, pine nuts", (10, "piece", "", "")),
        ("1 pepper", "Peppers, sweet, raw", (1, "piece", "pepper", "")),
        ("1 Potato large (3\" dia)", "Potatoes, raw", (1, "piece", 'Potato large, 3" dia', "large")),
        ("3 hotcakes 5.3 oz", "Hotcakes, plain", (3, "piece", "hotcakes 5.3 oz", "")),
        ("2 leaves", "Basil", (2, "leaf", "", "")),
        ("1/2 cup, sliced", "", (0.5, "cup", "sliced", "")),
        ("1 1/2 cups", "", (1.5, "cup", "", "")),
    ],
)  # fmt: skip
def test_the_tables_own_wording(
    text: str, description: str, parts: tuple[float, str, str, str]
) -> None:
    read = read_measure(text, description=description)
    assert read is not None
    assert (read.amount, read.unit, read.qualifier, read.size) == parts


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
