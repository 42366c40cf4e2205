"""The last resort: an exception that no stage handled becomes a message and an exit code."""

from __future__ import annotations

import errno
import os
import tempfile
import traceback

from pipeline.exit_codes import Exit
from pipeline.problems import Problem, SteelyardError, failure, is_of_the_disk


def failure_of(fault: Exception) -> SteelyardError:
    """What to print and the exit code to end with, for an exception that nobody caught."""
    if isinstance(fault, SteelyardError):
        return fault
    if isinstance(fault, TimeoutError):
        problem = Problem("busy", str(fault), fix="try again later")
        return SteelyardError(problem, Exit.BUSY)
    if isinstance(fault, OSError):
        return _of_the_disk(fault)
    if isinstance(fault, MemoryError):
        return failure("memory-full")
    kinds = {base.__name__ for base in type(fault).__mro__}
    said = str(fault).partition("\n")[0][:200]
    if is_of_the_disk(fault) and "OutOfMemoryException" not in kinds and "space" in str(fault):
        return failure("file-failed/space", said=said)
    if kinds & {"IOException", "FatalException", "InternalException", "SerializationException"}:
        return failure("data-file-failed", said=said)
    if "OutOfMemoryException" in kinds:
        return failure("memory-full/spilled", said=said)
    return _of_the_program(fault)


def _of_the_disk(fault: OSError) -> SteelyardError:
    fixes = {
        errno.EACCES: "give yourself the right to it, or name another place",
        errno.EROFS: "name a place that can be written to",
        errno.ENOSPC: "free some space",
        errno.EDQUOT: "free some space",
    }
    fix = fixes.get(fault.errno or 0, "check the path and the disk, and run it again")
    name = f'"{fault.filename}"' if fault.filename else "a file"
    return failure("file-failed", name=name, said=fault.strerror or fault, fix=fix)


def _of_the_program(fault: Exception) -> SteelyardError:
    if os.environ.get("STEELYARD_DEBUG"):
        traceback.print_exception(fault)
    try:
        handle, name = tempfile.mkstemp(prefix="steelyard-fault-", suffix=".txt")
        with os.fdopen(handle, "w", encoding="utf-8", errors="replace") as out:
            traceback.print_exception(fault, file=out)
        where = f"what to report is in {name}"
    except OSError:
        where = "set STEELYARD_DEBUG=1 to see what to report"
    kind, said = type(fault).__name__, str(fault)[:160]
    return failure("internal-fault", kind=kind, said=said, where=where)
