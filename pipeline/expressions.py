"""Regular expressions compiled once a machine instead of once a process.

A run on one recipe compiles 400 expressions from their text, a tenth of all it takes. Their compiled
form is kept beside the snapshots under the version of Python and of its matching engine; an
expression is found there by its own text and flags, so that one that was changed is simply another.
This uses parts of ``re`` that are private to it: where one of them is missing, or refuses what was
kept, expressions are compiled as ever.
"""

from __future__ import annotations

import contextlib
import re
import sys
from array import array
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

#: Shorter expressions are compiled about as fast as read, and some are made of a recipe's own words.
LEAST_LETTERS = 60
#: Expressions kept at most; beyond it only those of the last run stay.
MOST = 2_000
#: Flags with which an expression means the same whenever it is compiled.
_PLAIN = re.ASCII | re.IGNORECASE | re.MULTILINE | re.DOTALL | re.VERBOSE | re.UNICODE

_Key = tuple[Any, int]  # text or bytes of the expression, and its flags
_Made = tuple[int, bytes, int, dict[str, int], tuple[str | None, ...]]


@contextmanager
def kept_expressions() -> Iterator[None]:
    """Compile from what earlier runs have kept, and keep what they had not; for a whole command."""
    try:
        from re import _compiler  # type: ignore[attr-defined]  # typeshed knows no compiler

        compiled, engine, magic = _compiler.compile, _compiler._sre.compile, _compiler.MAGIC
    except (ImportError, AttributeError):
        yield
        return
    path = _path(magic)
    known, used, new = _read(path), dict[_Key, _Made](), dict[_Key, None]()

    def compile_(expression: Any, flags: int = 0) -> Any:
        key = (expression, int(flags))
        if found := known.get(key):
            with contextlib.suppress(RuntimeError, TypeError, ValueError):
                used[key] = found
                all_flags, code, groups, names, by_number = found
                words = memoryview(code).cast("I").tolist()
                return engine(expression, all_flags, words, groups, dict(names), by_number)
        made = compiled(expression, flags)
        if isinstance(expression, str | bytes) and len(expression) >= LEAST_LETTERS and _is_own():
            new[key] = None
        return made

    _compiler.compile = compile_
    try:
        yield
    finally:
        _compiler.compile = compiled
        if new:
            every = known if len(known) + len(new) <= MOST else used
            _save(path, every | _compiled(new))


def _is_own() -> bool:
    """Whether this program asks; some libraries write theirs in another order in each process."""
    frame = sys._getframe(2)
    while frame.f_back is not None and frame.f_globals.get("__name__") in ("re", "functools"):
        frame = frame.f_back
    return str(frame.f_globals.get("__name__")).startswith(f"{__package__}.")


def _path(magic: int) -> Path:
    from pipeline import kept
    from pipeline.snapshot.home import home_dir

    return home_dir() / f"expressions-{kept.key([sys.version, str(magic)], [Path(__file__)])}.bin"


def _read(path: Path) -> dict[_Key, _Made]:
    from pipeline import kept

    body = kept.read(path) or {}
    found: dict[_Key, _Made] = body.get("compiled", {})
    return found


def _save(path: Path, compiled: dict[_Key, _Made]) -> None:
    from pipeline import kept

    kept.save(path, {"compiled": compiled})


def _compiled(keys: Iterable[_Key]) -> dict[_Key, _Made]:
    """What the engine is given for expressions."""
    from re import _compiler, _parser  # type: ignore[attr-defined]

    made: dict[_Key, _Made] = {}
    for expression, flags in keys:
        parsed = _parser.parse(expression, flags)
        if (flags | parsed.state.flags) & ~_PLAIN:
            continue
        code = array("I", map(int, _compiler._code(parsed, flags)))
        names = dict(parsed.state.groupdict)
        by_number: list[str | None] = [None] * parsed.state.groups
        for name, number in names.items():
            by_number[number] = name
        made[expression, flags] = (
            int(flags | parsed.state.flags), code.tobytes(), parsed.state.groups - 1, names,
            tuple(by_number),
        )  # fmt: skip
    return made
