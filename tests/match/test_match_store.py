"""The index kept beside its snapshot: the same answers as one built anew, and never a wrong one."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.lines import parse
from pipeline.match import load_index, store
from pipeline.match.index import Index
from pipeline.match.matcher import Matcher
from pipeline.snapshot import Snapshot, open_snapshot

LINES = [
    "2 large eggs", "100 g canned chickpeas, drained", "1 tin coconut milk", "1 tbsp olive oyl",
    "200 g boneless skinless chicken thighs", "1 cup cooked brown rice", "50 g grobnak",
    "1 tsp ground cumin", "30 g dark chocolate (70 %)", "250 ml oat drink",
]  # fmt: skip


@pytest.fixture
def own(embedded_home: Path, tmp_path: Path) -> Iterator[Snapshot]:
    """A snapshot of one's own with its index; nothing is remembered before or after."""
    shutil.copytree(embedded_home, tmp_path / "home")
    store._READ.clear()
    yield open_snapshot(tmp_path / "home")
    store._READ.clear()


def loaded(snapshot: Snapshot) -> Index:
    with snapshot.connect() as con:
        return load_index(con, snapshot.folder)


def kept(snapshot: Snapshot) -> Path:
    (path,) = snapshot.folder.glob("index-*.bin")
    return path


def test_a_kept_index_answers_as_one_built_anew(own: Snapshot) -> None:
    with own.connect() as con:
        built = Matcher(load_index(con))
    read = Matcher(loaded(own))
    for line in map(parse, LINES):
        assert read.match_one(line) == built.match_one(line)


def test_a_second_run_of_one_process_reads_no_file(
    own: Snapshot, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = loaded(own)
    monkeypatch.setattr(store, "_read", lambda *_: pytest.fail("it was read again"))
    assert loaded(own) is first


def test_a_file_written_anew_is_read_anew(own: Snapshot) -> None:
    first = loaded(own)
    os.utime(kept(own), ns=(1, 1))
    again = loaded(own)
    assert again is not first
    assert again.columns.weight.tolist() == first.columns.weight.tolist()


@pytest.mark.parametrize("damage", ["cut", "one bit", "empty", "another magic"])
def test_a_damaged_index_is_built_again(own: Snapshot, damage: str) -> None:
    path = kept(own)
    whole = path.read_bytes()
    body = bytearray(whole)
    if damage == "cut":
        body = body[: len(body) // 2]
    elif damage == "one bit":
        body[len(body) * 2 // 3] ^= 4
    elif damage == "empty":
        body = bytearray()
    else:
        body[:9] = b"something"
    path.write_bytes(body)
    assert Matcher(loaded(own)).match_one(parse("2 large eggs")).food_id == "sr28:01123"
    assert len(kept(own).read_bytes()) == len(whole)


def test_few_indexes_are_kept_in_memory(own: Snapshot) -> None:
    for second in range(4):
        os.utime(kept(own), ns=(second, second))
        loaded(own)
    assert len(store._READ) == store._READ_MOST


def test_a_folder_that_cannot_be_written_is_no_fault(
    own: Snapshot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    kept(own).unlink()
    monkeypatch.setattr("pipeline.kept.write_atomically", full)
    assert Matcher(loaded(own)).match_one(parse("2 large eggs")).food_id == "sr28:01123"
    assert list(own.folder.glob("index-*.bin")) == []
