"""Numbers on the basis they are stated on: per serving, per 100 g, or of the whole recipe."""

from __future__ import annotations

from pathlib import Path

import pytest

import pipeline
from pipeline.report.terminal import print_result
from pipeline.report.todo import to_do
from pipeline.result import Result


@pytest.fixture
def run(tmp_path: Path, request: pytest.FixtureRequest) -> Result:
    (tmp_path / "soup.txt").write_text(request.param, encoding="utf-8")
    return pipeline.verify(tmp_path)


LIST = "- 500 g red lentils\n- 50 g olive oil\n"


@pytest.mark.parametrize(
    "run",
    [f"Lentil pot\nServes 4\nCooked weight: 2000 g\n\n{LIST}\nPer 100 g: 60 kcal, 6 g protein\n"],
    indirect=True,
)
def test_a_number_per_100_g_is_corrected_per_100_g(run: Result) -> None:
    (found,) = run.findings[run.findings["nutrient"] == "kcal"].to_dict("records")
    assert (found["basis"], found["verdict"]) == ("per_100g", "disagrees")
    bases = set(run.corrected["basis"])
    assert bases == {"per_serving", "per_100g"}
    (task,) = next(g for g in to_do(run, {}, {}) if g.kind == "fix").tasks
    (name, stated, should, _), *_ = task.numbers
    assert (name, stated) == ("Energy per 100 g", "60\u00a0kcal")
    assert float(should.split()[0]) == pytest.approx(found["computed"], abs=1)
    assert task.copy.startswith("Per 100 g:")


@pytest.mark.parametrize(
    "run",
    [f"Lentil base\n\n{LIST}\nThe whole pan: 2200 kcal, P 120 g, C 316 g, F 60 g\n"],
    indirect=True,
)
def test_a_recipe_without_servings_shows_the_numbers_of_the_whole(
    run: Result, capsys: pytest.CaptureFixture[str]
) -> None:
    (row,) = run.recipes.to_dict("records")
    assert row["kcal_stated"] == 2200
    assert row["kcal_computed"] == pytest.approx(2200, rel=0.1)
    print_result(run, [], None)
    shown = " ".join(capsys.readouterr().out.split())
    assert "Lentil base (whole recipe)" in shown
    assert "2,200 →" in shown
