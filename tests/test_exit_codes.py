"""Each exit code, brought about; and the one list of them, which the page shows."""

from __future__ import annotations

import contextlib
import gc
import io
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline import cli
from pipeline.exit_codes import MEANING, Exit
from pipeline.resources import ROOT
from pipeline.snapshot import home as homes

COMMAND = [sys.executable, "-c", "from pipeline.cli import console; console()"]
CARD = "Soup\nServes 2\n\n100 g rice\n10 g butter\n\nPer serving: {} kcal\n"


def ended(*words: str, **environment: str) -> tuple[int, str]:
    """Exit code and output of a command, run in this process."""
    shown, thresholds, code = io.StringIO(), gc.get_threshold(), 0
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["steelyard", *words])
        for name, value in environment.items():
            patch.setenv(name, value)
        with contextlib.redirect_stdout(shown), contextlib.redirect_stderr(shown):
            try:
                cli.main()
            except SystemExit as stopped:
                code = int(stopped.code or 0)
    gc.set_threshold(*thresholds)
    assert "Traceback" not in shown.getvalue()
    return code, shown.getvalue()


def ended_apart(*words: str, **environment: str) -> tuple[int, str]:
    """The same in a process of its own."""
    done = subprocess.run(
        [*COMMAND, *words], capture_output=True, text=True, timeout=120, check=False,
        env={**os.environ, **environment},
    )  # fmt: skip
    assert "Traceback" not in done.stdout + done.stderr
    return done.returncode, done.stdout + done.stderr


def test_the_page_shows_the_list():
    page = (ROOT / "docs" / "exit-codes.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\d+) \| `(\w+)` \| (.+) \|$", page, re.MULTILINE)
    assert rows == [(str(int(code)), code.name, MEANING[code]) for code in Exit]


def test_no_code_is_used_that_the_list_lacks():
    known = {int(code) for code in Exit}
    for path in (ROOT / "pipeline").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        for number in re.findall(r"(?:exit_code ?=|Exit\(|SystemExit\() ?(\d+)", text):
            assert int(number) in known, (path, number)


@pytest.fixture
def card(tmp_path: Path, snapshot) -> Path:
    (tmp_path / "in").mkdir()
    path = tmp_path / "in" / "a.txt"
    path.write_text(CARD.format(217))
    return path


def test_done_disagrees_usage_and_nothing(card):
    assert ended("verify", str(card), "--fail-on", "disagrees")[0] == Exit.OK
    card.write_text(CARD.format(500))
    assert ended_apart("verify", str(card))[0] == Exit.OK
    assert ended("verify", str(card), "--fail-on", "disagrees")[0] == Exit.FAIL_ON
    assert ended("verify", str(card), "--no-such-option")[0] == Exit.USAGE
    (card.parent / "steelyard.toml").write_text("profile =")
    assert ended("verify", str(card))[0] == Exit.USAGE
    assert ended("verify", str(card.parent / "not-there"))[0] == Exit.USAGE  # the settings still
    (card.parent / "steelyard.toml").unlink()
    assert ended("verify", str(card.parent / "not-there"))[0] == Exit.NOTHING


def test_a_refused_release_and_a_publisher_that_cannot_be_reached(tmp_path, snapshot):
    (tmp_path / "x.zip").write_bytes(b"no zip at all")
    assert ended("refresh", "--from", str(tmp_path / "x.zip"))[0] == Exit.REFUSED
    sources = tmp_path / "sources.toml"
    sources.write_text(
        'default = ["far"]\n[far]\nurl = "https://127.0.0.1:9/a.zip"\nkinds = ["foundation"]\n'
    )
    from pipeline.problems import SteelyardError
    from pipeline.refresh import refresh
    from pipeline.refresh.fetch import Patience
    from pipeline.refresh.run import load_config

    with pytest.raises(SteelyardError) as fault:
        refresh(
            config=load_config(sources), patience=Patience(0.2, 0.2, 1, 0.0), home=tmp_path / "h"
        )
    assert fault.value.exit_code == Exit.UNREACHABLE


def test_a_folder_that_is_none_a_lock_that_is_held_and_a_broken_table(card, tmp_path, snapshot):
    assert ended("verify", str(card), STEELYARD_HOME=str(card / "below"))[0] == Exit.DISK
    home = tmp_path / "home"
    with homes.locked(home):
        found = ended_apart("refresh", "--from", str(card), STEELYARD_HOME=str(home))
        assert found[0] == Exit.BUSY
    folder = homes.snapshots_dir(home) / "harbour-1"
    folder.mkdir(parents=True)
    (home / "current.json").write_text('{"snapshot_id": "harbour-1"}')
    code, said = ended("verify", str(card), STEELYARD_HOME=str(home))
    assert code == Exit.BROKEN_TABLE
    assert "fix:" in said


@pytest.mark.parametrize(
    ("fault", "code"),
    [
        (ZeroDivisionError("x"), Exit.INTERNAL), (KeyboardInterrupt(), Exit.STOPPED),
        (OSError(28, "No space left on device", "/x"), Exit.DISK), (MemoryError(), Exit.DISK),
        (PermissionError(13, "Permission denied", "/x"), Exit.DISK), (TimeoutError("busy"), Exit.BUSY),
    ],
)  # fmt: skip
def test_what_nobody_caught_ends_in_words(monkeypatch, capsys, tmp_path, fault, code):
    def fails(**_options: object):
        raise fault

    monkeypatch.setattr(cli.app, "main", fails)
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)
    with pytest.raises(SystemExit) as stopped:
        cli.main()
    said = capsys.readouterr().err
    assert stopped.value.code == code
    assert "Traceback" not in said
    if code == Exit.INTERNAL:
        (kept,) = tmp_path.glob("steelyard-fault-*.txt")
        assert kept.name in said
        assert "ZeroDivisionError" in kept.read_text()
