"""The same steps on a Dask cluster. Dask is imported here and nowhere else.

The steps and their files are those of a local run, so results are equal to the bit. Workers need
the package installed and sight of the store the run works in (a shared folder or an fsspec URL);
the snapshot is fetched from there once a worker. A worker that dies is no loss: its step is given
to another, and a step that was half done left no file.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from pipeline.bulk.steps import AHEAD, RETRIES, Step
from pipeline.bulk.tasks import Job
from pipeline.problems import Problem, SteelyardError


class Cluster:
    """Workers of a Dask cluster."""

    def __init__(self, client: Any) -> None:
        self._client = client
        self.count = max(1, len(client.scheduler_info(n_workers=-1)["workers"]))

    def prepare(self, job: Job) -> None:
        """Nothing: its workers have work of their own."""

    def run(self, step: Step[Any], job: Job, items: Sequence[Any]) -> Iterator[Any]:
        """Results as they come; a step whose worker dies is tried again on another.

        Raises:
            SteelyardError: a step failed on several workers, or the cluster is gone.
        """
        import distributed
        from distributed.client import FutureCancelledError
        from distributed.scheduler import KilledWorker

        waiting = iter(items)
        completed: Any = distributed.as_completed

        def submit(item: Any) -> Any:
            return self._client.submit(step, job, item, pure=False, retries=RETRIES)

        first = [submit(item) for _, item in zip(range(self.count * AHEAD), waiting, strict=False)]
        flying = completed(first)
        try:
            for future in flying:
                yield future.result()
                for item in waiting:
                    flying.add(submit(item))
                    break
        except (KilledWorker, FutureCancelledError) as fault:
            raise SteelyardError(
                Problem(
                    "worker-lost",
                    "the cluster lost the workers of a part again and again",
                    f"{type(fault).__name__}; finished parts are kept",
                    "look at the workers' memory, then run the command again with --resume",
                )
            ) from fault


@contextmanager
def cluster_workers(address: str, count: int) -> Iterator[Cluster]:
    """Connect to a scheduler, or make a cluster of ``count`` processes when told ``local``.

    Raises:
        SteelyardError: Dask is not installed, or no scheduler answers at the address.
    """
    try:
        import distributed
    except ImportError as fault:
        raise SteelyardError(
            Problem(
                "cluster-missing",
                "a cluster was asked for, and Dask is not installed",
                str(fault),
                'install the extra: pip install "steelyard[cluster]"',
            )
        ) from fault
    client_of: Any = distributed.Client
    cluster_of: Any = distributed.LocalCluster
    if address == "local":
        with (
            cluster_of(
                n_workers=count, threads_per_worker=1, processes=True, dashboard_address=None,
                silence_logs=50,
            ) as cluster,
            client_of(cluster) as client,
        ):  # fmt: skip
            yield Cluster(client)
        return
    try:
        client = client_of(address, timeout="15s")
    except (OSError, ValueError) as fault:
        raise SteelyardError(
            Problem(
                "cluster-unreachable",
                f'no Dask scheduler answers at "{address}"',
                str(fault) or type(fault).__name__,
                "check the address, or leave --cluster out to use this machine",
            )
        ) from fault
    with client:
        yield Cluster(client)
