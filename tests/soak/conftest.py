"""Prints what came of the generated inputs when the soak is over."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "hostile"))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """The table kind × count, when there is one."""
    from generated import TALLY

    if TALLY.rows:
        terminalreporter.section("generated hostile inputs")
        terminalreporter.write_line(TALLY.table())
