"""The review page: a local page on which a person settles lines, one answer at a time.

A door like the command line: it shows what the stages say and writes answers to the collection's
``decisions.csv`` and ``pantry.csv``. ``serve`` opens it, ``create_app`` makes it for tests.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.web.app import create_app
    from pipeline.web.server import serve
    from pipeline.web.session import ReviewSession

__all__ = ["ReviewSession", "create_app", "serve"]


def __getattr__(name: str) -> object:
    if name == "serve":
        from pipeline.web.server import serve

        return serve
    if name == "create_app":
        from pipeline.web.app import create_app

        return create_app
    if name == "ReviewSession":
        from pipeline.web.session import ReviewSession

        return ReviewSession
    raise AttributeError(f"module 'pipeline.web' has no attribute {name!r}")
