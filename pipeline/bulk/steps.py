"""What the workers of a bulk run have in common, wherever they are."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, Protocol, TypeVar

from pipeline.bulk.tasks import Job

Item = TypeVar("Item")
Step = Callable[[Job, Item], Any]

#: Items handed out a worker ahead of time.
AHEAD = 2
#: How often a step is tried again on another worker when its own died.
RETRIES = 3


class Workers(Protocol):
    """Runs a step over items; results come in any order."""

    count: int

    def prepare(self, job: Job) -> None:
        """Have what lines are read with loaded by workers that nobody needs yet; returns at once."""

    def run(self, step: Step[Any], job: Job, items: Sequence[Any]) -> Iterator[Any]:
        """Results of ``step(job, item)``, as they come."""
