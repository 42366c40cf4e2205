"""Whole files written and put back: recipes' own files, cards of scripts, settings."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pipeline.intake.files import decode
from pipeline.memory.conventions import restore_settings
from pipeline.memory.decisions import Decision, change_decision
from pipeline.memory.files import locked
from pipeline.memory.pantry import change_pantry_row, read_pantry_food
from pipeline.publish.script_cards import without_change
from pipeline.safe_files import write_atomically
from pipeline.web.model import ChangedElsewhere, FileChange

#: Text of each file that a correction made, as it was made first.
Made = dict[Path, str]


def answer_changed(
    path: Path, text: str, scope: str, change: Callable[[Decision | None], Decision | None]
) -> FileChange:
    """Replace an answer in ``decisions.csv``; see ``change_decision``."""
    return FileChange(text, scope, *change_decision(path, text, scope, change))


def pantry_changed(path: Path, row: dict[str, str]) -> FileChange:
    """Put a food into the pantry, named as the change; raises as ``read_pantry_food``."""
    food = read_pantry_food(row)
    changed = change_pantry_row(path, food.food_id, lambda _: row)
    return FileChange(food.name, "pantry", *changed, food_id=food.food_id)


def read_decoded(path: Path) -> str:
    """A file in whatever encoding a person saved it, its line ends kept."""
    data = path.read_bytes()
    text = decode(data, path.name)[0]
    return text.replace("\n", "\r\n") if b"\r\n" in data else text


def read_exactly(path: Path) -> str:
    """A file's text as it stands on disk, mark at its beginning and line ends included."""
    data = path.read_bytes()
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return read_decoded(path)


def write_file(path: Path, before: str, after: str) -> None:
    """Write a recipe's file again if it still reads as it did.

    Raises:
        ChangedElsewhere: it does not; nothing is written.
        TimeoutError, OSError: it could not be written.
    """
    with locked(path):
        if read_exactly(path) != before:
            raise ChangedElsewhere
        write_atomically(path, after)


def undo(change: FileChange, decisions_path: Path, pantry_path: Path, made: Made) -> None:
    """Put back what one change changed, and nothing that was changed since.

    Raises:
        ChangedElsewhere: what it wrote was changed since; the file is left as it is.
        SteelyardError, TimeoutError, OSError: the file could not be written.
    """

    def row_before(row: object) -> object:
        if _without_empty(row) != _without_empty(change.after):
            raise ChangedElsewhere(row if isinstance(row, Decision) else None)
        return change.before

    if change.scope == "settings":
        assert change.path is not None
        if not restore_settings(change.path, change.before, change.after):
            raise ChangedElsewhere
    elif change.path is not None:
        _undo_file(change.path, change.before, change.after, made)
    elif change.food_id:
        change_pantry_row(pantry_path, change.food_id, row_before)  # type: ignore[arg-type]
    else:
        change_decision(decisions_path, change.text, change.scope, row_before)  # type: ignore[arg-type]


def _undo_file(path: Path, before: str, after: str | None, made: Made) -> None:
    """Take a correction out of a file; one that is then as it was made first is removed again."""
    with locked(path):
        now = read_exactly(path) if path.exists() else None
        if after is None:
            left = before if now is None else None
        else:
            left = None if now is None else without_change(now, before, after)
        if left is None:
            raise ChangedElsewhere
        if after is not None and left == made.get(path):
            path.unlink()
        else:
            write_atomically(path, left)


def _without_empty(row: object) -> object:
    """A CSV row without its empty cells; anything else as it is."""
    return {k: v for k, v in row.items() if v} if isinstance(row, dict) else row
