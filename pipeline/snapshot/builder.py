"""From source files to a published snapshot: load, measure, check, publish."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.foods.vocabulary import SHARED_TABLES as FOOD_TABLES
from pipeline.resources import ROOT, shared_path
from pipeline.snapshot import home as homes
from pipeline.snapshot.measure_rows import SHARED_TABLES, fill_measures
from pipeline.snapshot.model import SCHEMA_VERSION, Snapshot
from pipeline.snapshot.sources import (
    Source,
    SourceFacts,
    Sr28,
    combined_sha256,
    run_script,
    set_variables,
)

if TYPE_CHECKING:
    import duckdb

    from pipeline.snapshot.gate import Check

#: Told what is being done and how much of it is done, 0 to 1.
Progress = Callable[[str, float], None]

#: Code whose change changes the tables.
_CODE = ("measures.py", "measure_rows.py", "food_profile.py")


def quiet(_what: str, _share: float) -> None:
    return None


def inputs_sha256(sources: Sequence[Source]) -> str:
    """Sum over everything a build of these sources reads; equal sums give equal tables."""
    here = Path(__file__).parent

    def parts() -> Iterator[bytes]:
        yield str(SCHEMA_VERSION).encode()
        for source in sources:
            facts = source.facts
            yield f"{facts.source} {facts.title} {facts.release} {facts.sha256}".encode()
            yield b"reference" if facts.reference else b"answers"
        for name in (*SHARED_TABLES, *FOOD_TABLES):
            yield shared_path(name).read_bytes()
        for path in sorted((ROOT / "sql").glob("*.sql")):
            if path.name.startswith(("snapshot_", "fdc_", "national_")):
                yield path.name.encode()
                yield path.read_bytes()
        for name in _CODE:
            yield (here / name).read_bytes()
        for path in sorted((here.parent / "foods").glob("*.py")):
            yield path.read_bytes()

    return combined_sha256(parts())


def load_tables(
    con: duckdb.DuckDBPyConnection, sources: Sequence[Source], progress: Progress = quiet
) -> list[SourceFacts]:
    """Create the tables in ``con`` and load the sources in order of preference.

    Raises:
        SteelyardError: a source's files are damaged or lack what is required.
    """
    run_script(con, "snapshot_schema")
    con.execute(
        "create temp table measure_text (food_id varchar, seq integer, text varchar, "
        "amount double, grams double, n integer, sd_grams double, source varchar, "
        "alone boolean default false)"
    )
    facts = []
    for place, source in enumerate(sources, start=1):
        progress(f"loading {source.facts.title}", (place - 1) / (len(sources) + 2))
        taken = con.sql("select coalesce(max(food_no), 0) from food").fetchall()[0][0]
        set_variables(con, food_base=taken)  # a source numbers its foods from here on
        facts.append(source.load(con, place))
        row = {k: v for k, v in asdict(facts[-1]).items() if k != "release_id"}
        con.execute(
            "insert into source values ($source, $preference, $title, $publisher, $release, "
            "$licence, $sha256, $url, $foods, $reference, $measures)",
            {"preference": place, **row},
        )
    # A later source may have taken the place of an incomplete food of an earlier one.
    con.execute(
        "update source set foods = (select count(*) from food "
        "where food.preference = source.preference)"
    )
    counted = dict(con.sql("select preference, foods from source").fetchall())
    facts = [replace(one, foods=counted[place]) for place, one in enumerate(facts, start=1)]
    from pipeline.snapshot.food_profile import fill_profiles

    progress("reading household measures", len(sources) / (len(sources) + 2))
    fill_measures(con)
    run_script(con, "snapshot_views")
    fill_profiles(con)
    return facts


def build(
    home: Path,
    sources: Sequence[Source],
    *,
    kind: str,
    recipe: dict[str, Any] | None = None,
    progress: Progress | None = None,
    previous: Path | None = None,
    also: Callable[[Path], list[Check]] | None = None,
    stands_in: tuple[str, str] = ("", ""),
) -> Snapshot:
    """Build, check and publish a snapshot. Hold the lock of ``home``.

    Args:
        sources: composition tables, preferred first; those of reference only come last.
        kind: ``embedded`` or ``refresh``.
        recipe: kept in the manifest for a later rebuild.
        progress: called with (what, share done).
        previous: the live snapshot's file, for checks against it; None for none.
        also: further checks of the gate, given the file that was built.
        stands_in: ``instead_of`` and ``why`` of ``home.point_to``.

    Raises:
        SteelyardError: a source is damaged, or a check failed; nothing is published.
    """
    from pipeline.snapshot import gate  # here: who opens a snapshot needs no gate

    tell = progress or quiet
    started = time.monotonic()
    gate.warm_up()
    inputs = inputs_sha256(sources)
    first = sources[0].facts
    if first.reference:
        raise ValueError("a snapshot needs a source whose foods may be answers")
    snapshot_id = homes.free_id(home, f"{first.source}-{first.release_id}-{inputs[:8]}")
    folder = homes.building_dir(home, snapshot_id)
    path = folder / homes.FILE_NAME
    built_at = datetime.now(UTC).replace(microsecond=0)
    facts = _write_file(path, sources, snapshot_id, inputs, built_at, tell)
    tell("checking the tables", len(sources) / (len(sources) + 1))
    result = gate.check_file(path, previous=previous)
    if also is not None:
        result = gate.GateResult([*result.checks, *also(path)])
    (folder / "checks.json").write_text(result.to_json(), encoding="utf-8")
    gate.refuse_if_broken(result)
    tell("publishing", 1.0)
    return homes.publish(
        home,
        folder,
        homes.Manifest(
            snapshot_id=snapshot_id,
            kind=kind,
            source=", ".join(f.source for f in facts if not f.reference),
            release=facts[0].release,
            built_at=built_at.isoformat(),
            schema_version=SCHEMA_VERSION,
            input_sha256=inputs,
            source_sha256=facts[0].sha256,
            sources=[asdict(f) for f in facts],
            recipe=recipe or {},
            seconds=round(time.monotonic() - started, 3),
            foods=sum(f.foods for f in facts if not f.reference),
        ),
        stands_in,
    )


def _write_file(
    path: Path,
    sources: Sequence[Source],
    snapshot_id: str,
    inputs: str,
    built_at: datetime,
    tell: Progress,
) -> list[SourceFacts]:
    import duckdb

    from pipeline.snapshot.gate import MEMORY_LIMIT

    spill = path.parent / "spill"
    limits = {"memory_limit": MEMORY_LIMIT, "temp_directory": str(spill)}
    con = duckdb.connect(str(path), config={**limits, "preserve_insertion_order": False})
    try:
        con.execute("set enable_progress_bar = false")  # it would be drawn on standard output
        facts = load_tables(con, sources, tell)
        first, answers = facts[0], ", ".join(f.source for f in facts if not f.reference)
        row = [snapshot_id, answers, first.release, built_at.replace(tzinfo=None), first.sha256]
        con.execute(
            "insert into snapshot values (?, ?, ?, ?, ?, ?, ?)", [*row, SCHEMA_VERSION, inputs]
        )
        con.execute("checkpoint")
    finally:
        con.close()
        shutil.rmtree(spill, ignore_errors=True)
    return facts


def build_embedded(
    home: Path, progress: Progress | None = None, recipe: dict[str, Any] | None = None,
    stands_in: tuple[str, str] = ("", ""),
) -> Snapshot:  # fmt: skip
    """Build and publish the table that travels with the program. Hold the lock.

    Args:
        progress: called with (what, share done).
        recipe: of the tables that this one stands in for, so that a refresh brings them back.
        stands_in: ``instead_of`` and ``why`` of ``home.point_to``.
    """
    recipe = recipe or {"sources": ["sr28"]}
    return build(
        home, [Sr28()], kind="embedded", recipe=recipe, progress=progress, stands_in=stands_in
    )
