"""The gate: a table is published only when no critical expectation breaks.

Great Expectations is imported inside the functions: it takes seconds, and only a build needs it.
"""

from __future__ import annotations

import contextlib
import csv
import importlib
import json
import os
import sys
import threading
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

from pipeline.problems import failure
from pipeline.resources import data_path, shared_rows, sql

if TYPE_CHECKING:
    import duckdb
    import great_expectations as gx
    import pandas as pd
    from great_expectations.checkpoint.checkpoint import CheckpointResult

#: Foods that the row checks look at; from longer tables one in so many is drawn, see the SQL.
ROW_LIMIT = 25_000
#: What DuckDB may hold in memory while building and checking; the rest spills to disk.
MEMORY_LIMIT = "1000MB"
_IDS = {"result_format": "SUMMARY", "unexpected_index_column_names": []}
#: Tagnames that every table has to report.
NEEDED = ("ENERC_KCAL", "PROCNT", "FAT", "CHOCDF")


@dataclass(frozen=True, slots=True)
class Check:
    """One expectation and what came of it.

    Attributes:
        table: what was looked at: ``food``, ``nutrient``, ``source``, ``measure``, ``displaced``,
            ``everyday``, ``foods`` or ``drift``.
        check: expectation and column, e.g. ``expect_column_values_to_be_unique food_id``.
        says: what it means, in words.
        severity: ``critical`` stops publication, ``warning`` is kept with the snapshot.
        found: the figures that broke it, or the error, as text.
        rows: ids of rows that broke it, the first of them.
        unexpected: how many rows broke it.
    """

    table: str
    check: str
    says: str
    severity: str
    success: bool
    found: str = ""
    rows: list[str] = field(default_factory=list)
    unexpected: int = 0


@dataclass(frozen=True, slots=True)
class GateResult:
    """Every check of one snapshot."""

    checks: list[Check]

    @property
    def passed(self) -> bool:
        """No critical check broke."""
        return not any(c.severity == "critical" and not c.success for c in self.checks)

    @property
    def broken(self) -> list[Check]:
        """What broke, critical first."""
        return sorted(
            (c for c in self.checks if not c.success), key=lambda c: c.severity != "critical"
        )

    def to_json(self) -> str:
        """As kept in ``checks.json``."""
        content = {"passed": self.passed, "checks": [asdict(c) for c in self.checks]}
        return json.dumps(content, indent=2) + "\n"


#: Libraries that Great Expectations imports for expectations which no suite here has: half of
#: its import time.
_UNUSED = ("altair", "scipy.stats")


class _Later(ModuleType):
    """Stands in for a library, and imports it when something of it is asked for after all."""

    def __getattr__(self, name: str) -> Any:
        if sys.modules.get(self.__name__) is self:
            del sys.modules[self.__name__]
        return getattr(importlib.import_module(self.__name__), name)


def _modules() -> tuple[Any, Any, Any]:
    """Great Expectations, its expectations and severities; no analytics, no progress bars."""
    os.environ.setdefault("GX_ANALYTICS_ENABLED", "false")
    first = "great_expectations" not in sys.modules
    later = {name: _Later(name) for name in _UNUSED if first and name not in sys.modules}
    sys.modules.update(later)
    try:
        import great_expectations as gx
        import great_expectations.expectations as gxe
        from great_expectations.expectations.metadata_types import FailureSeverity

        return gx, gxe, FailureSeverity
    finally:
        for name, module in later.items():
            if sys.modules.get(name) is module:
                del sys.modules[name]


def warm_up() -> None:
    """Import the checker beside the loading: it takes seconds, and loading waits on the database.

    A failing import shows when the gate imports it again.
    """
    import pandas  # noqa: F401 - first and here, so that two threads never import it at once

    threading.Thread(target=_imported, name="gate-import", daemon=True).start()


def _imported() -> None:
    with contextlib.suppress(ImportError):
        _modules()


#: Kind of a row of ``shared/table_checks.csv``: the expectation, and what else it is given.
_KINDS: dict[str, tuple[str, dict[str, Any]]] = {
    "rows": ("ExpectTableRowCountToBeBetween", {}),
    "between": ("ExpectColumnValuesToBeBetween", {}),
    "above": ("ExpectColumnValuesToBeBetween", {"strict_min": True}),
    "length": ("ExpectColumnValueLengthsToBeBetween", {}),
    "filled": ("ExpectColumnValuesToNotBeNull", {}),
    "unique": ("ExpectColumnValuesToBeUnique", {}),
    "false": ("ExpectColumnValuesToBeInSet", {"value_set": [False]}),
    "pattern": ("ExpectColumnValuesToMatchRegex", {}),
}


def suite(
    name: str,
    *,
    least: int | None = None,
    most: int | None = None,
    whole: bool = True,
    nutrients: Iterable[str] = (),
) -> gx.ExpectationSuite:
    """What is expected of one table: the rows of ``shared/table_checks.csv`` of that name.

    Row checks pass on an empty table, so a suite counts rows first.

    Args:
        name: ``food``, ``nutrient``, ``source``, ``measure``, ``displaced``, ``everyday``,
            ``drift`` or ``foods``; each has the columns of ``sql/*_gate_*.sql`` or ``drift_*.sql``.
        least, most: bounds that the file leaves open (``given``); None for no bound.
        whole: the table is read through and complete (SR28); others get room for odd rows.
        nutrients: tagnames that have to be there.
    """
    module, gxe, severity = _modules()
    bounds = {"least": least, "most": most}
    expected = []
    for row in shared_rows("table_checks.csv"):
        if row["suite"] != name:
            continue
        expectation, values = _KINDS[row["kind"]]
        values = {**values, "description": row["says"], "severity": severity(row["severity"])}
        if row["column"]:
            values["column"] = row["column"]
        if row["kind"] == "pattern":
            values["regex"] = row["least"]
        else:
            for side, option in (("least", "min_value"), ("most", "max_value")):
                given = row[side] == "given"
                if row[side]:
                    values[option] = bounds[side] if given else float(row[side])
        mostly = row["mostly"] if whole else row["mostly_other"] or row["mostly"]
        if mostly:
            values["mostly"] = float(mostly)
        expected.append(getattr(gxe, expectation)(**values))
    if nutrients:
        expected.append(
            gxe.ExpectColumnDistinctValuesToContainSet(
                column="nutrient", value_set=sorted(nutrients),
                description="the nutrients the tool needs are there",
            )
        )  # fmt: skip
    made: gx.ExpectationSuite = module.ExpectationSuite(name=name, expectations=expected)
    return made


class _Gate:
    """Suites run one after the other in one context of Great Expectations, and its pages.

    The pages are made once, at the end: each making compiles every template again.

    Args:
        docs: where the pages go; None for none.
    """

    def __init__(self, docs: Path | None) -> None:
        gx, _, self.severity = _modules()
        from great_expectations.data_context.types.base import ProgressBarsConfig

        self.docs = docs
        self.context = gx.get_context(mode="ephemeral")
        self.context.variables.progress_bars = ProgressBarsConfig(globally=False)
        self.frames = self.context.data_sources.add_pandas("snapshot")

    def run(self, frame: pd.DataFrame, suite: gx.ExpectationSuite, key: str) -> list[Check]:
        """Check one table; one checkpoint a table, since the id column holds for all of it."""
        gx, _, _ = _modules()
        asset = self.frames.add_dataframe_asset(suite.name)
        definition = self.context.validation_definitions.add(gx.ValidationDefinition(
            name=suite.name, data=asset.add_batch_definition_whole_dataframe("candidate"),
            suite=self.context.suites.add(suite),
        ))  # fmt: skip
        result = self.context.checkpoints.add(gx.Checkpoint(
            name=suite.name, validation_definitions=[definition], actions=[],
            result_format={**_IDS, "unexpected_index_column_names": [key]},
        )).run(batch_parameters={"dataframe": frame})  # fmt: skip
        return list(_checks(suite.name, key, self.severity, result))

    def write_docs(self) -> None:
        """Write the pages of every suite that was run."""
        if self.docs is None:
            return
        self.context.add_data_docs_site("docs", {
            "class_name": "SiteBuilder",
            "site_index_builder": {"class_name": "DefaultSiteIndexBuilder"},
            "store_backend": {
                "class_name": "TupleFilesystemStoreBackend", "base_directory": str(self.docs.absolute())},
        })  # fmt: skip
        self.context.build_data_docs(site_names=["docs"])


def run_suite(frame: pd.DataFrame, suite: gx.ExpectationSuite, key: str) -> list[Check]:
    """Check one table by itself, without pages.

    Args:
        key: the column that names a row.
    """
    return _Gate(None).run(frame, suite, key)


def _checks(table: str, key: str, severity: Any, result: CheckpointResult) -> Iterator[Check]:
    for run in result.run_results.values():
        for check in run.results:
            config = check.expectation_config
            if config is None:
                raise TypeError("a validation result without its expectation")
            raised = check.exception_info or {}
            if "raised_exception" not in raised:  # keyed by metric when a column is missing
                raised = next(iter(raised.values()), {})
            outcome = check.result or {}
            column = config.kwargs.get("column", "")
            values = outcome.get("partial_unexpected_index_list") or []
            shown = {
                name: outcome[name]
                for name in ("observed_value", "unexpected_count", "unexpected_percent")
                if outcome.get(name) is not None
            }
            yield Check(
                table=table,
                check=f"{config.type} {column}".strip(),
                says=config.description or "",
                severity=severity(config.severity).value,
                success=bool(check.success),
                found=str(raised.get("exception_message") or shown),
                rows=[f"{row.get(key)} ({column} {row.get(column)})" for row in values[:20]],
                unexpected=int(outcome.get("unexpected_count") or 0),
            )


def check_connection(
    con: duckdb.DuckDBPyConnection,
    *,
    docs: Path | None = None,
    previous: Path | None = None,
) -> GateResult:
    """Run the gate over a snapshot's tables.

    Args:
        con: holds the tables of ``sql/snapshot_schema.sql``, filled.
        docs: where the pages of the result go; None for none.
        previous: the live snapshot's file, for checks against it.

    Returns:
        Every check with its outcome; ``passed`` says whether it may be published.
    """
    sources = con.sql(
        "select source, foods from source where not reference order by preference"
    ).fetchall()
    embedded = [row[0] for row in sources] == ["sr28"]
    expected = expected_amounts() if embedded else {}  # of a release that never changes
    count = sum(int(row[1]) for row in sources)
    one_in = max(1, round(count / ROW_LIMIT))
    food = con.execute(sql("snapshot_gate_food"), {"one_in": one_in}).df()
    nutrient = con.execute(sql("snapshot_gate_nutrient"), {"one_in": one_in}).df()
    wanted = nutrient["nutrient"].map(expected) if expected else nutrient["amounts"]
    nutrient["off_expected"] = (nutrient["amounts"] - wanted).fillna(nutrient["amounts"])
    measure = con.execute(sql("snapshot_gate_measure"), {"one_in": one_in}).df()
    food["rows"] = con.sql("select count(*) from food where not reference").fetchall()[0][0]
    source = con.execute(sql("snapshot_gate_source")).df()
    gate = _Gate(docs)
    foods = suite("food", least=count, most=count if embedded else None, whole=embedded)
    named = suite("nutrient", least=max(4, len(expected)), nutrients=expected or NEEDED)
    checks = [
        *gate.run(food, foods, "food_id"),
        *gate.run(nutrient, named, "nutrient"),
        *gate.run(source, suite("source", least=15_000 if embedded else 1), "source"),
        *gate.run(measure, suite("measure"), "measure_id"),
    ]
    displaced = con.execute(sql("snapshot_gate_displaced")).df()
    if len(displaced):
        checks += gate.run(displaced, suite("displaced"), "food_id")
    if previous is not None:
        checks += _drift_checks(con, previous, gate, one_in)
    gate.write_docs()
    return GateResult(checks)


def _drift_checks(
    con: duckdb.DuckDBPyConnection, previous: Path, gate: _Gate, one_in: int
) -> list[Check]:
    con.execute(f"attach '{str(previous).replace(chr(39), chr(39) * 2)}' as before (read_only)")
    try:
        sources = con.execute(sql("drift_sources")).df()
        nutrients = con.execute(sql("drift_nutrients"), {"one_in": one_in}).df()
    finally:
        con.execute("detach before")
    # a source that is new has nothing to be held against
    tables = ((sources, "foods", "source"), (nutrients, "drift", "nutrient"))
    return [
        c for frame, name, key in tables if len(frame) for c in gate.run(frame, suite(name), key)
    ]


def expected_amounts() -> dict[str, int]:
    """Amounts per tagname of the embedded release, counted once and kept in git."""
    with (data_path("sr28") / "nutrients.csv").open(encoding="utf-8", newline="") as handle:
        found = {row["nutrient"]: int(row["amounts"]) for row in csv.DictReader(handle)}
    return {**found, "ALC": DERIVED_ALCOHOL_FOODS}


#: Foods of SR28 whose alcohol the build derives; see ``sql/snapshot_sr28.sql``.
DERIVED_ALCOHOL_FOODS = 71


def check_file(path: Path, *, docs: Path | None = None, previous: Path | None = None) -> GateResult:
    """Run the gate over a snapshot file; see :func:`check_connection`."""
    import duckdb

    with duckdb.connect(str(path), read_only=True) as con:
        con.execute(f"set memory_limit = '{MEMORY_LIMIT}'")
        con.execute("set enable_progress_bar = false")
        return check_connection(con, docs=docs, previous=previous)


def refuse_if_broken(result: GateResult) -> None:
    """Stop a publication.

    Raises:
        SteelyardError: a critical check broke; the problem names the checks and the rows.
    """
    critical = [c for c in result.broken if c.severity == "critical"]
    if not critical:
        return
    first = critical[0]
    lines = []
    for check in critical[:6]:
        rows = f"; first rows: {', '.join(check.rows[:5])}" if check.rows else ""
        lines.append(f"{check.table}: {check.says} [{check.check}] {check.found}{rows}")
    more = f"; and {len(critical) - 6} more" if len(critical) > 6 else ""
    raise failure(
        "snapshot-gate-failed", says=first.says, table=first.table, lines="; ".join(lines) + more
    )
