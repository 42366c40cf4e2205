"""How many examples a property test draws: a quarter in ``make test``, all of them in ``make soak``."""

from __future__ import annotations

import os

import pytest

#: Set by ``make soak``, which runs every property test once more.
THOROUGH = bool(os.environ.get("STEELYARD_THOROUGH"))
#: Examples of a test that does not say how many.
USUAL = 100
_LEAST = 5
#: What the soak prints at its end.
TABLE = pytest.StashKey[str]()


def examples(count: int = USUAL) -> int:
    """``count`` where every property is searched thoroughly, otherwise a quarter of it."""
    return count if THOROUGH else max(min(count, _LEAST), count // 4)
