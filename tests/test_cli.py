"""The command line as a person uses it: what it prints, writes and returns."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

from pipeline.cli import app, main

CARD = """Skarrow beans on toast
Serves 2

1 x 400 g tin baked beans
4 slices wholemeal bread
20 g butter

Per serving: {stated}
"""


def run(*args: str, stdin: str | bytes | None = None):
    return CliRunner().invoke(app, list(args), input=stdin)


def test_the_five_lines_of_the_readme() -> None:
    lines = [
        "2 large eggs", "1½ cups cooked brown rice", "1 x 400 g tin chickpeas, drained",
        "150 g aubergine, diced", "half a medium apple",
    ]  # fmt: skip
    got = run("match", *lines, "--format", "jsonl")
    assert got.exit_code == 0, got.output
    rows = [json.loads(line) for line in got.stdout.splitlines()]
    assert [list(r) for r in rows] == [
        [
            "line",
            "food_id",
            "description",
            "confidence",
            "status",
            "grams",
            "grams_low",
            "grams_high",
            "basis",
            "reason",
            "food_source",
        ]
    ] * 5
    assert [r["line"] for r in rows] == lines
    # SR28 foods and household weights: egg large 50 g, brown rice cup 202 g, apple medium 182 g
    assert [r["food_id"] for r in rows[:2]] == ["sr28:01123", "sr28:20037"]
    assert [r["grams"] for r in rows] == [100, 303, pytest.approx(240, abs=25), 150, 91]
    assert all(r["status"] == "accepted" and r["basis"] and r["reason"] for r in rows)
    assert all(r["grams_low"] <= r["grams"] <= r["grams_high"] for r in rows)
    assert {r["food_source"] for r in rows} == {"USDA SR28"}


def test_match_reads_standard_input_and_keeps_every_line() -> None:
    got = run("match", "--format", "jsonl", stdin="2 eggs\n\n2 eggs\nSauce:\n")
    assert [json.loads(line)["line"] for line in got.stdout.splitlines()] == [
        "2 eggs",
        "2 eggs",
        "Sauce:",
    ]


def test_explain_shows_candidates_weights_and_the_measure() -> None:
    out = run("match", "2 tbsp tahini", "--explain").stdout
    assert "score" in out
    assert "belief" in out
    assert "confidence" in out
    assert "grams:" in out


def test_verify_writes_everything_and_fails_when_asked(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.txt").write_text(CARD.format(stated="1900 kcal, P 17 g, C 55 g, F 11 g"))
    out = tmp_path / "out"
    got = run("verify", str(tmp_path / "in"), "--out", str(out), "--fail-on", "disagrees")
    assert got.exit_code == 1, got.output
    for name in ("recipes", "findings", "lines", "explanations", "problems"):
        assert (out / f"{name}.csv").is_file()
        assert (out / f"{name}.parquet").is_file()
    assert (out / "report.html").is_file()
    assert json.loads((out / "report.json").read_text())
    recipes = pd.read_csv(out / "recipes.csv")
    assert list(recipes.columns[:5]) == ["recipe_id", "title", "source", "verdict", "coverage"]
    assert recipes.loc[0, "verdict"] == "disagrees"
    findings = pd.read_csv(out / "findings.csv")
    assert list(findings.columns) == [
        "recipe_id", "nutrient", "stated", "computed", "low", "high", "difference", "allowed", "verdict",
    ]  # fmt: skip
    lines = pd.read_csv(out / "lines.csv")
    assert list(lines["line_no"]) == [1, 2, 3]


def test_verify_from_standard_input() -> None:
    got = run("verify", "-", stdin=CARD.format(stated="500 kcal, P 20 g, C 75 g, F 12 g"))
    assert got.exit_code == 0, got.output
    assert "Skarrow beans on toast" in got.stdout


def test_quiet_prints_no_table(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text(CARD.format(stated="500 kcal"))
    assert run("verify", str(tmp_path), "--quiet").stdout == ""


@pytest.mark.parametrize(
    ("args", "code"),
    [
        (["verify", "nowhere-at-all"], 3),
        (["verify", "--profile", "grobnak", "nowhere"], 2),
        (["verify", "--spoons", "feet", "nowhere"], 2),
        (["verify", "--pantry", "no.csv", "nowhere"], 2),
        (["foods", "xqzzyx"], 3),
        (["match", "--format", "xml", "2 eggs"], 2),
    ],
)
def test_a_mistake_is_a_message_and_an_exit_code(
    args: list[str], code: int, capsys: pytest.CaptureFixture[str]
) -> None:
    old = sys.argv
    sys.argv = ["steelyard", *args]
    try:
        with pytest.raises(SystemExit) as ended:
            main()
    finally:
        sys.argv = old
    assert ended.value.code == code
    said = capsys.readouterr()
    assert "Traceback" not in said.err + said.out
    assert said.err + said.out


def test_every_command_has_help_that_ends_in_an_example() -> None:
    top = run("--help").stdout
    for command in ("verify", "match", "foods", "snapshot"):
        assert command in top
    for command in (
        ["verify"],
        ["match"],
        ["foods"],
        ["snapshot", "build"],
        ["snapshot", "show"],
        ["snapshot", "check"],
    ):
        assert "steelyard " + " ".join(command) in run(*command, "--help").stdout.replace("\n", " ")


HEAVY = {
    "great_expectations", "matplotlib", "dask", "starlette", "uvicorn", "pint", "requests",
    "requests_cache", "scipy", "sklearn", "openpyxl", "selectolax", "jsonschema", "watchfiles",
    "pydantic", "pdfminer", "pyarrow", "pipeline.web", "pipeline.refresh",
    "pipeline.intake.spoken.script",
}  # fmt: skip
#: What a run that writes no report does without, besides.
_OF_FILES = {
    "jinja2", "yaml", "defusedxml", "sqlite3", "ssl", "multiprocessing", "pipeline.bulk",
    "pipeline.publish", "pipeline.report.script", "pipeline.intake.tables.table",
    "pipeline.intake.text.markdown", "pipeline.intake.structured.documents", "pipeline.snapshot.gate",
    "difflib",
}  # fmt: skip


@pytest.mark.parametrize(
    ("command", "also"),
    [
        (["match", "2 eggs", "--format", "jsonl"], {"jinja2", "rich.table"}),
        (["verify", "CARD"], _OF_FILES),
        (["verify", "CARD", "--out", "OUT"], set()),
    ],
)
@pytest.mark.usefixtures("snapshot")  # a table is there: building one may import what it needs
def test_start_up_leaves_heavy_libraries_alone(
    tmp_path: Path, command: list[str], also: set[str]
) -> None:
    card = tmp_path / "toast.txt"
    card.write_text("Jetty toast\nServes 1\n\n50 g bread\n\nPer serving: 900 kcal\n")
    given = [{"CARD": str(card), "OUT": str(tmp_path / "out")}.get(c, c) for c in command]
    code = (
        f"import sys; sys.argv={['steelyard', *given]!r}\n"
        "from pipeline.cli import main\n"
        "try: main()\nexcept SystemExit: pass\n"
        f"heavy = {HEAVY | also!r} & set(sys.modules)\n"
        "assert not heavy, heavy"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env=os.environ.copy()
    )
    assert done.returncode == 0, done.stderr


# --- foods ----------------------------------------------------------------------------------------


def test_a_state_chooses_among_foods() -> None:
    got = run("foods", "brown", "rice", "--state", "cooked", "--format", "json")
    names = [row["description"] for row in json.loads(got.stdout)]
    assert names
    assert not [name for name in names if "raw" in name]


def test_a_state_that_is_none_is_told_with_the_one_meant() -> None:
    got = run("foods", "brown", "rice", "--state", "cookedd")
    assert got.exit_code != 0
    problem = got.exception.problem  # type: ignore[union-attr]
    assert problem.code == "option-invalid"
    assert '"cooked"' in problem.fix


def test_a_state_that_no_food_has_shows_all_and_says_so() -> None:
    got = run("foods", "honey", "--state", "canned", "--format", "json")
    assert "are shown" in got.stderr
    assert json.loads(got.stdout)


def test_a_food_the_table_lacks_brings_what_it_is_counted_as() -> None:
    got = run("foods", "double", "cream", "--format", "json")
    assert got.exit_code == 0
    assert "the table lacks it" in got.stderr
    counted = json.loads(run("match", "double cream", "--format", "jsonl").stdout)["food_id"]
    assert json.loads(got.stdout)[0]["food_id"] == counted


def test_examples_of_a_command_stand_on_lines_of_their_own() -> None:
    lines = [line.strip() for line in run("foods", "--help").stdout.splitlines()]
    assert "steelyard foods brown rice --state cooked" in lines


def test_looking_up_without_a_key_is_no_success(monkeypatch: pytest.MonkeyPatch) -> None:
    from pipeline.refresh.lookup import KEY_VARIABLES

    for name in KEY_VARIABLES:
        monkeypatch.delenv(name, raising=False)
    assert run("pantry", "look-up", "pea").exit_code == 2


def test_a_folder_that_is_not_there_brings_the_one_of_that_name(tmp_path: Path) -> None:
    (tmp_path / "my-recipes").mkdir()
    got = run("verify", str(tmp_path / "my-recipe"))
    assert f"steelyard verify {tmp_path / 'my-recipes'}" in " ".join(got.stdout.split())
    assert "steelyard new" not in got.stdout
    assert "steelyard new" in run("verify", str(tmp_path / "elsewhere")).stdout
