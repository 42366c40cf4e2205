"""Weights that no recipe holds are asked about; what is usual is counted, not listed."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from cases import cases
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.doubts import ASKED
from pipeline.lines import parse
from pipeline.resources import shared_rows
from pipeline.weigh import Weigher, Weight
from pipeline.weigh.usual import FAR, FIELDS, Usual, measure_class, usual_amounts, usual_kind

Weigh = Callable[[str, str | None], Weight]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("90 sheets puff pastry", "18337"),  # 22 kg
        ("12 cups corn oil", "04518"),
        ("60 lemons, zested", "09156"),
        ("40 cups cheddar, grated", "01009"),
    ],
)
def test_what_no_recipe_holds_is_asked(weigh: Weigh, text: str, code: str) -> None:
    found = weigh(text, code)
    assert "amount-unusual" in found.problems
    assert "lines of its kind come to" in found.reason


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("2 sheets puff pastry", "18337"),
        ("24 eggs", "01123"),
        ("1 tsp vanilla", "02050"),
        ("5 cups flour", "20081"),
        ("6 kg beef chuck", "13786"),  # a stated mass is never doubted
        ("zest of 3 oranges", "09216"),
        ("1 tsp salt", "02047"),
        ("6 cups chopped kale", "11233"),
    ],
)
def test_what_recipes_hold_is_not(weigh: Weigh, text: str, code: str) -> None:
    assert ASKED.isdisjoint(weigh(text, code).problems)


def test_a_figure_without_its_unit_counts_no_pieces(weigh: Weigh) -> None:
    found = weigh("17.3 puff pastry", "18337")
    assert found.grams == pytest.approx(17.3 * 28.3495, rel=1e-3)
    assert "unit-missing" in found.problems
    assert "unit-missing" not in parse("2.5 onions").problems
    assert "unit-missing" not in parse("1.33 avocados").problems


@pytest.mark.parametrize(
    ("text", "code", "grams"),
    [
        ("40 butter", "01001", 40),  # not 40 pats
        ("30 honey", "19296", 30),
        ("rice 300", "20044", 300),
        ("egg noodles 450", "20109", 450),  # not 27 kg
        ("500 chicken breast, raw", "05062", 500),  # not 87 kg
        ("450 haddock fillet", "15033", 450),
        ("250 celery stalk", "11143", 250),
        ("100 bacon", "10123", 100),  # not 2.8 kg
    ],
)
def test_many_of_what_is_not_counted_are_grams(
    weigh: Weigh, text: str, code: str, grams: float
) -> None:
    found = weigh(text, code)
    assert found.grams == pytest.approx(grams)
    assert "unit-missing" in found.problems


@pytest.mark.parametrize(
    ("text", "whole", "share", "code"),
    [
        ("2 pear halves", "1 pear", 1, "09252"),
        ("avocado halves, 3", "1 avocado", 1.5, "09037"),
        ("2 large tomato quarters", "1 large tomato", 0.5, "11529"),
    ],
)
def test_halves_and_quarters_weigh_their_share_of_a_whole_one(
    weigh: Weigh, text: str, whole: str, share: float, code: str
) -> None:
    assert weigh(text, code).grams == pytest.approx(share * weigh(whole, code).grams)


@pytest.mark.parametrize(("text", "code", "grams"), cases(__file__, "many_pieces"))
def test_many_pieces_stay_pieces(weigh: Weigh, text: str, code: str, grams: float) -> None:
    assert weigh(text, code).grams == pytest.approx(grams, rel=0.02)


def test_a_weight_in_parentheses_is_of_each_or_of_all_as_pieces_weigh(weigh: Weigh) -> None:
    each = weigh("4 portions (140 g) salmon", "15236")
    assert (each.grams, each.problems) == (560, ())
    asked = weigh("4 portions (120 g) noodles", "20109")
    assert "weight-each-or-total" in asked.problems
    assert asked.high is not None
    assert asked.low is not None
    assert asked.low <= 120
    assert asked.high >= 480
    said = weigh("4 portions (120 g each) noodles", "20109")
    assert said.problems == ()


@pytest.mark.parametrize(
    ("text", "code", "grams", "asked"),
    [
        ("2 tins (800 g) chopped tomatoes", "11531", 800, False),
        ("2 tins chopped tomatoes, 800 g", "11531", 800, False),
        ("2 tins chopped tomatoes (400 g)", "11531", 800, False),
        ("2 (400 g) tins tomatoes", "11531", 800, False),
        ("2 x 400 g tins tomatoes", "11531", 800, False),
        ("2 tins of 800 g tomatoes", "11531", 1600, False),
        ("2 tins (800 g each) tomatoes", "11531", 1600, False),
        ("2 tins tomatoes (1 kg total)", "11531", 1000, False),
        ("2 tins tomatoes (1 kg)", "11531", 1000, False),
        ("1½ tins (600 g) tomatoes", "11531", 600, False),
        ("1 tin (800 g) tomatoes", "11531", 800, False),
        ("2 cartons (2 litres) milk", "01077", 2063, False),
        ("2 tins chickpeas (480 g drained)", "16359", 480, False),
        ("2 tins chickpeas (240 g drained)", "16359", 480, False),
        ("2 pots (1 kg) plain yogurt", "01116", 1000, True),  # tubs come in both sizes
    ],
)
def test_a_content_behind_packages_is_of_all_where_no_package_holds_so_much(
    weigh: Weigh, text: str, code: str, grams: float, asked: bool
) -> None:
    found = weigh(text, code)
    assert found.grams == pytest.approx(grams, rel=2e-3)
    assert ("weight-each-or-total" in found.problems) is asked


@given(n=st.integers(2, 9), grams=st.integers(20, 4000))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_both_readings_of_a_content_lie_inside_what_is_asked(
    weigh: Weigh, n: int, grams: int
) -> None:
    found = weigh(f"{n} tins ({grams} g) tomatoes", "11531")
    plain = weigh(f"{n} x {grams} g tins tomatoes", "11531")
    assert plain.grams == n * grams
    assert found.grams in (grams, n * grams)
    if "weight-each-or-total" in found.problems:
        assert found.low is not None
        assert found.high is not None
        assert found.low <= grams
        assert found.high >= n * grams


def test_the_table_is_what_the_code_reads() -> None:
    rows = list(shared_rows("usual_amounts.csv"))
    assert list(rows[0]) == list(FIELDS)
    assert {row["measure"] for row in rows} <= {"spoon", "cup", "count", "package", "trade"}
    assert all(int(row["n"]) >= 6 for row in rows)


_ROW = dict(zip(FIELDS, ("Sweets", "cup", "90", "100", "0.8", "400", "0.9"), strict=True))


@given(st.floats(0.1, 1e5), st.floats(1.0, 4.0))
def test_farther_from_the_middle_is_never_less_asked(grams: float, factor: float) -> None:
    usual = Usual([_ROW])
    further = grams * factor if grams >= 100 else grams / factor
    if usual.unusual("Sweets", "cup", grams, 500) is not None:
        assert usual.unusual("Sweets", "cup", further, 500) is not None


def test_what_is_usual_is_told_with_the_lines_counted() -> None:
    usual = Usual([_ROW])
    far = 100 * math.exp(FAR * 0.8) * 1.01
    found = usual.unusual("Sweets", "cup", far, far * 4)
    assert found is not None
    assert (found.what, found.n) == ("grams", 90)
    assert found.low < 100 < found.high
    assert usual.unusual("Sweets", "cup", far / 1.02, far * 4) is None or found.what == "kcal"
    assert usual.unusual("Sweets", "spoon", far, far * 4) is None  # nothing counted


def test_measures_and_kinds() -> None:
    assert [measure_class(u) for u in ("tbsp", "cup_metric", "piece", "tin", "pinch", "g", "")] == [
        "spoon", "cup", "count", "package", "trade", "", "",
    ]  # fmt: skip
    assert usual_kind("Fruits and Fruit Juices", "zest") == "zest"
    assert usual_kind("Sweets", "") == "Sweets"


def test_usual_amounts_hold_no_text_of_lines() -> None:
    path_rows = list(shared_rows("usual_amounts.csv"))
    groups = {row["kind"] for row in path_rows}
    assert groups <= {"any", "zest", "juice", "yolk", "white", *_groups()}


def _groups() -> set[str]:
    from pipeline.snapshot import open_snapshot

    with open_snapshot().connect() as con:
        return {row[0] for row in con.execute("select distinct category from food").fetchall()}


def test_the_weigher_keeps_the_table(weigher: Weigher) -> None:
    assert weigher.group_of("sr28:09200") == "Fruits and Fruit Juices"
    assert weigher.group_of("sr28:none") == ""
    assert usual_amounts() is usual_amounts()
