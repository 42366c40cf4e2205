"""Archives that are not what they should be."""

from __future__ import annotations

import stat
import zipfile
from pathlib import Path

import pytest

from pipeline.problems import SteelyardError
from pipeline.refresh.archive import unpack

WANTED = frozenset({"food.csv", "nutrient.csv"})


def packed(path: Path, *entries: tuple[str, bytes], links: tuple[str, ...] = ()) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in entries:
            archive.writestr(name, content)
        for name in links:
            info = zipfile.ZipInfo(name)
            info.external_attr = (stat.S_IFLNK | 0o777) << 16
            archive.writestr(info, "/etc/passwd")
    return path


def test_only_what_is_wanted_is_written_flat(tmp_path: Path) -> None:
    path = packed(
        tmp_path / "a.zip",
        ("rel/food.csv", b"a"),
        ("rel/Nutrient.CSV", b"b"),
        ("rel/other.exe", b"c"),
    )
    folder = unpack(path, tmp_path / "out", WANTED)
    assert sorted(p.name for p in folder.iterdir()) == ["food.csv", "nutrient.csv"]
    assert (folder / "food.csv").read_bytes() == b"a"


@pytest.mark.parametrize(
    "name",
    ["../food.csv", "/food.csv", "rel/../../food.csv", "C:/food.csv", "..\\food.csv",
     "rel/../../../etc/cron.d/food.csv"],
)  # fmt: skip
def test_paths_that_lead_outside_are_refused(tmp_path: Path, name: str) -> None:
    path = packed(tmp_path / "a.zip", ("food.csv", b"a"), (name, b"evil"))
    (tmp_path / "deep").mkdir()
    with pytest.raises(SteelyardError) as fault:
        unpack(path, tmp_path / "deep" / "out", WANTED)
    assert "outside" in fault.value.problem.what
    assert not (tmp_path / "deep" / "out").exists()
    assert not (tmp_path / "food.csv").exists()


def test_links_are_refused(tmp_path: Path) -> None:
    path = packed(tmp_path / "a.zip", ("food.csv", b"a"), links=("nutrient.csv",))
    with pytest.raises(SteelyardError) as fault:
        unpack(path, tmp_path / "out", WANTED)
    assert "link" in fault.value.problem.what


def test_a_bomb_is_refused_before_it_goes_off(tmp_path: Path) -> None:
    path = packed(tmp_path / "a.zip", ("food.csv", b"0" * 20_000_000))
    with pytest.raises(SteelyardError) as fault:
        unpack(path, tmp_path / "out", WANTED)
    assert "bomb" in fault.value.problem.why
    assert not (tmp_path / "out").exists()


def test_a_bomb_in_a_file_nobody_wants_is_left_packed(tmp_path: Path) -> None:
    path = packed(tmp_path / "a.zip", ("food.csv", b"a"), ("big.bin", b"0" * 20_000_000))
    folder = unpack(path, tmp_path / "out", WANTED)
    assert [p.name for p in folder.iterdir()] == ["food.csv"]


@pytest.mark.parametrize(("limit", "most"), [("MOST_FILES", 1), ("MOST_BYTES", 5)])
def test_limits_hold(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: str, most: int
) -> None:
    monkeypatch.setattr(f"pipeline.refresh.archive.{limit}", most)
    path = packed(tmp_path / "a.zip", ("food.csv", b"123"), ("nutrient.csv", b"456"))
    with pytest.raises(SteelyardError):
        unpack(path, tmp_path / "out", WANTED)


def test_a_size_that_lies_is_caught(tmp_path: Path) -> None:
    path = packed(tmp_path / "a.zip", ("food.csv", b"a" * 1000))
    raw = bytearray(path.read_bytes())
    at = raw.index(b"PK\x01\x02") + 24  # uncompressed size in the central directory
    raw[at : at + 4] = (10).to_bytes(4, "little")
    path.write_bytes(raw)
    with pytest.raises(SteelyardError):
        unpack(path, tmp_path / "out", WANTED)


@pytest.mark.parametrize("kind", ["empty", "text", "cut", "flipped", "no tables", "twice"])
def test_damaged_archives_are_named(tmp_path: Path, kind: str) -> None:
    path = packed(tmp_path / "a.zip", ("x/food.csv", bytes(range(256)) * 400))
    raw = bytearray(path.read_bytes())
    if kind == "empty":
        path.write_bytes(b"")
    elif kind == "text":
        path.write_text("not a zip")
    elif kind == "cut":
        path.write_bytes(raw[: len(raw) // 2])
    elif kind == "flipped":
        raw[60] ^= 0xFF
        path.write_bytes(raw)
    elif kind == "no tables":
        packed(path, ("readme.txt", b"hello"))
    else:
        packed(path, ("a/food.csv", b"1"), ("b/food.csv", b"2"))
    with pytest.raises(SteelyardError) as fault:
        unpack(path, tmp_path / "out", WANTED)
    assert fault.value.problem.code == "archive-refused"
    assert fault.value.exit_code == 4
