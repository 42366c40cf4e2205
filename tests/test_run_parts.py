"""A line of several foods through the whole run: each is counted, what is unread is said."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

import pipeline
from pipeline.cli import app

CARD = """Quayside omelette
Serves 2

{lines}

Per serving: 300 kcal
"""


def _run(folder: Path, *lines: str, decisions: str = "") -> pipeline.run.Result:
    (folder / "omelette.txt").write_text(CARD.format(lines="\n".join(lines)), encoding="utf-8")
    if decisions:
        (folder / "decisions.csv").write_text(decisions, encoding="utf-8")
    return pipeline.verify(folder)


def _counted(lines: pd.DataFrame) -> pd.DataFrame:
    return lines[lines["names_food"].astype(bool)]


@pytest.mark.soak
def test_foods_on_one_line_count_as_on_lines_of_their_own(tmp_path: Path) -> None:
    (one := tmp_path / "one").mkdir()
    (two := tmp_path / "two").mkdir()
    together = _run(one, "2 eggs + 100 g egg whites", "1 tbsp soy sauce and 1 tbsp honey")
    apart = _run(two, "2 eggs", "100 g egg whites", "1 tbsp soy sauce", "1 tbsp honey")
    assert together.recipes["kcal_computed"].tolist() == apart.recipes["kcal_computed"].tolist()
    assert _counted(together.lines)["food_id"].tolist() == apart.lines["food_id"].tolist()
    whole = together.lines[together.lines["basis"] == "parts"]
    assert whole["line_no"].tolist() == [1, 2]
    assert whole["grams"].iloc[0] == pytest.approx(200)
    assert whole["food_id"].isna().all()
    assert together.lines["part_of"].fillna(0).tolist() == [0, 1, 1, 0, 2, 2]
    assert together.lines["line_no"].tolist() == [1, 3, 4, 2, 5, 6]


def test_a_part_that_is_not_read_leaves_the_recipe_uncertain(tmp_path: Path) -> None:
    result = _run(tmp_path, "2 eggs", "200 ml milk and 40 g quibbleroot")
    assert result.recipes["coverage"].iloc[0] < 1
    assert "40 g quibbleroot" in result.to_review["text"].tolist()
    assert "food-unknown" in result.problems["code"].tolist()


def test_a_line_that_a_person_decided_on_stays_whole(tmp_path: Path) -> None:
    said = "text,food_id,grams,applies_to\n2 eggs + 100 g egg whites,sr28:01123,180,line\n"
    result = _run(tmp_path, "2 eggs + 100 g egg whites", decisions=said)
    assert result.lines["food_id"].tolist() == ["sr28:01123"]
    assert result.lines["grams"].tolist() == [180]


def test_match_shows_the_foods_under_the_line() -> None:
    text = "2 eggs + 100 g egg whites"
    shown = CliRunner().invoke(app, ["match", text])
    assert shown.exit_code == 0
    assert "  100 g egg whites" in shown.stdout
    told = json.loads(CliRunner().invoke(app, ["match", text, "--format", "jsonl"]).stdout)
    assert told["food_id"] is None
    assert [p["line"] for p in told["parts"]] == ["2 eggs", "100 g egg whites"]
    assert sum(p["grams"] for p in told["parts"]) == pytest.approx(told["grams"])
