"""Hands on what came of the generated inputs when the soak is over."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from examples import TABLE

sys.path.insert(0, str(Path(__file__).parents[1] / "hostile"))


def pytest_sessionfinish(session: pytest.Session) -> None:
    """The table kind × count, when there is one, for the process that prints (``tests/conftest.py``)."""
    from generated import TALLY

    if TALLY.rows:
        output = getattr(session.config, "workeroutput", None)
        session.config.stash[TABLE] = TALLY.table()
        if output is not None:
            output["table"] = TALLY.table()
