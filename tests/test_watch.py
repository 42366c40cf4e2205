"""``steelyard watch``: no edit is lost, no temporary file is named, and what moved is printed."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from pipeline.cli.watching import follow, stamps
from pipeline.report.since import what_moved
from pipeline.run import Result, verify

CARD = """Purser's toast
Serves 1

2 slices wholemeal bread
{butter} g butter

Per serving: {kcal} kcal
"""


def card(folder: Path, butter: int = 10, kcal: int = 210, name: str = "toast.txt") -> Path:
    path = folder / name
    path.write_text(CARD.format(butter=butter, kcal=kcal))
    return path


def followed(folder: Path, acts: list) -> list[list[str]]:
    """The names of each check; ``acts`` are done one inside each check."""
    told: list[list[str]] = []
    stop = threading.Event()

    def check(names: list[str]) -> None:
        told.append(names)
        if acts:
            acts.pop(0)()
        else:
            stop.set()

    patience = threading.Timer(30, stop.set)
    patience.start()
    follow([folder], check, stop=stop)
    patience.cancel()
    return told


def test_an_edit_during_a_check_is_checked_next(tmp_path: Path) -> None:
    path = card(tmp_path)
    told = followed(tmp_path, [lambda: path.write_text(CARD.format(butter=40, kcal=210))])
    assert told == [[], ["toast.txt"]]


def test_temporary_files_of_editors_are_not_named(tmp_path: Path) -> None:
    card(tmp_path)

    def save_as_editors_do() -> None:
        for name in (".toast.txt.swp", "toast.txt~", ".#toast.txt", "toast.tmp"):
            (tmp_path / name).write_text("draft")
        draft = card(tmp_path, butter=40, name=".toast.txt.part")
        draft.replace(tmp_path / "toast.txt")

    assert followed(tmp_path, [save_as_editors_do]) == [[], ["toast.txt"]]


def test_files_that_come_and_go_and_those_beside_the_recipes_are_named(tmp_path: Path) -> None:
    card(tmp_path)
    (tmp_path / "decisions.csv").write_text("text,food_id,grams,applies_to,decided_on,note\n")
    before = stamps([tmp_path])
    assert sorted(before) == ["decisions.csv", "toast.txt"]
    card(tmp_path, name="more.txt")
    (tmp_path / "toast.txt").unlink()
    assert sorted(stamps([tmp_path])) == ["decisions.csv", "more.txt"]


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Result]:
    folder = tmp_path_factory.mktemp("watched")
    card(folder)
    return folder, verify(folder)


def test_only_what_moved_is_said(first: tuple[Path, Result]) -> None:
    folder, before = first
    assert what_moved(before, verify(folder)) == []
    card(folder, butter=40)
    card(folder, name="more.txt")
    after = verify(folder)
    said = what_moved(before, after)
    computed = before.recipes["kcal_computed"].iloc[0]
    moved = next(line for line in said if "→" in line)
    assert moved.startswith("Purser's toast: agrees → disagrees")
    assert f"{computed:.0f}" in moved
    assert any("new, agrees" in line for line in said)
    assert any("no longer there" in line for line in what_moved(after, before))
