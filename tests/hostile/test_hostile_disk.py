"""Disks that fill: told in words, and what was there before is whole. Needs the right to mount."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from pipeline.exit_codes import Exit
from pipeline.snapshot import open_snapshot

pytestmark = pytest.mark.soak

COMMAND = [sys.executable, "-c", "from pipeline.cli import console; console()"]
CARD = "Soup\nServes 2\n\n100 g rice\n10 g butter\n\nPer serving: 217 kcal\n"


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Callable[..., Path]]:
    """Mounts a disk of so many MB."""
    mounted: list[Path] = []

    def mount(megabytes: float) -> Path:
        place = tmp_path / f"disk{len(mounted)}"
        place.mkdir()
        done = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={int(megabytes * 1024)}k", "tmpfs", str(place)],
            capture_output=True, check=False,
        )  # fmt: skip
        if done.returncode:
            pytest.skip("nothing may be mounted here")
        mounted.append(place)
        return place

    if not shutil.which("mount") or os.name == "nt":
        pytest.skip("there is no mount here")
    yield mount
    for place in mounted:
        subprocess.run(["umount", "-l", str(place)], check=False)


def run(home: Path, *words: str) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(
        [*COMMAND, *words], capture_output=True, text=True, timeout=300, check=False,
        env={**os.environ, "STEELYARD_HOME": str(home)},
    )  # fmt: skip
    assert "Traceback" not in done.stdout + done.stderr, done.stderr
    return done


def tree(folder: Path) -> dict[str, str]:
    return {
        str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file() and "building" not in p.parts and p.suffix != ".bin"
    }


@pytest.mark.parametrize("megabytes", [0.02, 1, 4, 9])
def test_a_first_build_on_a_disk_too_small(disk, tmp_path, megabytes):
    home = disk(megabytes)
    card = tmp_path / "a.txt"
    card.write_text(CARD)
    done = run(home, "verify", str(card))
    if done.returncode == 0:
        pytest.skip(f"{megabytes} MB are enough")
    assert done.returncode == Exit.DISK, done.stderr
    assert "fix:" in done.stderr
    assert not (home / "current.json").exists()


@pytest.mark.parametrize("spare", [0.0, 1.0, 4.0])
def test_a_refresh_on_a_full_disk_leaves_the_old_table_live(disk, tmp_path, snapshot, spare):
    sys.path.insert(0, str(Path(__file__).parents[1]))
    from national_tables import write_table

    source = snapshot.folder.parents[1]
    size = sum(p.stat().st_size for p in source.rglob("*") if p.is_file()) / 2**20
    home = disk(size * 1.15 + 0.3 + spare)
    shutil.copytree(source, home, dirs_exist_ok=True)
    before = open_snapshot(home)
    mapping = write_table(tmp_path / "t")
    done = run(home, "refresh", "--from", str(mapping))
    assert done.returncode in (Exit.DISK, Exit.OK), done.stderr
    after = open_snapshot(home)
    assert after.connect().sql("select count(*) from food").fetchall()[0][0] >= 8789
    if done.returncode == Exit.DISK:
        assert after.snapshot_id == before.snapshot_id
        assert after.notes == ()


def test_results_on_a_full_disk_leave_the_old_ones_whole(disk, tmp_path, snapshot):
    out = disk(2.5)
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "a.txt").write_text(CARD)
    home = snapshot.folder.parents[1]
    assert run(home, "verify", str(folder), "--out", str(out / "r")).returncode == 0
    before = tree(out / "r")
    for n in range(900):
        (folder / f"{n}.txt").write_text(CARD.replace("Soup", f"Soup {n}") + "lines\n" * 40)
    done = run(home, "verify", str(folder), "--out", str(out / "r"))
    assert done.returncode == Exit.DISK
    assert "no space" in done.stderr.lower()
    assert tree(out / "r") == before


def test_an_answer_that_cannot_be_written_leaves_the_file_whole(disk, tmp_path):
    from pipeline.memory import Decision, load_decisions, save_decision

    place = disk(0.05)
    path = place / "decisions.csv"
    saved = []

    def fill() -> None:
        for n in range(10_000):
            save_decision(path, Decision(f"{n} eggs", "none", note="x" * 200))
            saved.append(n)

    with pytest.raises(OSError, match="No space"):
        fill()
    answers, problems = load_decisions(path)
    assert problems == []
    assert len(answers) == len(saved) > 10
