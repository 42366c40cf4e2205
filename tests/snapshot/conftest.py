"""One embedded table in memory and one published snapshot for all tests of this folder."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

from pipeline.snapshot import Snapshot, open_snapshot


@pytest.fixture(scope="session")
def published(embedded_home: Path) -> Snapshot:
    """A snapshot built the way a first run builds it."""
    return open_snapshot(embedded_home)


@pytest.fixture
def con(published: Snapshot) -> Iterator[duckdb.DuckDBPyConnection]:
    """The published snapshot, read-only."""
    with published.connect() as opened:
        yield opened


@pytest.fixture
def scratch(published: Snapshot, tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A private, writable copy of the snapshot, to poison."""
    import shutil

    copy = tmp_path / "copy.duckdb"
    shutil.copy(published.path, copy)
    with duckdb.connect(str(copy)) as opened:
        yield opened
