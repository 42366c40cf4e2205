"""Accepted differences: kept with their numbers, shown as accepted, back when the numbers move."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from pipeline.cli import app
from pipeline.memory import Decision, load_decisions
from pipeline.memory.accepted import (
    acceptance,
    acceptances,
    numbers_text,
    orphans,
    read_numbers,
    with_accepted,
)
from pipeline.memory.decisions import Decisions
from pipeline.problems import SteelyardError
from pipeline.report.junit import render as junit
from pipeline.report.sarif import render as sarif
from pipeline.run import verify

CARD = "Bilge rice\nServes 2\n\n100 g white rice\n{extra}\nPer serving: 400 kcal\n"
number = st.floats(0, 1e5).map(lambda x: float(f"{x:.6g}"))


@given(
    st.dictionaries(
        st.sampled_from(["kcal", "protein_g", "net_carbs_g"]), st.tuples(number, number), min_size=1
    )
)
def test_numbers_read_back_as_written(numbers: dict[str, tuple[float, float]]) -> None:
    assert read_numbers(numbers_text(numbers)) == numbers


@pytest.mark.parametrize("text", ["", "kcal", "kcal 1", "kcal one two", "kcal 1 2 3"])
def test_what_is_no_numbers_is_none(text: str) -> None:
    assert read_numbers(text) is None


def frames(stated: float = 400, computed: float = 180, more: list[tuple] | None = None):
    recipes = pd.DataFrame(
        [("rice", "Bilge rice", "disagrees", "rice.txt"), ("pie", "Pie", "agrees", "pie.txt")],
        columns=["recipe_id", "title", "verdict", "source"],
    )
    rows = [
        ("rice", "kcal", stated, computed, "disagrees"),
        ("rice", "fat_g", 1.0, 1.0, "agrees"),
        *(more or []),
    ]
    return recipes, pd.DataFrame(
        rows, columns=["recipe_id", "nutrient", "stated", "computed", "verdict"]
    )


def kept(decision: Decision) -> Decisions:
    decisions = Decisions()
    decisions.add(decision)
    return decisions


@pytest.mark.parametrize("name", ["rice", "Bilge rice", "bilge  RICE"])
def test_it_holds_while_the_numbers_stay(name: str) -> None:
    decision = acceptance(*frames(), name, "we weigh it wet")
    assert decision.text == "Bilge rice"
    recipes, problems = with_accepted(*frames(computed=181), kept(decision))
    assert list(recipes["accepted"]) == ["we weigh it wet", ""]
    assert not problems


@pytest.mark.parametrize(
    "moved",
    [{"stated": 410}, {"computed": 190}, {"more": [("rice", "protein_g", 9.0, 3.0, "uncertain")]}],
)
def test_it_comes_back_when_they_move(moved: dict) -> None:
    decision = acceptance(*frames(), "rice", "we weigh it wet")
    recipes, problems = with_accepted(*frames(**moved), kept(decision))
    assert list(recipes["accepted"]) == ["", ""]
    assert [p.code for p in problems] == ["accepted-no-longer"]
    assert problems[0].fix


def test_without_numbers_it_is_not_applied() -> None:
    recipes, problems = with_accepted(
        *frames(), kept(Decision("Bilge rice", "", None, "recipe", note="so"))
    )
    assert not recipes["accepted"].any()
    assert "without its numbers" in problems[0].what


@pytest.mark.parametrize(
    ("name", "code"), [("rize", "recipe-unknown"), ("Pie", "nothing-to-accept")]
)
def test_what_cannot_be_accepted_is_said(name: str, code: str) -> None:
    with pytest.raises(SteelyardError) as told:
        acceptance(*frames(), name, "")
    assert told.value.problem.code == code


def bakes(*rows: tuple[str, str, float, float]):
    """Recipes of one file, by their place in it: title, verdict, kcal stated and computed."""
    ids = [f"bakes.csv#{n}" if n > 1 else "bakes.csv" for n in range(1, len(rows) + 1)]
    recipes = pd.DataFrame(
        [
            (i, title, verdict, "bakes.csv")
            for i, (title, verdict, *_) in zip(ids, rows, strict=True)
        ],
        columns=["recipe_id", "title", "verdict", "source"],
    )
    return recipes, pd.DataFrame(
        [(i, "kcal", s, c, v) for i, (_, v, s, c) in zip(ids, rows, strict=True)],
        columns=["recipe_id", "nutrient", "stated", "computed", "verdict"],
    )


BREAD = ("Weir bread", "disagrees", 291.0, 350.0)
STEW = ("Weir stew", "disagrees", 263.0, 338.5)
RICE = ("Weir rice", "disagrees", 477.0, 600.0)


@pytest.mark.parametrize("text", ["Weir stew", "bakes.csv#2", "bakes.csv#Weir stew"])
def test_it_follows_its_recipe_when_rows_go(text: str) -> None:
    decision = Decision(text, "", None, "recipe", note="we skim it", numbers="kcal 263 338.49")
    for rows in ((BREAD, STEW, RICE), (STEW, RICE), (RICE, BREAD, STEW)):
        recipes, problems = with_accepted(*bakes(*rows), kept(decision))
        assert dict(zip(recipes["title"], recipes["accepted"] != "", strict=True)) == {
            title: title == "Weir stew" for title, *_ in rows
        }
        assert not problems
        assert not orphans(*bakes(*rows), kept(decision))


@pytest.mark.parametrize("text", ["Weir stew", "bakes.csv#2"])
def test_one_whose_recipe_is_gone_is_said_to_fit_none(text: str) -> None:
    decisions = kept(Decision(text, "", None, "recipe", numbers="kcal 263 338.49"))
    recipes, problems = with_accepted(*bakes(BREAD, RICE), decisions)
    assert not recipes["accepted"].any()
    assert not problems  # nobody is told to accept another recipe
    told = orphans(*bakes(BREAD, RICE), decisions)
    assert [p.code for p in told] == ["accepted-orphan"]
    assert "263" in told[0].why


def test_a_place_whose_recipe_states_the_same_asks_again() -> None:
    decisions = kept(Decision("bakes.csv#2", "", None, "recipe", numbers="kcal 263 300"))
    _, problems = with_accepted(*bakes(BREAD, STEW), decisions)
    assert [p.code for p in problems] == ["accepted-no-longer"]
    assert not orphans(*bakes(BREAD, STEW), decisions)


def test_recipes_of_one_title_are_told_apart_by_file_then_by_id() -> None:
    tables = bakes(STEW, ("Weir stew", "disagrees", 100.0, 200.0))
    assert acceptance(*tables, "bakes.csv#2", "so").text == "bakes.csv#2"
    tables[0].loc[1, "source"] = "soups.csv"
    decision = acceptance(*tables, "bakes.csv#2", "so")
    assert decision.text == "soups.csv#Weir stew"
    recipes, _ = with_accepted(*tables, kept(decision))
    assert list(recipes["accepted"]) == ["", "so"]
    assert acceptances(*tables, kept(decision), "bakes.csv#2") == [decision]


def test_words_of_a_title_bring_the_titles_that_hold_them() -> None:
    with pytest.raises(SteelyardError) as told:
        acceptance(
            *bakes(("Brown butter quay blondies", "disagrees", 1.0, 2.0), RICE), "blondies", ""
        )
    assert "Brown butter quay blondies" in told.value.problem.fix


def run(*args: object):
    return CliRunner().invoke(app, [str(a) for a in args])


@pytest.mark.soak
def test_from_the_command_to_continuous_integration_and_back(tmp_path: Path) -> None:
    card = tmp_path / "rice.txt"
    card.write_text(CARD.format(extra=""))
    assert run("verify", tmp_path, "--fail-on", "uncertain", "-q").exit_code == 1
    done = run("accept", tmp_path, "Bilge rice", "--reason", "the pot holds two more; we know")
    assert done.exit_code == 0, done.output
    answers, problems = load_decisions(tmp_path / "decisions.csv")
    assert not problems
    assert answers.rows[0].applies_to == "recipe"
    assert "kcal 400 " in answers.rows[0].numbers

    assert run("verify", tmp_path, "--fail-on", "uncertain", "-q").exit_code == 0
    result = verify(tmp_path)
    assert result.counts()["disagrees"] == 1
    assert result.standing() == {
        "agrees": 0,
        "uncertain": 0,
        "disagrees": 0,
        "not_judged": 0,
        "accepted": 1,
    }
    assert 'failures="0"' in junit(result)
    assert "the pot holds two more" in junit(result)
    suppressed = json.loads(sarif(result))["runs"][0]["results"][0]["suppressions"]
    assert "the pot holds two more" in suppressed[0]["justification"]

    bulk = run(
        "verify", tmp_path, "--bulk", "--out", tmp_path / "out", "--fail-on", "uncertain", "-q"
    )
    assert bulk.exit_code == 0, bulk.output

    card.write_text(CARD.format(extra="10 g butter"))
    again = run("verify", tmp_path, "--fail-on", "uncertain")
    assert again.exit_code == 1
    assert "accepted-no-longer" in again.output
    assert run("accept", tmp_path, "Bilge rice", "--forget").exit_code == 0
    assert "accepted-no-longer" not in run("verify", tmp_path).output
