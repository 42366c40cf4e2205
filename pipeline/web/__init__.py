"""The review page: a local page on which a person settles lines, one answer at a time.

A door like the command line: it shows what the stages say and writes answers to the collection's
``decisions.csv`` and ``pantry.csv``. ``serve`` opens it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.web.server import serve

__all__ = ["serve"]


def __getattr__(name: str) -> object:
    if name != "serve":
        raise AttributeError(f"module 'pipeline.web' has no attribute {name!r}")
    from pipeline.web.server import serve  # starlette and the templates load with the page alone

    return serve
