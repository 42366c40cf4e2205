"""Lines with known foods: the grams, the basis, and a reason that names its figures."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import pytest
from cases import cases
from weigh_by_hand import line, measure

from pipeline.lines import parse
from pipeline.match.model import Match
from pipeline.snapshot import Snapshot
from pipeline.weigh import Weigher, Weight

Weigh = Callable[[str, str | None], Weight]

#: line, SR28 number, grams, basis; grams are the table's own row or the shared table's.
KNOWN = cases(__file__, "known")


@pytest.mark.parametrize(("text", "code", "grams", "basis"), KNOWN)
def test_known_lines(weigh: Weigh, text: str, code: str, grams: float, basis: str) -> None:
    found = weigh(text, code)
    assert found.grams == pytest.approx(grams, rel=0.012)
    assert found.basis == basis
    assert found.low is not None
    assert found.high is not None
    assert found.low <= grams * 1.012
    assert found.high >= grams * 0.988
    assert any(char.isdigit() for char in found.reason)


#: What is bought and what is eaten: line, number, share of the stated grams.
REFUSE = cases(__file__, "refuse")


@pytest.mark.parametrize(("text", "code", "stated", "share"), REFUSE)
def test_refuse(weigh: Weigh, text: str, code: str, stated: float, share: float) -> None:
    found = weigh(text, code)
    assert found.grams == pytest.approx(stated * share, rel=0.01)
    if share < 1:
        assert "less" in found.reason


def test_trimming_may_have_been_done_before_the_scale(weigh: Weigh) -> None:
    found = weigh("600 g floury potatoes, peeled and cut into chunks", "11352")
    assert found.high is not None
    assert found.high >= 600  # "peeled" may tell how they were bought


def test_a_mass_wins_and_the_other_measure_is_checked(weigh: Weigh) -> None:
    agreed = weigh("2 tbsp (30 g) almond butter", "12195")
    assert agreed.grams == pytest.approx(30)
    assert agreed.problems == ()
    apart = weigh("1 cup (500 g) rice", "20044")
    assert apart.grams == pytest.approx(500)
    assert apart.problems == ("dual-measure-disagrees",)
    assert "185 g" in apart.reason


def test_millilitres_win_over_a_cup(weigh: Weigh) -> None:
    found = weigh("1 cup / 240 ml whole milk", "01077")
    assert found.grams == pytest.approx(240 * 244 / 236.588, rel=1e-3)


def test_a_tin_without_a_size_says_so(weigh: Weigh) -> None:
    assert weigh("1 tin chickpeas, drained", "16057").problems == ("package-size-assumed",)


def test_open_amounts_invent_nothing(weigh: Weigh) -> None:
    for text, code in [
        ("salt to taste", "02047"),
        ("olive oil, for drizzling", "04053"),
        ("freshly ground black pepper", "02030"),
        ("fresh coriander to garnish", "11165"),
    ]:
        found = weigh(text, code)
        assert (found.grams, found.basis) == (None, "open"), text
    nothing = weigh("chicken breast", "05062")
    assert (nothing.grams, nothing.basis) == (None, "none")
    assert "no amount" in nothing.reason


def test_unmatched_lines_keep_what_can_be_known(weigh: Weigh) -> None:
    assert weigh("200 g seitan, sliced", None).grams == pytest.approx(200)
    assert weigh("2 tbsp Thai red curry paste", None).grams == pytest.approx(32, rel=0.1)
    unknown = weigh("3 cups flummery", None)
    assert unknown.grams is None
    assert unknown.basis == "none"
    assert "cup" in unknown.reason
    for text in ("1 splash flummery", "three quarters", "2000000"):
        assert weigh(text, None).basis == "none"


def test_optional_extra_and_plus(weigh: Weigh) -> None:
    plain = weigh("30 g butter", "01001")
    extra = weigh("30 g butter, plus extra for greasing", "01001")
    assert plain.grams is not None
    assert extra.grams is not None
    assert extra.high is not None
    assert plain.grams < extra.grams < 1.15 * plain.grams
    assert extra.high > 1.3 * plain.grams
    assert weigh("1 tbsp chia seeds (optional)", "12006").low == 0
    added = weigh("100g caster sugar, plus 1 tbsp for sprinkling", "19335")
    assert added.grams == pytest.approx(100 + 12.5, abs=0.5)


def test_a_recipe_of_the_collection_is_left_to_its_yield(weigher: Weigher) -> None:
    parsed = parse("2 portions of the base dressing")
    found = weigher.weigh_one(parsed, "recipe:base-dressing", "Base dressing")
    assert (found.basis, found.grams, found.amount) == ("recipe", None, 2)
    assert found.unit == "portion"


def test_spoons_follow_the_setting_unless_the_line_says(weigh_snapshot: Snapshot) -> None:
    oil = parse("1 tbsp olive oil")
    us, au = (Weigher(weigh_snapshot, spoons=system) for system in ("us", "au"))
    grams_us = us.weigh_one(oil, "sr28:04053").grams
    grams_au = au.weigh_one(oil, "sr28:04053").grams
    assert grams_us is not None
    assert grams_au == pytest.approx(grams_us * 20 / 14.78676478125)
    said = parse("1 metric cup milk")
    assert us.weigh_one(said, "sr28:01077").grams == au.weigh_one(said, "sr28:01077").grams
    with pytest.raises(ValueError, match="spoons"):
        Weigher(weigh_snapshot, spoons="furlong")


def test_the_pantry_says_what_a_scoop_weighs(weigh_snapshot: Snapshot) -> None:
    label = SimpleNamespace(serving_g=32.0, serving_name="1 scoop")
    spread = SimpleNamespace(serving_g=30.0, serving_name="2 tbsp")
    pantry = SimpleNamespace(by_id={"pantry:whey": label, "pantry:nut-spread": spread})
    weigher = Weigher(weigh_snapshot, pantry=pantry)
    scoops = weigher.weigh_one(parse("1½ scoops vanilla whey"), "pantry:whey", "Vanilla whey")
    assert (scoops.grams, scoops.basis) == (48.0, "pantry")
    spoon = weigher.weigh_one(parse("1 tbsp nut spread"), "pantry:nut-spread", "Nut spread")
    assert spoon.grams == pytest.approx(15)
    cup = weigher.weigh_one(parse("1 tsp nut spread"), "pantry:nut-spread", "Nut spread")
    assert cup.grams == pytest.approx(5)
    for name in ("scoop (32 g)", "1 heaped scoop"):
        label.serving_name = name
        again = weigher.weigh_one(parse("2 scoops vanilla whey"), "pantry:whey", "Vanilla whey")
        assert (again.grams, again.basis) == (64.0, "pantry")
    by_weight = weigher.weigh_one(parse("50 g vanilla whey"), "pantry:whey", "Vanilla whey")
    assert (by_weight.grams, by_weight.basis) == (50, "mass")


def test_a_table_of_lines_comes_back_in_order(weigher: Weigher) -> None:
    texts = ["10 g butter", "For the sauce:", "2 large eggs"]
    foods = ["sr28:01001", None, "sr28:01123"]
    matches = [Match(t, f, "", 1.0, "accepted", "table", "") for t, f in zip(texts, foods, strict=True)]  # fmt: skip
    found = weigher.weigh([parse(t) for t in texts], matches)
    assert [w.grams for w in found] == [10, None, 100]
    with pytest.raises(ValueError, match="3 lines but 2 matches"):
        weigher.weigh([parse(t) for t in texts], matches[:2])


def test_a_count_beside_a_weight_is_of_all_or_of_each(weigher: Weigher) -> None:
    total = line(measure(2, "fillet", "count"), measure(300, "g", "mass"), name="salmon")
    each = line(measure(6, "fillet", "count"), measure(130, "g", "mass"), name="salmon")
    assert weigher.weigh_one(total, "sr28:15236").grams == pytest.approx(300)
    assert weigher.weigh_one(each, "sr28:15236").grams == pytest.approx(780)


@pytest.mark.parametrize(("text", "code", "grams"), cases(__file__, "weight_in_brackets"))
def test_a_weight_in_brackets_behind_a_bare_count_is_of_all_where_each_would_be_too_heavy(
    weigh: Weigh, text: str, code: str, grams: float
) -> None:
    assert weigh(text, code).grams == pytest.approx(grams, rel=0.01)


def test_so_many_times_a_weight_behind_as_many_pieces_is_asked_where_it_may_be_of_all(
    weigh: Weigh,
) -> None:
    asked, sure = (weigh(f"{n} salmon fillets ({n} x 130 g)", "15236") for n in (2, 3))
    assert (asked.grams, asked.problems) == (260, ("weight-each-or-total",))
    assert (sure.grams, sure.problems) == (390, ())


def test_unknown_unit_is_a_reason_not_a_guess(weigher: Weigher) -> None:
    found = weigher.weigh_one(line(measure(2, "wheel", "count"), name="polenta"), "sr28:20022")
    assert (found.grams, found.basis) == (None, "none")
    assert "grams" in found.reason  # what the person can write instead
    share = weigher.weigh_one(line(measure(0.5, "whole", "share"), name="sauce"), None)
    assert share.grams is None


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("2 cups + 2 tbsp (266 g) flour", 266),  # of both
        ("2 cups + 2 tbsp flour (266 g)", 266),
        ("1 cup + 2 tbsp (125 g) flour", 140.6),  # of the cup alone
        ("250 g flour plus 2 tbsp", 265.6),
    ],
)
def test_a_weight_behind_two_amounts_is_of_what_it_lies_nearer_to(
    weigh: Weigh, text: str, grams: float
) -> None:
    assert weigh(text, "20081").grams == pytest.approx(grams, abs=0.1)


def test_a_remark_behind_the_weight_in_brackets_leaves_the_weight(weigh: Weigh) -> None:
    plain = weigh("3 salmon fillets (about 5 oz each)", "15236").grams
    noted = weigh("3 salmon fillets (about 5 oz each, preferably pin-boned, see notes)", "15236")
    assert noted.grams == plain == pytest.approx(3 * 5 * 28.35, rel=0.001)


def test_crushed_before_measuring_lies_closer_than_crushed_after(weigh: Weigh) -> None:
    whole = weigh("2 cups cornflakes", "08020").grams
    before = weigh("2 cups crushed cornflakes", "08020")
    assert before.grams == 144
    assert before.low
    assert before.high
    assert before.low <= 2 * 52
    assert before.high >= 2 * 94
    assert weigh("2 cups cornflakes (crushed)", "08020").grams == whole
    assert (
        weigh("2 cups sandwich cookies (crushed)", "18166").grams == 200
    )  # weighed in no other form


def test_loosely_packed_is_not_packed(weigh: Weigh) -> None:
    loose, packed = weigh("2 cups kale", "11233").grams, weigh("2 cups packed kale", "11233").grams
    assert loose
    assert packed
    assert packed > 3 * loose


def test_a_recipe_of_pie_crust_makes_one_or_two_and_of_biscuits_any_number(weigh: Weigh) -> None:
    crust = weigh("1 recipe pie crust", "18334")
    assert crust.grams == weigh("1 pie crust", "18334").grams
    assert crust.high
    assert crust.grams
    assert crust.high >= 2 * crust.grams
    assert weigh("1 batch peanut butter cookies", "18183").grams is None


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("1 cup (125 g) flour", False),
        ("1 cup (20 g) flour", True),  # 0.08 g a millilitre
        ("2 tbsp (250 g) flour", True),
        ("1 cup (180 g) flour", False),  # pressed
    ],
)
def test_a_weight_that_no_such_volume_has_is_asked(weigh: Weigh, text: str, asked: bool) -> None:
    assert ("amount-unusual" in weigh(text, "20081").problems) == asked


@pytest.mark.parametrize(
    ("text", "food", "like"),
    [
        ("small red onion", "sr28:11282", "1 small red onion"),
        ("large carrot, grated", "sr28:11124", "1 large carrot, grated"),
        ("medium courgette", "sr28:11477", "1 medium courgette"),
    ],
)
def test_who_gives_a_size_and_no_number_means_one(
    weigher: Weigher, text: str, food: str, like: str
) -> None:
    one, said = (weigher.weigh_one(parse(t), food) for t in (text, like))
    assert one.grams == said.grams
    assert one.high is not None
    assert said.high is not None
    assert one.high > said.high  # two may have been meant
    assert "no amount is written" in one.reason


@pytest.mark.parametrize(
    ("text", "food"),
    [
        ("large carrots", "sr28:11124"),
        ("small pasta", "sr28:20120"),
        ("medium cheddar", "sr28:01009"),
    ],
)
def test_a_size_of_several_or_of_what_is_not_counted_is_no_one(
    weigher: Weigher, text: str, food: str
) -> None:
    assert weigher.weigh_one(parse(text), food).grams is None


@pytest.mark.parametrize(
    ("text", "told"),
    [("splash of milk, abt 60 ml", False), ("splash of milk, abt 300 ml", True),
     ("1 cup (60 ml) milk", True)],
)  # fmt: skip
def test_a_vague_measure_says_little_against_a_weight(
    weigher: Weigher, text: str, told: bool
) -> None:
    found = weigher.weigh_one(parse(text), "sr28:01079")
    assert ("dual-measure-disagrees" in found.problems) == told
