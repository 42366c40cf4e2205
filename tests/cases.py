"""Cases of a test that fill a page stand in a YAML file of its name beside it, a list or mapping a key."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import yaml


@cache
def _read(path: Path) -> dict[str, Any]:
    found: dict[str, Any] = yaml.safe_load(path.read_text("utf-8"))
    return found


def cases(test_file: str, name: str) -> Any:
    """The cases of that name: rows are lists; ``.nan`` is not a number, ``null`` is None."""
    return _read(Path(test_file).with_suffix(".yaml"))[name]
