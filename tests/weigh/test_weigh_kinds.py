"""Kinds, markets and wordings: which row of the shared tables a line means, and what is left on."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from cases import cases

from pipeline.lines import parse
from pipeline.resources import shared_rows
from pipeline.snapshot import Snapshot
from pipeline.weigh import Weigher, Weight
from pipeline.weigh.case import market_of

Weigh = Callable[[str, str | None], Weight]

#: A kind that the line names weighs what that kind weighs, not the food's medium piece.
NAMED_KINDS = cases(__file__, "named_kinds")

#: Sizes of wraps: by the dish they are for, or by their width.
WRAPS = cases(__file__, "wraps")

#: Packages of different markets, and what is left once drained.
PACKAGES = cases(__file__, "packages")

#: Volumes and dashes.
POURED = cases(__file__, "poured")


@pytest.mark.parametrize(("text", "code", "grams"), [*NAMED_KINDS, *WRAPS, *PACKAGES, *POURED])
def test_the_row_that_the_line_means(
    weigh: Weigh, text: str, code: str | None, grams: float
) -> None:
    found = weigh(text, code)
    assert found.grams == pytest.approx(grams, rel=0.02)
    assert found.low is not None
    assert found.high is not None
    assert found.low <= found.grams <= found.high


def test_a_bare_bird_leaves_both_readings_open(weigh: Weigh) -> None:
    bare = weigh("1.6 kg chicken", "05006")
    assert bare.grams == pytest.approx(1600 * 0.68, rel=0.01)
    assert bare.high is not None
    assert bare.high >= 1600
    jointed = weigh("1.6 kg chicken, jointed", "05006")
    assert jointed.high is not None
    assert jointed.high < 1600


def test_peeled_potatoes_cover_a_quarter_lost_and_nothing_lost(weigh: Weigh) -> None:
    found = weigh("1.2 kg potatoes, peeled", "11352")
    assert found.low is not None
    assert found.high is not None
    assert found.low <= 900
    assert found.high >= 1200


def test_a_weight_beside_a_count_is_what_such_a_piece_weighs(weigh: Weigh) -> None:
    assert weigh("1 small swede (about 400 g), peeled and cubed", "11435").problems == ()
    assert weigh("1 onion (600 g)", "11282").problems == ("dual-measure-disagrees",)
    assert weigh("a knob of butter (25 g)", "01145").problems == ()  # a knob is as wide as a piece
    assert weigh("a knob of butter (90 g)", "01145").problems == ("dual-measure-disagrees",)


@pytest.mark.parametrize(
    "text", ["1 crate tomatoes", "2 canisters cocoa", "1 jug milk", "1 sack potatoes"]
)
def test_a_package_nobody_knows_is_not_one_piece(weigh: Weigh, text: str) -> None:
    found = weigh(text, None)
    assert found.grams is None
    assert "grams" in found.reason


@pytest.mark.parametrize(
    ("text", "ml"),
    [("1 pint semi-skimmed milk", 568.3), ("1 pint skim milk", 473.2), ("1 pint milk", 473.2)],
)
def test_words_of_a_market_say_whose_pint_it_is(
    weigh_snapshot: Snapshot, text: str, ml: float
) -> None:
    line = parse(text)
    pint = Weigher(weigh_snapshot).weigh_one(line, "sr28:01077")
    metric = Weigher(weigh_snapshot).weigh_one(parse(f"{ml} ml milk"), "sr28:01077")
    assert pint.grams == pytest.approx(metric.grams, rel=0.01)


def test_an_imperial_pint_is_in_the_range_of_a_pint(weigh_snapshot: Snapshot) -> None:
    pint = parse("1 pint milk")
    us = Weigher(weigh_snapshot).weigh_one(pint, "sr28:01077")
    uk = Weigher(weigh_snapshot, spoons="uk").weigh_one(pint, "sr28:01077")
    assert us.grams is not None
    assert uk.grams is not None
    assert us.high is not None
    assert uk.low is not None
    assert us.high >= uk.grams > us.grams >= uk.low
    said = Weigher(weigh_snapshot).weigh_one(parse("1 imperial pint milk"), "sr28:01077")
    assert said.high is not None
    assert said.high < 1.2 * uk.grams


def test_a_setting_other_than_the_default_is_a_market(weigh_snapshot: Snapshot) -> None:
    sheet = parse("1 sheet puff pastry")
    grams = [
        Weigher(weigh_snapshot, spoons=system).weigh_one(sheet, "sr28:18337").grams
        for system in ("us", "uk", "au")
    ]
    assert grams == [280, 320, 320]


@pytest.mark.parametrize(
    ("text", "sign"),
    [
        ("1 can corn", "us"), ("1 tin corn", "uk"), ("1 x 400g tin beans", "uk"),
        ("15 oz can beans", "us"), ("1 can (400 g) beans", ""), ("2 jars olives", ""),
        ("1 envelope gelatin", "us"), ("1 envelope gelatine", ""),
    ],
)  # fmt: skip
def test_signs_of_the_market(text: str, sign: str) -> None:
    assert market_of(parse(text)) == sign


def test_market_words_are_of_a_known_market_and_reach_the_tables() -> None:
    signs = {row["market"] for row in shared_rows("market_words.csv")}
    assert signs == {"us", "uk"}
    used = {
        word[1:]
        for table in ("packages.csv", "piece_weights.csv")
        for row in shared_rows(table)
        for slot in row["food"].split()
        for word in slot.lstrip("-").split("|")
        if word.startswith("~")
    }
    assert used == signs


@pytest.mark.parametrize("text", ["2 lardons", "2 bacon lardons", "3 pancetta"])
def test_a_bare_count_is_one_of_slices_only_where_the_food_itself_is_named(
    weigh: Weigh, text: str
) -> None:
    found = weigh(text, "10123")
    assert (found.grams, found.basis) == (
        (None, "none") if "lardon" in text else (36, "count_weight")
    )
    assert weigh("2 bacon", "10123").grams == weigh("2 rashers bacon", "10123").grams == 56
