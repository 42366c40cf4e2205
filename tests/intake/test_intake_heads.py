"""Heads and captions as strangers write them, and heads put together from words of the tables."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake import read_collection
from pipeline.intake.facts_line import find_facts, yield_line
from pipeline.intake.numbers import Roles, role_pattern
from pipeline.intake.servings import read_yield
from pipeline.intake.stated_line import read_stated_line
from pipeline.resources import shared_rows

_CARDS = yaml.safe_load((Path(__file__).parent / "strangers_cards.yaml").read_text("utf-8"))
_TAGS = {
    "kcal": "ENERC_KCAL",
    "protein": "PROCNT",
    "fat": "FAT",
    "carbs": "CHOCDF",
    "fiber": "FIBTG",
}


@pytest.mark.parametrize("case", _CARDS, ids=[c["card"].split("\n")[0] for c in _CARDS])
def test_a_card_of_a_stranger(case: dict, tmp_path: Path) -> None:
    (tmp_path / "card.txt").write_text(case["card"], encoding="utf-8")
    read = read_collection([tmp_path])
    assert len(read.recipe) == 1
    expected = dict(case["expect"])
    servings = expected.pop("servings", None)
    if isinstance(servings, list):
        assert {min(read.reading["servings"]), max(read.reading["servings"])} == set(servings)
    elif servings is not None:
        assert read.recipe["servings"].tolist() == [servings]
    mine = read.stated[read.stated["basis"] == "per_serving"]
    stated = dict(zip(mine["nutrient"], mine["amount"], strict=True))
    assert {k: stated[_TAGS[k]] for k in expected} == pytest.approx(expected, rel=0.011)


def _rows(table: str, **only: str) -> list[str]:
    return [
        word for row in shared_rows(table)
        if all(row[column] == value for column, value in only.items())
        for word in row["words"].split(";") if word.isascii() and word.isalpha()
    ]  # fmt: skip


_SERVED = st.sampled_from(_rows("yield_words.csv", kind="serving")).filter(
    lambda w: w.endswith("s")
)
_NAMES = {
    tag: st.sampled_from([w for w in _rows("nutrient_words.csv", tag=tag, of="") if len(w) > 2])
    for tag in ("PROCNT", "FAT", "CHOCDF")
}
#: Words that no table knows, as people put between the facts.
_UNKNOWN = st.sampled_from(["", "", "", "yum", "weeknight", "cosy supper"])
_BETWEEN = st.sampled_from([" · ", " | ", ", ", " – ", "; ", "\n", " • "])


@st.composite
def heads(draw: st.DrawFn) -> tuple[str, int, dict[str, int]]:
    """A head in any order: servings, a time, energy and macros, in words that the tables know."""
    servings = draw(st.integers(2, 40))
    yield_form = draw(
        st.sampled_from(["Serves {n}", "{n} {s}", "Makes {n} {s}", "Feeds {n}", "for {n} people"])
    )
    stated = {"ENERC_KCAL": draw(st.integers(101, 1999))}
    parts = [draw(st.sampled_from(["{} kcal", "{} calories", "Calories: {}", "Energy {} kcal"])).format(
        stated["ENERC_KCAL"])]  # fmt: skip
    for tag, names in _NAMES.items():
        stated[tag] = draw(st.integers(0, 99))
        form = draw(st.sampled_from(["{v} g {n}", "{n} {v}g", "{n}: {v} g", "{v}g {n}"]))
        parts.append(form.format(v=stated[tag], n=draw(names)))
    parts.append(yield_form.format(n=servings, s=draw(_SERVED)))
    parts.append(draw(st.sampled_from(["", "35 min", "Prep 10 mins", "1 hr 20 min"])))
    parts.append(draw(_UNKNOWN))
    order = draw(st.permutations([p for p in parts if p]))
    return draw(_BETWEEN).join(order), servings, stated


@given(heads())
def test_any_order_of_the_facts_of_a_head(head: tuple[str, int, dict[str, int]]) -> None:
    text, servings, stated = head
    read = read_stated_line(text)
    assert {f.tag: f.amount for f in read.found} == pytest.approx(stated)
    assert read.certain
    assert [read_yield(said).servings for said in find_facts(text).yields] == [servings]


@given(st.integers(2, 60), _SERVED, st.sampled_from(["Makes {} {}", "{} {}", "Cuts into {} {}", "Yields {} {}"]))  # fmt: skip
def test_a_yield_alone_on_its_line(count: int, served: str, form: str) -> None:
    said = yield_line(form.format(count, served))
    if said is None:  # a count of another thing than servings may be an ingredient
        assert form == "{} {}"
    else:
        assert read_yield(said).servings == count


def test_numbers_for_several_things_give_those_of_a_serving() -> None:
    for line in ("Whole batch: 1,850 kcal. Per serving: 370 kcal, 27 g protein",
                 "370 kcal, 27 g protein per serving; 1,850 kcal for the whole batch"):  # fmt: skip
        read = read_stated_line(line)
        assert read.basis == "per_serving"
        assert {f.tag: f.amount for f in read.found} == {"ENERC_KCAL": 370, "PROCNT": 27}


@given(st.text(max_size=80))
def test_roles_keep_the_places_of_a_text(text: str) -> None:
    line = Roles(text)
    assert len(line.roles) == len(line.spans) == len(line.words)
    assert all(0 <= a < b <= len(text) for a, b in line.spans)
    assert [a for a, _ in line.spans] == sorted(a for a, _ in line.spans)


def test_a_pattern_names_roles() -> None:
    line = Roles("512 kcal per 2 bars")
    found = line.search("per number item")
    assert found is not None
    assert line.text[slice(*line.span(found))] == "per 2 bars"
    with pytest.raises(KeyError):
        role_pattern("per nothing_of_the_kind")


@pytest.mark.parametrize(
    "table",
    [
        "              Per serving   Per 100 g\nEnergy        1013 kJ       964 kJ\n"
        "Energy        242 kcal      230 kcal\nFat           9.1 g         8.7 g\n",
        "Typical values per 100g / per slice\nEnergy 230kcal / 242kcal\nFat 8.7g / 9.1g\n",
    ],
)
def test_a_column_of_a_table_in_text_is_for_what_its_head_says(table: str, tmp_path: Path) -> None:
    card = f"Plum cake\nServes 8\n\n200 g flour\n300 g plums\n\n{table}"
    (tmp_path / "card.txt").write_text(card, encoding="utf-8")
    stated = read_collection([tmp_path]).stated
    mine = stated[stated["basis"] == "per_serving"]
    assert dict(zip(mine["nutrient"], mine["amount"], strict=True)) == {
        "ENERC_KCAL": 242,
        "FAT": 9.1,
    }
