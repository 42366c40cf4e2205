"""The bulk run: cut, read, join, judge, part by part, and put in force when all is there."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, field
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.bulk import folder
from pipeline.bulk.across import across_parts, distinct_texts, texts_of_parts
from pipeline.bulk.cutting import Part, cut
from pipeline.bulk.files import connection, part_name, table_at, write_problems, write_query
from pipeline.bulk.pool import get_ready
from pipeline.bulk.pool import workers as the_workers
from pipeline.bulk.source import PART_FILES, SMALL_BYTES, Sources, find_sources
from pipeline.bulk.steps import Workers
from pipeline.bulk.store import Store, is_url
from pipeline.bulk.tasks import (
    CONVENTION,
    SNAPSHOT_FILES,
    Job,
    join_parts,
    judge_part,
    read_part,
    read_texts,
)
from pipeline.kept import collecting_seldom
from pipeline.problems import Problem, SteelyardError, input_problem
from pipeline.progress import Clock, Progress, no_progress
from pipeline.resources import ROOT
from pipeline.settings import Settings

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    import duckdb

    from pipeline.memory import Pantry
    from pipeline.report.paged import About
    from pipeline.snapshot import Snapshot

#: Recipes a part; a part also ends at so many lines, whichever comes first.
PART_RECIPES = 3_200
#: Parts joined in one go, and into how many groups a very large run is put at most.
GROUP, MOST_GROUPS = 8, 32


@dataclass(frozen=True, slots=True)
class BulkSummary:
    """What a bulk run found; the tables are in ``folder`` as partitioned Parquet.

    Attributes:
        folder: results in force: ``recipes/part-*.parquet`` and so on, ``summary.json``,
            ``report.html`` with its data; a URL when the run worked on a remote store.
        recipes, lines, texts: how many there were; ``texts`` counts distinct lines.
        parts: how many parts the tables have.
        verdicts: recipes by verdict, every verdict named.
        accepted: those of them whose difference is accepted.
        problems: faults of the input by code, commonest first.
        biggest: the largest discrepancies: recipe_id, title, verdict, nutrient, stated, computed,
            explanation.
        review: lines whose answer settles most: text, lines, kcal, why.
        seconds: by step; of this call, so a resumed run counts only what was left to do.
        resumed_parts: parts that were found done.
    """

    folder: str
    recipes: int
    lines: int
    texts: int
    parts: int
    verdicts: dict[str, int]
    accepted: dict[str, int]
    problems: dict[str, int]
    biggest: list[dict[str, Any]]
    review: list[dict[str, Any]]
    seconds: dict[str, float] = field(default_factory=dict)
    resumed_parts: int = 0


@collecting_seldom()
def verify_bulk(
    paths: Sequence[str | Path] | str | Path,
    out: str | Path,
    *,
    settings: Settings | None = None,
    profile: str | None = None,
    pantry: Path | None = None,
    decisions: Path | None = None,
    snapshot: Snapshot | None = None,
    part_recipes: int = PART_RECIPES,
    workers: int | None = None,
    resume: bool = False,
    cluster: str = "",
    csv: bool = False,
    small_bytes: int | None = None,
    progress: Progress = no_progress,
) -> BulkSummary:
    """Check a collection of any size, part by part, in bounded memory.

    Args:
        paths: files and folders, as ``pipeline.verify`` takes them; large CSV, Parquet and
            JSON-lines files are streamed. Standard input is not read.
        out: folder for the results, which appear in ``out/bulk`` when all is done; or a URL that
            fsspec knows, for a cluster.
        settings, profile, pantry, decisions, snapshot: as for ``pipeline.verify``.
        part_recipes: recipes a part; part of what makes two runs the same.
        workers: processes; one a core unless given. Does not change any result.
        resume: go on with a run that was stopped; finished steps are not done again.
        cluster: scheduler of a Dask cluster, or ``local``; "" for processes of this machine.
        csv: also write each table as one CSV file.
        small_bytes: tables up to this size are read whole; for tests.
        progress: called as the work goes on, the text with rate and time left.

    Returns:
        A ``BulkSummary``. The files hold the same bytes for the same input, settings and snapshot,
        however many workers there were and however often the run was stopped and resumed.

    Raises:
        SteelyardError: the settings cannot be used, another run holds ``out``, the disk is full,
            or ``resume`` was asked for after the input or the settings changed.
    """
    clock = _Clock(progress)
    get_ready(workers, cluster)
    plan = _plan(paths, settings, profile, pantry, decisions, snapshot, part_recipes, small_bytes,
                 progress)  # fmt: skip
    clock.lap("looking at the files")
    if is_url(out):
        return _run(plan, Store(str(out).rstrip("/")), None, workers, resume, cluster, csv, clock)
    place = Path(out)
    with folder.held(place), _disk_faults(place):
        work = Store(str((place / folder.WORK).absolute()))
        return _run(plan, work, place, workers, resume, cluster, csv, clock)


@contextlib.contextmanager
def _disk_faults(out: Path) -> Iterator[None]:
    """Report a full or failing disk as a problem of the output folder."""
    from pipeline.report.folder import cannot_write

    try:
        yield
    except SteelyardError:
        raise
    except Exception as fault:
        if not folder.is_io(fault):
            raise
        raise cannot_write(out, fault) from fault


# --- what is to be done ----------------------------------------------------------------------------


@dataclass(slots=True)
class _Plan:
    """Everything that decides the outcome."""

    found: Sources
    problems: list[Problem]
    settings: Settings
    snapshot: Snapshot
    pantry: Path | None
    decisions: Path | None
    part_recipes: int
    root: Path
    is_whole: bool

    def manifest(self) -> dict[str, Any]:
        """What two runs have to share for their parts to fit together."""
        return {
            "format": 1,
            "sources": [s.as_json() for s in self.found.sources],
            "settings": asdict(self.settings),
            "pantry": _content(self.pantry),
            "decisions": _content(self.decisions),
            "snapshot": self.snapshot.snapshot_id,
            "program": program_digest(),
            "part_recipes": self.part_recipes,
        }


def _content(path: Path | None) -> str:
    if path is None or not path.is_file():
        return ""
    return hashlib.blake2b(path.read_bytes(), digest_size=16).hexdigest()


@cache
def program_digest() -> str:
    """Digest of the code and tables in use: an update in between makes results of another kind."""
    import pipeline

    made = hashlib.blake2b(pipeline.__version__.encode(), digest_size=16)
    package = Path(pipeline.__file__).parent
    for place in (package, ROOT / "sql", ROOT / "shared"):
        for path in sorted(place.rglob("*")):
            if path.suffix in (".py", ".sql", ".csv", ".json", ".toml") and path.is_file():
                made.update(str(path.relative_to(place)).encode() + b"\0" + path.read_bytes())
    return made.hexdigest()


def _plan(
    paths: Sequence[str | Path] | str | Path, settings: Settings | None, profile: str | None,
    pantry: Path | None, decisions: Path | None, snapshot: Snapshot | None, part_recipes: int,
    small_bytes: int | None, progress: Progress,
) -> _Plan:  # fmt: skip
    from pipeline.intake import collection_root
    from pipeline.intake.collect import companion
    from pipeline.intake.files import find_files
    from pipeline.intake.spoken.cards import pairs
    from pipeline.memory import load_decisions, load_pantry
    from pipeline.run import is_whole, run_settings
    from pipeline.settings import FILE_NAME, unused_percent
    from pipeline.snapshot import open_snapshot

    given = [paths] if isinstance(paths, (str, Path)) else list(paths)
    root = collection_root(given)
    settings = run_settings(root, settings, profile)
    if part_recipes < 1:
        raise ValueError(f"part_recipes is {part_recipes}; at least 1")
    progress("looking at the files", 0, 1)
    own, own_problem = companion(root, settings.pantry, "pantry.csv", "pantry")
    said, said_problem = companion(root, settings.decisions, "decisions.csv", "decisions")
    skip = frozenset(p for p in (own, said, root / FILE_NAME) if p is not None)
    files = find_files(given, follow_links=settings.follow_links, skip=skip)
    problems = [p for p in (own_problem, said_problem) if p is not None] + files.problems
    if files.stdin:
        raise SteelyardError(input_problem("stdin-in-bulk"))
    small = {} if small_bytes is None else {"small": small_bytes}
    heads = [cards or file for file, cards in pairs(files.files)]  # cards stand for their script
    found = find_sources(heads, root, batch=min(part_recipes, PART_FILES), **small)
    plan = _Plan(
        found, problems, settings,
        snapshot or open_snapshot(progress=lambda t, s: progress(t, int(100 * s), 100)),
        pantry or own, decisions or said, part_recipes, root,
        decisions is None and is_whole(given),
    )  # fmt: skip
    foods, pantry_problems = load_pantry(plan.pantry)
    answers, decision_problems = load_decisions(plan.decisions)
    _, unknown = answers.with_foods(_foods(plan.snapshot, foods))
    plan.problems += [
        *plan.snapshot.notes, *pantry_problems, *decision_problems, *unknown,
        *unused_percent(settings), *found.problems,
    ]  # fmt: skip
    return plan


def _foods(snapshot: Snapshot, pantry: Pantry) -> Callable[[str], bool]:
    """Whether a table or the pantry has a food."""

    @cache
    def of_tables() -> frozenset[str]:
        with snapshot.connect() as con:
            return frozenset(str(i) for (i,) in con.execute("select food_id from food").fetchall())

    return lambda food_id: food_id in pantry.by_id or food_id in of_tables()


# --- doing it ----------------------------------------------------------------------------------------


class _Clock(Clock):
    """Seconds by step, and progress with rate and time left."""

    def __init__(self, progress: Progress) -> None:
        super().__init__()
        self._progress = progress

    def meter(self, stage: str, unit: str, total: int) -> Callable[[int], None]:
        """A function that takes how many units are done."""
        done, began = 0, time.monotonic()
        self._progress(stage, 0, total)

        def tell(more: int) -> None:
            nonlocal done
            done += more
            rate = done / max(time.monotonic() - began, 1e-6)
            left = max(0.0, total - done) / max(rate, 1e-6)
            words = f"{stage}, {rate:,.0f} {unit}/s, {_duration(left)} left"
            self._progress(words, min(done, total), total)

        return tell

    def say(self, stage: str) -> None:
        """A step without parts begins."""
        self._progress(stage, 0, 1)


def _duration(seconds: float) -> str:
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


def _run(
    plan: _Plan, work: Store, out: Path | None, count: int | None, resume: bool, cluster: str,
    csv: bool, clock: _Clock,
) -> BulkSummary:  # fmt: skip
    from pipeline.bulk.across import untouched
    from pipeline.bulk.summary import merged_csv, report, summarise
    from pipeline.memory import load_decisions

    manifest = plan.manifest()
    finished = _finished(work, out, manifest) if resume else None
    if finished is not None:
        return finished
    _begin(work, manifest, resume)
    job = _job(plan, work)
    with the_workers(count, cluster) as team:
        threads = min(team.count, os.cpu_count() or 1)  # workers of a cluster are elsewhere
        memory = max(job.memory_mb, 256) * max(threads, 2) // 2  # a scan has buffers a thread
        database = partial(connection, work, memory, threads)
        if plan.found.bytes > SMALL_BYTES:  # else there is hardly work for all of them
            team.prepare(job)
        parts, texts, recipes = _read(team, database, job, plan, clock)
        resumed = _judge(team, job, [p for _, p, _, _ in parts], recipes, clock)
    # the workers have given their memory back, and every stretch of the report reads all tables
    with connection(work, 2 * memory, threads) as con:
        clock.say("summing up")
        if plan.is_whole:
            plan.problems += untouched(con, work, load_decisions(plan.decisions)[0], plan.settings)
        _input_problems(con, work, plan, len(parts))
        facts = {"parts": len(parts), "texts": texts, "settings": asdict(plan.settings),
                 "snapshot": plan.snapshot.snapshot_id, "release": plan.snapshot.release,
                 "sources": len(plan.found.sources)}  # fmt: skip
        figures = [json.loads(work.read_text(_done(p))) for _, p, _, _ in parts]
        found = summarise(con, work, facts, figures)
        clock.say("writing the report")
        report(con, work, _about(plan, work))
        if csv:
            merged_csv(con, work)
    work.write_text("results/manifest.json", _text(manifest))
    place = f"{work.root}/results"
    if out is not None:
        place = str(folder.publish(out, work.path("results")))
        work.remove()
    clock.lap("summing up")
    return BulkSummary(folder=place, seconds=clock.laps, resumed_parts=resumed, **found)


def _read(
    team: Workers, database: Callable[[], AbstractContextManager[duckdb.DuckDBPyConnection]],
    job: Job, plan: _Plan, clock: _Clock,
) -> tuple[list[Part], int, dict[int, int]]:  # fmt: skip
    """From files to lines with their foods and grams, part by part.

    Args:
        database: opened for what crosses the parts, and closed while the workers are busy.

    Returns:
        The parts, how many distinct texts they hold, and the recipes of each part by its number.
    """
    work = job.work
    with database() as con:
        parts = cut(con, work, plan.found.sources, plan.part_recipes)
    clock.lap("cutting into parts")
    _each(
        team, read_part, job, [p[:3] for p in parts],
        [part_name("in/problem", p) for _, p, _, _ in parts],
        clock.meter("reading files", "lines", sum(n for *_, n in parts)),
    )  # fmt: skip
    clock.lap("intake")
    clock.say("finding distinct lines")
    with database() as con:
        chunks, texts = distinct_texts(con, work)
    clock.lap("finding distinct lines")
    _read_chunks(team, job, chunks, texts, clock)
    with database() as con:
        more, of_parts = texts_of_parts(con, work, chunks)
    _read_chunks(team, job, more, of_parts, clock)
    clock.lap("lines, match, weigh")
    with ThreadPoolExecutor(1) as beside:  # neither reads what the other writes
        crossing = beside.submit(_across, database, work)
        groups = _groups(len(parts))
        _each(
            team, join_parts, job, groups, [f"joined/group-{g:04d}.done" for g, _, _ in groups],
            clock.meter("joining", "parts", len(parts)),
        )  # fmt: skip
        recipes = crossing.result()
    clock.lap("joining")
    return parts, texts + of_parts, recipes


def _across(
    database: Callable[[], AbstractContextManager[duckdb.DuckDBPyConnection]], work: Store
) -> dict[int, int]:
    """Settle what crosses the parts; the recipes of each part by its number."""
    with database() as con:
        across_parts(con, work)
        return _recipes_of_parts(con, work)


def _read_chunks(team: Workers, job: Job, chunks: list[int], texts: int, clock: _Clock) -> None:
    """Read chunks that hold so many texts."""
    _each(
        team, read_texts, job, chunks, [part_name("read/matched", c) for c in chunks],
        clock.meter("reading lines", "distinct lines", texts),
    )  # fmt: skip


def _judge(
    team: Workers, job: Job, parts: list[int], recipes: dict[int, int], clock: _Clock
) -> int:
    """Judge every part; how many were done already.

    Args:
        parts: their numbers.
        recipes: how many each part has.
    """
    there = _there(job.work, [_done(part) for part in parts])
    left = [part for part in parts if _done(part) not in there]
    tell = clock.meter("adding up and judging", "recipes", sum(recipes.values()))
    while left:
        for figures in team.run(judge_part, job, left):
            if figures is not None:
                left = [part for part in left if part != figures["part"]]
                tell(recipes.get(figures["part"], 0))
    clock.lap("compute, reconcile")
    return len(there)


def _done(part: int) -> str:
    """The file that says that a part is judged, with its figures."""
    return f"done/part-{part:06d}.json"


def _about(plan: _Plan, work: Store) -> About:
    from pipeline.compute.convention import TABLE, Convention
    from pipeline.report.paged import About
    from pipeline.snapshot import facts_of

    told = TABLE
    if work.exists(CONVENTION):
        told = Convention(**json.loads(work.read_text(CONVENTION)))
    return About(plan.settings, told, facts_of(plan.snapshot), plan.root)


def _text(manifest: dict[str, Any]) -> str:
    return json.dumps(manifest, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def _finished(work: Store, out: Path | None, manifest: dict[str, Any]) -> BulkSummary | None:
    """The summary of a run that had ended already, when nothing has changed since."""
    results = Store(f"{work.root}/results") if out is None else Store(str(out / folder.RESULTS))
    if (out is not None and work.exists("manifest.json")) or not results.exists("manifest.json"):
        return None
    if json.loads(results.read_text("manifest.json")) != json.loads(_text(manifest)):
        return None
    found = json.loads(results.read_text("summary.json"))
    fields = (
        "recipes", "lines", "texts", "parts", "verdicts", "accepted", "problems", "biggest", "review",
    )  # fmt: skip
    return BulkSummary(
        folder=results.root, resumed_parts=found["parts"], **{f: found[f] for f in fields}
    )


def _begin(work: Store, manifest: dict[str, Any], resume: bool) -> None:
    """Make or take over the work folder.

    Raises:
        SteelyardError: the work there belongs to another input, other settings or another version.
    """
    try:
        before = json.loads(work.read_text("manifest.json")) if work.exists("manifest.json") else {}
    except (OSError, ValueError):
        before = {}
    if not resume or not before:
        work.remove()
        if not work.remote:
            Path(work.root).mkdir(parents=True, exist_ok=True)
        work.write_text("manifest.json", _text(manifest))
        return
    now = json.loads(_text(manifest))
    changed = sorted(k for k in {*now, *before} if now.get(k) != before.get(k))
    if changed:
        words = {"sources": "the input files", "program": "the program or its tables",
                 "snapshot": "the nutrient table", "part_recipes": "the size of the parts"}  # fmt: skip
        what = ", ".join(words.get(k, f"the {k}") for k in changed)
        raise SteelyardError(
            Problem(
                "resume-changed",
                f"the stopped run cannot be resumed: {what} changed since",
                "parts made before and after would not fit together; the finished parts are kept",
                "put back what was, or start again without --resume",
                source=work.root,
            )
        )
    if not work.remote:
        for left in Path(work.root).rglob(".*"):  # half-written files of the run that was stopped
            with contextlib.suppress(OSError):
                shutil.rmtree(left) if left.is_dir() else left.unlink()


def _job(plan: _Plan, work: Store) -> Job:
    """Put into the store what workers need, and say it."""
    names = {"pantry": plan.pantry, "decisions": plan.decisions}
    told: dict[str, str] = {}
    for name, path in names.items():
        if path is None or not path.is_file():
            continue
        told[name] = f"{name}{path.suffix}"
        with work.writing(told[name]) as target:
            shutil.copyfile(path, target)
    rows = [{**s.as_json(), "paths": s.paths} for s in plan.found.sources]
    work.write_text("sources.json", json.dumps(rows, ensure_ascii=False))
    snapshot = plan.snapshot
    place = str(snapshot.path.absolute())
    if work.remote:
        place = ""
        for name in SNAPSHOT_FILES:
            if not work.exists(f"snapshot/{name}"):
                with work.writing(f"snapshot/{name}") as target:
                    shutil.copyfile(snapshot.folder / name, target)
    return Job(
        work, json.dumps(asdict(plan.settings)), snapshot.snapshot_id, place,
        (snapshot.source, snapshot.release, snapshot.built_at.isoformat()),
        told.get("pantry", ""), told.get("decisions", ""),
    )  # fmt: skip


def _each(
    team: Workers, step: Any, job: Job, items: Sequence[Any], outcomes: Sequence[str],
    tell: Callable[[int], None],
) -> None:  # fmt: skip
    """Do a step for every item whose outcome is not there yet."""
    there = _there(job.work, outcomes)
    left = [item for item, name in zip(items, outcomes, strict=True) if name not in there]
    for lines in team.run(step, job, left):
        tell(int(lines))


def _there(work: Store, names: Sequence[str]) -> set[str]:
    found: set[str] = set()
    for place in {name.rpartition("/")[0] for name in names}:
        found.update(work.names(place))
    return found


def _groups(parts: int) -> list[tuple[int, int, int]]:
    size = max(min(GROUP, -(-parts // 2)), -(-parts // MOST_GROUPS), 1)
    starts = range(0, parts, size)
    return [(n, start, min(start + size, parts)) for n, start in enumerate(starts)]


def _recipes_of_parts(con: duckdb.DuckDBPyConnection, work: Store) -> dict[int, int]:
    if not work.names("in/recipe"):
        return {}
    found = con.execute(
        "select recipe_id[1:6]::integer, count(*) from"
        f" {table_at(work, 'in/recipe/*.parquet')} group by all"
    ).fetchall()
    return {int(p): int(n) for p, n in found}


def _input_problems(con: duckdb.DuckDBPyConnection, work: Store, plan: _Plan, parts: int) -> None:
    """Faults of the input that belong to no part, as one file more of the table of problems."""
    write_problems(con, work, "in/found.parquet", plan.problems)
    write_query(
        con, work, part_name("results/problems", parts),
        f"select * from {table_at(work, 'in/found.parquet')} union all"
        f" select * from {table_at(work, 'in/cut.parquet')}",
    )  # fmt: skip
