"""Stopped at any point and resumed, a bulk run gives the bytes of one that was never stopped."""

from __future__ import annotations

import json
import os
import resource
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pytest
from bulk_cases import digests, rows, write

from pipeline.bulk import across, folder, pool, schedule
from pipeline.bulk.schedule import verify_bulk
from pipeline.problems import SteelyardError

Killed = Callable[..., list[int]]

CHUNK = 6
PART = 10  # recipes of a part: three parts, and one that waits for them
RECIPES = 26  # 28 drawn; in a tidy table rows of one id are one recipe, and three share one

#: Runs that kill themselves when the progress says a certain thing, each in a fork of a process that
#: has the program loaded; a run a line of standard input.
SCRIPT = """
import json, os, signal, sys
from pathlib import Path
import psutil
import pipeline.reading, pipeline.run
from pipeline.bulk import across, schedule
across.CHUNK = 6
schedule.program_digest = lambda: "one"

def run(path, out, stage, after, workers, children):
    seen = 0
    def progress(text, done, total):
        nonlocal seen
        if text.startswith(stage) and "," in text or text == stage:
            seen += 1
            if seen > after:
                living = psutil.Process().children(recursive=True)
                Path(children).write_text(" ".join(str(c.pid) for c in living))
                os.kill(os.getpid(), signal.SIGKILL)
    schedule.verify_bulk(path, out, part_recipes=10, workers=workers, small_bytes=0,
                         progress=progress)

if __name__ == "__main__":
    for line in sys.stdin:
        pid = os.fork()
        if not pid:
            run(**json.loads(line))
            os._exit(0)
        print(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), flush=True)
"""


@pytest.fixture(scope="module", autouse=True)
def small_chunks():
    """Several chunks; and a program that stays the same while the tests of it run."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(across, "CHUNK", CHUNK)
        patch.setattr(schedule, "program_digest", lambda: "one")
        yield


@pytest.fixture(scope="module")
def collection(tmp_path_factory) -> Path:
    return write("tidy", rows(28), tmp_path_factory.mktemp("stopped"))


def bulk(collection: Path, out: Path, **more):
    return verify_bulk(
        collection, out, small_bytes=0, csv=True, **{"workers": 1, "part_recipes": PART, **more}
    )


@pytest.fixture(scope="module")
def first(collection, tmp_path_factory, snapshot):
    """A run that nobody stopped: its folder, which no test changes, and its summary."""
    out = tmp_path_factory.mktemp("first")
    summary = bulk(collection, out)
    assert summary.parts >= 3
    return out, summary


@pytest.fixture
def finished(first, tmp_path) -> Path:
    """A copy of the folder of the finished run."""
    return shutil.copytree(first[0], tmp_path / "out")


@pytest.fixture(scope="module")
def whole(first) -> dict[str, str]:
    """Files and bytes of the finished run."""
    found = digests(first[0] / "bulk")
    assert len(found) > 35
    return found


@pytest.fixture(scope="module")
def killed(snapshot: object) -> Iterator[Killed]:
    """Starts a run and lets it kill itself; gives the worker processes it had."""
    process = subprocess.Popen(
        [sys.executable, "-c", SCRIPT], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdin is not None
    assert process.stdout is not None
    stdin, stdout = process.stdin, process.stdout

    def kill(collection: Path, out: Path, stage: str, after: int, workers: int = 1) -> list[int]:
        children = out.parent / "children"
        asked = {"path": str(collection), "out": str(out), "stage": stage, "after": after,
                 "workers": workers, "children": str(children)}  # fmt: skip
        stdin.write(json.dumps(asked) + "\n")
        stdin.flush()
        assert stdout.readline().strip() == str(-signal.SIGKILL)
        return [int(pid) for pid in children.read_text().split()]

    yield kill
    stdin.close()
    assert process.wait(timeout=60) == 0


def in_soak(*values: object) -> object:
    """A case that takes as long as the others and is left to ``make soak``."""
    return pytest.param(*values, marks=pytest.mark.soak)


@pytest.mark.parametrize(
    ("stage", "after"),
    [in_soak("reading files", 2), ("reading lines", 1), in_soak("joining", 0),
     in_soak("summing up", 0)],
)  # fmt: skip
def test_killed_and_resumed_the_bytes_are_those_of_one_run(
    collection, killed, whole, tmp_path, stage, after
):
    out = tmp_path / "out"
    killed(collection, out, stage, after)
    assert not (out / "bulk").exists()  # nothing half done is ever in force
    bulk(collection, out, resume=True)
    assert digests(out / "bulk") == whole
    assert sorted(p.name for p in out.iterdir()) == [folder.LOCK, "bulk"]


@pytest.mark.soak
def test_finished_parts_are_not_done_again(collection, killed, whole, tmp_path):
    out = tmp_path / "out"
    killed(collection, out, "adding up and judging", 2)
    assert not (out / "bulk").exists()
    done = sorted((out / folder.WORK / "done").iterdir())
    before = [p.stat().st_mtime_ns for p in sorted((out / folder.WORK).rglob("part-00000[0-2]*"))]
    assert len(done) >= 2
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(schedule, "judge_part", _fails)
        with pytest.raises(RuntimeError, match="new part"):
            bulk(collection, out, resume=True)
    after = [p.stat().st_mtime_ns for p in sorted((out / folder.WORK).rglob("part-00000[0-2]*"))]
    assert before == after
    assert bulk(collection, out, resume=True).resumed_parts == len(done)
    assert digests(out / "bulk") == whole
    assert sorted(p.name for p in out.iterdir()) == [folder.LOCK, "bulk"]


def _fails(_job, part):
    raise RuntimeError(f"new part {part}")


@pytest.mark.soak
def test_workers_end_with_a_killed_run_and_change_no_byte(collection, killed, whole, tmp_path):
    out = tmp_path / "out"
    workers = killed(collection, out, "adding up and judging", 1, workers=2)
    assert len(workers) >= 2
    give_up = time.monotonic() + 60
    while any(_runs(pid) for pid in workers) and time.monotonic() < give_up:
        time.sleep(0.1)
    assert not any(_runs(pid) for pid in workers)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pool, "MOST_STEPS", 0)  # every stage has workers of its own
        bulk(collection, out, resume=True, workers=2)
    assert digests(out / "bulk") == whole


def _runs(pid: int) -> bool:
    try:
        return psutil.Process(pid).status() != psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return False


@pytest.mark.parametrize(
    ("stage", "after"), [in_soak("adding up and judging", 2), in_soak("summing up", 0)]
)
def test_old_results_stay_whole_until_new_ones_are(
    collection, killed, whole, tmp_path, stage, after
):
    out = tmp_path / "out"
    other = write("tidy", rows(9, seed=8), tmp_path / "other")
    bulk(other, out)
    old = digests(out / "bulk")
    killed(collection, out, stage, after)
    assert digests(out / "bulk") == old
    bulk(collection, out, resume=True)
    assert digests(out / "bulk") == whole


def test_a_stop_between_two_renames_is_mended(finished, whole):
    (finished / "bulk").rename(finished / ".steelyard-bulk-old")
    with folder.held(finished):
        assert digests(finished / "bulk") == whole


@pytest.mark.parametrize("exchange", [True, False])
def test_publishing_replaces_in_one_step_or_in_two(tmp_path, monkeypatch, exchange):
    if not exchange:
        monkeypatch.setattr(folder, "_exchanged", lambda one, other: False)
    for text in ("old", "new"):
        made = tmp_path / "work" / "results"
        made.mkdir(parents=True)
        (made / "a").write_text(text)
        assert folder.publish(tmp_path, made) == tmp_path / "bulk"
        assert (tmp_path / "bulk" / "a").read_text() == text
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bulk", "work"]


def test_a_finished_run_is_not_done_again(collection, first, finished):
    before = {p: p.stat().st_mtime_ns for p in (finished / "bulk").rglob("*")}
    again = bulk(collection, finished, resume=True)
    assert {p: p.stat().st_mtime_ns for p in (finished / "bulk").rglob("*")} == before
    assert again.resumed_parts == again.parts
    assert (again.verdicts, again.biggest) == (first[1].verdicts, first[1].biggest)


@pytest.mark.soak
def test_resume_refuses_when_something_changed(collection, killed, tmp_path):
    out, copy = tmp_path / "out", tmp_path / "copy.csv"
    copy.write_bytes(collection.read_bytes())
    killed(copy, out, "adding up and judging", 1)
    work = digests(out / folder.WORK)

    def refused(words: str, **more):
        common = {"part_recipes": PART, "small_bytes": 0, "workers": 1, "resume": True}
        with pytest.raises(SteelyardError) as told:
            verify_bulk(copy, out, **{**common, **more})
        assert told.value.problem.code == "resume-changed"
        assert words in told.value.problem.what
        assert digests(out / folder.WORK) == work  # what was done is still there

    refused("settings", profile="us")
    refused("size of the parts", part_recipes=8)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(schedule, "program_digest", lambda: "another")
        refused("the program")
    copy.write_bytes(copy.read_bytes().replace(b"200 g red", b"250 g red", 1))
    refused("input files")
    # without --resume it starts again
    assert bulk(copy, out, part_recipes=40).recipes == RECIPES


# --- the output folder -------------------------------------------------------------------------


def test_a_second_run_on_the_same_output_is_refused(collection, tmp_path):
    with folder.held(tmp_path):
        with pytest.raises(SteelyardError) as told:
            bulk(collection, tmp_path)
        assert told.value.problem.code == "output-busy"
        assert str(os.getpid()) in told.value.problem.what
    assert bulk(collection, tmp_path, part_recipes=40).recipes == RECIPES


def test_a_lock_left_by_a_killed_run_is_taken_over(collection, killed, tmp_path):
    out = tmp_path / "out"
    killed(collection, out, "reading files", 0)
    assert (out / folder.LOCK).read_text().strip().isdigit()
    assert bulk(collection, out, part_recipes=40).recipes == RECIPES


@pytest.mark.soak
def test_clock_jumps_change_nothing(collection, whole, tmp_path, monkeypatch):
    jumps = iter(range(10**9, 0, -3_600))
    monkeypatch.setattr(time, "time", lambda: float(next(jumps)))
    os.utime(collection, (0, 0))
    bulk(collection, tmp_path / "out")
    assert digests(tmp_path / "out" / "bulk") == whole


@pytest.mark.soak
def test_a_full_disk_is_told_and_old_results_stay(collection, finished, whole):
    script = """
        import resource, sys
        if __name__ == "__main__":
            from pipeline.bulk.schedule import verify_bulk
            from pipeline.problems import SteelyardError
            resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))
            try:
                verify_bulk(sys.argv[1], sys.argv[2], part_recipes=40, workers=1, small_bytes=0)
            except SteelyardError as fault:
                print(fault.problem.render())
                sys.exit(7)
    """
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(script), str(collection), str(finished)],
        check=False, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert done.returncode == 7, done.stderr
    assert "unchanged" in done.stdout
    assert "Traceback" not in done.stderr
    assert digests(finished / "bulk") == whole
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] != 4096


@pytest.fixture
def small_disk(tmp_path):
    """A disk of its own of 1 MB, where the system lets us mount one."""
    place = tmp_path / "disk"
    place.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place)],
        check=False, capture_output=True,
    )  # fmt: skip
    if made.returncode:
        pytest.skip("no disk can be mounted here")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=False)


@pytest.mark.soak
def test_no_space_left(collection, small_disk):
    bulk(write("tidy", rows(4), small_disk), small_disk / "out")
    old = digests(small_disk / "out" / "bulk")
    (small_disk / "filler").write_bytes(b"x" * 600_000)
    with pytest.raises(SteelyardError) as told:
        bulk(collection, small_disk / "out")
    assert told.value.problem.code == "output-disk-full"
    assert digests(small_disk / "out" / "bulk") == old


def test_a_disk_that_cannot_be_written(collection, small_disk):
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    with pytest.raises(SteelyardError) as told:
        bulk(collection, small_disk / "out")
    assert told.value.problem.code == "output-read-only"


def test_an_output_that_is_a_file(collection, tmp_path):
    (tmp_path / "out").write_text("mine")
    with pytest.raises(SteelyardError) as told:
        bulk(collection, tmp_path / "out")
    assert told.value.problem.code == "output-is-a-file"
    assert (tmp_path / "out").read_text() == "mine"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_no_permission(collection, tmp_path):  # pragma: no cover - CI runs as root
    out = tmp_path / "out"
    out.mkdir(mode=0o500)
    with pytest.raises(SteelyardError) as told:
        bulk(collection, out)
    assert told.value.problem.code == "output-not-permitted"


def test_the_summary_tells_what_the_tables_hold(first):
    out, summary = first
    told = json.loads((out / "bulk" / "summary.json").read_text())
    assert told["verdicts"] == summary.verdicts
    assert summary.recipes == RECIPES
    assert [b["recipe_id"] for b in told["biggest"]] == [b["recipe_id"] for b in summary.biggest]
    assert summary.biggest[0]["verdict"] == "disagrees"
    page = (out / "bulk" / "report.html").read_text()
    assert f"of {RECIPES} recipes" in page
    assert f'"total": {RECIPES}' in page
