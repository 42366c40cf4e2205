"""What every test may use: one built snapshot a machine run, shared by the workers."""

from __future__ import annotations

import os
import shutil
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


def shared_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The temporary folder that all workers of one test run have in common."""
    root = tmp_path_factory.getbasetemp()
    return root.parent if os.environ.get("PYTEST_XDIST_WORKER") else root


@pytest.fixture(scope="session", autouse=True)
def _home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A data directory of the test run's own, so that nobody's snapshot is touched."""
    home = shared_root(tmp_path_factory) / "steelyard-home"
    before = os.environ.get("STEELYARD_HOME")
    os.environ["STEELYARD_HOME"] = str(home)
    yield home
    if before is None:
        os.environ.pop("STEELYARD_HOME", None)
    else:
        os.environ["STEELYARD_HOME"] = before


@pytest.fixture(scope="session")
def embedded_home(_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data directory with the embedded snapshot and its index, for tests to copy.

    Built once a test run, whichever worker comes first; nobody writes into it afterwards, so a
    copy never meets a file that is being replaced. The run's own data directory begins as a copy.
    """
    from pipeline.match import load_index
    from pipeline.snapshot import open_snapshot
    from pipeline.snapshot.home import locked

    root = shared_root(tmp_path_factory)
    ready = root / "embedded-home"
    with locked(root / "embedded-home.lock"):
        if not ready.exists():
            made = root / "embedded-home.new"
            built = open_snapshot(made)
            with built.connect() as con:
                load_index(con, built.folder)
            if not _home.exists():
                shutil.copytree(made, root / "steelyard-home.new")
                (root / "steelyard-home.new").rename(_home)
            made.rename(ready)
    return ready


@pytest.fixture(scope="session")
def snapshot(embedded_home: Path, _home: Path):
    """The embedded snapshot, built once."""
    from pipeline.snapshot import open_snapshot

    return open_snapshot()


@pytest.fixture
def no_gate(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lets every table pass unlooked at, for tests about what stands before or after the gate.

    The gate takes most of the time of a refresh; whether it holds is tested by
    ``tests/snapshot/test_snapshot_gate.py``, ``tests/refresh/test_refresh_everyday.py`` and the
    whole refreshes of ``test_refresh_run.py``.
    """
    from pipeline.refresh import run
    from pipeline.snapshot import gate

    monkeypatch.setattr(gate, "warm_up", lambda: None)
    monkeypatch.setattr(gate, "check_file", lambda *_, **__: gate.GateResult([]))
    monkeypatch.setattr(run, "everyday_checks", lambda *_, **__: lambda _candidate: [])


@pytest.fixture(scope="session")
def index(snapshot):
    """The match index of the embedded snapshot."""
    from pipeline.match import load_index

    with snapshot.connect() as con:
        return load_index(con, snapshot.folder)


@pytest.fixture(scope="session")
def demo() -> Path:
    """The invented demo collection."""
    from pipeline.resources import data_path

    return data_path("demo")
