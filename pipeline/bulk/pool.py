"""Who does the steps: processes of this machine, or the workers of a Dask cluster.

Both take a step and its items, keep a few in flight, and hand results back as they come.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import multiprocessing
import os
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from pipeline.bulk.cluster import cluster_workers
from pipeline.bulk.steps import AHEAD, Step, Workers
from pipeline.bulk.tasks import Job, forget_jobs, load
from pipeline.kept import SELDOM, collecting_seldom
from pipeline.problems import Problem, SteelyardError

if TYPE_CHECKING:
    from concurrent.futures import ProcessPoolExecutor

#: Steps after which a worker is replaced before the next kind of step begins: what it has kept of
#: texts is of no use for sums.
MOST_STEPS = 12
#: glibc's mallopt: M_MMAP_THRESHOLD, M_TRIM_THRESHOLD, and the bytes from which memory goes back when
#: it is freed. Left to itself it raises both, and a worker keeps the gaps of arrays long gone; lower,
#: the same pages are given back and asked for again all the time. A step ends with ``malloc_trim``.
_MALLOC = {-3: 4 << 20, -1: 64 << 20}


class Here:
    """One worker: this process. For small collections and for debugging."""

    count = 1

    def prepare(self, job: Job) -> None:
        """Nothing: there is no one else to load anything."""

    def run(self, step: Step[Any], job: Job, items: Sequence[Any]) -> Iterator[Any]:
        """Results in order."""
        for item in items:
            yield step(job, item)


class Processes:
    """Worker processes, ended with this one: copies of a process that has everything imported.

    This process itself is never copied, for DuckDB and progress bars have threads.
    """

    def __init__(self, count: int) -> None:
        self.count = count
        self._done = 0
        self._pool = self._started()

    def _started(self) -> ProcessPoolExecutor:
        from concurrent.futures import ProcessPoolExecutor

        return ProcessPoolExecutor(self.count, mp_context=_starting(), initializer=_begin)

    def prepare(self, job: Job) -> None:
        """Have each worker load; what fails to load fails again, and is told, where it is needed."""
        for _ in range(self.count):
            self._pool.submit(load, job)

    def run(self, step: Step[Any], job: Job, items: Sequence[Any]) -> Iterator[Any]:
        """Results as they come.

        Raises:
            SteelyardError: a worker was killed, as the system does when memory runs out.
        """
        from concurrent.futures import FIRST_COMPLETED, Future, wait
        from concurrent.futures.process import BrokenProcessPool

        if self._done > self.count * MOST_STEPS:
            self.close()
            self._pool, self._done = self._started(), 0
        self._done += len(items)
        waiting = iter(items)
        flying: set[Future[Any]] = set()
        try:
            for item in waiting:
                flying.add(self._pool.submit(step, job, item))
                if len(flying) >= self.count * AHEAD:
                    done, flying = wait(flying, return_when=FIRST_COMPLETED)
                    yield from (f.result() for f in done)
            while flying:
                done, flying = wait(flying, return_when=FIRST_COMPLETED)
                yield from (f.result() for f in done)
        except BrokenProcessPool as fault:
            raise _worker_lost() from fault
        finally:
            for future in flying:
                future.cancel()

    def close(self) -> None:
        """End the workers; what they have begun is dropped."""
        self._pool.shutdown(wait=True, cancel_futures=True)


def get_ready(count: int | None, cluster: str) -> None:
    """Begin to import what workers need, in a process beside this one, while nobody waits yet.

    That process ends with this one; later runs use it again.
    """
    if not cluster and _number(count) > 1 and _starting().get_start_method() == "forkserver":
        from multiprocessing import forkserver

        forkserver.ensure_running()


def _starting() -> Any:
    """How worker processes are started on this system."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    made = multiprocessing.get_context("forkserver")
    made.set_forkserver_preload(["pipeline.bulk.imported"])
    return made


def _number(count: int | None) -> int:
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return count or cores or 1


def _worker_lost() -> SteelyardError:
    return SteelyardError(
        Problem(
            "worker-lost",
            "a worker process ended before its part was done",
            "it was killed, as systems do when memory runs out; finished parts are kept",
            "run the command again with --resume; fewer --workers need less memory",
        )
    )


def _begin() -> None:
    """In a new worker: end when the parent ends, even when it is killed, and leave Ctrl-C to it."""
    import signal

    gc.set_threshold(*SELDOM)
    with contextlib.suppress(AttributeError, OSError, TypeError):  # a C library of another kind
        for option, size in _MALLOC.items():
            ctypes.CDLL(None).mallopt(option, size)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        watch = threading.Thread(target=_follow, args=(parent,), daemon=True)
        watch.start()


def _follow(parent: Any) -> None:
    parent.join()
    os._exit(1)


@contextmanager
def workers(count: int | None, cluster: str) -> Iterator[Workers]:
    """The workers asked for, ended on the way out.

    Args:
        count: processes on this machine; None for one a core; with a local cluster, its size.
        cluster: "" for processes, ``local`` for a Dask cluster made for this run, else the
            address of a scheduler such as ``tcp://10.0.0.5:8786``.
    """
    number = _number(count)
    if cluster:
        with cluster_workers(cluster, number) as made:
            yield made
        return
    if number == 1:
        try:
            with collecting_seldom():
                yield Here()
        finally:
            forget_jobs()
        return
    pool = Processes(number)
    try:
        yield pool
    finally:
        pool.close()
