"""Laws of weighing, for any line and food."""

from __future__ import annotations

import math

import pytest
from examples import examples
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from weigh_by_hand import line, measure

from pipeline.lines import parse
from pipeline.lines.model import Measure, ParsedLine
from pipeline.match.model import Match
from pipeline.weigh import Weigher
from pipeline.weigh.words import SIZE_FACTOR

FOODS = [
    None, "sr28:01123", "sr28:01077", "sr28:04053", "sr28:20081", "sr28:12061", "sr28:11529",
    "sr28:11282", "sr28:05062", "sr28:16058", "sr28:02047", "sr28:11216", "sr28:09150",
    "sr28:15184", "sr28:18075", "sr28:05006", "sr28:09326", "sr28:11457", "sr28:20120",
]  # fmt: skip
NAMES = ["", "egg", "whole milk", "red onion", "chicken breasts", "flour", "chickpeas", "leaves",
         "cherry tomatoes", "bread", "salt", "pink fir apple", "x"]  # fmt: skip
UNITS = [
    ("g", "mass"), ("kg", "mass"), ("oz", "mass"), ("ml", "volume"), ("cup", "volume"),
    ("tbsp", "volume"), ("tsp_au", "volume"), ("pint_imperial", "volume"), ("piece", "count"),
    ("slice", "count"), ("clove", "count"), ("bunch", "count"), ("leaf", "count"),
    ("pinch", "trade"), ("handful", "trade"), ("scoop", "trade"), ("tin", "package"),
    ("packet", "package"), ("inch", "length"), ("mm", "length"), ("whole", "share"),
    ("no such unit", "count"),
]  # fmt: skip
STATES = ["drained", "canned", "peeled", "bone_in", "whole", "chopped", "cooked", "in_shell"]
FLAGS = ["optional", "plus_extra", "divided", "to_taste", "net_weight"]
amounts = st.floats(min_value=0, max_value=1e6, allow_nan=False)
units = st.sampled_from(UNITS)
sizes = st.sampled_from(["", "", "small", "medium", "large", "thick", "heaped", "small thin"])
LAWS = settings(
    max_examples=examples(120),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@st.composite
def measures(draw: st.DrawFn) -> Measure:
    unit, kind = draw(units)
    amount = draw(amounts)
    each = None
    if kind == "package" and draw(st.booleans()):
        each = measure(draw(amounts), *draw(st.sampled_from(UNITS[:5])))
    return measure(
        amount, unit, kind, size=draw(sizes), each=each, about=draw(st.booleans()),
        ends=(amount * 0.8, amount * 1.2) if draw(st.booleans()) else None,
    )  # fmt: skip


lines = st.builds(
    lambda ms, plus, name, states, flags: line(
        *ms, plus=tuple(plus), name=name, states=states, flags=flags, text=name
    ),
    st.lists(measures(), max_size=3),
    st.lists(measures(), max_size=1),
    st.sampled_from(NAMES),
    st.sets(st.sampled_from(STATES), max_size=3),
    st.sets(st.sampled_from(FLAGS), max_size=2),
)


@given(st.lists(st.tuples(lines, st.sampled_from(FOODS)), max_size=90))
@settings(LAWS, max_examples=examples(20))
def test_a_line_weighs_the_same_whatever_lines_stand_beside_it(
    weigher: Weigher, pairs: list[tuple[ParsedLine, str | None]]
) -> None:
    parsed = [line for line, _ in pairs]
    matches = [Match("", food, "", 1.0, "accepted", "table", "") for _, food in pairs]
    assert weigher.weigh(parsed, matches) == [weigher.weigh_one(*pair) for pair in pairs]


@given(lines, st.sampled_from(FOODS))
@LAWS
def test_weighing_is_total_and_its_range_holds(
    weigher: Weigher, parsed: ParsedLine, food: str | None
) -> None:
    found = weigher.weigh_one(parsed, food)
    assert found.reason
    if found.grams is None:
        assert found.low is None
        assert found.high is None
        assert found.basis in ("open", "none", "recipe")
        return
    assert found.low is not None
    assert found.high is not None
    assert 0 <= found.low <= found.grams <= found.high
    assert math.isfinite(found.high)


@given(units, sizes, st.sampled_from(FOODS), st.sampled_from(NAMES),
       st.floats(min_value=0.01, max_value=1000), st.floats(min_value=0.1, max_value=10))  # fmt: skip
@LAWS
def test_twice_as_much_weighs_twice_as_much(
    weigher: Weigher, unit: tuple[str, str], size: str, food: str | None, name: str,
    amount: float, factor: float,
) -> None:  # fmt: skip
    once = weigher.weigh_one(line(measure(amount, *unit, size=size), name=name), food)
    more = weigher.weigh_one(line(measure(amount * factor, *unit, size=size), name=name), food)
    # so many of what nobody counts are grams
    assume(("unit-missing" in once.problems) == ("unit-missing" in more.problems))
    if once.grams is None:
        assert more.grams is None
        return
    # less than a piece has been cut, so that its peel is off; a law for either side of that
    assume((" less " in once.reason) == (" less " in more.reason))
    assert more.grams == pytest.approx(once.grams * factor)
    assert more.low == pytest.approx((once.low or 0) * factor)
    assert more.high == pytest.approx((once.high or 0) * factor)


@given(st.lists(st.tuples(units, st.floats(min_value=0.1, max_value=500)), min_size=2, max_size=2),
       st.sampled_from(FOODS), st.sampled_from(NAMES))  # fmt: skip
@LAWS
def test_plus_adds(
    weigher: Weigher, parts: list[tuple[tuple[str, str], float]], food: str | None, name: str
) -> None:
    first, second = (measure(amount, *unit) for unit, amount in parts)
    one, two = (weigher.weigh_one(line(m, name=name), food) for m in (first, second))
    both = weigher.weigh_one(line(first, plus=(second,), name=name), food)
    if one.grams is not None and two.grams is not None:
        assert both.grams == pytest.approx(one.grams + two.grams)
    elif one.grams is not None:
        assert both.grams == one.grams
        assert "plus-not-weighed" in both.problems


@given(st.floats(min_value=0.1, max_value=5000), st.sampled_from(FOODS), st.sampled_from(NAMES))
@LAWS
def test_grams_ounces_and_kilograms_agree(
    weigher: Weigher, grams: float, food: str | None, name: str
) -> None:
    said = [(grams, "g"), (grams / 1000, "kg"), (grams / 28.349523125, "oz")]
    found = [weigher.weigh_one(line(measure(a, u, "mass"), name=name), food).grams for a, u in said]
    assert found[1] == pytest.approx(found[0])
    assert found[2] == pytest.approx(found[0])


@given(st.floats(min_value=0.1, max_value=20), st.sampled_from(FOODS), st.sampled_from(NAMES))
@LAWS
def test_spoons_make_cups(weigher: Weigher, cups: float, food: str | None, name: str) -> None:
    """16 tablespoons to a cup, within what separate table rows for spoon and cup leave open."""
    cup = weigher.weigh_one(line(measure(cups, "cup", "volume"), name=name), food).grams
    ml = weigher.weigh_one(line(measure(cups * 236.5882365, "ml", "volume"), name=name), food).grams
    assert (cup is None) == (ml is None)
    if cup is not None:
        assert ml == pytest.approx(cup, rel=0.35)


@pytest.mark.parametrize(
    ("name", "food"),
    [
        ("egg", "sr28:01123"), ("egg", None), ("red onion", "sr28:11282"), ("onion", None),
        ("tomatoes", "sr28:11529"), ("avocado", "sr28:09038"), ("avocado", "sr28:09037"),
        ("aubergine", "sr28:11209"), ("aubergine", None), ("banana", "sr28:09040"),
        ("apple", "sr28:09003"), ("potatoes", "sr28:11352"), ("baked potatoes", "sr28:11674"),
        ("lemon", "sr28:09150"), ("peppers", "sr28:11821"), ("courgette", "sr28:11477"),
        ("chicken breast", "sr28:05062"), ("wraps", "sr28:18364"), ("pineapple", "sr28:09266"),
        ("strawberries", "sr28:09316"), ("pitta bread", "sr28:18041"), ("bagel", "sr28:18001"),
        ("cauliflower", "sr28:11135"), ("shallots", "sr28:11677"), ("sweet potato", "sr28:11507"),
    ],
)  # fmt: skip
def test_larger_sizes_weigh_more(weigher: Weigher, food: str | None, name: str) -> None:
    found = [
        weigher.weigh_one(line(measure(1, "piece", "count", size=size), name=name), food).grams
        for size in ("small", "medium", "large")
    ]
    small, medium, large = found
    assert small is not None
    assert medium is not None
    assert large is not None
    assert small < medium < large


def test_size_words_are_ordered() -> None:
    order = ["extra small", "small", "small-medium", "medium", "medium-large", "large", "jumbo"]
    factors = [SIZE_FACTOR[size] for size in order]
    assert factors == sorted(factors)
    assert len(set(factors)) == len(factors)


@given(st.text(max_size=60), st.sampled_from(FOODS))
@LAWS
def test_any_text_can_be_weighed_or_says_why_not(
    weigher: Weigher, text: str, food: str | None
) -> None:
    found = weigher.weigh_one(parse(text), food)
    assert found.reason
    assert found.grams is None or found.grams >= 0


@pytest.mark.parametrize("amount", [math.inf, math.nan, -1.0])
def test_amounts_that_are_no_amounts(weigher: Weigher, amount: float) -> None:
    found = weigher.weigh_one(line(measure(amount, "g", "mass"), name="flour"), "sr28:20081")
    assert found.grams is None
    assert "amount" in found.reason
