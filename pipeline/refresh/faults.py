"""How a refresh ends when it cannot go on; what was live stays live."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pipeline.problems import SteelyardError, failure


def unreachable(source: str, what: str, why: str, fix: str = "") -> SteelyardError:
    """The publisher could not be reached: exit code 69."""
    fix = fix or "try again later, or hand in a file: steelyard refresh --from FILE"
    return failure("source-unreachable", source=source, what=what, why=why, fix=fix)


def read_toml(path: Path, code: str) -> tuple[dict[str, Any], Callable[[str, str], SteelyardError]]:
    """A file of settings, and how to say what is wrong with it (what, why).

    Args:
        code: row of ``shared/command_problems.csv`` for whatever is wrong.

    Raises:
        SteelyardError: it cannot be read or is no TOML.
    """

    def fault(what: str, why: str) -> SteelyardError:
        return failure(code, source=str(path), file=path.name, what=what, why=why)

    try:
        return tomllib.loads(path.read_text(encoding="utf-8")), fault
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise fault("cannot be read", str(error)) from error
