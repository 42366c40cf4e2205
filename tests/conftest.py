"""What every test may use: one built snapshot a machine run, shared by the workers."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "steelyard",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=bool(os.environ.get("CI")),
)
settings.load_profile("steelyard")


@pytest.fixture(scope="session", autouse=True)
def _home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A data directory of the test run's own, so that nobody's snapshot is touched.

    Workers of one run share it; the snapshot stage's own lock lets one of them build.
    """
    root = tmp_path_factory.getbasetemp()
    if os.environ.get("PYTEST_XDIST_WORKER"):
        root = root.parent
    home = root / "steelyard-home"
    before = os.environ.get("STEELYARD_HOME")
    os.environ["STEELYARD_HOME"] = str(home)
    yield home
    if before is None:
        os.environ.pop("STEELYARD_HOME", None)
    else:
        os.environ["STEELYARD_HOME"] = before


@pytest.fixture(scope="session")
def snapshot(_home: Path):
    """The embedded snapshot, built once."""
    from pipeline.snapshot import open_snapshot

    return open_snapshot()


@pytest.fixture(scope="session")
def index(snapshot):
    """The match index of the embedded snapshot."""
    from pipeline.match import load_index

    with snapshot.connect() as con:
        return load_index(con)


@pytest.fixture(scope="session")
def demo() -> Path:
    """The invented demo collection."""
    from pipeline.resources import data_path

    return data_path("demo")
