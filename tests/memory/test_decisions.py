"""Remembered answers: found in any case and spacing, written one way, never lost."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.memory import Decision, Decisions, load_decisions, save_decision
from pipeline.memory.decisions import remove_decision
from pipeline.memory.pantry import load_pantry
from pipeline.memory.unused import unused_answers, unused_creators
from pipeline.problems import Problem
from pipeline.settings import Conventions, Settings


def test_round_trip_and_replacement(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    save_decision(path, Decision("2 tbsp  Quay butter, soft", "sr28:01001", 28.0))
    save_decision(path, Decision("1 tin beans", "sr28:16015"))
    save_decision(path, Decision("2 TBSP quay butter, soft", "sr28:01145", note="it is unsalted"))
    decisions, problems = load_decisions(path)
    assert not problems
    assert len(decisions) == 2
    found = decisions.find("2 tbsp quay Butter, soft")
    assert found is not None
    assert found.food_id == "sr28:01145"
    assert found.grams is None


def test_a_name_decision_serves_every_line_of_that_name(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    save_decision(path, Decision("quay butter", "sr28:01001", applies_to="name"))
    decisions, _ = load_decisions(path)
    assert decisions.find("3 tbsp quay butter", "quay butter") is not None
    assert decisions.find("3 tbsp quay butter") is None


def test_bad_rows_are_told_and_left_out(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    path.write_text(
        "text,food_id,grams,applies_to\n,sr28:01001,,\na,sr28:01001,lots,\nb,x,,page\nc,sr28:01001,5,line\n"
    )
    decisions, problems = load_decisions(path)
    assert [p.source_line for p in problems] == [2, 3, 4]
    assert len(decisions) == 1


def test_removing_takes_back_one_answer(tmp_path: Path) -> None:
    path = tmp_path / "decisions.csv"
    save_decision(path, Decision("a", "sr28:01001"))
    assert remove_decision(path, "A")
    assert not remove_decision(path, "A")
    assert len(load_decisions(path)[0]) == 0


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("100g feta", "100 g feta"),
        ("100 G  Feta", "100g feta"),
        ("1½tsp salt", "1½ tsp salt"),
        ("30 g cre\u0300me", "30 g cr\u00e8me"),
        ("2 baker’s potatoes", "2 baker's potatoes"),
    ],
)
def test_an_answer_is_about_the_words(tmp_path: Path, written: str, read: str) -> None:
    path = tmp_path / "decisions.csv"
    save_decision(path, Decision(written, "sr28:01019"))
    assert load_decisions(path)[0].find(read) is not None
    assert load_decisions(path)[0].find(f"{read} cheese") is None


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ("a,sr28:01001,,\nb,sr28:01001,5,\nA,sr28:01145,,\n", ("decision-twice", 4)),
        ("a,,,line\n", ("decision-empty", 2)),
        ("100 g feta;sr28:01019;90;line\n", ("row-other-delimiter", 2)),
        ("1 onion, chopped,sr28:11282,110,line\n", ("csv-row-invalid", 2)),
    ],
)
def test_rows_that_would_do_nothing_or_something_else_are_told(
    tmp_path: Path, rows: str, told: tuple[str, int]
) -> None:
    path = tmp_path / "decisions.csv"
    path.write_text("text,food_id,grams,applies_to\n" + rows + "c,sr28:01001,5,line\n")
    decisions, problems = load_decisions(path)
    assert [(p.code, p.source_line) for p in problems] == [told]
    assert problems[0].fix
    assert decisions.find("c") is not None


def made(*answers: Decision, path: Path = Path("decisions.csv")) -> Decisions:
    decisions = Decisions(path=path)
    for line, answer in enumerate(answers, start=2):
        decisions.add(answer, line)
    return decisions


def test_a_food_that_nothing_has_is_the_decision_s_fault_and_its_grams_stay() -> None:
    answers = made(
        Decision("1 tin beans", "sr28:99999", 200.0), Decision("feta", "sr28:01019"),
        Decision("salt", "none"), Decision("rice", "sr28:88888"),
    )  # fmt: skip
    usable, problems = answers.with_foods(lambda food_id: food_id == "sr28:01019")
    assert [(p.code, p.source_line) for p in problems] == [
        ("decision-food-unknown", 2), ("decision-food-unknown", 5),
    ]  # fmt: skip
    assert "sr28:99999" in problems[0].what
    beans = usable.find("1 tin beans")
    assert beans is not None
    assert (beans.food_id, beans.grams) == ("", 200.0)
    assert usable.find("rice") is None
    assert len(usable) == 3


def test_answers_that_touch_no_line_are_told_with_what_comes_near() -> None:
    answers = made(
        Decision("200 g smoked tofu", "sr28:16427"), Decision("100g feta", "sr28:01019"),
        Decision("quay butter", "sr28:01001", applies_to="name"),
        Decision("feta", "sr28:01019", applies_to="name"),
        Decision("1 tbsp honey and 2 tbsp soy sauce", "", 50.0),
        Decision("a recipe", "", None, "recipe"),
    )  # fmt: skip
    texts = ["100 g feta", "200 g firm tofu", "1 tbsp honey and 2 tbsp soy sauce"]
    told = unused_answers(answers, texts, texts[2:])
    assert [(p.code, p.source_line) for p in told] == [
        ("decision-of-several", 6), ("decision-unused", 2), ("decision-unused", 4),
    ]  # fmt: skip
    assert "200 g firm tofu" in told[1].fix


def test_settings_of_a_creator_who_has_no_recipe_are_told() -> None:
    settings = Settings(creators={"Mee": Conventions(), "Mia": Conventions()})
    told = unused_creators(settings, ["Mia", "Mees", ""])
    assert [(p.code, '"Mees"' in p.fix) for p in told] == [("creator-unknown", True)]


@pytest.mark.parametrize(
    ("load", "text", "unread", "meant"),
    [
        (load_decisions, "text;food;grams\n1 onion;sr28:11282;177\n", '"food"', '"food_id"'),
        (load_pantry, "food_name,serving_g,kcal,protein\nPea powder,30,117,24\n", '"protein"',
         '"protein_g"'),
        (load_pantry, "food_name,serving_g,kcal,fibre_g,shop\nPea powder,30,117,2,corner\n",
         '"shop"', "notes of your own"),
        (load_pantry, "name,serving_g,calories\nPea powder,30,117\n", "", ""),
    ],
)  # fmt: skip
def test_a_column_that_nothing_reads_is_told(
    tmp_path: Path, load: Callable[[Path], tuple[object, list[Problem]]], text: str, unread: str,
    meant: str,
) -> None:  # fmt: skip
    path = tmp_path / "own.csv"
    path.write_text(text, encoding="utf-8")
    told = [p for p in load(path)[1] if p.code == "own-column-unread"]
    assert len(told) == bool(unread)
    for problem in told:
        assert unread in problem.what
        assert meant in problem.fix
