"""What the wording says beside amount, name and states."""

from __future__ import annotations

import pytest

from pipeline.lines import parse


@pytest.mark.parametrize(
    ("text", "cm"),
    [
        ("4 (8-inch) tortillas", 20.32), ('2 10" wraps', 25.4), ("1 23 cm pastry case", 23),
        ("4 7-8 inch wraps", 19.05), ("2 apples, cut into 1-inch chunks", 0),
        ("2 leeks, sliced 1 cm thick", 0), ("1 inch piece of ginger", 0), ("2 wraps", 0),
    ],
)  # fmt: skip
def test_a_width_is_told_from_a_cut(text: str, cm: float) -> None:
    assert parse(text).remarks.across_cm == pytest.approx(cm)


def test_work_behind_the_comma_came_after_the_measuring() -> None:
    assert parse("300 ml cream, lightly whipped").remarks.worked_after == "whipped"
    assert parse("1 cup flour (sifted)").remarks.worked_after == "sifted"
    assert parse("1 cup sifted flour, plus more").remarks.worked_after == ""


@pytest.mark.parametrize(
    ("text", "off", "trimmings"),
    [
        ("500 g mango, peeled and pitted", True, False), ("500 g peeled mango", False, False),
        ("500 g leeks, Trimmed", True, True), ("500 g leeks then trim", False, False),
        ("500 g prawns (peeled weight)", False, False), ("peeled, 500 g mango", False, False),
    ],
)  # fmt: skip
def test_only_what_stands_apart_behind_the_amount_is_taken_off(
    text: str, off: bool, trimmings: bool
) -> None:
    line = parse(text)
    amount = line.measures[0]
    assert line.remarks.taken_off(amount, "inedible") is off
    assert line.remarks.taken_off(amount, "trimmings") is trimmings


def test_whether_a_weight_is_of_each_or_of_all_is_said_behind_it() -> None:
    for text, said in [("4 fillets, 120 g each", "each"), ("4 fillets (120 g)", ""),
                       ("4 fillets (480 g total)", "all"), ("4 fillets 120 g (each a large)", "")]:  # fmt: skip
        line = parse(text)
        weight = line.measures[0].each or line.measures[-1]
        assert line.remarks.each_or_all(weight) == said, text
    line = parse("4 tubs (120 g)")
    assert line.measures[0].each is not None
    assert line.remarks.set_apart(line.measures[0], line.measures[0].each)


def test_what_was_drained_before_it_was_weighed() -> None:
    for text, before in [("drained tuna, 120 g", True), ("120 g tuna, drained", False)]:
        line = parse(text)
        assert line.remarks.drained_before(line.measures[0]) is before


def test_words_in_front_of_the_name() -> None:
    line = parse("250 g diced beef, finely chopped")
    assert line.remarks.words_before(line.name)[-1] == "diced"


@pytest.mark.parametrize(
    ("text", "rinsed"),
    [("1 can beans, rinsed", True), ("1 cup rice, rinsed", False), ("1 can beans", False)],
)
def test_what_is_rinsed_from_a_tin(text: str, rinsed: bool) -> None:
    assert parse(text).remarks.rinsed_from_tin is rinsed


@pytest.mark.parametrize(
    ("text", "states", "name"),
    [
        ("150 g rice after cooking", {"cooked"}, "rice"),
        ("1 cup rice (300 g after cooking)", {"cooked"}, "rice"),
        ("2 cans kidney beans (340 g each after draining)", {"canned", "drained"}, "kidney beans"),
        ("500 g chicken, weighed after roasting", {"roasted"}, "chicken"),
        ("200 g pasta before boiling", {"raw"}, "pasta"),
        ("400 g potatoes after peeling", {"peeled"}, "potatoes"),
        # what is done to the dish says nothing of the food
        ("1 tbsp butter, added after frying", set(), "butter"),
        ("1 lemon to squeeze after cooking", set(), "lemon"),
        ("300 g carrots before peeling", set(), "carrots"),
        ("250 g mince after browning", set(), "mince"),  # of which no table says a state
    ],
)
def test_when_a_food_was_weighed_says_its_state(text: str, states: set[str], name: str) -> None:
    line = parse(text)
    assert set(line.states) == states
    assert line.name == name
    assert all(0 <= a <= b <= len(text) for m in line.measures for a, b in [m.of_text])
