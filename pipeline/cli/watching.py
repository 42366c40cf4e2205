"""``steelyard watch``: check a collection again whenever one of its files changes."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from pathlib import Path

from pipeline.problems import SteelyardError
from pipeline.safe_files import stamp

#: Files are looked at again after so many milliseconds even when the system reports nothing, so
#: that a change made while a check was running is seen.
LOOK_AGAIN_MS = 1000

Stamps = dict[str, tuple[int, int, int] | None]


def follow(
    paths: Sequence[Path],
    check: Callable[[list[str]], None],
    *,
    stop: threading.Event | None = None,
) -> None:
    """Call ``check`` at once, and again with the names of the files that changed since.

    The files are noted before each check, so that one changed during it is checked next. Only
    files that a run reads count: an editor's swap and draft files do not.
    """
    from watchfiles import watch

    seen = stamps(paths)
    check([])
    for _ in watch(
        *paths, raise_interrupt=False, stop_event=stop, yield_on_timeout=True,
        rust_timeout=LOOK_AGAIN_MS, debounce=400,
    ):  # fmt: skip
        now = stamps(paths)
        names = sorted(n for n in now.keys() | seen.keys() if now.get(n) != seen.get(n))
        if names:
            seen = now
            check(names)


def stamps(paths: Sequence[Path]) -> Stamps:
    """When each file of the collection was last written, and its size."""
    from pipeline.intake import collection_root
    from pipeline.intake.collect import collection_files
    from pipeline.settings import Settings, load_settings

    try:
        settings = load_settings(collection_root(list(paths)))
    except SteelyardError:  # half-edited; the check says so
        settings = Settings()
    files = collection_files(list(paths), settings)
    return {name: stamp(path) for name, path in files.items()}
