"""Values of the foods that the habit tests cook with."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from kitchen import Kitchen, Values, table


@pytest.fixture(scope="session")
def foods(snapshot: Any) -> dict[str, Values]:
    """Per 100 g, by the words of the line."""
    return table(snapshot)


@pytest.fixture
def kitchen(tmp_path: Path, foods: dict[str, Values], snapshot: Any) -> Kitchen:
    """An empty folder for dishes of one creator."""
    return Kitchen(tmp_path / "k", foods, snapshot)
