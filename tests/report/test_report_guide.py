"""The end of ``verify``: what it assumed, and the commands to run next, which run."""

from __future__ import annotations

import json
import math
import shlex
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

from pipeline.cli import app
from pipeline.compute.convention import Convention
from pipeline.match.facets import brand_names
from pipeline.nutrients import NUTRIENTS
from pipeline.report import write
from pipeline.report.guide import assumed, next_steps
from pipeline.report.terminal import print_result
from pipeline.report.todo import to_do, to_weigh
from pipeline.run import Result
from pipeline.settings import DESCRIPTIONS, Settings

ROOT = Path(__file__).parents[2]
GOOD = {"kcal": (310.0, 305.0, 290.0, 320.0, 35.0, "agrees")}


def test_what_was_assumed_is_one_line_with_all_four(make: Callable[..., Result]) -> None:
    said = assumed(make())
    for word in ("profile eu", "US cups and spoons", "energy", "carbohydrate with fibre"):
        assert word in said
    result = make(profile="percent")
    result.settings = Settings(profile="percent", percent=8, spoons="uk", publish="eu")
    result.convention = Convention("eu", "available", "carbohydrate without fibre (set)")
    said = assumed(result)
    assert "percent (8 %)" in said
    assert "UK cups" in said
    assert "carbohydrate without fibre (set)" in said
    assert "\n" not in said


def test_the_next_commands_are_those_of_this_collection(
    make: Callable[..., Result], tmp_path: Path
) -> None:
    steps = [command for command, _ in next_steps(make(), ["my recipes"], out=None)]
    assert steps == [
        "steelyard verify 'my recipes' --out out",
        "steelyard review 'my recipes'",
        "steelyard verify 'my recipes' --write-corrected fixed",
    ]
    again = [c for c, _ in next_steps(make(), ["x"], out=tmp_path, corrected=tmp_path / "fixed")]
    assert again[-1] == f"steelyard verify {tmp_path / 'fixed'}"
    settled = make([("a", "A", "", "agrees", GOOD)])
    assert [c for c, _ in next_steps(settled, ["x"], out=tmp_path)] == [
        "steelyard verify x --fail-on disagrees"
    ]
    review = next(does for _, does in next_steps(make(), ["x"], out=None) if "local page" in does)
    named = to_weigh(make())
    assert named  # a line the review does not ask about is named, not counted
    assert f'"{named[0]}"' in review
    assert next_steps(make([]), ["x"], out=None) == [
        ("steelyard new my-recipes", "a starter folder to look at")
    ]
    assert next_steps(make(), ["-"], out=None) == []


CARD = "Bilge rice\nServes 2\n\n100 g white rice\n30 g grobnak\n\nPer serving: 400 kcal\n"


@pytest.mark.soak
def test_the_commands_at_the_end_of_verify_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "cards").mkdir()
    (tmp_path / "cards" / "rice.txt").write_text(CARD)
    done = CliRunner().invoke(app, ["verify", "cards"])
    assert "Assumed: tolerance profile eu" in done.output
    commands = [
        shlex.split(line.split("   ")[0].strip().split("  ")[0])
        for line in done.output.split("Next:")[1].splitlines()
        if line.strip().startswith("steelyard ")
    ]
    assert 1 <= len(commands) <= 3
    for words in commands:
        if words[1] != "review":  # it serves until it is stopped
            assert CliRunner().invoke(app, words[1:]).exit_code == 0, words


def test_every_setting_is_documented_with_its_default_and_written_by_new(tmp_path: Path) -> None:
    page = (ROOT / "docs" / "formats.md").read_text(encoding="utf-8")
    assert CliRunner().invoke(app, ["new", str(tmp_path / "made")]).exit_code == 0
    starter = (tmp_path / "made" / "steelyard.toml").read_text(encoding="utf-8")
    for name, value in asdict(Settings()).items():
        default = str(value).lower() if isinstance(value, bool) else json.dumps(value)
        assert f"| `{name}` | `{default}` | {DESCRIPTIONS[name]} |" in page, name
        assert f"# {name} = {default}" in starter
        assert f"# {DESCRIPTIONS[name]}" in starter
    assert "carbohydrate with fibre" in starter


def test_the_table_has_brands_and_the_readme_says_so(snapshot) -> None:
    with snapshot.connect() as con:
        rows = con.execute("select description from food where not reference").fetchall()
    branded = [row[0] for row in rows if brand_names(row[0])]
    assert len(branded) > 500
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert f"{len(rows):,} foods, some of them American brands" in readme
    assert "no brands" not in readme.lower()


def _open_pot(make: Callable[..., Result], uncertain: str, probability: float) -> Result:
    """A pot of oil and lentils in which one number is uncertain; most doubt is about the oil."""
    columns = [n.column for n in NUTRIENTS]
    off = (30.0, 25.0, 24.0, 26.0, 3.0, "uncertain")
    slip = ("pot", 1, "line_left_out", 2, probability, "If line 2 had been left out.", *[math.nan] * 5,
            "per_serving")  # fmt: skip
    result = make(
        [("pot", "Lentil pot", "", "uncertain", {uncertain: off})],
        texts={"pot": ["40 ml olive oil", "200 g lentils"]}, explanations=[slip],
    )  # fmt: skip
    lines = result.lines
    lines.loc[lines["line_no"] == 1, columns] = 0.0
    lines.loc[lines["line_no"] == 1, ["kcal", "fat_g"]] = (323.0, 36.5)
    lines.loc[lines["line_no"] == 2, ["kcal", "protein_g", "fat_g"]] = (700.0, 100.0, 2.0)
    doubt = pd.concat([result.doubt, result.doubt.assign(
        line_no=2, share=0.2, cause="food", advice="say which food is meant by Lentils: 20%"
    )])  # fmt: skip
    return replace(result, doubt=doubt)


@pytest.mark.parametrize(
    ("uncertain", "line"), [("fat_g", "40 ml olive oil"), ("protein_g", "200 g lentils")]
)
def test_a_line_is_weighed_for_the_number_that_it_brings(
    make: Callable[..., Result], uncertain: str, line: str
) -> None:
    result = _open_pot(make, uncertain, 0.03)
    assert to_weigh(result) == [line]
    (task,) = next(g for g in to_do(result, {}, {}) if g.kind == "weigh").tasks
    assert task.subject == line


def test_nothing_is_weighed_that_moves_no_open_number(make: Callable[..., Result]) -> None:
    result = _open_pot(make, "protein_g", 0.03)
    result.doubt["cause"] = "grams"
    wide = to_weigh(result)
    result.lines[["grams_low", "grams_high"]] = (199.0, 201.0)
    assert (wide, to_weigh(result)) == (["200 g lentils"], [])


@pytest.mark.parametrize(("probability", "named"), [(0.03, False), (0.3, True)])
def test_an_unlikely_slip_is_not_called_what_happened(
    make: Callable[..., Result], tmp_path: Path, probability: float, named: bool,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    result = _open_pot(make, "protein_g", probability)
    print_result(result, [], None)
    shown = " ".join(capsys.readouterr().out.split())
    assert ("left out" in shown) == named
    assert ('"200 g lentils": the food is open' in shown) != named
    write(result, tmp_path)
    page = next((tmp_path / "pages").glob("*.html")).read_text(encoding="utf-8")
    assert ("What most likely happened" in page) == named
    assert ("Nothing need have gone wrong" in page) != named
