"""What holds for any line: it is read, in bounded time, the same in any typography."""

from __future__ import annotations

import unicodedata

import pytest
from examples import examples
from growth import cpu_seconds
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.lines import STATES, Measure, ParsedLine, parse, parse_many, render_measure
from pipeline.lines.grammar import _KEPT, _READ, _TOGETHER, read_together
from pipeline.lines.vocabulary import LEXICON, UNIT_WORD, UNITS

WORDS = sorted(LEXICON)
MARKS = [*"(),;-–/+&%.:'\"*#½¼⅔×x~[]|", " - ", "1", "2", "400", "1/2", "80/20", "1.5", "0"]
#: Text made of the grammar's own words: far likelier to reach odd corners than random text.
phrases = st.lists(st.sampled_from(WORDS + MARKS * 6), max_size=14).map(" ".join)
any_text = st.one_of(st.text(max_size=60), phrases)
foods = st.sampled_from(["flour", "red lentils", "smoked paprika", "chicken", "crème fraîche"])
numbers = st.one_of(
    st.integers(1, 999).map(float), st.sampled_from([0.25, 0.5, 0.75, 1.5, 2.25, 12.5])
)
written_units = st.sampled_from(
    ["g", " g", " kg", " ml", " cups", " tbsp", " tsp", " oz", " heaped tbsp", " large",
     " tins", " sprigs", " x 400 g tins", " handfuls of"]
)  # fmt: skip


def well_formed(line: ParsedLine) -> None:
    assert line.kind in ("food", "heading", "not_food", "blank")
    for measure in (*line.measures, *line.plus):
        assert measure.low <= measure.amount <= measure.high < float("inf")
        start, end = measure.of_text
        assert 0 <= start <= end <= len(line.text)
        assert measure.unit
    assert line.states <= set(STATES)
    assert line.name == " ".join(line.name.split())
    assert line.name == line.name.lower()
    for figure in (line.fat_pct, line.lean_pct, line.cocoa_pct):
        assert figure is None or 0 <= figure <= 100


@settings(max_examples=examples(400), deadline=None)
@given(any_text)
def test_any_text_is_read(text: str) -> None:
    line = parse(text)
    assert line.text == text
    well_formed(line)


@pytest.mark.soak
@settings(max_examples=30_000, deadline=None)
@given(any_text)
def test_any_text_is_read_for_long(text: str) -> None:
    well_formed(parse(text))


@settings(max_examples=examples(150), deadline=None)
@given(numbers, written_units, foods)
def test_twice_the_amount_is_twice_the_measure(number: float, unit: str, food: str) -> None:
    once = parse(f"{number:g}{unit} {food}").measures[0]
    twice = parse(f"{2 * number:g}{unit} {food}").measures[0]
    assert (twice.unit, twice.kind, twice.size, twice.each and twice.each.unit) == (
        once.unit, once.kind, once.size, once.each and once.each.unit
    )  # fmt: skip
    assert twice.amount == pytest.approx(2 * once.amount)


@st.composite
def measures(draw: st.DrawFn) -> Measure:
    unit = draw(st.sampled_from(sorted(UNIT_WORD)))
    kind = UNITS[unit.rsplit("_", 1)[0] if unit not in UNITS else unit].kind
    low = draw(numbers)
    high = low
    if kind != "share" and draw(st.booleans()):
        high = low + draw(numbers)
    size = draw(st.sampled_from(["", "small", "large", "extra large"]))
    if kind == "volume":
        size = draw(st.sampled_from(["", "heaped", "level", "scant", "packed"]))
    if kind in ("share", "length", "mass"):
        size = ""
    each = None
    if kind == "package" and draw(st.booleans()) and low == high:
        weight = draw(numbers)
        each = Measure(weight, "g", "mass", weight, weight)
    amount = (low + high) / 2
    about = draw(st.booleans()) and each is None
    return Measure(amount, unit, kind, low, high, size, each, about)


def plain(measure: Measure) -> tuple[object, ...]:
    each = measure.each
    return (
        round(measure.low, 5), round(measure.high, 5), measure.unit, measure.kind, measure.size,
        measure.about, each and (each.amount, each.unit),
    )  # fmt: skip


@settings(max_examples=examples(400), deadline=None)
@given(measures())
def test_a_written_measure_reads_back(measure: Measure) -> None:
    line = parse(f"{render_measure(measure)} flour")
    assert [plain(m) for m in line.measures] == [plain(measure)]
    again = parse(f"{render_measure(line.measures[0])} flour")
    assert again.measures[0].amount == line.measures[0].amount
    assert line.name.startswith("flour")  # "flour steak": some words also name the food


@settings(max_examples=examples(300), deadline=None)
@given(phrases)
def test_reading_what_was_read_is_stable(text: str) -> None:
    for measure in parse(text).measures[:1]:
        once = parse(f"{render_measure(measure)} flour").measures
        if once:
            twice = parse(f"{render_measure(once[0])} flour").measures
            assert [plain(m) for m in twice] == [plain(m) for m in once]


LINES = [
    "1½ cups cooked brown rice, cooled", "2 x 400 g tins chickpeas, drained and rinsed",
    "150g half-fat crème fraîche (or quark), plus extra to serve", "juice of ½ a lemon",
    "1 large onion, finely chopped", "2–3 tbsp soy sauce", "500g beef mince, 5% fat",
    "4 skinless salmon fillets (about 120 g each)", "a pinch of salt", "1 tsp each cumin and salt",
]  # fmt: skip


def meaning(text: str) -> tuple[object, ...]:
    line = parse(text)
    return (
        line.kind, tuple(plain(m) for m in line.measures), line.name, line.alternatives,
        line.states, line.notes, line.fat_pct, line.part, line.flags, line.each_of,
    )  # fmt: skip


@pytest.mark.parametrize("line", LINES)
@pytest.mark.parametrize(
    "change",
    [
        str.upper,
        str.title,
        lambda s: f"  {s}\t ",
        lambda s: s.replace(" ", "\u00a0"),
        lambda s: s.replace(" ", "  "),
        lambda s: s.replace(" ", "\u2009"),
        lambda s: s.replace(" ", "&nbsp;"),
        lambda s: unicodedata.normalize("NFD", s),
        lambda s: s.replace("½", "1/2").replace("11/2", "1 1/2"),
        lambda s: s.replace("½", "1⁄2").replace("11⁄2", "1 1⁄2"),
        lambda s: s.replace("–", "-"),
        lambda s: s.replace("–", "\u2212"),
        lambda s: "• " + s,
        lambda s: "- " + s,
        lambda s: s.translate({ord(d): ord(d) + 0xFEE0 for d in "0123456789"}),
        lambda s: "\u200b" + s.replace(" ", "\u200b "),
        lambda s: s + "*",
    ],
)
def test_typography_does_not_matter(line: str, change: object) -> None:
    assert callable(change)
    assert meaning(change(line)) == meaning(line)


HARD = [
    "(" * 1000, "1 (" * 300, "1 g " * 250, "about " * 160, "1/" * 500, "9" * 1000, "a" * 1000,
    "(1 g/" * 200, "or " * 300, "½" * 1000, "1 clove + " * 100, "1 x " * 250, "plus 1 tsp " * 90,
    "\u0301" * 1000, "&amp;" * 200, ", " * 500, "half " * 200, "1 or " * 250, "(a)" * 300,
    "0OR:0", "or", "/", "1 or", "1 fresh " * 100, "5% " * 300, "1-" * 500, "~" * 1000, "a," * 500, "z" * 2_000_000,
]  # fmt: skip


@pytest.mark.parametrize("text", HARD, ids=[repr(t[:10]) for t in HARD])
def test_hard_lines_take_bounded_time(text: str) -> None:
    assert cpu_seconds(lambda: well_formed(parse(text))) < 2  # typically under 10 ms


def test_long_line_is_read_to_a_limit_and_says_so() -> None:
    line = parse("2 cups flour, " + "sifted " * 1000)
    assert line.problems == ("text-too-long",)
    assert (line.name, line.measures[0].amount) == ("flour", 2)


@given(st.integers(1, 9), st.integers(1, 15), foods)
def test_what_is_taken_off_an_amount_is_taken_off(cups: int, spoons: int, food: str) -> None:
    for word in ("minus", "less"):
        line = parse(f"{cups} cup {word} {spoons} tbsp {food}")
        assert [m.unit for m in line.measures] == ["cup"]
        assert line.measures[0].amount == pytest.approx(cups - spoons / 16)
        assert line.name == parse(f"{cups} cup {food}").name


@given(st.integers(2, 9), st.integers(100, 900), foods)
def test_packages_said_with_their_sum_hold_no_more_than_it(n: int, grams: int, food: str) -> None:
    first, *others = parse(f"{n} tins ({n} x {grams} g) {food}").measures
    assert (first.amount, first.each) == (n, None)
    assert [m.amount for m in others] == [n * grams]


def test_parse_many_keeps_order_and_reads_equal_texts_once() -> None:
    lines = parse_many(["2 eggs", "", "2 eggs"])
    assert [line.text for line in lines] == ["2 eggs", "", "2 eggs"]
    assert lines[0] is lines[2]


@settings(max_examples=examples(40), deadline=None)
@given(st.lists(any_text, min_size=2, max_size=90, unique=True))
def test_a_line_reads_the_same_whatever_lines_are_read_beside_it(texts: list[str]) -> None:
    assert read_together(texts) == [read_together([text])[0] for text in texts]
    assert parse_many(reversed(texts)) == [parse(text) for text in reversed(texts)]


@pytest.mark.soak
def test_lines_beyond_those_kept_are_read_all_the_same() -> None:
    texts = [f"{n} g oats" for n in range(_KEPT + 200)]
    assert [line.measures[0].amount for line in parse_many(texts)[1:]] == list(range(1, len(texts)))
    parse("1 egg")
    assert len(_READ) <= _KEPT + _TOGETHER
