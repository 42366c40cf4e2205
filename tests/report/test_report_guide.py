"""The end of ``verify``: what it assumed, and the commands to run next, which run."""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.cli import app
from pipeline.compute.convention import Convention
from pipeline.match.facets import brand_names
from pipeline.report.guide import assumed, next_steps
from pipeline.report.todo import to_weigh
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
