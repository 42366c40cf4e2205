"""The output folder of a bulk run: one run at a time, and old results whole until new ones are.

Layout of ``out``::

    bulk/                     the results in force: one folder per table, summary.json, report.html
    .steelyard-bulk/          the work of a run under way, or of one that was stopped
    .steelyard-bulk.lock      held by the run under way; names its process
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline import safe_files
from pipeline.exit_codes import Exit
from pipeline.problems import Problem, SteelyardError, is_of_the_disk
from pipeline.report.folder import cannot_write

WORK, RESULTS, LOCK = ".steelyard-bulk", "bulk", ".steelyard-bulk.lock"
_OLD = ".steelyard-bulk-old"
_EXCHANGE, _AT_CWD = 2, -100


@contextmanager
def held(out: Path) -> Iterator[None]:
    """Hold the output folder for one run; the system lets go when the process ends, however it ends.

    Raises:
        SteelyardError: another run holds it, or it cannot be written.
    """
    lock = out / LOCK
    with contextlib.ExitStack() as stack:
        try:
            out.mkdir(parents=True, exist_ok=True)
            stack.enter_context(safe_files.held(lock))
            lock.write_text(f"{os.getpid()}\n", encoding="ascii")
            _recover(out)
        except TimeoutError as fault:
            raise _busy(out, lock) from fault
        except OSError as fault:
            raise cannot_write(out, fault) from fault
        yield


def _busy(out: Path, lock: Path) -> SteelyardError:
    holder = ""
    with contextlib.suppress(OSError):
        holder = lock.read_text(encoding="ascii", errors="replace").strip()
    return SteelyardError(
        Problem(
            "output-busy",
            f'another run (process {holder or "of unknown number"}) is writing to "{out}"',
            "two runs must not mix; nothing was started, and its work is untouched",
            "wait until it has ended, or give another folder with --out",
            source=str(out),
        ),
        exit_code=Exit.BUSY,
    )


def _recover(out: Path) -> None:
    """Put back results that a stop between two renames left aside."""
    old, results = out / _OLD, out / RESULTS
    if old.exists():
        if results.exists():
            shutil.rmtree(old, ignore_errors=True)
        else:
            old.rename(results)


def publish(out: Path, made: Path) -> Path:
    """Put finished results in force in one step; those before them go away afterwards.

    Where the system can exchange two folders (Linux), there is no moment without results; else
    two renames, which the next run mends when it finds only the first done.
    """
    results, old = out / RESULTS, out / _OLD
    if not results.exists():
        made.rename(results)
        return results
    if _exchanged(made, results):
        made.rename(old)
    else:
        results.rename(old)
        made.rename(results)
    shutil.rmtree(old, ignore_errors=True)
    return results


def _exchanged(one: Path, other: Path) -> bool:
    with contextlib.suppress(OSError, AttributeError):
        libc = ctypes.CDLL(None, use_errno=True)
        done = libc.renameat2(
            _AT_CWD, os.fsencode(one), _AT_CWD, os.fsencode(other), ctypes.c_uint(_EXCHANGE)
        )
        return int(done) == 0
    return False


def is_io(fault: Exception) -> bool:
    """Whether the file system is to blame; memory alone is not."""
    if type(fault).__name__ == "OutOfMemoryException":
        return "directory" in str(fault)
    return is_of_the_disk(fault) and not isinstance(fault, MemoryError)
