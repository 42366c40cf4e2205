"""Printed units, read back by the rules of the scheduler they are for."""

from __future__ import annotations

import configparser
import plistlib
import shlex
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner

from pipeline.cli import app
from pipeline.problems import SteelyardError
from pipeline.refresh.run import RefreshResult
from pipeline.refresh.schedule import KINDS, Schedule, unit

ODD = Schedule(
    day="wed", hour=13, sources=("foundation", "survey"), collection="/home/a b/50% & more",
    program="/opt/steel yard/steelyard",
)  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_every_unit_runs_quietly_at_its_hour(kind: str) -> None:
    text = unit(kind, ODD)
    assert "refresh" in text
    assert "--quiet" in text
    assert "22-07" in text
    assert "13" in text


def test_systemd_parses_and_escapes() -> None:
    text = unit("systemd", ODD)
    service, timer = text.split("# ~/.config/systemd/user/steelyard-refresh.timer")
    read = configparser.ConfigParser(strict=True, interpolation=None)
    read.optionxform = str  # type: ignore[assignment,method-assign]
    read.read_string(service)
    started = read["Service"]["ExecStart"]
    assert '"/opt/steel yard/steelyard"' in started
    assert '"/home/a b/50%% & more"' in started
    assert read["Service"]["SuccessExitStatus"] == "5 75"
    read.read_string(timer.split("# then:")[0])
    assert read["Timer"]["OnCalendar"] == "Wed *-*-* 13:17:00"


def test_cron_is_one_line_with_lock_and_log() -> None:
    lines = [row for row in unit("cron", ODD).splitlines() if row and not row.startswith("#")]
    assert len(lines) == 1
    fields = lines[0].split(maxsplit=5)
    assert fields[:5] == ["17", "13", "*", "*", "3"]
    assert r"50\%" in fields[5]
    assert "flock -n" in fields[5]
    assert "refresh.log" in fields[5]
    words = shlex.split(fields[5].replace(r"\%", "%"))
    assert "/opt/steel yard/steelyard" in words
    assert "/home/a b/50% & more" in words


def test_launchd_is_a_property_list() -> None:
    told = plistlib.loads(unit("launchd", ODD).encode())
    assert told["ProgramArguments"] == ODD.arguments
    assert told["StartCalendarInterval"] == {"Weekday": 3, "Hour": 13, "Minute": 17}
    daily = plistlib.loads(unit("launchd", Schedule(day="daily")).encode())
    assert "Weekday" not in daily["StartCalendarInterval"]


def test_github_actions_is_yaml_with_a_lock() -> None:
    told = yaml.safe_load(unit("github-actions", ODD))
    assert told[True]["schedule"] == [{"cron": "17 13 * * 3"}]  # yaml reads "on" as true
    assert told["concurrency"]["cancel-in-progress"] is False
    step = next(s for s in told["jobs"]["refresh"]["steps"] if "refresh" in s.get("name", ""))
    assert shlex.split(step["run"].splitlines()[0])[:3] == ["steelyard", "refresh", "--quiet"]
    assert "PIPESTATUS" in step["run"]


@pytest.mark.parametrize(
    "options",
    [{"hour": 24}, {"day": "someday"}, {"quiet": "late"}, {"hour": 23}, {"hour": 3},
     {"sources": ("a; rm -rf /",)}, {"collection": "a\nb"}],
)  # fmt: skip
def test_what_cannot_be_scheduled_is_said(options: dict[str, object]) -> None:
    with pytest.raises(SteelyardError) as fault:
        Schedule(**options)  # type: ignore[arg-type]
    assert fault.value.problem.code == "schedule-invalid"


@pytest.mark.parametrize(
    ("quiet", "hour", "fits"),
    [("22-07", 7, True), ("22-07", 22, False), ("9-17", 8, True), ("9-17", 9, False),
     ("9-17", 17, True), ("", 3, True)],
)  # fmt: skip
def test_quiet_hours(quiet: str, hour: int, fits: bool) -> None:
    if fits:
        assert Schedule(hour=hour, quiet=quiet).hour == hour
    else:
        with pytest.raises(SteelyardError):
            Schedule(hour=hour, quiet=quiet)


def test_an_unknown_scheduler_is_said() -> None:
    with pytest.raises(SteelyardError):
        unit("windows")


def _command(kind: str, text: str) -> list[str]:
    """The words that the scheduler would call, read by its own rules."""
    if kind == "systemd":
        started = next(row for row in text.splitlines() if row.startswith("ExecStart="))
        return [w.replace("%%", "%") for w in shlex.split(started.removeprefix("ExecStart="))]
    if kind == "cron":
        row = next(row for row in text.splitlines() if row.startswith("17 "))
        words = shlex.split(row.split(maxsplit=5)[5].replace(r"\%", "%"))
        start = next(at for at, word in enumerate(words) if word.endswith("refresh.lock")) + 1
        end = next(at for at, word in enumerate(words) if word in ("2>&1", "|"))
        return words[start:end]
    if kind == "launchd":
        return list(plistlib.loads(text.encode())["ProgramArguments"])
    steps = yaml.safe_load(text)["jobs"]["refresh"]["steps"]
    run = next(s for s in steps if "refresh" in s.get("name", ""))["run"].splitlines()[0]
    return shlex.split(run.split(" 2>&1")[0])


@pytest.mark.parametrize("kind", KINDS)
def test_the_command_of_a_printed_unit_runs_and_compares_the_collection(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recipes = tmp_path / "50% & more"
    recipes.mkdir()
    monkeypatch.chdir(recipes)  # where a checkout would be
    compared: list[Path] = []
    monkeypatch.setattr(
        "pipeline.refresh.refresh",
        lambda *_, **__: RefreshResult("published", None, "old-1", "new-1 is live"),
    )
    monkeypatch.setattr(
        "pipeline.cli.nutrient_table._drift", lambda paths, *_: compared.extend(paths)
    )
    printed = CliRunner().invoke(app, ["schedule", "--print", kind, "--collection", str(recipes)])
    assert printed.exit_code == 0
    program, *words = _command(kind, printed.output)
    assert program.endswith("steelyard")
    ran = CliRunner().invoke(app, words)
    assert ran.exit_code == 0, ran.output
    assert "new-1 is live" in ran.output
    assert [path.resolve() for path in compared] == [recipes.resolve()]
