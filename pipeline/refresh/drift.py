"""What a new table does to published numbers: foods, totals, verdicts, remembered answers.

The collection is verified under both snapshots; everything that is compared is compared in SQL,
``sql/drift_*.sql``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd

from pipeline.memory import load_decisions
from pipeline.problems import failure
from pipeline.refresh.drift_model import DECISIONS, FOODS, LINES, Drift
from pipeline.refresh.drift_page import drift_page
from pipeline.report import write
from pipeline.report.frames import records
from pipeline.report.words import PER, nutrient_word, plural, verdict_word
from pipeline.resources import sql
from pipeline.run import Result, verify
from pipeline.snapshot import home as homes
from pipeline.snapshot.manage import live, named, readable
from pipeline.snapshot.model import Snapshot
from pipeline.snapshot.names import source_names

#: Relative changes below this are rounding, not drift.
LEAST = 0.0005
#: The tables, and whether they ask for ``LEAST``.
_TABLES = {"foods": True, "recipes": True, "lines": False, "decisions": False}


def drift(
    paths: Sequence[str | Path],
    *,
    from_: str = "",
    to: str = "",
    home: Path | None = None,
    progress: Callable[[str, int, int], None] | None = None,
    **options: Any,
) -> Drift:
    """Hold a collection against two snapshots.

    Args:
        paths: the collection, as for ``verify``.
        from_: id of the earlier snapshot; default the one that was live before.
        to: id of the later one; default the live one.
        options: passed on to ``verify``: settings, profile, pantry, decisions.

    Raises:
        SteelyardError: a snapshot is not there, or was built by another version.
    """
    place = homes.home_dir(home)
    after = named(to, place) if to else live(place)
    before = named(from_, place) if from_ else _before(place, after)
    for snapshot in (before, after):
        readable(place, snapshot.snapshot_id, "choose another one: steelyard snapshot list")
    counts: dict[str, Any] = {**options, **({"progress": progress} if progress else {})}
    was = verify(list(paths), snapshot=before, **counts)
    now = verify(list(paths), snapshot=after, **counts)
    with duckdb.connect() as con:
        con.execute("set enable_progress_bar = false")
        attach(con, before, after)
        _register(con, was, now, options.get("decisions"))
        found = {
            name: con.execute(sql(f"drift_{name}"), {"least": LEAST} if least else None).df()
            for name, least in _TABLES.items()
        }
    _name_sources(found, before, after)
    return Drift(before, after, **found, recipes_read=len(now.recipes), now=now)


def _name_sources(found: dict[str, pd.DataFrame], before: Snapshot, after: Snapshot) -> None:
    """Say of every food which table it comes from, and bring the columns into their order."""
    old, new = source_names(before), source_names(after)
    foods, lines, decisions = found["foods"], found["lines"], found["decisions"]
    foods["food_source"] = [
        (old if state == "vanished" else new).of(food_id)
        for food_id, state in zip(foods["food_id"], foods["state"], strict=True)
    ]
    lines["source_before"] = old.column(lines["food_before"])
    lines["source_after"] = new.column(lines["food_after"])
    decisions["food_source"] = old.column(decisions["food_id"])
    found["foods"], found["lines"] = foods[FOODS], lines[LINES]
    found["decisions"] = decisions[DECISIONS]


def attach(con: duckdb.DuckDBPyConnection, before: Snapshot, after: Snapshot) -> None:
    """Attach two snapshots, read-only, as ``before`` and ``after``."""
    for name, snapshot in (("before", before), ("after", after)):
        path = str(snapshot.path).replace("'", "''")
        con.execute(f"attach '{path}' as {name} (read_only)")


def _before(place: Path, after: Snapshot) -> Snapshot:
    previous = homes.pointer(place).previous
    if previous and previous != after.snapshot_id and homes.manifest(place, previous):
        return named(previous, place)
    older = [m for m in homes.manifests(place) if m.snapshot_id != after.snapshot_id]
    if not older:
        raise failure("drift-one-snapshot", live=after.snapshot_id)
    return named(older[0].snapshot_id, place)


def _register(
    con: duckdb.DuckDBPyConnection, was: Result, now: Result, decisions: Path | None
) -> None:
    for name, result in (("before", was), ("after", now)):
        con.register(f"total_{name}", _totals(result))
        con.register(f"verdict_{name}", _verdicts(result))
        con.register(f"line_{name}", result.lines[
            ["recipe_id", "line_no", "text", "food_id", "description", "grams"]])  # fmt: skip
    con.execute(
        "create temp table used as select food_id, count(distinct text) as lines, "
        "count(distinct recipe_id) as recipes from (from line_before union from line_after) "
        "where food_id is not null group by food_id"
    )
    answers, _ = load_decisions(decisions or now.collection.decisions_path)
    con.register(
        "decided",
        pd.DataFrame(
            [(d.text, d.food_id, d.applies_to) for d in answers.rows],
            columns=["text", "food_id", "applies_to"],
        ).astype("object"),
    )


def _totals(result: Result) -> pd.DataFrame:
    columns = [c for c in result.recipes.columns if c.endswith("_computed")]
    long = result.recipes.melt(
        id_vars=["recipe_id", "title", "source", "basis"], value_vars=columns,
        var_name="nutrient", value_name="computed",
    )  # fmt: skip
    long["nutrient"] = long["nutrient"].str.removesuffix("_computed")
    return long


def _verdicts(result: Result) -> pd.DataFrame:
    whole = result.recipes[["recipe_id", "verdict"]].assign(nutrient="")
    return pd.concat([whole, result.findings[["recipe_id", "nutrient", "verdict"]]])


def write_drift(found: Drift, out: Path) -> list[Path]:
    """Write ``drift_foods.csv``, ``drift_recipes.csv``, ``drift_lines.csv``,
    ``drift_decisions.csv`` and the page ``drift.html`` into ``out``, and the report on the later
    table, to which the page leads."""
    if found.now is not None:
        write(found.now, out, formats=["html"])
    out.mkdir(parents=True, exist_ok=True)
    written = []
    for name in _TABLES:
        path = out / f"drift_{name}.csv"
        getattr(found, name).to_csv(path, index=False)
        written.append(path)
    page = out / "drift.html"
    page.write_text(drift_page(found), encoding="utf-8")
    return [*written, page]


def say(found: Drift) -> list[str]:
    """The drift in plain lines, the weightiest first; one line when nothing moved."""
    counts = found.summary()
    if found.nothing:
        return [
            f"Nothing that the collection ({plural(counts['recipes'], 'recipe')}) uses changed between "
            f"{counts['before']} and {counts['after']}."
        ]
    lines = [
        f"{counts['before']} to {counts['after']}: {plural(counts['foods_changed'], 'food')} in use"
        f" changed, {counts['recipes_moved']:,} of {plural(counts['recipes'], 'recipe')} moved, "
        f"{plural(counts['verdicts_flipped'], 'verdict')} flipped"
    ]
    for row in found.flips.head(20).to_dict("records"):
        what = f"{nutrient_word(row['nutrient'])} " if row["nutrient"] else ""
        was, now = (verdict_word(row[f"verdict_{t}"]) or "none" for t in ("before", "after"))
        lines.append(f"  {row['title']}: {what}{was} → {now}")
    moved = found.recipes[(found.recipes["nutrient"] == "kcal") & found.recipes["change"].notna()]
    moved = moved[moved["before"].round() != moved["after"].round()]  # else it is shown alike
    moved = moved.assign(per=moved["basis"].map(PER))
    kcal = "  {title}: {before:,.0f} → {after:,.0f} kcal {per} ({change_pct:+.1f} %)"
    lost = (
        '  the answer about "{text}" points to {food_id} ({description}, {food_source}),'
        " which the new table lacks"
    )
    lines += [kcal.format(**row) for row in records(moved.head(20))]
    return lines + [lost.format(**row) for row in records(found.decisions)]
