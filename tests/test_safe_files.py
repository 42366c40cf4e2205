"""One lock and one way to replace a file: exclusion, and the old file or the new, never a part."""

from __future__ import annotations

import stat
import threading
import time
from pathlib import Path

import pytest

from pipeline.safe_files import held, replacing, write_atomically


def test_a_lock_excludes_a_second_holder_and_is_free_afterwards(tmp_path: Path) -> None:
    lock = tmp_path / "lock"
    with held(lock), pytest.raises(TimeoutError), held(lock):
        pass
    with held(lock):
        assert lock.exists()


def test_whoever_waits_gets_the_lock_when_it_is_free(tmp_path: Path) -> None:
    lock, order = tmp_path / "lock", []

    def second() -> None:
        with held(lock, wait_s=30, remove=True):
            order.append("second")

    with held(lock, remove=True):
        waiting = threading.Thread(target=second)
        waiting.start()
        time.sleep(0.1)
        order.append("first")
    waiting.join()
    assert order == ["first", "second"]
    assert list(tmp_path.iterdir()) == []


def test_a_lock_leaves_what_stands_in_its_file(tmp_path: Path) -> None:
    lock = tmp_path / "lock"
    lock.write_text("process 7")
    with held(lock):
        assert lock.read_text() == "process 7"


def test_a_lock_ends_when_its_block_raises(tmp_path: Path) -> None:
    with pytest.raises(KeyError), held(tmp_path / "lock"):
        raise KeyError
    with held(tmp_path / "lock"):
        pass


@pytest.mark.parametrize("content", ["half a cup – ½\r\nof milk\n", b"\x00\xff", ""])
def test_what_is_written_is_there_to_the_byte(tmp_path: Path, content: str | bytes) -> None:
    path = tmp_path / "made" / "a.txt"
    write_atomically(path, content)
    wanted = content.encode() if isinstance(content, str) else content
    assert path.read_bytes() == wanted
    assert [p.name for p in path.parent.iterdir()] == ["a.txt"]


def test_a_replaced_file_keeps_its_permissions(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("old")
    path.chmod(0o600)
    write_atomically(path, "new", durable=False)
    assert path.read_text() == "new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    write_atomically(tmp_path / "b.csv", "new")
    assert stat.S_IMODE((tmp_path / "b.csv").stat().st_mode) == 0o644


def test_a_failure_on_the_way_leaves_the_old_file_and_no_draft(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("old")

    def fails_half_way() -> None:
        with replacing(path) as draft:
            draft.write_text("half of the n")
            assert path.read_text() == "old"
            raise OSError(28, "no space left")

    with pytest.raises(OSError, match="no space"):
        fails_half_way()
    assert path.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.csv"]
