"""Numbers on the basis they are stated on: per serving, per 100 g, or of the whole recipe."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import pipeline
from pipeline.report import write
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
    assert "Lentil base (for the whole recipe)" in shown
    assert "2,200 →" in shown
    assert run.corrected["caption"].item().startswith("Whole recipe: 2")


@pytest.mark.parametrize(
    "run",
    [f"Lentil jar\n\n{LIST}\nPer 100 g: 400 kcal, P 22 g, C 57 g, F 11 g\n"],
    indirect=True,
)
def test_a_recipe_without_servings_shows_the_numbers_of_100_g(
    run: Result, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (row,) = run.recipes.to_dict("records")
    assert (row["basis"], row["kcal_stated"]) == ("per_100g", 400)
    assert row["kcal_computed"] == pytest.approx(400, rel=0.1)
    print_result(run, [], None)
    assert "Lentil jar (per 100 g)" in " ".join(capsys.readouterr().out.split())
    write(run, tmp_path)
    assert "per 100 g</span></th>" in (tmp_path / "report.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "run", [f"Lentil pot\n\n{LIST}\nPer serving: 400 kcal, P 29 g\n"], indirect=True
)
def test_who_does_not_say_the_servings_is_told_that_and_nothing_else(
    run: Result, tmp_path: Path
) -> None:
    assert run.recipes["verdict"].item() == "not_judged"
    write(run, tmp_path)
    (page,) = (tmp_path / "pages").glob("*.html")
    text = page.read_text(encoding="utf-8")
    assert "does not say how many servings" in text
    assert "could not be matched" not in text
    assert re.search(r'<p class="fine">[;.,]', text) is None
