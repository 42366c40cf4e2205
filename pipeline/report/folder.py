"""The output folder: everything is written beside it first, then put in place in one go.

Files are made in a hidden folder inside the output folder (same disk, so a rename suffices). Only
when all are complete are they moved to their names, under a lock, so two runs into one folder
follow one another and never mix. A failure on the way puts the old files back.
"""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from pipeline.problems import SteelyardError, failure, is_of_the_disk
from pipeline.safe_files import held

#: Beginning of the names of staging folders; a bulk run has others in the same folder.
_STAGE = ".steelyard-new-"
_LOCK = ".steelyard.lock"
_WAIT_S = 30.0
_YOUNG_S = 10.0
#: Why a folder cannot be written: row of ``shared/command_problems.csv``, numbers of the system, and
#: DuckDB's words for the same.
_WHY: tuple[tuple[str, tuple[int, ...], str], ...] = (
    ("output-disk-full", (errno.ENOSPC, errno.EDQUOT), "No space left"),
    ("output-read-only", (errno.EROFS,), "Read-only file system"),
    ("output-not-permitted", (errno.EACCES, errno.EPERM), "Permission denied"),
    ("output-is-a-file", (errno.ENOTDIR, errno.EEXIST), ""),
    ("output-name-taken", (errno.EISDIR, errno.ENOTEMPTY), ""),
)


@contextmanager
def staged(out: Path) -> Iterator[Path]:
    """A hidden folder to write into; on a clean exit its files take their places in ``out``.

    Sub-folders of the staging folder become sub-folders of ``out``. Files of ``out`` that have no
    counterpart are left alone.

    Raises:
        SteelyardError: the folder cannot be made or written, the disk is full, or another run
            holds the folder for longer than half a minute.
    """
    try:
        out.mkdir(parents=True, exist_ok=True)
        _sweep(out)
        stage = Path(tempfile.mkdtemp(prefix=_STAGE, dir=out))
    except OSError as fault:
        raise cannot_write(out, fault) from fault
    try:
        with held(stage / _LOCK):
            yield stage
            with _locked(out):
                _publish(stage, out)
    except SteelyardError:
        raise
    except Exception as fault:
        if not is_of_the_disk(fault):
            raise
        raise cannot_write(out, fault) from fault
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def _publish(stage: Path, out: Path) -> None:
    """Move every staged file to its place; on a failure move the old ones back."""
    backup = stage / ".old"
    moved: list[tuple[Path, Path | None]] = []
    try:
        for new in files_below(stage):
            target = out / new.relative_to(stage)
            target.parent.mkdir(parents=True, exist_ok=True)
            old = None
            if target.is_dir():
                raise IsADirectoryError(errno.EISDIR, "a folder has this name", str(target))
            if target.exists() or target.is_symlink():
                old = backup / new.relative_to(stage)
                old.parent.mkdir(parents=True, exist_ok=True)
                os.replace(target, old)
                moved.append((target, old))
            os.replace(new, target)
            if old is None:
                moved.append((target, None))
    except OSError:
        for target, old in reversed(moved):
            if old is not None:
                os.replace(old, target)
            else:
                target.unlink(missing_ok=True)
        raise


def files_below(stage: Path) -> list[Path]:
    """Every file of the folder that is not the machinery's own, in a stable order."""
    return sorted(
        p
        for p in stage.rglob("*")
        if p.is_file() and not any(part.startswith(".") for part in p.relative_to(stage).parts)
    )


def _sweep(out: Path) -> None:
    """Remove staging folders of runs that were killed; a living run holds a lock in its own."""
    for left in out.glob(f"{_STAGE}*"):
        try:
            young = time.time() - left.stat().st_mtime < _YOUNG_S  # perhaps not yet locked
            if young or not left.is_dir():
                continue
            with held(left / _LOCK):
                shutil.rmtree(left, ignore_errors=True)
        except OSError:  # held, gone meanwhile, or not ours to open
            continue


@contextmanager
def _locked(out: Path) -> Iterator[None]:
    with ExitStack() as stack:
        try:
            stack.enter_context(held(out / _LOCK, _WAIT_S, remove=True))
        except TimeoutError as fault:
            raise failure("output-busy", source=str(out), out=out, seconds=_WAIT_S) from fault
        yield


def cannot_write(out: Path, fault: Exception) -> SteelyardError:
    """The fault in the user's words; what stood in the folder before still stands there."""
    number, said = getattr(fault, "errno", None), str(fault)
    code = next(
        (code for code, numbers, words in _WHY if number in numbers or (words and words in said)),
        "output-not-written",
    )
    return failure(code, source=str(out), out=out, said=said)
