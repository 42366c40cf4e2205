"""Conventions a person confirmed, written into ``steelyard.toml`` without touching the rest of it."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import Any

from pipeline.memory.files import locked
from pipeline.problems import failure
from pipeline.safe_files import write_atomically

_HEADER = re.compile(r"^\s*\[")


def with_convention(text: str, key: str, value: str, creator: str = "") -> str:
    """The file's text with one setting set, comments and all other lines as they were.

    Args:
        text: of ``steelyard.toml``; "" for none.
        key: carbohydrate or energy.
        value: as the setting takes it.
        creator: the creator it is about; "" for the whole collection.

    Raises:
        SteelyardError: the text is no TOML, or is laid out so that the line cannot be placed.
    """
    _parsed(text)
    lines = text.splitlines()
    start, end = 0, next((i for i, line in enumerate(lines) if _HEADER.match(line)), len(lines))
    if creator:
        header = f"[creators.{json.dumps(creator, ensure_ascii=False)}]"
        at = next((i for i, line in enumerate(lines) if line.strip() == header), None)
        if at is None:
            lines += ["", header] if lines and lines[-1].strip() else [header]
            at = len(lines) - 1
        start = at + 1
        later = (i for i in range(start, len(lines)) if _HEADER.match(lines[i]))
        end = next(later, len(lines))
    setting = f"{key} = {json.dumps(value)}"
    same = re.compile(rf"^\s*{key}\s*=")
    old = next((i for i in range(start, end) if same.match(lines[i])), None)
    if old is not None:
        lines[old] = setting
    else:
        while end > start and not lines[end - 1].strip():
            end -= 1
        lines.insert(end, setting)
    made = "\n".join(lines) + "\n"
    table = _parsed(made)
    table = table.get("creators", {}).get(creator, {}) if creator else table
    if table.get(key) != value:
        why = "the file is laid out so that the line cannot be placed"
        raise failure("settings-not-written", why=why)
    return made


def save_convention(path: Path, key: str, value: str, creator: str = "") -> tuple[str | None, str]:
    """Set one setting in the file, atomic and locked; the text before (None: no file) and after.

    Raises:
        SteelyardError: see ``with_convention``; the file is left as it is.
        TimeoutError, OSError: the file is held or cannot be written.
    """
    with locked(path):
        before = path.read_text(encoding="utf-8") if path.exists() else None
        after = with_convention(before or "", key, value, creator)
        write_atomically(path, after)
    return before, after


def restore_settings(path: Path, before: str | None, after: str) -> bool:
    """Put the file back to ``before``; False, and nothing done, when it no longer reads ``after``."""
    with locked(path):
        if not path.exists() or path.read_text(encoding="utf-8") != after:
            return False
        if before is None:
            path.unlink()
        else:
            write_atomically(path, before)
    return True


def _parsed(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise failure("settings-not-written", why=fault) from fault
