"""How far a run has come, and the seconds its steps took. Imports nothing heavy."""

from __future__ import annotations

import time
from collections.abc import Callable

#: Called with a stage's name, how much is done and how much there is.
Progress = Callable[[str, int, int], None]


def no_progress(stage: str, done: int, total: int) -> None:
    """No progress shown."""


class Clock:
    """Wall-clock seconds by step."""

    def __init__(self) -> None:
        self._last = time.perf_counter()
        self.laps: dict[str, float] = {}

    def lap(self, name: str) -> None:
        """End of a step."""
        now = time.perf_counter()
        self.laps[name] = round(self.laps.get(name, 0.0) + now - self._last, 4)
        self._last = now
