"""Files of a run's store as tables of SQL: read, written, and named by part."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from pipeline.bulk.store import Store
from pipeline.tables import PROBLEM, Table

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.problems import Problem


@contextmanager
def connection(work: Store, memory_mb: int, threads: int) -> Iterator[duckdb.DuckDBPyConnection]:
    """A DuckDB that stays small, spills beside the work, and reads the work's store."""
    import duckdb

    spill = tempfile.TemporaryDirectory(
        prefix=".spill-", dir=None if work.remote else work.root, ignore_cleanup_errors=True
    )
    with spill as folder, duckdb.connect(config={
        "threads": threads, "memory_limit": f"{memory_mb}MB", "temp_directory": folder,
        "enable_external_file_cache": False,  # what is read once need not be held
    }) as con:  # fmt: skip
        con.execute("set enable_progress_bar = false")
        if work.remote:
            import fsspec

            con.register_filesystem(fsspec.core.url_to_fs(work.root)[0])
        yield con


def table_at(work: Store, name: str, how: str = "") -> str:
    """A file (or a pattern) of the store as a table of SQL; ``how``: options of ``read_parquet``."""
    return f"read_parquet('{quoted(work.root)}/{quoted(name)}'{how and ', '}{how})"


def quoted(text: str) -> str:
    return text.replace("'", "''")


def write_query(
    con: duckdb.DuckDBPyConnection, work: Store, name: str, query: str, how: str = "",
    frame_out: pd.DataFrame | None = None,
) -> None:  # fmt: skip
    """Write what a query gives as one Parquet file, whole or not at all.

    A query may read ``frame_out``, which DuckDB finds by its name here.

    Results are packed tight; what only the run itself reads back is packed fast.
    """
    packed = "zstd" if name.startswith("results/") or work.remote else "snappy"
    own = (
        "use_tmp_file false"  # the path is a draft already, which a stopped run leaves to be swept
    )
    with work.writing(name) as path:
        con.execute(
            f"copy ({query}) to '{quoted(str(path))}'"
            f" (format parquet, {own}, compression {packed}{how})"
        )


def write_frame(
    con: duckdb.DuckDBPyConnection, work: Store, name: str, frame: pd.DataFrame, table: Table
) -> None:
    """Write a frame with the types of its table; missing is NULL."""
    write_query(con, work, name, f"select {table.casts()} from frame_out", frame_out=frame)


def part_name(table: str, part: int) -> str:
    """Name of a part's file of a table."""
    return f"{table}/part-{part:06d}.parquet"


def write_problems(
    con: duckdb.DuckDBPyConnection, work: Store, name: str, problems: list[Problem]
) -> None:
    from pipeline.problems import problems_frame

    write_frame(con, work, name, problems_frame(problems), PROBLEM)
