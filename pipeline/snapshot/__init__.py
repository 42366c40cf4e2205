"""The nutrient snapshot: build, check, publish, open, roll back.

``open_snapshot`` is what other stages call. Importing this package costs nothing heavy: DuckDB,
pandas and Great Expectations are imported when something is opened or built.
"""

from __future__ import annotations

from pipeline.snapshot.manage import (
    build,
    check,
    facts_of,
    list_snapshots,
    live,
    named,
    open_snapshot,
    prune,
    rollback,
    show,
    use,
)
from pipeline.snapshot.model import SCHEMA_VERSION, Snapshot
from pipeline.snapshot.names import SourceNames, source_names

__all__ = [
    "SCHEMA_VERSION", "Snapshot", "SourceNames", "build", "check", "facts_of", "list_snapshots",
    "live", "named", "open_snapshot", "prune", "rollback", "show",
    "source_names", "use",
]  # fmt: skip
