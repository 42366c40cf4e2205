"""Grams typed on the page: never of a food that was not meant, never absurd without a second look."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from web_client import Client

from pipeline.memory import Decision, load_decisions, save_decision
from pipeline.web.model import line_key
from pipeline.web.session import ReviewSession
from pipeline.web.state import ReviewState

CARD = """Slipway glaze
Serves 2

Ingredients
- 1 tbsp honey and 2 tbsp soy sauce
- butter, olive oil
- 1 tsp salt
- 200 g chicken breast

Per serving: 300 kcal, P 24 g, C 20 g, F 12 g
"""
BOTH = line_key("1 tbsp honey and 2 tbsp soy sauce")
SALT = line_key("1 tsp salt")
FATS = line_key("butter, olive oil")


@pytest.fixture
def glaze(tmp_path: Path) -> Path:
    folder = tmp_path / "glaze"
    folder.mkdir()
    (folder / "glaze.txt").write_text(CARD, encoding="utf-8")
    return folder


@pytest.fixture
def client(glaze: Path, serve: Any, snapshot: Any) -> Any:
    session = ReviewSession(ReviewState(glaze, snapshot=snapshot))
    with serve(session) as found:
        yield found
    session.close()


def grams(client: Client, key: str, text: str, **more: str) -> Any:
    return client.post(f"/line/{key}", {"act": "grams", "grams": text, **more}, hx_request="true")


def answers(folder: Path) -> list[Decision]:
    return load_decisions(folder / "decisions.csv")[0].rows


def test_grams_of_a_line_of_two_foods_ask_for_the_food_first(client: Client, glaze: Path) -> None:
    got = grams(client, BOTH, "50", insist="yes")
    assert got.status == 422
    assert "would not say of which" in got.text
    assert not answers(glaze)
    assert grams(client, line_key("1 tbsp honey"), "30").status == 200
    assert [(a.text, a.grams) for a in answers(glaze)] == [("1 tbsp honey", 30.0)]


def test_a_second_food_behind_a_comma_is_asked_about_and_the_receipt_names_the_food(
    client: Client, glaze: Path
) -> None:
    got = grams(client, FATS, "20")
    assert got.status == 422
    assert "also names “olive oil”" in got.text
    assert not answers(glaze)
    got = grams(client, FATS, "20", insist="yes")
    assert "weighs 20 g, counted as Butter" in got.text
    assert answers(glaze)[0].grams == 20.0


@pytest.mark.parametrize("text", ["1000000", "400"])
def test_grams_that_are_hard_to_believe_are_saved_when_confirmed(
    client: Client, glaze: Path, text: str
) -> None:
    got = grams(client, SALT, text)
    assert got.status == 422
    assert 'name="insist"' in got.text
    assert not answers(glaze)
    assert grams(client, SALT, text, insist="yes").status == 200
    assert answers(glaze)[0].grams == float(text)


def test_too_many_grams_are_said_to_be_too_much(client: Client, glaze: Path) -> None:
    got = grams(client, SALT, "2000000", insist="yes")
    assert got.status == 422
    assert "2000000 is too much" in got.text
    assert grams(client, SALT, "8").status == 200  # an everyday correction asks nothing


def test_grams_in_the_file_for_a_line_of_two_foods_go_to_neither(
    glaze: Path, snapshot: Any
) -> None:
    save_decision(glaze / "decisions.csv", Decision("1 tbsp honey and 2 tbsp soy sauce", "", 500.0))
    session = ReviewSession(ReviewState(glaze, snapshot=snapshot))
    held = [session.state.line("glaze.txt", n) for n in (1, 5, 6)]
    assert next(row["basis"] for row in held if row) == "parts"
    assert all(row is not None and row["grams"] < 60 for row in held)
    session.close()
