"""What a snapshot is: one DuckDB file of checked composition data, never written again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.problems import Problem, failure

if TYPE_CHECKING:
    import duckdb

#: Raised whenever the tables of ``sql/snapshot_schema.sql`` change in a way readers notice.
SCHEMA_VERSION = 2


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A published snapshot.

    Attributes:
        snapshot_id: names the file and every result computed from it: ``sr28-2016-05-1f0a77c2``.
        path: the DuckDB file.
        source: the composition tables in it, preferred first, comma between.
        release: the preferred source's release, in its publisher's words.
        built_at: when it was built, UTC.
        just_built: this call built it (the first run on a machine, or after an update).
        notes: what the person must know of the choice: it stands in for another, or a broken file
            was set aside. Whoever opens a snapshot shows them.
    """

    snapshot_id: str
    path: Path
    source: str
    release: str
    built_at: datetime
    just_built: bool = False
    notes: tuple[Problem, ...] = ()

    @property
    def folder(self) -> Path:
        """Where the file lies, with its manifest and the result of its checks."""
        return self.path.parent

    def connect(self) -> duckdb.DuckDBPyConnection:
        """Open the file read-only; many readers may, in many processes.

        Raises:
            SteelyardError: it cannot be opened, though it was whole when the snapshot was chosen.
        """
        import duckdb

        try:
            con = duckdb.connect(str(self.path), read_only=True)
        except duckdb.Error as fault:
            said, of = str(fault).partition("\n")[0][:200], self.snapshot_id
            raise failure(
                "snapshot-broken/open", source=str(self.path), snapshot_id=of, said=said
            ) from fault
        con.execute("set enable_progress_bar = false")  # it would be drawn on standard output
        return con
