"""Descriptions of tables in several styles, read into profiles."""

from __future__ import annotations

import random
from typing import Any

import pytest
from cases import cases
from hypothesis import given
from hypothesis import strategies as st

from pipeline.foods import Profile, profile, words
from pipeline.resources import shared_rows

#: (description, what the profile must say). Turned names, natural order, terse national styles.
EXAMPLES: list[tuple[str, dict[str, Any]]] = [
    (
        'Beef, chuck, arm roast, separable lean only, trimmed to 1/8" fat, choice, braised',
        {"head": ("beef",), "part": ("chuck",), "lean_only": True, "states": {"lean", "braised"}},
    ),
    ("Low-fat plain yogurt", {"head": ("yogurt",), "states": {"low_fat"}}),
    (
        "Minced beef, stewed",
        {"head": ("beef",), "form": "ground", "states": {"ground", "stewed", "braised"}},
    ),
    ("Rindfleisch, roh", {"head": ("rindfleisch",), "kind": ("roh",), "states": set()}),
    (
        "Chicken breast grilled no skin",
        {
            "head": ("chicken",),
            "part": ("breast",),
            "skin": False,
            "states": {"grilled", "skinless"},
        },
    ),
    ("Carrots old boiled", {"head": ("carrot",), "kind": ("old",), "states": {"boiled"}}),
    (
        "Milk semi-skimmed pasteurised",
        {"head": ("milk",), "states": {"semi_skimmed"}, "treated": {"pasteurized"}},
    ),
    (
        "Beans, kidney, mature seeds, cooked, boiled, without salt",
        {"head": ("bean",), "kind": ("kidney",), "salt_added": False},
    ),
    (
        "Nuts, almonds, dry roasted, with salt added",
        {"head": ("almond",), "group": ("nut",), "states": {"roasted", "salted"}},
    ),
    (
        "Apricots, canned, juice pack, with skin, solids and liquids",
        {"medium": "juice", "drained": False, "skin": True},
    ),
    (
        "Peaches, canned, extra light syrup, drained",
        {"medium": "extra_light_syrup", "drained": True, "sugar_added": True},
    ),
    (
        "Herring fillets in tomato sauce, canned",
        {"head": ("herring",), "part": ("fillet",), "medium": "sauce"},
    ),
    ("Tuna, canned in oil, drained solids", {"medium": "oil", "drained": True}),
    ("Egg, white, raw, fresh", {"head": ("egg",), "part": ("white",), "kind": ()}),
    ("Rice, white, long-grain, raw", {"kind": ("white", "long", "grain"), "part": ()}),
    ("Leg of lamb roasted", {"head": ("lamb",), "part": ("leg",), "states": {"roasted"}}),
    ("Swedish meatballs", {"head": ("swedish", "meatball"), "origin": ""}),
    ("Turnip greens, frozen, unprepared", {"part": ("leaf",), "states": {"frozen", "raw"}}),
    ("Peppers, sweet, green, raw", {"part": (), "kind": ("sweet", "green")}),
    ("Potatoes, baked, skin, without salt", {"part": ("skin",), "skin": None}),
    (
        "Potatoes, boiled, cooked in skin, flesh, with salt",
        {"skin": False, "states": {"boiled", "cooked", "skinless", "salted"}},
    ),
    ("Orange juice, frozen concentrate, unsweetened", {"form": "concentrate"}),
    ("Fish, salmon, Atlantic, cooked, dry heat", {"head": ("salmon",), "states": {"cooked"}}),
    ("USDA Commodity, beef, ground, frozen, raw", {"head": ("beef",), "brand": False}),
    ("Lamb, New Zealand, imported, frozen, leg, raw", {"origin": "new zealand", "part": ("leg",)}),
    ("Energy bar (Old Harbour Bakery)", {"maker": "Old Harbour Bakery", "brand": True}),
    ("GALLEY FRESH, Boneless Pork Loin", {"head": ("pork",), "maker": "GALLEY FRESH"}),
    ("BEEF, RAW", {"head": ("beef",), "brand": False}),
]  # fmt: skip


@pytest.mark.parametrize(("description", "said"), EXAMPLES, ids=[name for name, _ in EXAMPLES])
def test_examples(description: str, said: dict[str, Any]) -> None:
    read = profile(description)
    for name, value in said.items():
        assert getattr(read, name) == value, name


#: (description, state it must not have, why)
NOT_SAID = cases(__file__, "not_said")


@pytest.mark.parametrize(("description", "state", "why"), NOT_SAID)
def test_states_that_belong_to_something_else(description: str, state: str, why: str) -> None:
    assert state not in profile(description).states, why


@pytest.mark.parametrize(
    ("description", "topic", "there"), cases(__file__, "there_denied_or_unsaid")
)
def test_there_denied_or_unsaid(description: str, topic: str, there: bool | None) -> None:
    assert getattr(profile(description), topic) is there


@pytest.mark.parametrize(("description", "fat", "lean", "cocoa"), cases(__file__, "percentages"))
def test_percentages(description: str, fat: Any, lean: Any, cocoa: Any) -> None:
    read = profile(description)
    found = (read.fat_pct, read.lean_pct, read.cocoa_pct)
    assert found == tuple(None if pair is None else tuple(pair) for pair in (fat, lean, cocoa))


def test_a_number_with_its_word_is_no_part_of_the_name() -> None:
    assert profile("Mince beef 5% fat raw").head == ("beef",)


@pytest.mark.parametrize(
    ("turned", "natural"),
    [
        ("Beans, kidney, canned", "Canned kidney beans"),
        ("Chicken, breast, roasted", "Roasted chicken breast"),
        ("Apricots, dried", "Dried apricots"),
        ("Turkey, ground, raw", "Raw ground turkey"),
        ("Peas, split, boiled", "Boiled split peas"),
    ],
)
def test_order_makes_no_difference(turned: str, natural: str) -> None:
    one, other = profile(turned), profile(natural)
    assert (one.name, one.states, one.form, one.noun) == (
        other.name, other.states, other.form, other.noun,
    )  # fmt: skip


PARTS = [
    "cooked", "boiled", "with salt", "without salt", "canned", "drained", "frozen", "raw", "ground",
    "lean only", "in oil", "skinless", "unsweetened", "with pork", "sliced", "enriched",
]  # fmt: skip


@given(
    st.lists(st.sampled_from(PARTS), unique=True, max_size=5),
    st.sampled_from(["Beef", "Beans", "Tuna", "Peaches", "Chicken breast"]),
    st.randoms(use_true_random=False),
)
def test_states_do_not_hang_on_the_order_of_parts(
    parts: list[str], head: str, chance: random.Random
) -> None:
    contrary = {"with salt", "without salt"} <= set(parts) or {"raw", "cooked"} <= set(parts)
    turned = list(parts)
    chance.shuffle(turned)
    one, other = profile(", ".join([head, *parts])), profile(", ".join([head, *turned]))
    assert one.head == other.head
    if not contrary and "raw" not in parts:
        assert one.states == other.states


@given(st.text(max_size=80), st.text(max_size=20))
def test_any_text_is_read(description: str, maker: str) -> None:
    read = profile(description, manufacturer=maker)
    assert isinstance(read, Profile)
    assert set(read.head) <= set(read.words) or not read.head
    assert read.derived == frozenset()
    assert all(word for word in read.words)


TOKENS = cases(__file__, "tokens")


@given(
    st.lists(
        st.sampled_from(
            TOKENS
        ),
        max_size=14,
    )
)  # fmt: skip
def test_any_mixture_of_grammar_is_read(tokens: list[str]) -> None:
    read = profile(" ".join(tokens))
    assert not {"salted", "unsalted"} <= read.states
    assert not {"skin_on", "skinless"} <= read.states
    if read.fat_pct:
        assert 0 <= read.fat_pct[0] <= read.fat_pct[1] <= 100


def test_words_keep_every_word_of_the_description() -> None:
    description = "Nuts, coconut milk, canned (liquid expressed from grated meat), UHT"
    assert set(words("Nuts coconut milk canned")) <= set(profile(description).words)


def test_states_are_those_that_lines_use() -> None:
    """A state that a cook may write is spelled here as there."""
    of_lines = {row["state"] for row in shared_rows("states.csv")}
    for row in shared_rows("states.csv"):
        if row["place"] != "name":
            continue
        text = row["words"].split(";")[0]
        told = profile(f"Beans, {text}").states
        assert told & of_lines, (text, told)
