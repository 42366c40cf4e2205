"""Remembered answers: found in any case and spacing, written one way, never lost."""

from __future__ import annotations

from pathlib import Path

from pipeline.memory import Decision, load_decisions, save_decision
from pipeline.memory.decisions import remove_decision


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
