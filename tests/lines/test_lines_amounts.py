"""Numbers, ranges and units, read alone: each way of writing against its value."""

from __future__ import annotations

import pytest
from cases import cases
from hypothesis import given
from hypothesis import strategies as st

from pipeline.lines import Measure, parse


def only(text: str) -> Measure:
    measures = parse(text).measures
    assert len(measures) == 1, measures
    return measures[0]


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("2", 2), ("1.5", 1.5), ("1,5", 1.5), ("0,25", 0.25), (".5", 0.5), ("1,500", 1500),
        ("0,500", 0.5), ("1,250.5", 1250.5), ("1.250,5", 1250.5), ("12,000", 12000),
        ("1/2", 0.5), ("1 / 2", 0.5), ("3/4", 0.75), ("½", 0.5), ("1½", 1.5), ("1 ½", 1.5),
        ("1 1/2", 1.5), ("1-1/2", 1.5), ("1-½", 1.5), ("1 & 1/2", 1.5), ("1 and ½", 1.5),
        ("2⅔", 2 + 2 / 3), ("⅛", 0.125), ("1⁄4", 0.25), ("１／２", 0.5), ("٣", 3),
        ("one", 1), ("twelve", 12), ("half a", 0.5), ("a half", 0.5), ("one half", 0.5),
        ("a quarter of a", 0.25), ("three quarters of a", 0.75), ("two-thirds of a", 2 / 3),
        ("2 thirds of a", 2 / 3), ("one and a half", 1.5), ("2 and a half", 2.5),
    ],
)  # fmt: skip
def test_number(written: str, value: float) -> None:
    measure = only(f"{written} cup rice")
    assert measure.unit == "cup"
    assert measure.amount == pytest.approx(value)
    assert measure.low == measure.high == measure.amount


@pytest.mark.parametrize(
    ("written", "value"),
    [("a dozen", 12), ("half a dozen", 6), ("2 dozen", 24), ("1½ dozen", 18), ("a pair of", 2)],
)
def test_collective(written: str, value: float) -> None:
    assert only(f"{written} eggs").amount == value


@pytest.mark.parametrize(
    ("written", "low", "high"),
    [
        ("2-3", 2, 3), ("2 - 3", 2, 3), ("2–3", 2, 3), ("2—3", 2, 3), ("2 to 3", 2, 3),
        ("2 or 3", 2, 3), ("between 2 and 3", 2, 3), ("½-1", 0.5, 1), ("½ - 1", 0.5, 1),
        ("1-1½", 1, 1.5), ("1 to 1 1/2", 1, 1.5), ("1½–2", 1.5, 2), ("one to two", 1, 2),
        ("300-350", 300, 350), ("1.5-2", 1.5, 2),
    ],
)  # fmt: skip
def test_range(written: str, low: float, high: float) -> None:
    line = parse(f"{written} g rice")
    measure = line.measures[0]
    assert (measure.low, measure.high) == (low, high)
    assert measure.amount == pytest.approx((low + high) / 2)
    assert line.problems == ()


def test_vague_numbers_keep_a_likely_value() -> None:
    couple, few = parse("a couple of carrots"), parse("a few carrots")
    assert (couple.measures[0].amount, couple.measures[0].high) == (2, 3)
    assert "vague" not in couple.flags
    assert (few.measures[0].low, few.measures[0].amount, few.measures[0].high) == (2, 3, 4)
    assert "vague" in few.flags


@pytest.mark.parametrize(("text", "code", "marked"), cases(__file__, "doubtful"))
def test_doubtful_amount_is_said_and_can_be_pointed_at(text: str, code: str, marked: str) -> None:
    line = parse(text)
    assert line.problems == (code,)
    start, end = line.measures[0].of_text
    assert text[start:end] == marked


@pytest.mark.parametrize(("text", "code"), cases(__file__, "impossible"))
def test_impossible_amount_is_no_amount_and_no_zero(text: str, code: str) -> None:
    line = parse(text)
    assert code in line.problems
    assert line.measures == ()
    assert line.name == "lentils"


def test_long_dash_in_front_is_a_bullet() -> None:
    assert parse("–200 g lentils").measures[0].amount == 200


def test_place_in_the_text_holds_when_typography_is_made_plain() -> None:
    text = "🍚\u00a0½&nbsp;cup rice"
    start, end = parse(text).measures[0].of_text
    assert text[start:end] == "½&nbsp;cup"


@pytest.mark.parametrize(
    ("text", "amount", "unit", "each_amount", "each_unit"), cases(__file__, "what_one_holds")
)
def test_what_one_holds(
    text: str, amount: float, unit: str, each_amount: float, each_unit: str
) -> None:
    measure = only(text)
    assert (measure.amount, measure.unit) == (amount, unit)
    assert measure.each is not None
    assert (measure.each.amount, measure.each.unit) == (each_amount, each_unit)


@pytest.mark.parametrize(("text", "measures"), cases(__file__, "said_twice"))
def test_same_amount_said_twice(text: str, measures: list[tuple[float, str]]) -> None:
    assert [(m.amount, m.unit) for m in parse(text).measures] == [tuple(m) for m in measures]


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("1 T butter", "tbsp"), ("1 t butter", "tsp"), ("1 Tbsp. butter", "tbsp"),
        ("1 tablspoon butter", "tbsp"), ("2 teasppons butter", "tsp"), ("1 metric cup milk",
        "cup_metric"), ("2 Australian tablespoons oil", "tbsp_au"), ("1 US cup milk", "cup_us"),
        ("1 imperial pint milk", "pint_imperial"), ("8 fl. oz. milk", "fl_oz"),
        ("1 in piece of ginger", "inch"), ('1" piece ginger', "inch"),
    ],
)  # fmt: skip
def test_unit_word(text: str, unit: str) -> None:
    assert only(text).unit == unit


@pytest.mark.parametrize(
    "text",
    ["1 onion, half sliced and half diced", "1 onion, cut into 2 cm dice", "1 onion (see note 3)",
     "1 onion, 1/2 reserved"],
)  # fmt: skip
def test_numbers_of_the_method_do_not_touch_the_amount(text: str) -> None:
    measure = only(text)
    assert (measure.amount, measure.unit) == (1, "piece")


def test_a_second_food_is_not_added_to_the_first() -> None:
    line = parse("1 tbsp cornflour plus 2 tbsp water")
    assert line.plus == ()
    assert line.parts == ("1 tbsp cornflour", "2 tbsp water")
    same = parse("1 tbsp cornflour plus 2 tsp")
    assert [(m.amount, m.unit) for m in same.plus] == [(2, "tsp")]


@pytest.mark.parametrize(
    ("text", "amount", "unit"),
    [
        ("900 g-ish potatoes", 900, "g"), ("about 900g ish potatoes", 900, "g"),
        ("2 cups or so flour", 2, "cup"), ("30-ish g oats", 30, "g"), ("4-ish carrots", 4, "piece"),
    ],
)  # fmt: skip
def test_an_amount_or_so_leaves_a_tenth_open(text: str, amount: float, unit: str) -> None:
    measure = only(text)
    assert (measure.amount, measure.unit, measure.about) == (amount, unit, True)
    assert (measure.low, measure.high) == pytest.approx((0.9 * amount, 1.1 * amount))
    assert parse(text).name == text.split()[-1]


@pytest.mark.parametrize(
    ("text", "amount", "unit"),
    [
        ("1-inch-thick slice of bread", 1, "slice"), ("1cm-thick slice of halloumi", 1, "slice"),
        ("4 ½-inch-thick slices bread", 4, "slice"), ("two 2cm-thick tuna steaks", 2, "steak"),
        ("1-inch-thick piece of ginger", 1, "inch"), ("2 cm thick slices halloumi", 2, "cm"),
    ],
)  # fmt: skip
def test_how_thick_a_slice_is_counts_nothing(text: str, amount: float, unit: str) -> None:
    assert (only(text).amount, only(text).unit) == (amount, unit)


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("2 cuillères à soupe olive oil", "tbsp"), ("2 cuilleres a soupe of olive oil", "tbsp"),
        ("2 c. à s. olive oil", "tbsp"), ("2 c.à.c. olive oil", "tsp"), ("2 EL olive oil", "tbsp"),
        ("2 gehäufte TL olive oil", "tsp"), ("2 c. olive oil", "cup"),
    ],
)  # fmt: skip
def test_spoons_of_french_and_german_cooks(text: str, unit: str) -> None:
    assert only(text).unit == unit
    assert parse(text).name == "olive oil"


@pytest.mark.parametrize(
    ("line", "grams"),
    [
        ("250 g tub ricotta, of which I used 180 g", 180),
        ("1 tub ricotta (250 g), used 180 g of it", 180),
        ("500 g bag spinach, only 200 g used", 200),
        ("1 jar passata (690 g), I only used 400 g", 400),
        ("1 chicken (1.4 kg), yields 450 g meat", 450),
        ("1 kg prawns in shells, yields 500 g meat", 500),
        # none of the dish's own amount
        ("250 g butter, 20 g used for the tin", 250),
        ("200 g pasta, yields 450 g cooked", 200),
    ],
)
def test_what_is_used_of_what_was_bought(line: str, grams: float) -> None:
    first = parse(line).measures[0]
    assert (first.kind, first.amount) == ("mass", grams)


@pytest.mark.parametrize(
    ("line", "count", "each"),
    [
        ("2 punnets raspberries at 125 g", 2, 125),
        ("3 salmon fillets at 140 g", 3, 140),
        ("4 duck legs at 220 g", 4, 220),
        ("2 cans tuna at 145 g", 2, 145),
    ],
)
def test_what_each_of_several_weighs(line: str, count: float, each: float) -> None:
    first = only(line)
    assert first.amount == count
    assert first.each is not None
    assert first.each.amount == each


@pytest.mark.parametrize(
    ("line", "net"),
    [
        ("1 swede, 700 g after peeling", True),
        ("4 pears, 500 g after peeling and coring", True),
        ("2 mackerel, 350 g after boning", True),
        ("2 swedes, 1.2 kg before peeling", False),
    ],
)
def test_a_weight_after_work_that_takes_something_off(line: str, net: bool) -> None:
    read = parse(line)
    assert [m.kind for m in read.measures] == ["count", "mass"]
    assert ("net_weight" in read.flags) is net


@pytest.mark.parametrize(
    ("line", "name"),
    [("one big onion fried off", "onion"), ("400 g mince browned off", "mince"),
     ("3 peppers charred up", "peppers"), ("lamb shoulder off the bone", "lamb shoulder")],
)  # fmt: skip
def test_work_and_what_stands_behind_it_name_no_food(line: str, name: str) -> None:
    assert parse(line).name.split()[: len(name.split())] == name.split()


@pytest.mark.parametrize(
    "line",
    ["salt, about 25 min", "bit of dried basil. 200 fan till it bubbles", "potatoes. 180°C, 40 min",
     "pepper, 20 minutes in the oven", "chicken, 350F for 2 hours", "bread, 2 days old"],
)  # fmt: skip
def test_times_and_heats_are_no_amounts(line: str) -> None:
    assert parse(line).measures == ()


@pytest.mark.parametrize(
    ("line", "amount"),
    [("butter, 50 g", 50), ("flour, 2 c", 2), ("eggs. 3", 3), ("onion. 1 large", 1),
     ("2 minute steaks", 2), ("4 eggs, 6 min", 4)],
)  # fmt: skip
def test_amounts_that_look_like_times_and_heats(line: str, amount: float) -> None:
    assert only(line).amount == amount


@pytest.mark.parametrize(
    ("word", "size"),
    [("large-ish", "medium-large"), ("largish", "medium-large"), ("biggish", "medium-large"),
     ("big-ish", "medium-large"), ("smallish", "small-medium"), ("medium-ish", "medium"),
     ("wee", "small"), ("thickish", "thick")],
)  # fmt: skip
def test_sizes_that_are_not_meant_in_full(word: str, size: str) -> None:
    line = parse(f"1 {word} onion")
    assert (line.measures[0].size, line.name) == (size, "onion")


@pytest.mark.parametrize(
    ("line", "name"),
    [("4 potatoes, halve", "potatoes"), ("1 onion, chop", "onion"),
     ("2 onions, dice", "onions"), ("100 g feta, crumble", "feta"),
     ("700 g new potatoes, halve, parboil", "new potatoes"), ("400 g beef, mince", "mince beef"),
     ("1 rice, basmati", "basmati rice")],
)  # fmt: skip
def test_what_a_note_tells_to_do_names_no_food(line: str, name: str) -> None:
    assert parse(line).name == name


@pytest.mark.parametrize(("text", "amount", "part"), cases(__file__, "share_behind"))
def test_a_share_of_one_behind_its_name_is_the_amount(text: str, amount: float, part: str) -> None:
    line = parse(text)
    assert [(m.amount, m.unit) for m in line.measures] == [(amount, "piece")]
    assert line.part == part


@pytest.mark.parametrize("text", ["red onion, half sliced and half diced", "feta, half crumbled"])
def test_a_share_that_is_cut_so_is_no_amount(text: str) -> None:
    assert parse(text).measures == ()


@pytest.mark.parametrize(("text", "same_as"), cases(__file__, "how_often_at_the_end"))
def test_how_often_at_the_end_is_read_as_in_front(text: str, same_as: str) -> None:
    line, other = parse(text), parse(same_as)
    assert [(m.amount, m.unit, m.each and m.each.amount) for m in line.measures] == [
        (m.amount, m.unit, m.each and m.each.amount) for m in other.measures
    ]
    assert (line.name, line.notes) == (other.name, other.notes)
    for measure in line.measures:
        start, end = measure.of_text
        assert 0 <= start < end <= len(text)


@pytest.mark.parametrize(
    ("text", "foods"),
    [
        ("1 egg plus 30 g milk x2", ("1 egg", "30 g milk x2")),
        ("200 g rice + 30 g butter x 3", ("200 g rice", "30 g butter x 3")),
    ],
)
def test_how_often_at_the_end_of_several_foods_is_the_last_ones(
    text: str, foods: tuple[str, ...]
) -> None:
    assert parse(text).parts == foods


@given(
    st.lists(st.sampled_from(["2", "30 g", "oats", "plus", "+", "(", ")", ",", "x 3", "and", "x2"]),
             max_size=14)
)  # fmt: skip
def test_foods_of_a_line_are_written_shorter_than_the_line(pieces: list[str]) -> None:
    line = parse(" ".join(pieces))
    assert all(len(part) <= len(line.text) for part in line.parts)


@pytest.mark.parametrize("text", ["a tray of 20 cm x 30", "mix of 20 x 30"])
def test_sizes_are_not_how_often(text: str) -> None:
    assert not any(m.amount in (30, 40) and m.unit == "piece" for m in parse(text).measures)


@pytest.mark.parametrize(
    ("text", "name", "measures"),
    [
        ("glass noodles 1 bundle 50g", "glass noodles", [(50, "g")]),
        ("urad dal 1 thali / 150 g", "urad dal", [(150, "g")]),
        ("1 tsp Chinese 5 spice", "chinese 5 spice", [(1, "tsp")]),
        ("veal escalopes 4 @ 100g", "veal escalopes", [(4, "piece")]),
        ("1 glass red wine", "red wine", [(1, "glass")]),
        ("glass noodles, 80 g", "glass noodles", [(80, "g")]),
    ],
)
def test_a_count_of_what_nobody_measures_by_is_no_part_of_the_name(
    text: str, name: str, measures: list[tuple[float, str]]
) -> None:
    line = parse(text)
    assert line.name == name
    assert [(m.amount, m.unit) for m in line.measures] == measures


@pytest.mark.parametrize(
    ("text", "same_as"),
    [
        ("1 carrot in thick sticks", "1 carrot, in thick sticks"),
        ("200 g carrots in ribbons", "200 g carrots, in ribbons"),
        ("4 herring fillets @ 45 g each, drained", "4 herring fillets (45 g each), drained"),
        ("4 herring fillets at 45 g each", "4 herring fillets, 45 g each"),
        ("you'll need 4 wheat biscuits", "4 wheat biscuits"),
        ("stir in 200 g rice", "200 g rice"),
        ("(optional) a knob of butter", "a knob of butter"),
        ("and juice of 2 limes", "juice of 2 limes"),
        ("add about 3 eggs", "about 3 eggs"),
        ("225 g approx. plain flour", "225 g plain flour"),
        ("icing sugar, to dust (12P 3C 4F)", "icing sugar, to dust"),
        ("salmon, 4,50 € per fillet", "salmon"),
        ("rice £1.20/kg 300 g", "rice 300 g"),
        ("carrots 2 $1.50", "carrots 2"),
        ("serve with 2 naan", "2 naan"),
        ("Top with 20 g feta", "20 g feta"),
    ],
)
def test_words_around_an_amount_that_say_nothing_of_it(text: str, same_as: str) -> None:
    line, other = parse(text), parse(same_as)
    assert [(m.amount, m.unit, m.each and m.each.amount) for m in line.measures] == [
        (m.amount, m.unit, m.each and m.each.amount) for m in other.measures
    ]
    assert line.name == other.name
    for measure in line.measures:
        start, end = measure.of_text
        assert 0 <= start < end <= len(text)


@pytest.mark.parametrize(
    "text", ["sardines in tomato sauce", "anchovies in oil", "pears in brandy"]
)
def test_what_a_food_lies_in_is_no_shape(text: str) -> None:
    assert parse(f"200 g {text}").name + parse(f"200 g {text}").notes != text.split()[0]


@pytest.mark.parametrize(
    ("text", "part"),
    [("1 lemon, squeezed", "juice"), ("half a lime, squeezed over", "juice"), ("2 oranges, freshly squeezed", "juice"),
     ("1 lemon, half squeezed", ""), ("3 tomatoes, squeezed", ""), ("200 g spinach, squeezed dry", "")],
)  # fmt: skip
def test_a_citrus_fruit_that_is_squeezed_gives_its_juice(text: str, part: str) -> None:
    assert parse(text).part == part


@pytest.mark.parametrize(
    ("text", "measures"),
    [
        ("600 — white cabbage, 600 g", [(600, "g")]),
        ("30 - butter, 30 g", [(30, "g")]),
        ("4 - chicken thighs, 400 g", [(4, "thigh"), (400, "g")]),
        ("250 ml milk (250 g)", [(250, "ml"), (250, "g")]),
    ],
)
def test_a_bare_number_that_the_grams_say_again_counts_nothing(
    text: str, measures: list[tuple[float, str]]
) -> None:
    """What would be 600 cabbages of 600 g is one weight, told in a list of numbers and in words."""
    assert [(m.amount, m.unit) for m in parse(text).measures] == measures
