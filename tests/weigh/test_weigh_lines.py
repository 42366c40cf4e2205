"""Lines with known foods: the grams, the basis, and a reason that names its figures."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import pytest
from weigh_by_hand import line, measure

from pipeline.lines import parse
from pipeline.match.model import Match
from pipeline.snapshot import Snapshot
from pipeline.weigh import Weigher, Weight

Weigh = Callable[[str, str | None], Weight]

#: line, SR28 number, grams, basis; grams are the table's own row or the shared table's.
KNOWN = [
    ("150 g chicken breast, diced", "05062", 150, "mass"),
    ("1 lb ground pork", "10219", 453.59, "mass"),
    ("2 large eggs", "01123", 100, "count_weight"),
    ("2 medium eggs", "01123", 88, "count_weight"),
    ("3 eggs", "01123", 150, "count_weight"),
    ("2 egg whites", "01124", 66, "count_weight"),
    ("1½ cups cooked brown rice", "20037", 303, "household_measure"),
    ("half a medium apple", "09003", 91, "count_weight"),
    ("1 cup whole milk", "01077", 244, "household_measure"),
    ("200 ml whole milk", "01077", 206.3, "density"),
    ("2 tbsp olive oil", "04053", 27, "household_measure"),
    ("1 cup almond flour", "12062", 96, "density"),
    ("1 cup flaked almonds", "12061", 92, "density"),
    ("1 cup whole almonds", "12061", 143, "household_measure"),
    ("½ cup packed brown sugar", "19334", 110, "household_measure"),
    ("1 cup panko", "18079", 55, "density"),
    ("1 cup grated carrot", "11124", 110, "household_measure"),
    ("1 stick butter", "01001", 113, "count_weight"),
    ("1 stick celery", "11143", 40, "count_weight"),
    ("1 cinnamon stick", "02010", 2.6, "count_weight"),
    ("4 whole cloves", "02011", 0.4, "count_weight"),
    ("2 cloves garlic", "11215", 6, "count_weight"),
    ("juice of 1 lemon", "09152", 48, "count_weight"),
    ("juice of 2 limes", "09160", 88, "count_weight"),
    ("zest of 2 limes", "09156", 4, "count_weight"),
    ("a pinch of salt", "02047", 0.4, "trade_measure"),
    ("a knob of butter", "01001", 10, "trade_measure"),
    ("1 knob of ginger", "11216", 15, "count_weight"),
    ("handful of almonds", "12061", 30, "trade_measure"),
    ("2 scoops whey protein", "14066", 60, "trade_measure"),
    ("6 rashers streaky bacon", "10123", 120, "count_weight"),
    ("4 chicken breasts", "05062", 700, "count_weight"),
    ("6 cherry tomatoes", "11529", 102, "count_weight"),
    ("2 small bananas", "09040", 202, "count_weight"),
    ("2 green peppers, cut in strips", "11333", 238, "count_weight"),  # not two strips
    ("1 tsp black pepper", "02030", 2.3, "household_measure"),  # ground, not peppercorns
    ("1 tsp dried oregano", "02027", 1.0, "density"),  # leaves, not ground
    ("4 thick slices white bread, crusts off", "18069", 150.8, "count_weight"),
    ("2 large potatoes", "11352", 738, "count_weight"),  # "Potato large (3 to 4-1/4 in dia)"
    ("1 medium orange", "09200", 131, "count_weight"),  # weighs between the small and the large
    ("2 large Asian pears", "09340", 550, "count_weight"),  # sizes told by dimensions alone
    ("1 ball mozzarella", "01026", 125, "count_weight"),
    ("2 inch piece of ginger", "11216", 16, "count_weight"),
    ("1 x 400 g tin chickpeas, drained", "16057", 240, "package"),
    ("2 x 145g tins tuna in water, drained", "15184", 208.8, "package"),
    ("1 x 400g tin chopped tomatoes", "11531", 400, "package"),
    ("1 tin kidney beans, drained", "16033", 240, "package"),
    ("1 x 400 g tin chickpeas (240 g drained)", "16057", 240, "package"),
    ("4 lamb loin chops (around 100g each)", "17236", 312, "mass"),
    ("1 onion (only use half)", "11282", 55, "count_weight"),
    ("1 tsp each ground cumin and coriander", "02014", 4.2, "household_measure"),
    ("1 turkey (5 kg)", "05165", 3550, "mass"),
    ("2 tbsp sunflower seeds", "12036", 17.5, "household_measure"),
]


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
REFUSE = [
    ("600 g floury potatoes, peeled and cut into chunks", "11352", 600, 0.80),
    ("600 g peeled potatoes", "11352", 600, 1.0),
    ("600 g potatoes, scrubbed", "11352", 600, 1.0),
    ("1.5kg butternut squash, peeled, deseeded and cubed", "11485", 1500, 0.84),
    ("1 kg chicken wings", "05100", 1000, 0.62),
    ("1 whole chicken (about 2 kg)", "05006", 2000, 0.68),
    ("500 g boneless pork shoulder", "10080", 500, 1.0),
    ("500 g pork shoulder, bone in", "10080", 500, 0.76),
    ("1 medium banana (about 120g peeled)", "09040", 120, 1.0),
    ("1 medium banana, 118 g", "09040", 118, 1.0),
    ("400 g shell-on prawns", "15149", 400, 0.87),
    ("400 g peeled prawns", "15149", 400, 1.0),
    ("300 g frozen mango", "09176", 300, 1.0),
    ("300 g mango, peeled and diced", "09176", 300, 0.71),
    ("140g baby spinach", "11457", 140, 1.0),
    ("500 g raw shrimp, peeled and deveined", "15270", 500, 1.0),
    ("500 g raw king prawns, peeled", "15270", 500, 1.0),
    ("500 g shell-on shrimp", "15270", 500, 0.87),
    ("200 g walnuts, shelled", "12155", 200, 1.0),
    ("300 g leftover roast turkey, chopped", "05168", 300, 1.0),
    ("300 g cooked chopped turkey", "05168", 300, 1.0),
    ("300 g shredded duck", "05142", 300, 1.0),
    ("300 g leftover roast chicken, shredded", "05013", 300, 1.0),
    ("300 g chicken", "05011", 300, 1.0),
    ("1 free-range chicken, about 1.6 kg", "05011", 1600, 0.68),
    ("1.6 kg chicken, jointed", "05011", 1600, 0.68),
    ("1 kg bone-in, skin-on chicken thighs", "05091", 1000, 0.80),
    ("1 kg chicken thighs", "05091", 1000, 1.0),
    ("1.2 kg potatoes, peeled", "11352", 1200, 0.80),
    ("500 g parsnips, peeled", "11298", 500, 0.85),
]


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
