"""Comma parts: more of the name or a note; and what is kept of a table's description."""

from __future__ import annotations

import gzip
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.lines import parse
from pipeline.lines.clean import clean
from pipeline.lines.vocabulary import FUNCTION_WORDS, LEXICON
from pipeline.resources import data_path

NAMES = [
    ("Yogurt, Greek, plain, lowfat", "lowfat plain greek yogurt"),
    ("beef, chuck, arm roast, lean only, braised", "arm roast chuck beef"),
    ("Cheese, cottage, lowfat, 2% milkfat", "lowfat cottage cheese"),
    ("Cheese, cottage, creamed, large or small curd", "creamed cottage cheese"),
    ("Nuts, ginkgo nuts, canned", "ginkgo nuts nuts"),
    ("Salad dressing, mayonnaise, regular", "mayonnaise salad dressing"),
    ("Fast foods, fried chicken, wing, meat and skin", "meat and skin wing fried chicken fast foods"),
    ("Egg, white, raw, fresh", "egg white"),
    ("Milk, reduced fat (2%)", "reduced fat milk"),
    ("Chicken breast, NS as to cooking method, skin not eaten", "chicken breast"),
    ("Rice, white, cooked, fat not added in cooking", "white rice"),
    ("Plain, non-fat Greek yogurt", "plain non-fat greek yogurt"),
    ("peppers, red and yellow", "red and yellow peppers"),
    ("PACE, Thick & Chunky Salsa", "thick chunky salsa pace"),
]  # fmt: skip


@pytest.mark.parametrize(("written", "name"), NAMES)
def test_parts_of_a_name_are_turned_round(written: str, name: str) -> None:
    line = parse(f"100 g {written}")
    assert line.name == name
    assert line.rest == written.lower()


@pytest.mark.parametrize(
    ("food", "note"),
    [
        ("onion", "finely chopped"), ("butter", "softened"), ("lemon", "juice only"),
        ("chicken breasts", "cut into strips"), ("shrimp", "deveined"), ("mussels", "debearded"),
        ("carrots", "in matchsticks"), ("chicken thighs", "skin removed"), ("mint", "leaves picked"), ("pasta", "cooked al dente"), ("bread", "the best you can get"),
        ("rice", "cooked per packet instructions"), ("cucumber", "thin slices"),
        ("salmon", "no skin"), ("tomatoes", "very ripe"), ("avocado", "ripe"), ("beef", "raw"),
        ("milk", "straight from the fridge"), ("peas", "not too old"), ("tofu", "patted dry"),
        ("cream cheese", "at room temperature"), ("figs", "gently bruised"), ("basil", "leaves"),
        ("prawns", "tails on"), ("flour", "sifted with the cocoa"), ("pork", "bone-in"),
    ],
)  # fmt: skip
def test_notes_are_told_by_their_form(food: str, note: str) -> None:
    line = parse(f"100 g {food}, {note}")
    assert line.name == food
    assert line.notes == note
    assert line.rest == f"{food}, {note}"


@pytest.mark.parametrize(
    ("text", "rest"),
    [
        ("100 g Cheese, cottage, lowfat, 2% milkfat", "cheese, cottage, lowfat, 2% milkfat"),
        ("2 large eggs, beaten", "eggs, beaten"),
        ("Flour - 2 cups", "flour"),
        ("Flour, 200 g", "flour"),
        ("Flour, 200 g, sifted", "flour, sifted"),
        ("Eggs (2)", "eggs"),
        ("salt, to taste", "salt"),
        ("salt (to taste)", "salt"),
        ("2 tbsp olive oil, plus extra for frying", "olive oil"),
        ("2 x 400 g tins chickpeas (240 g drained)", "chickpeas (drained)"),
        ("2 trout fillets (about 300 g), skin on", "trout fillets, skin on"),
        ("1 cup flour (120 g)", "flour (120 g)"),
        ("2 fresh sprigs thyme", "fresh thyme"),
        ("1 lb large shrimp, peeled", "large shrimp, peeled"),
        ("1 heaped tbsp cocoa", "cocoa"),
        ("1 cup packed brown sugar", "brown sugar"),
        ("juice of 1 lemon", "juice of lemon"),
        ("For frying: 1 tbsp oil", "oil"),
        ("- 1 tbsp oil*", "oil"),
        ("1 cup milk or cream", "milk or cream"),
        ("1 egg or 2 egg whites", "egg or egg whites"),
        ("a pinch of salt", "salt"),
        ("∞ g lentils", "lentils"),
        ("For the sauce:", ""),
        ("   ", ""),
        ("8 skewers", "skewers"),
        ("100 g Pizza, cheese topping, 8 ounce", "pizza, cheese topping, 8 ounce"),
        ("100 g Head cheese", "head cheese"),
        ("100 g Bar, granola", "bar, granola"),
        ("1 cup Cup cakes", "cup cakes"),
        ("100 g 7-Up", "7-up"),
        ("20 g Slice, raisin", "slice, raisin"),
        ("1 cup Sticks, sesame", "sticks, sesame"),
        ("100 g Large lima beans, raw", "large lima beans, raw"),
    ],
)  # fmt: skip
def test_rest_is_the_line_without_its_amount_and_flags(text: str, rest: str) -> None:
    assert parse(text).rest == rest


@pytest.mark.parametrize(
    ("written", "fat", "lean", "cocoa"),
    [
        ("Cheese, cottage, lowfat, 2% milkfat", 2.0, None, None),
        ("Beef, ground, 80% lean meat / 20% fat, raw", 20.0, 80.0, None),
        ("Milk, reduced fat (2%)", 2.0, None, None),
        ("Chocolate, dark, 70-85% cacao solids", None, None, 85.0),
    ],
)
def test_figures_of_a_description(
    written: str, fat: float | None, lean: float | None, cocoa: float | None
) -> None:
    line = parse(f"100 g {written}")
    assert (line.fat_pct, line.lean_pct, line.cocoa_pct) == (fat, lean, cocoa)
    assert line.rest == written.lower()


@cache
def descriptions() -> tuple[str, ...]:
    with gzip.open(data_path("sr28") / "FOOD_DES.txt.gz", "rt", encoding="latin-1") as handle:
        return tuple(line.split("^")[2].strip("~") for line in handle)


def squeezed(text: str) -> str:
    return "".join(text.split()).rstrip(",")  # two descriptions end in a comma


@pytest.mark.parametrize("amount", ["100 g", "20 g", "1 cup"])
def test_nothing_of_any_sr28_description_is_lost_behind_an_amount(amount: str) -> None:
    lines = [(d, parse(f"{amount} {d}")) for d in descriptions()]
    assert len(lines) == 8_789
    assert [d for d, line in lines if squeezed(line.rest) != squeezed(clean(d).lower)] == []
    assert [d for d, line in lines if line.kind != "food" or not line.name] == []
    assert [d for d, line in lines if len(line.measures) < 1] == []


#: Words that measure, count or say how much, which need not stand in ``rest`` or the name.
MEASURING = {
    word
    for word, entry in LEXICON.items()
    if entry.units or entry.sizes or entry.number is not None or entry.system or entry.role == "x"
    or any(effect.kind in ("flag", "hedge", "open") for _, effect in entry.effects)
} | {"of", "the", "a", "an", "each", "t", "plus", "for"}  # fmt: skip
words = st.one_of(
    st.from_regex(r"[a-z]{2,9}", fullmatch=True),
    st.sampled_from(sorted(w for w in LEXICON if w.isalpha() and w.isascii() and len(w) > 1)),
    st.sampled_from(sorted(FUNCTION_WORDS)).filter(str.isalpha),
)
phrase = st.lists(words, min_size=1, max_size=3).map(" ".join)
amounts = st.sampled_from(["100 g", "2 cups", "1.5 kg", "250 ml", "3 tbsp", "½ tsp", "8 oz"])


@settings(max_examples=600, deadline=None)
@given(amounts, phrase, st.lists(phrase, max_size=3))
def test_no_word_of_a_line_is_lost(amount: str, name: str, parts: list[str]) -> None:
    text = f"{amount} " + ", ".join([name, *parts])
    line = parse(text)
    assert parse(text) == line
    told = set(f"{line.name} {line.notes} {line.rest}".replace(",", " ").split())
    kept = set(line.rest.replace(",", " ").split())
    for word in f"{name} {' '.join(parts)}".split():
        assert word in told or word in MEASURING
        assert word in kept or word in MEASURING


@settings(max_examples=300, deadline=None)
@given(amounts, st.lists(st.from_regex(r"[b-df-hj-np-tv-z]{2}a[a-z]{3,6}k", fullmatch=True),
                         min_size=1, max_size=4))  # fmt: skip
def test_unknown_words_after_commas_narrow_the_name(amount: str, parts: list[str]) -> None:
    line = parse(f"{amount} {', '.join(parts)}")
    assert line.name == " ".join(reversed(parts))
    assert line.rest == ", ".join(parts)
    assert parse(f"{amount} {line.rest}").name == line.name
    noted = parse(f"{amount} {', '.join(parts)}, finely chopped")
    assert (noted.name, noted.notes) == (line.name, "finely chopped")
    assert noted.rest == f"{line.rest}, finely chopped"


@settings(max_examples=400, deadline=None)
@given(amounts, st.sampled_from(descriptions()))
def test_the_rest_reads_as_the_same_food(amount: str, description: str) -> None:
    line = parse(f"{amount} {description}")
    again = parse(f"{amount} {line.rest}")
    assert not line.rest.startswith(amount)
    assert (again.name, again.states, again.fat_pct, again.rest) == (
        line.name, line.states, line.fat_pct, line.rest
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("salt, black pepper and oil", "salt"),
        ("Yogurt, Greek, plain, lowfat", "lowfat plain greek yogurt"),
        ("rice, brown", "brown rice"),
    ],
)
def test_without_an_amount_only_words_of_a_kind_join_the_name(text: str, name: str) -> None:
    assert parse(text).name == name
    assert parse(text).rest == text.lower()
