"""One connection and one food index for the reconcile tests."""

from __future__ import annotations

import pytest
from reconcile_cases import case

from pipeline.reconcile import load_foods


@pytest.fixture(scope="session")
def con(snapshot):
    """The embedded snapshot, read-only."""
    with snapshot.connect() as db:
        yield db


@pytest.fixture(scope="session")
def foods(con):
    """Names and values of every food."""
    return load_foods(con)


@pytest.fixture(scope="session")
def stew(con):
    """The invented stew, computed."""
    return case(con)
