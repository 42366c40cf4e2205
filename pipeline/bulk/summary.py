"""The end of a bulk run: counts, the largest discrepancies, an overview page, merged CSV files."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from pipeline.bulk.steps import table_at
from pipeline.bulk.store import Store
from pipeline.resources import sql

if TYPE_CHECKING:
    import duckdb

#: Rows of the lists on the overview.
MOST_BIGGEST, MOST_REVIEW = 200, 100


def summarise(
    con: duckdb.DuckDBPyConnection, work: Store, facts: dict[str, Any],
    figures: list[dict[str, Any]],
) -> dict[str, Any]:  # fmt: skip
    """Write ``summary.json`` and ``overview.html``.

    Args:
        con: a connection that reads the store.
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
    work.write_text("results/overview.html", overview({**found, **more}))
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


def overview(found: dict[str, Any]) -> str:
    """One page that stands alone: no script, no outside file, every text escaped."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    from pipeline.report import words

    env = Environment(
        loader=PackageLoader("pipeline.bulk", "templates"), autoescape=True,
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    env.filters["number"] = _number
    env.filters["plural"] = words.plural
    return env.get_template("overview.html.j2").render(
        **found, verdict_words=words.VERDICT, kind_words=words.KIND, cautions=words.CAUTIONS,
        nutrient_word=words.nutrient_word,
    )  # fmt: skip


def _number(value: float | None) -> str:
    if value is None:
        return "–"
    return f"{value:,.0f}" if abs(value) >= 100 or value == round(value) else f"{value:,.1f}"


def merged_csv(con: duckdb.DuckDBPyConnection, work: Store) -> None:
    """Each table as one CSV file, cells written as ``report.data_files`` says."""
    from pipeline.report.data_files import csv_query
    from pipeline.report.tables import LAYOUT

    for name in LAYOUT:
        if not work.names(f"results/{name}"):
            continue
        at = table_at(work, f"results/{name}/*.parquet")
        at = at.replace("')", "', union_by_name = true)")
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
