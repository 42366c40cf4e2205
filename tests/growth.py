"""How much longer more input takes, as a ratio: no test is held to seconds of a machine.

Processor time of the calling thread is compared with itself, so neither a neighbour on the machine
nor another thread of the tests counts; what is quadratic is so in every measurement, what a
collection of garbage slowed is not in the next.
"""

from __future__ import annotations

import time
from collections.abc import Callable

#: Below this a time says nothing: it is set-up, or a cache that was cold.
LEAST_S = 0.02
#: Measurements until one is within the bound.
_MOST_TRIES = 4


def cpu_seconds(run: Callable[[], object]) -> float:
    """Processor time of one call in this thread."""
    began = time.thread_time()
    run()
    return time.thread_time() - began


def growth(seconds: Callable[[int], float], n: int, *, within: float = 5, times: int = 4) -> float:
    """How many times longer ``times`` as much takes as ``n``; the best of a few measurements.

    Args:
        seconds: processor time of a size.
        within: no more measurements are made after one within it.
    """
    best = float("inf")
    for _ in range(_MOST_TRIES):
        short, long = seconds(n), seconds(times * n)
        best = min(best, max(long, LEAST_S) / max(short, LEAST_S))
        if best <= within:
            break
    return best
