"""Every household measure of a snapshot: texts are read once each, SQL joins them back."""

from __future__ import annotations

from dataclasses import astuple
from typing import TYPE_CHECKING, Any

from pipeline.snapshot.measures import inner_volume, read_measure, unit_words
from pipeline.snapshot.sources import run_script

if TYPE_CHECKING:
    import duckdb

#: Tables of ``shared/`` that the reading of measures needs; a change of one is a new snapshot.
SHARED_TABLES = ("measures_words.csv",)
_READ = ["amount", "unit", "qualifier", "size"]


def fill_measures(con: duckdb.DuckDBPyConnection) -> None:
    """Fill ``measure`` from ``measure_text``."""
    import pandas as pd

    texts = con.sql(
        "select distinct text, amount is not null as counted from measure_text order by all"
    ).fetchall()
    known = set(unit_words().values()) | {"lb_raw"}
    read, unknown = [], []
    for text, counted in texts:
        stated = read_measure(text, amount=1.0 if counted else None)
        if stated is None:
            continue
        if stated.unit not in known:
            unknown.append((text, counted))
        inside = inner_volume(stated)
        within = (inside.amount, inside.unit) if inside is not None else (None, None)
        read.append((text, counted, *astuple(stated), *within))
    columns = ["text", "counted", *_READ]
    con.register(
        "text_read",
        pd.DataFrame(read, columns=[*columns, "inner_amount", "inner_unit"]).astype(
            {"inner_amount": "float64", "inner_unit": "object"}
        ),
    )
    con.register("unknown", pd.DataFrame(unknown, columns=["text", "counted"]))
    con.register("described_read", pd.DataFrame(_by_name(con), columns=[*columns, "description"]))
    run_script(con, "snapshot_measures")
    for name in ("text_read", "unknown", "described_read"):
        con.unregister(name)


def _by_name(con: duckdb.DuckDBPyConnection) -> list[tuple[Any, ...]]:
    """Texts whose words only the food's name explains: "1 pepper" of "Peppers, sweet"."""
    pairs = con.sql(
        "select distinct measure_text.text, unknown.counted, food.description "
        "from measure_text join food using (food_id) join unknown "
        "on unknown.text = measure_text.text "
        "and unknown.counted = (measure_text.amount is not null) "
        "where not coalesce(measure_text.alone, false) order by all"
    ).fetchall()
    rows = []
    for text, counted, description in pairs:
        stated = read_measure(text, amount=1.0 if counted else None, description=description)
        if stated is not None:
            rows.append((text, counted, *astuple(stated), description))
    return rows
