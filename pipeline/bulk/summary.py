"""The end of a bulk run: counts, the largest discrepancies, the report, merged CSV files."""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.bulk.files import table_at
from pipeline.bulk.store import Store
from pipeline.resources import sql

if TYPE_CHECKING:
    import duckdb

    from pipeline.report.paged import About

#: Rows of the lists on the overview.
MOST_BIGGEST, MOST_REVIEW = 200, 100


def summarise(
    con: duckdb.DuckDBPyConnection, work: Store, facts: dict[str, Any],
    figures: list[dict[str, Any]],
) -> dict[str, Any]:  # fmt: skip
    """Write ``summary.json``.

    Args:
        work: results stand in its folder ``results``.
        facts: parts, texts, settings, snapshot, release, sources.
        figures: of every part, as ``judge_part`` gives them.

    Returns:
        The fields of a ``BulkSummary`` that say what was found.
    """
    from pipeline.tables import VERDICTS

    verdicts = {v: sum(f["verdicts"][v] for f in figures) for v in VERDICTS}
    found: dict[str, Any] = {
        "recipes": sum(verdicts.values()),
        "lines": sum(f["rows"]["lines"] for f in figures),
        "texts": facts["texts"],
        "parts": facts["parts"],
        "verdicts": verdicts,
        "accepted": {v: sum(f["accepted"][v] for f in figures) for v in VERDICTS},
        "problems": _problems(con, work),
        "biggest": _rows(con, work, "bulk_biggest", most=MOST_BIGGEST) if figures else [],
        "review": _rows(con, work, "bulk_review", most=MOST_REVIEW) if figures else [],
    }
    slips = _rows(con, work, "bulk_slips") if figures else []
    more = {
        "explanations": {row["kind"]: row["recipes"] for row in slips},
        **{k: facts[k] for k in ("settings", "snapshot", "release", "sources")},
    }
    text = json.dumps({**found, **more}, indent=1, ensure_ascii=False, allow_nan=False)
    work.write_text("results/summary.json", text + "\n")
    return found


def _problems(con: duckdb.DuckDBPyConnection, work: Store) -> dict[str, int]:
    rows = con.execute(
        f"select code, count(*) from {table_at(work, 'results/problems/*.parquet')}"
        " group by code order by count(*) desc, code"
    ).fetchall()
    return {str(code): int(n) for code, n in rows}


def _rows(
    con: duckdb.DuckDBPyConnection, work: Store, query: str, **params: Any
) -> list[dict[str, Any]]:
    text = sql(query)
    for name in ("recipes", "findings", "explanations", "to_review", "lines"):
        text = text.replace(f"${name}", table_at(work, f"results/{name}/*.parquet"))
    result = con.execute(text, params or None)
    names = [d[0] for d in result.description or ()]
    return [dict(zip(names, row, strict=True)) for row in result.fetchall()]


def report(con: duckdb.DuckDBPyConnection, work: Store, about: About) -> None:
    """The report of a large collection among the results, from the tables of every part.

    Args:
        work: results and rows for the pages stand in its folders ``results`` and ``pages``.
        about: what holds for the whole run.
    """
    from pipeline.report.page_rows import PAGE_ROWS
    from pipeline.report.paged import no_rows, write_paged
    from pipeline.report.tables import LAYOUT

    places = {
        **{name: f"results/{name}" for name in LAYOUT},
        **{name: f"pages/{name}" for name in PAGE_ROWS},
    }
    at = {
        name: _whole(work, place) if work.names(place) else no_rows(name)
        for name, place in places.items()
    }
    if not work.remote:
        write_paged(con, at, about, work.path("results"))
        return
    with tempfile.TemporaryDirectory(prefix="steelyard-") as name:
        folder = Path(name)
        write_paged(con, at, about, folder)
        for made in (p for p in folder.rglob("*") if p.is_file()):
            with work.writing(f"results/{made.relative_to(folder).as_posix()}") as path:
                shutil.move(made, path)


def _whole(work: Store, folder: str) -> str:
    """All parts of a table, whichever columns each has, as SQL."""
    return table_at(work, f"{folder}/*.parquet", "union_by_name = true")


def merged_csv(con: duckdb.DuckDBPyConnection, work: Store) -> None:
    """Each table as one CSV file, cells written as ``report.data_files`` says."""
    from pipeline.report.data_files import csv_query
    from pipeline.report.tables import LAYOUT

    for name in LAYOUT:
        if not work.names(f"results/{name}"):
            continue
        at = _whole(work, f"results/{name}")
        described = con.execute(f"describe select * from {at}").fetchall()
        kinds = {str(column): _kind(str(dtype)) for column, dtype, *_ in described}
        with work.writing(f"results/{name}.csv") as path:
            target = str(path).replace("'", "''")
            con.execute(
                f"copy ({csv_query(kinds, at)}) to '{target}'"
                " (format csv, header true, delimiter ',', quote '\"')"
            )


def _kind(dtype: str) -> Any:
    return {"DOUBLE": "float", "BIGINT": "int", "BOOLEAN": "bool"}.get(dtype, "text")
