"""Results are whole or the old ones: failures on the way, killed runs, two runs at once."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.problems import SteelyardError
from pipeline.report import write
from pipeline.report.folder import staged
from pipeline.run import Result


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def put(out: Path, files: dict[str, str]) -> None:
    with staged(out) as stage:
        for name, text in files.items():
            (stage / name).parent.mkdir(parents=True, exist_ok=True)
            (stage / name).write_text(text)


def test_other_files_of_the_folder_are_left_alone(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    put(tmp_path, {"a.csv": "1", "creators/x/a.csv": "2"})
    assert contents(tmp_path) == {"notes.txt": b"mine", "a.csv": b"1", "creators/x/a.csv": b"2"}


def test_a_failure_while_making_files_changes_nothing(tmp_path: Path) -> None:
    put(tmp_path, {"a.csv": "old", "b.csv": "old"})
    before = contents(tmp_path)

    def fail() -> None:
        with staged(tmp_path) as stage:
            (stage / "a.csv").write_text("new")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert contents(tmp_path) == before


@pytest.mark.parametrize("fails_at", [1, 2, 3, 4, 5])
def test_a_failure_between_two_renames_puts_the_old_files_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int
) -> None:
    put(tmp_path, {"a.csv": "old", "c.csv": "old"})
    before = contents(tmp_path)
    calls = 0
    real = os.replace

    def replace(source: str | Path, target: str | Path) -> None:
        nonlocal calls
        calls += 1
        if calls == fails_at:
            raise OSError(errno.ENOSPC, "No space left on device")
        real(source, target)

    monkeypatch.setattr(os, "replace", replace)
    with pytest.raises(SteelyardError) as fault:
        put(tmp_path, {"a.csv": "new", "b.csv": "new", "c.csv": "new"})
    assert fault.value.problem.code == "output-disk-full"
    assert "unchanged" in fault.value.problem.why
    assert contents(tmp_path) == before


@pytest.mark.parametrize(
    ("number", "code"),
    [
        (errno.ENOSPC, "output-disk-full"),
        (errno.EROFS, "output-read-only"),
        (errno.EACCES, "output-not-permitted"),
        (errno.EIO, "output-not-written"),
    ],
)
def test_what_the_disk_says_becomes_a_problem_with_a_way_out(
    tmp_path: Path, number: int, code: str
) -> None:
    with pytest.raises(SteelyardError) as fault, staged(tmp_path):
        raise OSError(number, os.strerror(number))
    problem = fault.value.problem
    assert problem.code == code
    assert str(tmp_path) in problem.what
    assert "--out" in problem.fix
    assert not list(tmp_path.iterdir())


def test_a_file_where_the_folder_should_be(collection: Result, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    for out in (tmp_path / "out", tmp_path / "out" / "below"):
        with pytest.raises(SteelyardError) as fault:
            write(collection, out)
        assert fault.value.problem.code == "output-is-a-file"
    assert (tmp_path / "out").read_text() == "a file"


def test_a_folder_with_the_name_of_a_result(collection: Result, tmp_path: Path) -> None:
    (tmp_path / "lines.csv" / "mine").mkdir(parents=True)
    with pytest.raises(SteelyardError) as fault:
        write(collection, tmp_path, formats=["csv"])
    assert fault.value.problem.code == "output-name-taken"
    assert [p.name for p in tmp_path.iterdir()] == ["lines.csv"]
    assert (tmp_path / "lines.csv" / "mine").is_dir()


def test_a_disk_that_fills_up_while_parquet_is_written(
    collection: Result, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import duckdb

    from pipeline.report import data_files

    def full(*_: object) -> None:
        raise duckdb.IOException("IO Error: Could not write file: No space left on device")

    write(collection, tmp_path)
    before = contents(tmp_path)
    monkeypatch.setattr(data_files, "write_parquet", full)
    with pytest.raises(SteelyardError) as fault:
        write(collection, tmp_path)
    assert fault.value.problem.code == "output-disk-full"
    assert contents(tmp_path) == before


def test_two_runs_at_once_do_not_mix(
    make: Callable[..., Result], collection: Result, tmp_path: Path
) -> None:
    other = make([("only", "Only one", "", "not_judged", {})])
    results = [collection, other] * 3
    barrier = threading.Barrier(len(results))

    def run(result: Result) -> None:
        barrier.wait()
        write(result, tmp_path, formats=["csv", "json"])

    threads = [threading.Thread(target=run, args=(r,)) for r in results]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    got = contents(tmp_path)
    one = tmp_path.parent / f"{tmp_path.name}-one"
    two = tmp_path.parent / f"{tmp_path.name}-two"
    write(collection, one, formats=["csv", "json"])
    write(other, two, formats=["csv", "json"])
    assert got in (contents(one), contents(two))


def test_a_folder_held_by_another_run_is_waited_for_and_then_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pipeline.report import folder

    monkeypatch.setattr(folder, "_WAIT_S", 0.2)
    with folder._locked(tmp_path):
        with pytest.raises(SteelyardError) as fault:
            put(tmp_path, {"a.csv": "1"})
        assert fault.value.problem.code == "output-busy"
    assert contents(tmp_path) == {}
    put(tmp_path, {"a.csv": "1"})
    assert contents(tmp_path) == {"a.csv": b"1"}


def test_what_a_killed_run_left_is_swept_by_the_next(tmp_path: Path) -> None:
    put(tmp_path, {"a.csv": "old"})
    program = (
        "import os, signal, sys; from pathlib import Path\n"
        "from pipeline.report.folder import staged\n"
        "with staged(Path(sys.argv[1])) as stage:\n"
        "    (stage / 'a.csv').write_text('new')\n"
        "    os._exit(9)\n"
    )
    died = subprocess.run([sys.executable, "-c", program, str(tmp_path)], check=False)
    assert died.returncode == 9
    left = [p for p in tmp_path.iterdir() if p.is_dir()]
    assert len(left) == 1
    assert (tmp_path / "a.csv").read_text() == "old"
    os.utime(left[0], (0, 0))
    put(tmp_path, {"a.csv": "newer"})
    assert contents(tmp_path) == {"a.csv": b"newer"}


def test_a_living_run_is_not_swept(tmp_path: Path) -> None:
    with staged(tmp_path) as stage:
        (stage / "a.csv").write_text("slow")
        os.utime(stage, (0, 0))
        put(tmp_path, {"b.csv": "fast"})
        assert (stage / "a.csv").exists()
    assert contents(tmp_path) == {"a.csv": b"slow", "b.csv": b"fast"}
