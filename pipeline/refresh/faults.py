"""How a refresh ends when it cannot go on; what was live stays live."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from pipeline.exit_codes import Exit
from pipeline.problems import Problem, SteelyardError


def refused(
    code: str, what: str, why: str, fix: str, *, source: str = "", line: int | None = None
) -> SteelyardError:
    """The release is damaged, malformed or another than expected: exit code 4."""
    problem = Problem(code, what, why, fix, source=source, source_line=line)
    return SteelyardError(problem, exit_code=Exit.REFUSED)


def unreachable(source: str, what: str, why: str, fix: str = "") -> SteelyardError:
    """The publisher could not be reached: exit code 69."""
    why += ". What was live stays live"
    fix = fix or "try again later, or hand in a file: steelyard refresh --from FILE"
    problem = Problem("source-unreachable", what, why, fix, source=source)
    return SteelyardError(problem, exit_code=Exit.UNREACHABLE)


def unknown_source(name: str, known: Iterable[str]) -> SteelyardError:
    """Nobody knows a source of that name."""
    why = f"known ones: {', '.join(known)}"
    what = f'there is no source "{name}"'
    return SteelyardError.of("source-unknown", what, why, "see shared/sources.toml")


def wrong_sum(name: str, found: str, expected: str, source: str) -> SteelyardError:
    """A file sums to something else than was expected."""
    return refused(
        "archive-wrong-sum",
        f'"{name}" is not the file that was expected',
        f"its sha256 is {found}, expected is {expected.lower()}. Nothing was published; what was "
        "live stays live",
        "compare the sum with the publisher's; if the file was issued again, check it and change "
        "the sum in sources.toml",
        source=source,
    )


def read_toml(
    path: Path, code: str, name: str, fix: str
) -> tuple[dict[str, Any], Callable[[str, str], SteelyardError]]:
    """A file of settings, and how to say what is wrong with it (what, why).

    Raises:
        SteelyardError: it cannot be read or is no TOML.
    """

    def fault(what: str, why: str) -> SteelyardError:
        problem = Problem(code, f'{name} "{path.name}" {what}', why, fix, source=str(path))
        return SteelyardError(problem)

    try:
        return tomllib.loads(path.read_text(encoding="utf-8")), fault
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise fault("cannot be read", str(error)) from error
