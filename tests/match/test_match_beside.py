"""Words beside the food narrow it and never replace it."""

from __future__ import annotations

import re

import pytest
from cases import cases

from pipeline.doubts import parts_in
from pipeline.lines import parse
from pipeline.match.matcher import OR_SHARE
from pipeline.reading import Tools, load_tools, read_lines
from pipeline.snapshot import open_snapshot


@pytest.fixture(scope="module")
def tools() -> Tools:
    return load_tools(open_snapshot())


@pytest.mark.parametrize(("text", "alternatives"), cases(__file__, "kinds_beside_a_name"))
def test_kinds_beside_a_name_take_its_head(text: str, alternatives: list[str]) -> None:
    assert list(parse(text).alternatives) == alternatives


@pytest.mark.parametrize(
    ("text", "has", "has_not"),
    [
        *cases(__file__, "the_food_stays_the_food"),
        *cases(__file__, "a_word_or_an_amount_tells_which"),
    ],
)
def test_the_food_of_a_line(tools: Tools, text: str, has: str, has_not: str) -> None:
    found = read_lines([text], tools)[0].match.description.lower()
    assert has in found
    assert has_not not in found


@pytest.mark.parametrize(
    ("text", "has"),
    [*cases(__file__, "a_remark_names_the_food"), *cases(__file__, "a_remark_is_not_the_food")],
)
def test_a_remark_may_be_another_name(tools: Tools, text: str, has: str) -> None:
    match = read_lines([text], tools)[0].match
    assert match.description.startswith(has)
    assert bool(has) or match.status != "accepted"


@pytest.mark.parametrize(
    "text",
    ["400 g tin lentils, undrained", "200 g fresh spinach fettuccine"],
)
def test_a_food_of_another_state_is_asked_about(tools: Tools, text: str) -> None:
    """The table's foods of these names are boiled, and dry."""
    match = read_lines([text], tools)[0].match
    assert match.status == "to review" or "dry" not in match.description


def test_a_note_of_parts_takes_no_part(tools: Tools) -> None:
    plain, split = read_lines(["4 eggs", "4 eggs (yolks and whites separated)"], tools)
    assert split.match.food_id == plain.match.food_id
    assert split.weight.grams == plain.weight.grams


@pytest.mark.parametrize("note", ["for garnish", "see note 4", "(see note 4)", "for serving"])
def test_notes_change_no_food(tools: Tools, note: str) -> None:
    plain, noted = read_lines(["2 tbsp sesame seeds", f"2 tbsp sesame seeds, {note}"], tools)
    assert noted.match.food_id == plain.match.food_id
    assert noted.weight.grams == plain.weight.grams


def test_two_foods_that_share_an_amount_are_asked(tools: Tools) -> None:
    match = read_lines(["300 g leeks and skarrow sausage"], tools)[0].match
    assert match.status == "to review"
    assert match.confidence <= 0.5


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("2 tbsp butter and oil", ("0.5-1.5 tbsp butter", "0.5-1.5 tbsp oil")),
        ("400 g leeks and parsnips", ("100-300 g leeks", "100-300 g parsnips")),
    ],
)
def test_an_amount_of_two_foods_is_half_of_each(
    tools: Tools, text: str, parts: tuple[str, ...]
) -> None:
    assert parts_in(parse(text), tools.matcher) == parts
    whole, *halves = read_lines([text, *parts], tools)
    assert whole.match.food_id is None
    assert whole.weight.grams == pytest.approx(sum(h.weight.grams or 0 for h in halves))
    for half in halves:
        low, high = half.weight.low or 0, half.weight.high or 0
        assert high > 2 * low


def test_a_spice_or_a_singular_behind_a_number_has_no_part_in_the_amount(tools: Tools) -> None:
    for text in ("1 litre beef stock & pepper", "1 lb potatoes and salt", "2 leeks and garlic"):
        first, last = re.split(" & | and ", text)
        assert parts_in(parse(text), tools.matcher) == (first, last)


@pytest.mark.parametrize(
    "text", ["1 cup half and half", "2 tbsp sweet and sour sauce", "½ cup oil and vinegar dressing",
             "1 cup macaroni and cheese", "200 g cooked and peeled prawns", "2 tsp salt"],
)  # fmt: skip
def test_one_food_is_not_halved(tools: Tools, text: str) -> None:
    assert parts_in(parse(text), tools.matcher) == ()


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("1 tbsp sugar (or sweetener of choice)", "1 tbsp sugar"),
        ("6 tablespoons sugar (¼ cup + 2 tablespoons)", "6 tablespoons sugar"),
        ("1 cup milk (or cream)", "1 cup milk"),
        ("2 cups rice or barley", "2 cups rice"),
    ],
)
def test_other_foods_and_amounts_do_not_choose_the_first(
    tools: Tools, text: str, plain: str
) -> None:
    said, alone = read_lines([text, plain], tools)
    assert said.match.food_id == alone.match.food_id


def test_another_food_after_or_is_left_open_where_it_differs(tools: Tools) -> None:
    wheat, butter = read_lines(["6 corn or flour tortillas", "1 cup butter or margarine"], tools)
    assert "corn" in wheat.match.description
    assert any(
        "flour" in c.description and c.probability == OR_SHARE for c in wheat.match.open_kinds
    )
    assert all(c.probability < OR_SHARE for c in butter.match.open_kinds)


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("500 g ground meat of choice", "to review"),
        ("1 cup milk of your choice", "to review"),
        ("2 tbsp oil of choice", "accepted"),  # whichever it is, it is oil
    ],
)
def test_a_choice_left_open_is_asked_where_the_choices_differ(
    tools: Tools, text: str, status: str
) -> None:
    assert read_lines([text], tools)[0].match.status == status


@pytest.mark.parametrize(
    ("text", "has"),
    [
        ("200 g Harbourside Mexican chorizo sausage", "chorizo"),
        ("1 kg Skarrow Hill farm chicken breast fillets", "chicken"),
    ],
)
def test_unknown_words_before_a_known_name_leave_it_counted(
    tools: Tools, text: str, has: str
) -> None:
    read = read_lines([text], tools)[0]
    assert read.match.status == "to review"
    assert has in read.match.description.lower()
    assert read.weight.grams


@pytest.mark.parametrize("text", ["1 jackfruit steak", "50 g dark chocolate wavy skarrows"])
def test_a_known_name_before_an_unknown_one_is_not(tools: Tools, text: str) -> None:
    assert read_lines([text], tools)[0].match.status == "unmatched"


@pytest.mark.parametrize(
    "text",
    ["1 cup half and half", "200 g peas and carrots", "3 bread and butter pickles",
     "150 g cooked and peeled prawns", "1 cup red and green grapes"],
)  # fmt: skip
def test_one_food_with_and_in_its_name_is_not(tools: Tools, text: str) -> None:
    match = read_lines([text], tools)[0].match
    assert "two foods" not in match.reason


@pytest.mark.parametrize(
    ("text", "names_food"),
    [("(numbers = one tub, weighed raw)", False), ("(see the video)", False), ("(skarroo 20 g)", True),
     ("skarroo (see the video)", True)],
)  # fmt: skip
def test_a_line_in_brackets_that_names_nothing_is_a_remark(
    tools: Tools, text: str, names_food: bool
) -> None:
    (read,) = read_lines([text], tools)
    assert (read.match.food_id, read.match.names_food) == (None, names_food)


def test_another_food_in_brackets_is_asked_about(tools: Tools) -> None:
    match = read_lines(["100 g sugar (honey)"], tools)[0].match
    assert match.status == "to review"
    assert '"honey" in brackets is another food' in match.reason


def test_a_kind_in_brackets_that_is_part_of_the_name_is_not_asked_about(tools: Tools) -> None:
    match = read_lines(["20 g jam (apricot)"], tools)[0].match
    assert "apricot" in match.description
    assert match.status == "accepted"
