"""Where snapshots live: built once, reused, rebuilt when inputs change, one builder at a time."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline.problems import SteelyardError
from pipeline.snapshot import Snapshot, build, live, manage, open_snapshot, show
from pipeline.snapshot import home as homes


@pytest.fixture
def own_home(published: Snapshot, tmp_path: Path) -> Path:
    """A home with the published snapshot in it, to change freely."""
    import shutil

    shutil.copytree(published.folder.parents[1], tmp_path / "home")
    return tmp_path / "home"


def test_a_second_opening_builds_nothing(own_home: Path) -> None:
    again = open_snapshot(own_home)
    assert not again.just_built
    assert again.connect().sql("select count(*) from food").fetchall() == [(8789,)]


def test_environment_names_the_home(own_home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STEELYARD_HOME", str(own_home))
    assert open_snapshot().path.is_relative_to(own_home)


def test_opening_imports_nothing_heavy(own_home: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from pipeline.snapshot import open_snapshot;"
        f"open_snapshot(Path({str(own_home)!r})).connect();"
        "print([m for m in ('great_expectations','pint','matplotlib','scipy','requests') "
        "if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_changed_inputs_are_built_again(
    own_home: Path, published: Snapshot, monkeypatch: pytest.MonkeyPatch
) -> None:
    built: list[str] = []
    monkeypatch.setattr(manage, "inputs_sha256", lambda sources: "other")

    def build_embedded(*told: object, **more: object) -> Snapshot:
        built.append("yes")
        return published

    monkeypatch.setattr(manage, "build_embedded", build_embedded)
    assert open_snapshot(own_home).notes == ()  # the same table again
    assert built == ["yes"]


@pytest.mark.parametrize("damage", ["file", "manifest", "schema"])
def test_a_damaged_home_is_built_again(
    own_home: Path, published: Snapshot, monkeypatch: pytest.MonkeyPatch, damage: str
) -> None:
    folder = next((own_home / "snapshots").iterdir())
    if damage == "file":
        (folder / "snapshot.duckdb").unlink()
    elif damage == "manifest":
        (folder / "manifest.json").write_text("[]", encoding="utf-8")
    else:
        told = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
        told["schema_version"] = 0
        (folder / "manifest.json").write_text(json.dumps(told), encoding="utf-8")
    built: list[str] = []

    def build_embedded(*told: object, **more: object) -> Snapshot:
        built.append("yes")
        return published

    monkeypatch.setattr(manage, "build_embedded", build_embedded)
    found = open_snapshot(own_home)
    assert built == ["yes"]
    assert [n.code for n in found.notes] == ([] if damage == "schema" else ["snapshot-broken"])


@pytest.mark.usefixtures("no_gate")
def test_force_builds_beside_the_live_one(own_home: Path) -> None:
    before = live(own_home)
    with before.connect() as reader:
        after = build(force=True, home=own_home)
        assert after.just_built
        assert after.snapshot_id == f"{before.snapshot_id}-2"
        assert reader.sql("select count(*) from food").fetchall() == [(8789,)]
    assert live(own_home).snapshot_id == after.snapshot_id
    assert before.path.is_file()


def test_a_failing_gate_publishes_nothing(own_home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from pipeline.snapshot import gate

    before = live(own_home)
    monkeypatch.setattr(gate, "DERIVED_ALCOHOL_FOODS", 70)
    with pytest.raises(SteelyardError) as fault:
        build(force=True, home=own_home)
    assert fault.value.exit_code == 4
    assert "off_expected" in fault.value.problem.why
    assert live(own_home).snapshot_id == before.snapshot_id
    assert [p.name for p in (own_home / "snapshots").iterdir()] == [before.snapshot_id]


def test_an_edited_source_is_refused(tmp_path: Path) -> None:
    import shutil

    from pipeline.resources import data_path
    from pipeline.snapshot.sources import Sr28

    copy = tmp_path / "sr28"
    shutil.copytree(data_path("sr28"), copy)
    (copy / "ABBREV.txt.gz").write_bytes((copy / "ABBREV.txt.gz").read_bytes() + b"x")
    with pytest.raises(SteelyardError) as fault:
        Sr28(copy).verify_files()
    assert fault.value.problem.code == "snapshot-source-damaged"


@pytest.mark.skipif(os.geteuid() == 0 if hasattr(os, "geteuid") else True, reason="root may write")
def test_a_home_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(SteelyardError) as fault:
        open_snapshot(tmp_path / "home")
    assert fault.value.problem.code == "snapshot-home-unwritable"


def test_a_home_that_is_a_file_is_said(tmp_path: Path) -> None:
    (tmp_path / "home").write_text("not a folder")
    with pytest.raises(SteelyardError) as fault:
        open_snapshot(tmp_path / "home")
    assert fault.value.problem.code == "snapshot-home-unwritable"


def test_one_builder_at_a_time(tmp_path: Path) -> None:
    with homes.locked(tmp_path):
        started = time.monotonic()
        with pytest.raises(SteelyardError) as fault, homes.locked(tmp_path, wait_s=0.2):
            pass
        assert 0.15 < time.monotonic() - started < 5
    assert fault.value.exit_code == 75
    with homes.locked(tmp_path, wait_s=0):
        pass


def test_the_lock_ends_with_its_process(tmp_path: Path) -> None:
    code = (
        "import os, signal; from pathlib import Path; from pipeline.snapshot.home import locked;"
        f"c = locked(Path({str(tmp_path)!r})); c.__enter__(); os.kill(os.getpid(), signal.SIGKILL)"
    )
    subprocess.run([sys.executable, "-c", code], check=False)
    with homes.locked(tmp_path, wait_s=0):
        pass


def test_two_first_runs_at_once_build_once(tmp_path: Path) -> None:
    home = tmp_path / "home"
    code = (
        "from pathlib import Path; from pipeline.snapshot import gate, open_snapshot;"
        "gate.warm_up = lambda: None; gate.check_file = lambda *_, **__: gate.GateResult([]);"
        f"s = open_snapshot(Path({str(home)!r})); print(s.snapshot_id, s.just_built)"
    )
    runs = [
        subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    said = sorted(run.communicate(timeout=120)[0].split()[1] for run in runs)
    assert said == ["False", "True"]
    assert len(list((home / "snapshots").iterdir())) == 1


def test_show_tells_what_the_snapshot_is(own_home: Path) -> None:
    told = show(own_home)
    assert told["foods"] == 8789
    assert told["checks"] == {"passed": 42, "failed": 0, "warned": 0}
    assert told["sources"][0]["licence"].startswith("Public domain")


def test_show_of_an_empty_home_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(SteelyardError) as fault:
        show(tmp_path)
    assert fault.value.problem.fix == "run: steelyard snapshot build"
