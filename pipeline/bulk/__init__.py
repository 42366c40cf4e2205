"""Collections of any size: the same stages over parts, in bounded memory, resumable, on all cores.

``verify_bulk`` cuts a collection into parts, reads every distinct line once, judges part by part
and writes partitioned Parquet. A part's rows go through the very functions of ``pipeline.verify``;
only what crosses parts is done here, by DuckDB out of core: ids used twice, lines that name another
recipe of the collection, and which texts are distinct.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pipeline.bulk.schedule import BulkSummary, verify_bulk
    from pipeline.bulk.source import should_stream

__all__ = ["BulkSummary", "should_stream", "verify_bulk"]


def __getattr__(name: str) -> Any:
    if name == "should_stream":  # asked by every run: costs no more than a look at the files
        from pipeline.bulk.source import should_stream

        return should_stream
    if name in {"verify_bulk", "BulkSummary"}:
        from pipeline.bulk import schedule

        return getattr(schedule, name)
    raise AttributeError(f"module 'pipeline.bulk' has no attribute {name!r}")
