"""One weigher over the embedded table for all tests of this folder."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from pipeline.snapshot import Snapshot
from pipeline.weigh import Weigher, Weight


@pytest.fixture(scope="session")
def weigh_snapshot(snapshot: Snapshot) -> Snapshot:
    """The embedded snapshot."""
    return snapshot


@pytest.fixture(scope="session")
def weigher(weigh_snapshot: Snapshot) -> Weigher:
    """A weigher with US cups and spoons and no pantry."""
    return Weigher(weigh_snapshot)


@pytest.fixture(scope="session")
def weigh(weigher: Weigher) -> Callable[[str, str | None], Weight]:
    """Weigh a line of text as one SR28 food, given by its number."""
    from pipeline.lines import parse

    def of_text(text: str, code: str | None) -> Weight:
        return weigher.weigh_one(parse(text), None if code is None else f"sr28:{code}")

    return of_text
