"""Reading and safely writing the small CSV and YAML files that people own."""

from __future__ import annotations

import contextlib
import csv
import io
import math
import os
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import yaml

from pipeline.problems import Problem

Row = dict[str, str]


def read_rows(path: Path, list_key: str) -> tuple[list[tuple[int, Row]], list[Problem]]:
    """Rows of a CSV or YAML file with the line each starts on; never raises.

    Args:
        path: ``.csv`` (comma or semicolon, UTF-8 or Windows-1252) or ``.yaml``/``.yml``.
        list_key: key of the list in a YAML file whose top level is a mapping.
    """
    try:
        raw = path.read_bytes()
    except OSError as fault:
        return [], [_unreadable(path, str(fault.strerror or fault))]
    problems: list[Problem] = []
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
        problems.append(
            Problem(
                "not-utf-8",
                f'"{path.name}" is not UTF-8 text',
                "it was read as Windows-1252; accents and dashes may be wrong",
                "save the file as UTF-8",
                source=path.name,
                severity="warning",
            )
        )
    if "\0" in text:
        return [], [_unreadable(path, "it holds NUL bytes and is no text file")]
    if path.suffix.lower() in {".yaml", ".yml"}:
        return _yaml_rows(path, text, list_key, problems)
    first = text.split("\n", 1)[0]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    reader = csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows: list[tuple[int, Row]] = []
    try:
        for row in reader:
            clean = {
                (k or "").strip().lower(): (v or "").strip()
                for k, v in row.items()
                if isinstance(v, str | None) and k is not None
            }
            if any(clean.values()):
                rows.append((reader.line_num, clean))
    except csv.Error as fault:
        problems.append(_unreadable(path, f"line {reader.line_num}: {fault}"))
    return rows, problems


def _yaml_rows(
    path: Path, text: str, list_key: str, problems: list[Problem]
) -> tuple[list[tuple[int, Row]], list[Problem]]:
    if len(text) > 2_000_000 or text.count("*") > 10_000:
        return [], [*problems, _unreadable(path, "it is too large for a hand-kept file")]
    if "&" in text and "*" in text and any(t.lstrip().startswith("&") for t in text.split(":")):
        return [], [*problems, _unreadable(path, "anchors and aliases are not read")]
    try:
        loaded = yaml.safe_load(text)
    except (yaml.YAMLError, RecursionError) as fault:
        return [], [*problems, _unreadable(path, str(fault).split("\n")[0])]
    if isinstance(loaded, dict):
        loaded = loaded.get(list_key, [])
    if not isinstance(loaded, list):
        return [], [*problems, _unreadable(path, f'it holds no list under "{list_key}"')]
    rows = []
    for at, item in enumerate(loaded, start=1):
        if isinstance(item, dict):
            rows.append((at, {str(k).strip().lower(): _flat(v) for k, v in item.items()}))
    return rows, problems


def _flat(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, list):
        return ";".join(str(v) for v in value)
    return str(value).strip()


def _unreadable(path: Path, why: str) -> Problem:
    return Problem(
        "file-unreadable", f'"{path.name}" could not be read', f"{why}; the run goes on without it",
        "mend or remove the file", source=path.name,
    )  # fmt: skip


def number(text: str) -> float | None:
    """A finite number as people write it, decimal comma allowed; None when it is none."""
    text = text.strip().replace("\u00a0", "").replace(" ", "")
    if "," in text and "." not in text:
        text = text.replace(",", ".")
    try:
        value = float(text.replace(",", ""))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


@contextlib.contextmanager
def locked(path: Path, wait_s: float = 10.0) -> Iterator[None]:
    """Hold ``path``'s lock file, so that two writers do not overwrite each other.

    A lock older than a minute belongs to a process that died and is taken over.

    Raises:
        TimeoutError: another process kept the lock for ``wait_s``.
    """
    lock = path.with_name(f".{path.name}.lock")
    deadline = time.monotonic() + wait_s
    while True:
        try:
            os.close(os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
            break
        except FileExistsError:
            with contextlib.suppress(OSError):
                if time.time() - lock.stat().st_mtime > 60:
                    lock.unlink()
                    continue
            if time.monotonic() > deadline:
                raise TimeoutError(f"{path.name} is being written by another process") from None
            time.sleep(0.02)
    try:
        yield
    finally:
        lock.unlink(missing_ok=True)


def write_atomically(path: Path, text: str) -> None:
    """Replace ``path`` by ``text`` in one step: a kill leaves the old file or the new one."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        if path.exists():
            os.chmod(name, path.stat().st_mode & 0o777)
        else:
            os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise


def csv_text(columns: list[str], rows: list[Row]) -> str:
    """CSV with a header, one line a row, newline-terminated."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, columns, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()
