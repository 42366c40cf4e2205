"""The gate: a table is published only when no critical expectation breaks.

Great Expectations is imported inside the functions: it takes seconds, and only a build needs it.
"""

from __future__ import annotations

import contextlib
import csv
import json
import os
import threading
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.exit_codes import Exit
from pipeline.problems import Problem, SteelyardError
from pipeline.resources import data_path, sql

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
GRAM_COLUMNS = (
    "protein_g", "fat_g", "carbs_g", "fiber_g", "sugar_g", "satfat_g", "alcohol_g", "water_g",
)  # fmt: skip


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
        told = {"passed": self.passed, "checks": [asdict(c) for c in self.checks]}
        return json.dumps(told, indent=2) + "\n"


def _modules() -> tuple[Any, Any, Any]:
    """Great Expectations, its expectations and severities; no analytics, no progress bars."""
    os.environ.setdefault("GX_ANALYTICS_ENABLED", "false")
    import great_expectations as gx
    import great_expectations.expectations as gxe
    from great_expectations.expectations.metadata_types import FailureSeverity

    return gx, gxe, FailureSeverity


def warm_up() -> None:
    """Import the checker beside the loading: it takes seconds, and loading waits on the database.

    A failing import shows when the gate imports it again.
    """
    import pandas  # noqa: F401 - first and here, so that two threads never import it at once

    threading.Thread(target=_imported, name="gate-import", daemon=True).start()


def _imported() -> None:
    with contextlib.suppress(ImportError):
        _modules()


def _suite(name: str, expectations: list[Any]) -> gx.ExpectationSuite:
    import great_expectations

    return great_expectations.ExpectationSuite(name=name, expectations=expectations)


def food_suite(foods: tuple[int, int | None], *, whole: bool) -> gx.ExpectationSuite:
    """One row a food, amounts per 100 g. Row checks pass on an empty table, so count rows first.

    Args:
        foods: least and most rows expected; None for no upper bound.
        whole: the table reports energy for all foods (SR28), not most of them.
    """
    _, gxe, severity = _modules()
    warn = severity.WARNING
    between = gxe.ExpectColumnValuesToBeBetween
    # SR28 was read through before these were set; other tables get room for odd rows.
    each = 1.0 if whole else 0.99
    return _suite("food", [
        gxe.ExpectTableRowCountToBeBetween(
            min_value=1, description="there are foods to look at"),
        between(column="rows", min_value=foods[0], max_value=foods[1],
                description="as many foods as expected"),
        gxe.ExpectColumnValuesToNotBeNull(column="food_id", description="every food has an id"),
        gxe.ExpectColumnValuesToBeUnique(column="food_id", description="a food stands once"),
        gxe.ExpectColumnValuesToMatchRegex(
            column="food_id", regex=r"^[a-z0-9_]+:[A-Za-z0-9._-]+$",
            description="ids are source:code"),
        gxe.ExpectColumnValueLengthsToBeBetween(
            column="description", min_value=2, description="every food has a name"),
        # Foods without energy are loaded and marked incomplete; that most lack it is a wrong column.
        gxe.ExpectColumnValuesToNotBeNull(
            column="kcal", mostly=1.0 if whole else 0.5, description="energy is reported"),
        gxe.ExpectColumnValuesToNotBeNull(
            column="kcal", mostly=0.9, severity=warn, description="nine foods in ten report energy"),
        between(column="kcal", min_value=0, max_value=902, mostly=each,
                description="kcal per 100 g; pure fat has 902 at most"),
        *(between(column=c, min_value=0, max_value=100.05, mostly=each,
                  description="grams per 100 g") for c in GRAM_COLUMNS),
        between(column="sodium_mg", min_value=0, max_value=40_000, mostly=each,
                description="mg per 100 g; table salt has 38,758"),
        between(column="proximates_g", min_value=90, max_value=110, mostly=0.985,
                description="water, protein, fat, carbohydrate, ash, alcohol come to 90-110 g"),
        between(column="proximates_g", min_value=95, max_value=105, mostly=0.99, severity=warn,
                description="water, protein, fat, carbohydrate, ash, alcohol come to 95-105 g"),
        between(column="energy_gap_kcal", min_value=-5, max_value=5, mostly=0.98 if whole else 0.9,
                description="energy agrees within 5 kcal with the food's own Atwater factors"),
        between(column="energy_gap_kcal", min_value=-1, max_value=1, mostly=0.95, severity=warn,
                description="energy agrees within 1 kcal with the food's own Atwater factors"),
        between(column="general_gap_kcal", min_value=-150, max_value=150,
                mostly=0.97 if whole else 0.95, description="energy is within 150 kcal of 4-9-4-7"),
        between(column="satfat_over_fat_g", max_value=0.5, mostly=0.98,
                description="saturates within fat"),
        between(column="fiber_over_carbs_g", max_value=0.5, mostly=0.98,
                description="fibre within carbohydrate"),
        between(column="sugar_over_carbs_g", max_value=0.5, mostly=0.98, severity=warn,
                description="sugars within carbohydrate"),
    ])  # fmt: skip


def nutrient_suite(expected: dict[str, int]) -> gx.ExpectationSuite:
    """One row a tagname. ``expected`` names how many foods of a fixed release report it."""
    _, gxe, _ = _modules()
    exactly = gxe.ExpectColumnValuesToBeBetween
    needed = ["ENERC_KCAL", "PROCNT", "FAT", "CHOCDF"]
    return _suite("nutrient", [
        gxe.ExpectTableRowCountToBeBetween(
            min_value=max(4, len(expected)), description="as many nutrients as expected"),
        gxe.ExpectColumnDistinctValuesToContainSet(
            column="nutrient", value_set=sorted(expected) or needed,
            description="the nutrients the tool needs are there"),
        gxe.ExpectColumnValuesToBeUnique(column="nutrient", description="a tagname stands once"),
        gxe.ExpectColumnValuesToNotBeNull(column="unit", description="every nutrient has a unit"),
        *(exactly(column=c, min_value=0, max_value=0, description=says) for c, says in (
            ("repeated", "a food reports a nutrient once"),
            ("negative", "no amount is below zero"),
            ("not_finite", "every amount is a number"),
            ("of_no_food", "every amount belongs to a food"),
            ("off_expected", "the release's own number of amounts, none turned to zero or lost"),
        )),
    ])  # fmt: skip


def source_suite(least: int) -> gx.ExpectationSuite:
    """One row a source that gives household measures: columns of ``snapshot_gate_source.sql``."""
    _, gxe, _ = _modules()
    return _suite("source", [
        gxe.ExpectColumnValuesToBeBetween(
            column="measures", min_value=least, description="as many measures as expected"),
    ])  # fmt: skip


def measure_suite() -> gx.ExpectationSuite:
    """One row a household measure."""
    _, gxe, severity = _modules()
    return _suite("measure", [
        gxe.ExpectColumnValuesToBeUnique(
            column="measure_id", description="a measure stands once"),
        gxe.ExpectColumnValuesToBeBetween(
            column="grams", min_value=0, strict_min=True, max_value=50_000,
            description="a measure weighs something"),
        gxe.ExpectColumnValuesToBeBetween(
            column="amount", min_value=0, strict_min=True, max_value=10_000,
            description="a measure counts something"),
        gxe.ExpectColumnValuesToBeInSet(
            column="of_no_food", value_set=[False], description="a measure belongs to a food"),
        gxe.ExpectColumnValueLengthsToBeBetween(
            column="unit", min_value=1, description="a measure has a unit"),
        gxe.ExpectColumnValuesToBeBetween(
            column="mass_ratio", min_value=0.93, max_value=1.07, mostly=0.98,
            severity=severity.WARNING, description="an ounce weighs an ounce"),
    ])  # fmt: skip


#: How far the energy of a food may stand from that of the food whose place it takes, in per cent:
#: the tolerance for declared energy in the European Commission's guidance of 2012 (section 3.1).
KCAL_BAND_PCT = 20.0


def displaced_suite() -> gx.ExpectationSuite:
    """One row a food that takes another's place: columns of ``snapshot_gate_displaced.sql``."""
    _, gxe, severity = _modules()
    between = gxe.ExpectColumnValuesToBeBetween
    return _suite("displaced", [
        between(column="energy_lost", max_value=0,
                description="no food without energy takes the place of one that has it"),
        between(column="macros_lost", max_value=0,
                description="no food that lacks a macro takes the place of one that has it"),
        between(column="kcal_moved_pct", max_value=KCAL_BAND_PCT, mostly=0.75,
                description="three in four foods keep the energy of those they replace within 20 %"),
        between(column="kcal_moved_pct", max_value=KCAL_BAND_PCT, severity=severity.WARNING,
                description="every food keeps the energy of the one it replaces within 20 %"),
        between(column="measures_lost", max_value=0, severity=severity.WARNING,
                description="no food without household measures takes the place of one with some"),
    ])  # fmt: skip


def everyday_suite() -> gx.ExpectationSuite:
    """One row a line of ``shared/everyday_lines.csv``; see ``refresh/everyday.py``."""
    _, gxe, severity = _modules()
    between = gxe.ExpectColumnValuesToBeBetween
    checks = []
    for column, what in (("grams_ratio", "weigh"), ("kcal_ratio", "bring the energy")):
        checks += [
            between(column=column, min_value=1 / 1.5, max_value=1.5,
                    description=f"everyday lines {what} no half more or a third less than before"),
            between(column=column, min_value=1 / 1.2, max_value=1.2, severity=severity.WARNING,
                    description=f"everyday lines {what} they did within 20 %"),
        ]  # fmt: skip
    checks.append(
        between(column="lost", max_value=0, severity=severity.WARNING,
                description="every everyday line that had an answer has one")
    )  # fmt: skip
    return _suite("everyday", checks)


def drift_suite() -> gx.ExpectationSuite:
    """One row a nutrient, against the previous snapshot: columns of ``drift_nutrients.sql``."""
    _, gxe, severity = _modules()
    between = gxe.ExpectColumnValuesToBeBetween
    return _suite("drift", [
        between(column="amounts_ratio", min_value=0.8,
                description="no nutrient loses a fifth of its amounts"),
        between(column="median_ratio", min_value=0.8, max_value=1.25,
                description="amounts of foods in both releases do not move as a whole"),
        between(column="moved_share", max_value=0.5,
                description="less than half of the foods in both change by more than 25 %"),
        between(column="moved_share", max_value=0.1, severity=severity.WARNING,
                description="less than a tenth of the foods in both change by more than 25 %"),
    ])  # fmt: skip


def source_drift_suite() -> gx.ExpectationSuite:
    """One row a source of both snapshots: columns of ``drift_sources.sql``."""
    _, gxe, severity = _modules()
    between = gxe.ExpectColumnValuesToBeBetween
    return _suite("foods", [
        between(column="foods_ratio", min_value=0.8,
                description="no source loses a fifth of its foods"),
        between(column="shared_share", min_value=0.5,
                description="half of a source's foods keep their code at least"),
        between(column="foods_ratio", max_value=1.5, severity=severity.WARNING,
                description="no source grows by half"),
    ])  # fmt: skip


class _Gate:
    """Suites run one after the other in one context of Great Expectations, and its pages.

    The pages are made once, at the end: each making compiles every template anew.

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
                "class_name": "TupleFilesystemStoreBackend", "base_directory": str(self.docs)},
        })  # fmt: skip
        self.context.build_data_docs(site_names=["docs"])


def run_suite(frame: pd.DataFrame, suite: gx.ExpectationSuite, key: str) -> list[Check]:
    """Check one table by itself, without pages.

    Args:
        frame: the table.
        suite: what is expected of it.
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
            told = check.result or {}
            column = config.kwargs.get("column", "")
            values = told.get("partial_unexpected_index_list") or []
            shown = {
                name: told[name]
                for name in ("observed_value", "unexpected_count", "unexpected_percent")
                if told.get(name) is not None
            }
            yield Check(
                table=table,
                check=f"{config.type} {column}".strip(),
                says=config.description or "",
                severity=severity(config.severity).value,
                success=bool(check.success),
                found=str(raised.get("exception_message") or shown),
                rows=[f"{row.get(key)} ({column} {row.get(column)})" for row in values[:20]],
                unexpected=int(told.get("unexpected_count") or 0),
            )


def check_connection(
    con: duckdb.DuckDBPyConnection,
    *,
    docs: Path | None = None,
    previous: Path | None = None,
    expected: dict[str, int] | None = None,
) -> GateResult:
    """Run the gate over a snapshot's tables.

    Args:
        con: holds the tables of ``sql/snapshot_schema.sql``, filled.
        docs: where the pages of the result go; None for none.
        previous: the live snapshot's file, for checks against it.
        expected: amounts per tagname of a release that never changes; default: the embedded
            table's, when the snapshot holds nothing else.

    Returns:
        Every check with its outcome; ``passed`` says whether it may be published.
    """
    told = con.sql(
        "select source, foods from source where not reference order by preference"
    ).fetchall()
    embedded = [row[0] for row in told] == ["sr28"]
    if expected is None:
        expected = expected_amounts() if embedded else {}
    count = sum(int(row[1]) for row in told)
    one_in = max(1, round(count / ROW_LIMIT))
    food = con.execute(sql("snapshot_gate_food"), {"one_in": one_in}).df()
    nutrient = con.execute(sql("snapshot_gate_nutrient"), {"one_in": one_in}).df()
    wanted = nutrient["nutrient"].map(expected) if expected else nutrient["amounts"]
    nutrient["off_expected"] = (nutrient["amounts"] - wanted).fillna(nutrient["amounts"])
    measure = con.execute(sql("snapshot_gate_measure"), {"one_in": one_in}).df()
    food["rows"] = con.sql("select count(*) from food where not reference").fetchall()[0][0]
    source = con.execute(sql("snapshot_gate_source")).df()
    rows = (count, count if embedded else None)
    gate = _Gate(docs)
    checks = [
        *gate.run(food, food_suite(rows, whole=embedded), "food_id"),
        *gate.run(nutrient, nutrient_suite(expected), "nutrient"),
        *gate.run(source, source_suite(15_000 if embedded else 1), "source"),
        *gate.run(measure, measure_suite(), "measure_id"),
    ]
    displaced = con.execute(sql("snapshot_gate_displaced")).df()
    if len(displaced):
        checks += gate.run(displaced, displaced_suite(), "food_id")
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
    checks: list[Check] = []
    if len(sources):  # a source that is new has nothing to be held against
        checks += gate.run(sources, source_drift_suite(), "source")
    if len(nutrients):
        checks += gate.run(nutrients, drift_suite(), "nutrient")
    return checks


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
    raise SteelyardError(
        Problem(
            "snapshot-gate-failed",
            f'the nutrient table failed the check "{first.says}" ({first.table})',
            "; ".join(lines) + more + ". Nothing was published; what was live stays live",
            "look at the rows named; take another release, or report them to the publisher",
        ),
        exit_code=Exit.REFUSED,
    )
