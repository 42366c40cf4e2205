"""What the collection settles and nobody has to answer: kinds left open, rounding; and states of all."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from cases import cases
from hypothesis import given
from hypothesis import strategies as st
from kitchen import Dish, Item, Kitchen, Values, cheese_dishes, dish, lay_out

import pipeline
from pipeline.habits import confirm
from pipeline.habits.model import ids_of
from pipeline.habits.rounding import roundings, with_steps


def dishes(name: str) -> list[Dish]:
    """The dishes of that name, of (words, grams)."""
    return [dish(*items) for items in cases(__file__, name)]


def fish_dishes(words: str) -> list[Dish]:
    """Six dishes, five of them with fish."""
    return [
        dish(*((words if w == "fish" else w, g) for w, g in items))
        for items in cases(__file__, "fish")
    ]


WILD, FARMED = "15076", "15236"


@pytest.mark.parametrize("words", ["salmon, raw", "salmon fillet, raw"])
def test_wild_salmon_is_read_as_wild_and_asked_about_never(words: str, kitchen: Kitchen) -> None:
    result = kitchen.verify(fish_dishes(words), {words: WILD})
    (row,) = result.habits.to_dict("records")
    assert row["kind"] == "reading"
    assert row["probability"] < 0.2  # that it is a habit of theirs
    lines = result.lines[result.lines["food_id"] == row["nearest_food_id"]]
    assert len(lines) == 5
    assert "wild" in lines.iloc[0]["description"]
    assert lines["reason"].str.contains("numbers of 5 recipes").all()
    assert set(result.recipes["verdict"]) == {"agrees"}
    assert "read as" in row["question"]


def test_a_kind_that_the_line_says_is_a_habit(kitchen: Kitchen) -> None:
    """Whoever writes farmed and counts wild is asked."""
    words = "farmed Atlantic salmon, raw"
    found = kitchen.verify(fish_dishes(words), {words: WILD}).habits
    assert found["kind"].tolist() == ["product"]
    assert found.iloc[0]["probability"] >= 0.8


def test_a_product_outside_all_open_kinds_is_a_habit(kitchen: Kitchen) -> None:
    words = "salmon, raw"
    oily = {"kcal": 316.0, "protein": 18.0, "carbs": 0.0, "fat": 27.0, "fibre": 0.0}
    found = kitchen.verify(fish_dishes(words), {words: oily}).habits
    assert found["kind"].tolist() == ["product"]
    assert found.iloc[0]["probability"] >= 0.8


def test_a_reading_settles_one_creator_and_not_the_other(kitchen: Kitchen) -> None:
    words = "salmon, raw"
    folder = kitchen.lay_out(fish_dishes(words), {words: WILD})
    theirs = [replace(d, creator="Bram Teller") for d in fish_dishes(words)]
    other = replace(kitchen, folder=kitchen.folder / "../b").lay_out(theirs, {words: FARMED})
    for path in other.iterdir():
        page = json.loads(path.read_text(encoding="utf-8"))
        page["identifier"] = page["identifier"].replace("d-", "e-")
        (folder / path.name.replace("d-", "e-")).write_text(json.dumps(page), encoding="utf-8")
    result = pipeline.verify(folder, snapshot=kitchen.snapshot)
    assert result.habits["creator"].tolist() == ["Odile Farran"]
    fish = result.lines[result.lines["text"].str.contains("salmon")]
    wild = fish["description"].str.contains("wild")
    assert (wild == fish["recipe_id"].str.startswith("d-")).all()
    assert set(result.recipes["verdict"]) == {"agrees"}


def test_a_refused_reading_is_not_settled_again(kitchen: Kitchen) -> None:
    words = "salmon, raw"
    key = kitchen.verify(fish_dishes(words), {words: WILD}).habits.iloc[0]["key"]
    (kitchen.folder / "decisions.csv").write_text(
        f'text,food_id,grams,applies_to,decided_on,note\n"{key}",none,,habit,2025-05-01,\n',
        encoding="utf-8",
    )
    result = pipeline.verify(kitchen.folder, snapshot=kitchen.snapshot)
    assert "reading" not in set(result.habits["kind"])
    assert not result.lines["description"].str.contains("wild").any()


# --- rounding -----------------------------------------------------------------------------


def rounded(values: Values, kcal: int, grams: int) -> Values:
    step = {k: kcal if k == "kcal" else grams for k in values}
    return {k: step[k] * round(v / step[k]) for k, v in values.items()}


def test_numbers_in_steps_of_five_grams_are_no_differences(
    tmp_path: Path, foods: dict[str, Values], snapshot: Any
) -> None:
    folder = lay_out(tmp_path / "k", cheese_dishes(), foods, lambda v: rounded(v, 10, 5))
    result = pipeline.verify(folder, snapshot=snapshot)
    found = result.habits
    assert set(found["kind"]) == {"reading"}
    assert "protein, carbohydrate and fat in steps of 5 g" in set(found["phrase"])
    assert (found["probability"] < 0.2).all()
    assert "disagrees" not in set(result.recipes["verdict"])
    assert set(result.explanations["kind"]) <= {"none_found"}


amounts = st.lists(st.integers(1, 120), min_size=12, max_size=40)


@given(amounts, st.sampled_from([5, 10]))
def test_rounding_is_told_when_all_numbers_are_multiples(numbers: list[int], step: int) -> None:
    stated = frame([step * n for n in numbers])
    found = roundings(stated, recipes(len(numbers)))
    told = {(h.measure, h.grams) for h in found}
    even = all(n % 2 == 0 for n in numbers)
    half = step / 2 >= 0.01 * float(pd.Series([step * n for n in numbers]).median())
    if half and not (step == 5 and even):
        assert ("g", float(step)) in told or ("g", 10.0) in told
    again = with_steps(stated, found)
    assert (again["step"] >= stated["step"]).all()
    assert again["amount"].tolist() == stated["amount"].tolist()


@given(st.lists(st.integers(1, 120).filter(lambda n: n % 5), min_size=1, max_size=40), amounts)
def test_a_tenth_of_other_numbers_is_no_rounding(odd: list[int], even: list[int]) -> None:
    even = even[: 9 * len(odd)]
    numbers = [5 * n for n in even[: len(odd)]] + odd
    assert roundings(frame(numbers), recipes(len(numbers))) == []


def frame(numbers: list[int]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "recipe_id": [f"r{n}" for n in range(len(numbers))],
            "nutrient": "PROCNT", "amount": [float(n) for n in numbers], "basis": "per_serving",
            "step": 1.0, "text": "",
        }
    )  # fmt: skip


def recipes(many: int) -> pd.DataFrame:
    return pd.DataFrame({"recipe_id": [f"r{n}" for n in range(many)], "creator": "A"})


# --- states of everything -----------------------------------------------------------------


COOKED = {"dry couscous": "20029", "dried red lentils": "16070", "uncooked quinoa": "20137"}


def test_all_raw_weights_counted_as_cooked_are_one_question(kitchen: Kitchen) -> None:
    result = kitchen.verify(dishes("dry"), COOKED)
    sure = result.habits[result.habits["probability"] >= 0.8]
    assert sure[["kind", "phrase"]].values.tolist() == [["state", "raw weights counted as cooked"]]
    row = sure.to_dict("records")[0]
    assert len(ids_of(row["recipe_ids"])) == 6
    assert "Do all the grams mean cooked food?" in row["question"]
    assert row["agree_then"] >= 5 > row["agree_now"]
    assert confirm.acts(row) == ["nearest", "no"]


def test_an_answer_about_everything_names_the_food_of_each_line(kitchen: Kitchen) -> None:
    from pipeline.memory import load_decisions
    from pipeline.web import habits
    from pipeline.web.session import ReviewSession
    from pipeline.web.state import ReviewState

    folder = kitchen.lay_out(dishes("dry"), COOKED)
    session = ReviewSession(ReviewState(folder, snapshot=kitchen.snapshot))
    try:
        (card,) = habits.HabitPanel(session).cards
        habits.answer(session, card.key, "nearest")
        decisions = load_decisions(folder / "decisions.csv")[0].rows
        assert {d.applies_to for d in decisions} == {"line"}
        assert len(decisions) == 6
        assert sum(now.verdict == "agrees" for now in session.state.recipes.values()) >= 6
        assert habits.HabitPanel(session).cards == []
    finally:
        session.close()


def test_all_cooked_weights_counted_as_raw(kitchen: Kitchen) -> None:
    raw = {"cooked quinoa": "20035", "cooked chickpeas": "16056", "cooked brown rice": "20036"}
    result = kitchen.verify(dishes("cooked"), raw)
    sure = result.habits[result.habits["probability"] >= 0.8]
    assert sure[["kind", "phrase"]].values.tolist() == [["state", "cooked weights counted as raw"]]


def test_one_food_of_another_state_is_a_habit_of_that_food(kitchen: Kitchen) -> None:
    some = [
        *dishes("dry"),
        Dish((Item("dried red lentils", 90), Item("raw broccoli", 80), Item("butter", 10))),
    ]
    counted_as = {"uncooked quinoa": "20035", "dried red lentils": "16070"}
    found = kitchen.verify(some, counted_as).habits
    assert found["phrase"].tolist() == ["dried red lentils"]
