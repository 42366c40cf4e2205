"""The last resort: an exception that no stage handled becomes a message and an exit code."""

from __future__ import annotations

import errno
import os
import tempfile
import traceback

from pipeline.exit_codes import Exit
from pipeline.problems import Problem, is_of_the_disk

_NO_ROOM = (errno.ENOSPC, errno.EDQUOT)


def problem_of(fault: Exception) -> tuple[Problem, Exit]:
    """The problem to print and the exit code to end with, for an exception that nobody caught."""
    if isinstance(fault, TimeoutError):
        return Problem("busy", str(fault), fix="try again later"), Exit.BUSY
    if isinstance(fault, OSError):
        return _of_the_disk(fault), Exit.DISK
    if isinstance(fault, MemoryError):
        return Problem(
            "memory-full", "there is not enough memory", "nothing was changed",
            "run it in parts: --bulk --out FOLDER; or give it fewer recipes at a time",
        ), Exit.DISK  # fmt: skip
    kinds = {base.__name__ for base in type(fault).__mro__}
    if is_of_the_disk(fault) and "OutOfMemoryException" not in kinds and "space" in str(fault):
        return Problem(
            "file-failed", "a file could not be written", str(fault).partition("\n")[0][:200],
            "free some space",
        ), Exit.DISK  # fmt: skip
    if kinds & {"IOException", "FatalException", "InternalException", "SerializationException"}:
        return Problem(
            "data-file-failed",
            "a data file could not be read or written",
            str(fault).partition("\n")[0][:200],
            "check the nutrient table: steelyard snapshot check; and the space on the disk",
        ), Exit.BROKEN_TABLE
    if "OutOfMemoryException" in kinds:
        return Problem(
            "memory-full", "there is not enough memory, or no space to put it aside",
            str(fault).partition("\n")[0][:200], "free some space, or run it with --bulk",
        ), Exit.DISK  # fmt: skip
    return _of_the_program(fault), Exit.INTERNAL


def _of_the_disk(fault: OSError) -> Problem:
    name = f'"{fault.filename}"' if fault.filename else "a file"
    fixes = {
        errno.EACCES: "give yourself the right to it, or name another place",
        errno.EROFS: "name a place that can be written to",
    }
    fix = "free some space" if fault.errno in _NO_ROOM else fixes.get(fault.errno or 0, "")
    return Problem(
        "file-failed",
        f"{name} could not be read or written",
        f"{fault.strerror or fault}; what was there before is unchanged",
        fix or "check the path and the disk, and run it again",
    )


def _of_the_program(fault: Exception) -> Problem:
    if os.environ.get("STEELYARD_DEBUG"):
        traceback.print_exception(fault)
    try:
        handle, name = tempfile.mkstemp(prefix="steelyard-fault-", suffix=".txt")
        with os.fdopen(handle, "w", encoding="utf-8", errors="replace") as out:
            traceback.print_exception(fault, file=out)
        where = f"what to report is in {name}"
    except OSError:
        where = "set STEELYARD_DEBUG=1 to see what to report"
    return Problem(
        "internal-fault",
        f"internal error: {type(fault).__name__}",
        f"{str(fault)[:160]}; nothing was changed",
        where,
    )
