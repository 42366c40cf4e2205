"""Every household measure of a snapshot: texts are read once each, SQL joins them back."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from pipeline.resources import shared_path, shared_rows
from pipeline.snapshot.measures import inner_volume, read_measure, size_of, unit_words
from pipeline.snapshot.sources import run_script, set_variables

if TYPE_CHECKING:
    import duckdb

#: Tables of ``shared/`` that hold measures; a change of one is a new snapshot.
SHARED_TABLES = ("count_weights.csv", "densities.csv", "measures_sr28.csv", "measures_words.csv")
#: ml in the cup of SR28: 8 fl oz of water weigh 237 g there.
CUP_ML = 236.5882365
_READ = ["amount", "unit", "qualifier", "size"]


def fill_measures(con: duckdb.DuckDBPyConnection) -> None:
    """Fill ``measure`` and ``density`` from ``measure_text`` and the shared tables."""
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
        read.append((
            text, counted, stated.amount, stated.unit, stated.qualifier, stated.size,
            inside and inside.amount, inside and inside.unit,
        ))  # fmt: skip
    columns = ["text", "counted", *_READ]
    con.register(
        "text_read",
        pd.DataFrame(read, columns=[*columns, "inner_amount", "inner_unit"]).astype(
            {"inner_amount": "float64", "inner_unit": "object"}
        ),
    )
    con.register("unknown", pd.DataFrame(unknown, columns=["text", "counted"]))
    con.register("described_read", pd.DataFrame(_by_name(con), columns=[*columns, "description"]))
    con.register("shared_read", _shared(con))
    run_script(con, "snapshot_measures")
    for name in ("text_read", "unknown", "described_read", "shared_read"):
        con.unregister(name)
    set_variables(con, densities_path=str(shared_path("densities.csv")))
    run_script(con, "snapshot_density")


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
            rows.append((
                text, counted, stated.amount, stated.unit, stated.qualifier, stated.size,
                description,
            ))  # fmt: skip
    return rows


def _number(text: str) -> float | None:
    return float(text) if text else None


def _shared_texts() -> Iterator[tuple[str, ...]]:
    """code, number, text, amount, grams, n, deviation, source, rank, size of the shared tables."""
    for row in shared_rows("count_weights.csv"):
        yield (
            row["ndb_no"], row["sr28_seq"], row["sr28_measure"], row["sr28_amount"],
            row["sr28_gram_weight"], row["n_weighed"], row["std_dev_g"], row["source"], "1",
            row["size"],
        )  # fmt: skip
    for row in shared_rows("measures_sr28.csv"):
        yield (
            row["ndb_no"], row["seq"], row["measure"], row["amount"], row["grams"], row["n"],
            row["sd_grams"], row["source"], "2", "",
        )  # fmt: skip
    for row in shared_rows("densities.csv"):
        if row["ndb_no"] and row["sr28_seq"]:
            amount = float(row["volume_ml"]) / CUP_ML
            yield (
                row["ndb_no"], row["sr28_seq"], row["sr28_measure"], f"{amount:.4g}",
                row["sr28_gram_weight"], "", "", row["source"], "3", "",
            )  # fmt: skip


def _shared(con: duckdb.DuckDBPyConnection) -> Any:
    import pandas as pd

    named = dict(
        con.sql(
            "select source_code, description from food where source in ('sr28', 'sr_legacy')"
        ).fetchall()
    )
    rows = []
    for code, seq, text, amount, grams, n, sd, source, rank, size in _shared_texts():
        # A row weighs `amount` of the unit together; its deviation is of that weight too.
        stated = read_measure(text, amount=float(amount), description=named.get(code, ""))
        if stated is None:
            continue
        spread = _number(sd)
        rows.append((
            code, int(seq) if seq else None, stated.amount, stated.unit, stated.qualifier,
            stated.size or size_of(size)[0], float(grams), _number(n),
            spread and spread / stated.amount, source, int(rank),
        ))  # fmt: skip
    return pd.DataFrame(
        rows,
        columns=["source_code", "seq", *_READ, "grams", "n", "sd_grams", "source", "rank"],
    ).astype({"seq": "Int64", "n": "Int64", "sd_grams": "float64"})
