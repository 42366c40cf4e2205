"""Values of the foods that the habit tests cook with."""

from __future__ import annotations

from typing import Any

import pytest
from kitchen import Values, table


@pytest.fixture(scope="session")
def foods(snapshot: Any) -> dict[str, Values]:
    """Per 100 g, by the words of the line."""
    return table(snapshot)
