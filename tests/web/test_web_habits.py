"""Habits on the review page: answered with one click, written where they belong, taken back."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "habits"))
from kitchen import LIGHT, Values, cheese_dishes, lay_out, table

from pipeline.memory import load_decisions, load_pantry
from pipeline.web import habits
from pipeline.web.model import ChangedElsewhere, line_key
from pipeline.web.session import ReviewSession
from pipeline.web.state import ReviewState

CHEESE = {"d-000", "d-001", "d-003", "d-004", "d-006", "d-007"}


@pytest.fixture(scope="module")
def foods(snapshot: Any) -> dict[str, Values]:
    return table(snapshot)


@pytest.fixture
def cheese(tmp_path: Path, foods: dict[str, Values], snapshot: Any) -> Iterator[ReviewSession]:
    """Cheddar is always the reduced-fat one."""
    folder = lay_out(tmp_path / "k", cheese_dishes(), {**foods, "cheddar cheese": LIGHT})
    session = ReviewSession(ReviewState(folder, snapshot=snapshot))
    yield session
    session.close()


@pytest.fixture
def net(tmp_path: Path, foods: dict[str, Values], snapshot: Any) -> Iterator[ReviewSession]:
    """Carbohydrate is always without fibre."""
    folder = lay_out(
        tmp_path / "n", cheese_dishes(), foods, lambda v: {**v, "carbs": v["carbs"] - v["fibre"]}
    )
    (folder / "steelyard.toml").write_text('# the lock\'s own choices\nprofile = "eu"\n')
    session = ReviewSession(ReviewState(folder, snapshot=snapshot))
    yield session
    session.close()


def only(session: ReviewSession) -> habits.HabitCard:
    (card,) = habits.HabitPanel(session).cards
    return card


def agreeing(session: ReviewSession) -> set[str]:
    return {r for r, now in session.state.recipes.items() if now.verdict == "agrees"}


def test_the_numbers_become_a_pantry_row_and_the_recipes_agree(cheese: ReviewSession) -> None:
    card = only(cheese)
    assert card.acts == ["nearest", "numbers", "pack", "no"]
    assert not agreeing(cheese) >= CHEESE
    answer = habits.answer(cheese, card.key, "numbers")
    assert agreeing(cheese) >= CHEESE
    assert {m.recipe_id for m in answer.moved if m.was != m.now} <= CHEESE
    assert any((m.was, m.now) == ("disagrees", "agrees") for m in answer.moved)
    (food,) = load_pantry(cheese.state.own.pantry_path)[0].foods
    assert food.per_100g["FAT"] == pytest.approx(22, rel=0.1)
    (decision,) = load_decisions(cheese.state.own.decisions_path)[0].rows
    assert (decision.applies_to, decision.food_id) == ("name", food.food_id)
    assert habits.HabitPanel(cheese).cards == []

    cheese.history.take_back(answer.answer_id)
    assert load_pantry(cheese.state.own.pantry_path)[0].foods == []
    assert load_decisions(cheese.state.own.decisions_path)[0].rows == []
    assert only(cheese).key == card.key


def test_one_click_says_which_food_of_the_table_it_is(cheese: ReviewSession) -> None:
    card = only(cheese)
    habits.answer(cheese, card.key, "nearest")
    (decision,) = load_decisions(cheese.state.own.decisions_path)[0].rows
    assert decision.food_id == card.row["nearest_food_id"]
    assert not cheese.state.own.pantry_path.exists()


def test_pack_values_are_a_pantry_row_too(cheese: ReviewSession) -> None:
    row = {"food_name": "Lock dairy light cheddar", "serving_name": "1 slice", "serving_g": "25",
           "kcal": "79", "protein_g": "7", "carbs_g": "0.5", "fat_g": "5.5"}  # fmt: skip
    habits.answer(cheese, only(cheese).key, "pack", row)
    assert agreeing(cheese) >= CHEESE
    assert load_pantry(cheese.state.own.pantry_path)[0].foods[0].name == "Lock dairy light cheddar"


def test_a_refused_habit_is_not_asked_again(cheese: ReviewSession) -> None:
    before = {r: now.verdict for r, now in cheese.state.recipes.items()}
    answer = habits.answer(cheese, only(cheese).key, "no")
    assert habits.HabitPanel(cheese).cards == []
    assert {r: now.verdict for r, now in cheese.state.recipes.items()} == before
    (decision,) = load_decisions(cheese.state.own.decisions_path)[0].rows
    assert decision.applies_to == "habit"
    assert load_decisions(cheese.state.own.decisions_path)[1] == []
    cheese.history.take_back(answer.answer_id)
    assert len(habits.HabitPanel(cheese).cards) == 1


def test_a_convention_goes_into_the_settings_and_out_again(net: ReviewSession) -> None:
    card = only(net)
    assert card.acts == ["convention"]  # it is counted so already; the settings make it last
    answer = habits.answer(net, card.key, "convention")
    path = net.state.root / "steelyard.toml"
    assert path.read_text() == (
        '# the lock\'s own choices\nprofile = "eu"\ncarbohydrate = "available"\n'
    )
    assert agreeing(net) == set(net.state.recipes)
    net.history.take_back(answer.answer_id)
    assert path.read_text() == '# the lock\'s own choices\nprofile = "eu"\n'
    assert habits.HabitPanel(net).cards[0].key == card.key


def test_what_was_changed_since_is_not_taken_back(net: ReviewSession) -> None:
    answer = habits.answer(net, only(net).key, "convention")
    path = net.state.root / "steelyard.toml"
    path.write_text(path.read_text() + 'publish = "eu"\n')
    with pytest.raises(ChangedElsewhere):
        net.history.take_back(answer.answer_id)
    assert 'publish = "eu"' in path.read_text()


def test_an_answer_that_does_not_fit_writes_nothing(cheese: ReviewSession) -> None:
    key = only(cheese).key
    with pytest.raises(ValueError, match="no such answer"):
        habits.answer(cheese, key, "convention")
    with pytest.raises(KeyError):
        habits.answer(cheese, "0" * 16, "no")
    assert not cheese.state.own.pantry_path.exists()
    assert not cheese.state.own.decisions_path.exists()


def test_the_page_asks_and_answers_without_scripts(cheese: ReviewSession, serve: Any) -> None:
    with serve(cheese) as client:
        assert "1 question about many recipes" in client.get("/").text
        page = client.get("/habits").text
        assert "cheddar cheese" in page
        assert "In 6 recipes" in page
        key = only(cheese).key
        told = client.post(f"/habit/{key}", {"act": "numbers"})
        assert told.status == 303
        after = client.get(told.headers["location"]).text
        assert "is in your pantry" in after
        assert "Take it back" in after
        assert "No habit waits" in after
        assert client.post(f"/habit/{key}", {"act": "numbers"}).status == 409
        assert client.post(f"/habit/{key}", {"act": "pack"}).status == 422
        assert client.post(f"/habit/{key}", {"act": "no", "form_key": "x"}).status == 403


def test_habits_are_looked_for_again_while_the_page_is_idle(cheese: ReviewSession) -> None:
    """An answer touches its own recipes alone; what all recipes share follows later."""
    key = line_key(next(t for t in cheese.state.lines.texts.values() if "cheddar" in t))
    with cheese.state.in_use():
        answer = cheese.answers.give(key, food_id="sr28:01009")
        assert cheese.state.habits_outdated
        assert answer.answer_id
    until = time.monotonic() + 60
    while cheese.state.habits_outdated and time.monotonic() < until:
        time.sleep(0.05)
    assert not cheese.state.habits_outdated
    fresh = ReviewSession(ReviewState(cheese.state.root, snapshot=cheese.state.snapshot))
    assert [h["key"] for h in cheese.state.habits] == [h["key"] for h in fresh.state.habits]
    assert {r: n.verdict for r, n in cheese.state.recipes.items()} == {
        r: n.verdict for r, n in fresh.state.recipes.items()
    }
    fresh.close()
