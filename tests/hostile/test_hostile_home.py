"""A data directory in any state: the table that was live, or a word about it; never a traceback."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.exit_codes import Exit
from pipeline.problems import SteelyardError
from pipeline.run import verify
from pipeline.snapshot import check, live, open_snapshot
from pipeline.snapshot import home as homes

sys.path.insert(0, str(Path(__file__).parents[1]))

COMMAND = [sys.executable, "-c", "from pipeline.cli import console; console()"]


@pytest.fixture
def home(embedded_home, tmp_path) -> Path:
    """A data directory with the embedded table live, to change freely."""
    shutil.copytree(embedded_home, tmp_path / "home")
    return tmp_path / "home"


@pytest.fixture
def two(home) -> Path:
    """The same with another table beside it, which is live."""
    (first,) = homes.manifests(home)
    folder = homes.snapshots_dir(home)
    other = "harbour-2020-00000000"
    shutil.copytree(folder / first.snapshot_id, folder / other)
    told = json.loads((folder / other / "manifest.json").read_text())
    told |= {"snapshot_id": other, "kind": "refresh", "source": "harbour, sr28"}
    (folder / other / "manifest.json").write_text(json.dumps(told))
    found = homes.manifest(home, other)
    assert found is not None
    homes.point_to(home, found)
    return home


def run(home: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*COMMAND, *words], capture_output=True, text=True, timeout=120, check=False,
        env={**os.environ, "STEELYARD_HOME": str(home)},
    )  # fmt: skip


POINTERS = {
    "cut": '{"snapshot_id": "har',
    "empty": "",
    "list": "[]",
    "number": '{"snapshot_id": 5}',
}


@pytest.mark.parametrize("how", [*POINTERS, "missing", "folder"])
def test_an_unreadable_pointer_changes_no_table_and_is_told(two, how):
    path = two / "current.json"
    path.unlink()
    if how in POINTERS:
        path.write_text(POINTERS[how])
    elif how == "folder":
        path.mkdir()
    found = open_snapshot(two)
    assert found.snapshot_id == "harbour-2020-00000000"
    assert [note.code for note in found.notes] == ["snapshot-pointer-unreadable"]
    assert open_snapshot(two).notes == ()  # it was written again


def test_without_pointer_and_copy_no_table_is_chosen_among_several(two):
    for name in ("current.json", "current.copy.json"):
        (two / name).write_text("{")
    with pytest.raises(SteelyardError) as stopped:
        open_snapshot(two)
    assert stopped.value.exit_code == Exit.BROKEN_TABLE
    assert "steelyard snapshot use" in stopped.value.problem.fix
    assert "harbour-2020-00000000" in stopped.value.problem.why


def test_without_pointer_and_copy_the_only_table_goes_on(home):
    for name in ("current.json", "current.copy.json"):
        (home / name).write_text("{")
    before = [m.snapshot_id for m in homes.manifests(home)]
    found = open_snapshot(home)
    assert [found.snapshot_id] == before
    assert not found.just_built
    assert [note.code for note in found.notes] == ["snapshot-pointer-unreadable"]


def damaged(path: Path, how: str) -> None:
    data = bytearray(path.read_bytes())
    if how == "cut":
        data = data[: len(data) // 2]
    elif how == "garbage":
        data = bytearray(random.Random(1).randbytes(len(data)))
    elif how == "one bit":
        data[len(data) * 2 // 3] ^= 4
    else:
        data = bytearray()
    path.write_bytes(data)


@pytest.mark.usefixtures("no_gate")  # it is built again from the same files
@pytest.mark.parametrize("how", ["cut", "garbage", "one bit", "empty"])
def test_a_broken_embedded_table_is_set_aside_and_built_again(home, how, tmp_path):
    snapshot = live(home)
    damaged(snapshot.path, how)
    broken = snapshot.path.read_bytes()
    with pytest.raises(SteelyardError) as told:
        check(home)
    assert told.value.exit_code == Exit.BROKEN_TABLE
    found = open_snapshot(home)
    assert found.just_built
    assert [note.code for note in found.notes] == ["snapshot-broken"]
    (aside,) = (home / "broken").iterdir()
    assert (aside / "snapshot.duckdb").read_bytes() == broken
    (tmp_path / "a.txt").write_text("Soup\nServes 2\n\n100 g rice\n\nPer serving: 180 kcal\n")
    result = verify(tmp_path / "a.txt", snapshot=None, tools=None)
    assert len(result.recipes) == 1


def test_a_broken_refreshed_table_is_never_replaced_unasked(two):
    damaged(homes.snapshots_dir(two) / "harbour-2020-00000000" / "snapshot.duckdb", "cut")
    for _ in range(2):
        with pytest.raises(SteelyardError) as stopped:
            open_snapshot(two)
        assert stopped.value.exit_code == Exit.BROKEN_TABLE
        assert "bytes, not" in stopped.value.problem.why
    done = run(two, "foods", "oats")
    assert done.returncode == 65
    assert "Traceback" not in done.stderr


def test_the_newest_whole_snapshot_of_the_same_tables_is_taken(two):
    folder = homes.snapshots_dir(two)
    older = "harbour-2019-00000000"
    shutil.copytree(folder / "harbour-2020-00000000", folder / older)
    told = json.loads((folder / older / "manifest.json").read_text())
    told |= {"snapshot_id": older, "built_at": "2019-01-01T00:00:00+00:00"}
    (folder / older / "manifest.json").write_text(json.dumps(told))
    damaged(folder / "harbour-2020-00000000" / "snapshot.duckdb", "one bit")
    found = open_snapshot(two)
    assert found.snapshot_id == older
    assert [note.code for note in found.notes] == ["snapshot-broken"]


def test_a_table_that_stands_in_is_told_by_every_run_and_in_the_report(two, tmp_path, monkeypatch):
    path = homes.snapshots_dir(two) / "harbour-2020-00000000" / "manifest.json"
    told = json.loads(path.read_text())
    path.write_text(json.dumps({**told, "schema_version": 0}))
    monkeypatch.setenv("STEELYARD_HOME", str(two))
    (tmp_path / "a.txt").write_text("Soup\nServes 2\n\n100 g rice\n\nPer serving: 180 kcal\n")
    for _ in range(2):
        problems = verify(tmp_path / "a.txt").problems
        (what,) = problems.loc[problems["code"] == "snapshot-stands-in", "what"]
        assert "harbour-2020-00000000" in what
    assert run(two, "snapshot", "use", open_snapshot(two).snapshot_id).returncode == 0
    assert open_snapshot(two).notes == ()


FIELDS = {
    "built_at": ["yesterday", 5, None], "sources": ["none", [1]], "recipe": [[]], "foods": ["x"],
    "schema_version": ["2", True], "snapshot_id": [7, "another"], "file_size": [1, "1"],
    "file_digest": ["0" * 32], "source": [{}],
}  # fmt: skip


@pytest.mark.parametrize(("name", "value"), [(k, v) for k, vs in FIELDS.items() for v in vs])
def test_a_bad_field_of_the_manifest_is_a_broken_table(home, monkeypatch, name, value):
    from pipeline.snapshot import manage

    monkeypatch.setattr(manage, "build_embedded", lambda *_, **__: live_before)
    live_before = live(home)
    path = live_before.folder / "manifest.json"
    path.write_text(json.dumps({**json.loads(path.read_text()), name: value}))
    assert homes.manifests(home) == []
    found = open_snapshot(home)
    assert [note.code for note in found.notes] == ["snapshot-broken"]
