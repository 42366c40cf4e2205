"""What the exit code of every command means: the one list of them.

``docs/exit-codes.md`` shows it and a test keeps the two the same. 1 is never a failure: it says that
a condition the person asked for with ``--fail-on`` holds. From 64 on the numbers are those of
``sysexits.h`` where it has one for the case.
"""

from __future__ import annotations

from enum import IntEnum


class Exit(IntEnum):
    """Exit codes; ``MEANING`` says each in a sentence."""

    OK = 0
    FAIL_ON = 1
    USAGE = 2
    NOTHING = 3
    REFUSED = 4
    FLIPPED = 5
    BROKEN_TABLE = 65
    UNREACHABLE = 69
    INTERNAL = 70
    DISK = 74
    BUSY = 75
    STOPPED = 130


MEANING: dict[Exit, str] = {
    Exit.OK: "Done. Problems of the input, if any, are in the report.",
    Exit.FAIL_ON: "Done, and a condition of `--fail-on` holds: a recipe disagrees, is uncertain, or "
    "the input has problems. Never a failure of the program.",
    Exit.USAGE: "The command could not be carried out as given: an option, a path, the settings, or "
    "a file that has to be fixed first.",
    Exit.NOTHING: "Nothing was found to work on: no recipe, no snapshot, no food.",
    Exit.REFUSED: "A nutrient table was refused: damaged, malformed, or it failed the gate. The old "
    "one stays live.",
    Exit.FLIPPED: "`drift` or `refresh --collection`: the new table changes a verdict.",
    Exit.BROKEN_TABLE: "The nutrient table in the data directory is broken, or it is not known "
    "which one was live; the message says how to choose or build one.",
    Exit.UNREACHABLE: "The publisher of a table could not be reached. The old table stays live.",
    Exit.INTERNAL: "A fault of the program itself; the message names a file with what to report.",
    Exit.DISK: "A disk or folder failed (full, not writable, gone), or the memory did not suffice. "
    "Old results stay whole.",
    Exit.BUSY: "Another run holds the lock; try again later.",
    Exit.STOPPED: "Stopped with Ctrl-C.",
}  # fmt: skip
