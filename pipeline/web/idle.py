"""Work that can wait: done in a thread of its own while nobody asks the page for anything."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

#: How often the thread looks whether the time has come, in seconds.
STEP_S = 0.05
#: A step under way is waited for no longer than this when the page is closed.
CLOSE_S = 10.0


class IdleWorker:
    """Does steps of work when the page is idle.

    Args:
        step: called with the seconds since somebody last asked for something; does one piece of
            work if that is long enough, and returns whether any is left.
    """

    def __init__(self, step: Callable[[float], bool]) -> None:
        self._step = step
        self._wake = threading.Event()
        self._closed = False
        self._requests = 0
        self._last_used = time.monotonic()
        self._thread: threading.Thread | None = None

    @contextmanager
    def waits(self) -> Iterator[None]:
        """While somebody's request is answered no step begins."""
        self._requests += 1
        try:
            yield
        finally:
            self._requests -= 1
            self._last_used = time.monotonic()

    def wake(self) -> None:
        """There is work."""
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, daemon=True)
            self._thread.start()
        self._wake.set()

    def close(self) -> None:
        """Stop after the step under way."""
        self._closed = True
        self._wake.set()
        if self._thread is not None:
            self._thread.join(CLOSE_S)

    def _run(self) -> None:
        while not self._closed:
            self._wake.wait()
            self._wake.clear()  # before the work: what comes meanwhile wakes it again
            while not self._closed and self._step(self._idle()):
                time.sleep(STEP_S)

    def _idle(self) -> float:
        return 0.0 if self._requests else time.monotonic() - self._last_used
