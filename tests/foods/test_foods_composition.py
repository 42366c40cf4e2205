"""What the composition tells when names say nothing, or say it in another language.

The tables are invented; amounts per 100 g are round figures of the kind that every composition
table gives (dry rice 12 % water and 78 g carbohydrate, cooked 68 % and 28 g ...).
"""

from __future__ import annotations

import numpy as np
import pytest
from cases import cases
from hypothesis import given
from hypothesis import strategies as st

from pipeline.foods import Profile, profile, profiles

COLUMNS = ("water_g", "protein_g", "fat_g", "carbs_g", "sugar_g", "fiber_g", "sodium_mg")
Row = tuple[str, float, float, float, float, float, float, float]


def read(rows: list[Row]) -> dict[str, Profile]:
    values = np.array([row[1:] for row in rows], dtype=np.float64)
    names = [row[0] for row in rows]
    found = profiles(names, composition=dict(zip(COLUMNS, values.T, strict=True)))
    return dict(zip(names, found, strict=True))


#: A table whose words of state are of no language: "kuru" raw, "pisul" cooked, "seko" dried.
FOREIGN: list[Row] = cases(__file__, "foreign")


@pytest.mark.parametrize(
    ("word", "state"), [("kuru", "raw"), ("pisul", "cooked"), ("seko", "dried")]
)
def test_words_of_another_language_are_learned_from_pairs(word: str, state: str) -> None:
    found = read(FOREIGN)
    named = [p for name, p in found.items() if name.endswith(word)]
    assert all(state in p.derived for p in named), [p.head for p in named if state not in p.derived]


def test_a_learned_word_speaks_where_water_is_silent() -> None:
    """Raw and boiled roots hold the same water; the word was learned on the others."""
    found = read(FOREIGN)
    assert "cooked" in found["Beto, pisul"].states
    assert "raw" in found["Beto, kuru"].states


def test_dry_seeds_are_dry_even_where_the_table_calls_them_raw() -> None:
    found = read(FOREIGN)
    assert {"raw", "dry"} <= found["Luso, kuru"].derived


#: (name that says nothing, its values, the food beside it, state derived)
BESIDE: list[tuple[Row, Row, str]] = cases(__file__, "beside")


@pytest.mark.parametrize(("silent", "beside", "state"), BESIDE, ids=[b[2] for b in BESIDE])
def test_a_food_beside_it_tells_what_a_name_leaves_out(
    silent: Row, beside: Row, state: str
) -> None:
    found = read([silent, beside])
    assert state in found[silent[0]].derived
    assert state in found[silent[0]].states
    assert not found[beside[0]].derived


def test_alone_they_tell_nothing() -> None:
    for silent, _, _ in BESIDE:
        assert not read([silent])[silent[0]].derived, silent[0]


@pytest.mark.parametrize(
    ("fat", "state"), [(0.1, "fat_free"), (1.0, "low_fat"), (1.7, "reduced_fat"), (3.6, "full_fat")]
)
def test_milk_is_told_by_its_fat_in_any_language(fat: float, state: str) -> None:
    told = profile(
        "Maito",
        composition={"water_g": 89, "protein_g": 3.4, "fat_g": fat, "carbs_g": 4.9, "sugar_g": 4.9},
    )
    assert told.derived == {state}


def test_what_the_name_says_stands() -> None:
    """Wet "dry" pasta and dry "cooked" rice: the values are odd, the names are not mended."""
    found = read(
        [("Pasta, dry", 62, 5.8, 0.9, 31, 0.6, 1.8, 1), ("Pasta, cooked", 10, 13, 1.5, 75, 2, 3, 6)]
    )
    assert found["Pasta, dry"].states == {"dry"}
    assert found["Pasta, cooked"].states == {"cooked"}


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["Beans", "Beans, raw", "Beans, boiled", "Milk", "Beef, roasted", "x"]),
            *[st.one_of(st.just(float("nan")), st.floats(0, 100)) for _ in COLUMNS],
        ),
        max_size=6,
    )
)
def test_any_values_are_taken_and_names_never_contradicted(rows: list[Row]) -> None:
    values = np.array([row[1:] for row in rows], dtype=np.float64).reshape(-1, len(COLUMNS))
    names = [row[0] for row in rows]
    found = profiles(names, composition=dict(zip(COLUMNS, values.T, strict=True)))
    for name, told in zip(names, found, strict=True):
        assert profile(name).states == told.states - told.derived
        assert not ("raw" in name and "cooked" in told.states)
        assert not (told.states & {"boiled", "roasted"} and "raw" in told.states)


def test_columns_may_be_absent() -> None:
    only_water = {"water_g": np.array([12.0, 68.0])}
    found = profiles(["Rice", "Rice, cooked"], composition=only_water)
    assert [p.derived for p in found] == [frozenset(), frozenset()]
