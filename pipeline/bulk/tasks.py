"""The steps of a bulk run that workers do; each is a function of a ``Job`` and a small item.

A step reads files of the job's store, writes files of the store, and returns a few numbers. It is
done when its last file is there, so it may be repeated at any time, on any machine, with the same
bytes as the outcome.
"""

from __future__ import annotations

import atexit
import ctypes
import json
import shutil
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.bulk.across import lines_query
from pipeline.bulk.files import connection, part_name, quoted, table_at, write_frame, write_query
from pipeline.bulk.part_tables import PartTables
from pipeline.bulk.store import Store
from pipeline.compute.convention import Convention
from pipeline.resources import sql
from pipeline.snapshot.model import Snapshot
from pipeline.tables import (
    LINE,
    MATCHED,
    PART,
    PROBLEM,
    READING,
    RECIPE,
    RUNNER_UP,
    STATED,
    WEIGHED,
)  # fmt: skip

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.bulk.source import Source
    from pipeline.intake.model import Read
    from pipeline.memory import Decisions
    from pipeline.problems import Problem
    from pipeline.reading import Tools

#: Of energy and carbohydrate, for all parts; and how many seconds it is waited for.
CONVENTION, PATIENCE = "convention.json", 10.0
#: What makes a snapshot; in the store of a run they lie in a folder ``snapshot``.
SNAPSHOT_FILES = ("snapshot.duckdb", "manifest.json")
#: Answers of the matcher kept between chunks, some 10 kB each; beyond it they are forgotten. Texts
#: of like words stand together, so few of them are asked for again.
KEPT_ANSWERS = 4_000
#: Texts of which the words are kept between chunks, some 0.4 kB each.
KEPT_WORDS = 50_000


@dataclass(frozen=True, slots=True)
class Job:
    """What every step of a run needs to know; small, and picklable.

    Attributes:
        work: store of the run's files.
        settings: ``Settings`` as JSON.
        snapshot_id, snapshot_path: the nutrient table; ``snapshot_path`` is "" where a worker has
            to fetch it from the store.
        snapshot_facts: source, release and time of building.
        pantry, decisions: names in the store, "" when there are none.
        memory_mb: what DuckDB may hold in one worker before it goes to disk.
    """

    work: Store
    settings: str
    snapshot_id: str
    snapshot_path: str
    snapshot_facts: tuple[str, str, str]
    pantry: str = ""
    decisions: str = ""
    memory_mb: int = 256


class _OneThread(Snapshot):
    """A snapshot read by one thread in little memory: the workers share the machine."""

    __slots__ = ()

    def connect(self) -> duckdb.DuckDBPyConnection:
        con = Snapshot.connect(self)
        con.execute("set threads = 1")
        return con


#: By job; a worker serves one run at a time, so there is one at most.
_loaded: dict[Job, _Loaded] = {}
_loaded_lock = threading.RLock()


class _Loaded:
    """What one worker process loads once for a job."""

    def __init__(self, job: Job) -> None:
        from pipeline.settings import checked

        self.job = job
        self.settings = checked(json.loads(job.settings))
        self._tools: Tools | None = None
        self._decisions: Decisions | None = None
        self._sources: list[Source] | None = None
        self._open = ExitStack()
        self._mine = ExitStack()
        self._con: duckdb.DuckDBPyConnection | None = None

    def cursor(self) -> duckdb.DuckDBPyConnection:
        """A cursor of the worker's database; its temporary tables end with it."""
        if self._con is None:
            self._con = self._mine.enter_context(connection(self.job.work, self.job.memory_mb, 1))
        return self._con.cursor()

    def give_back(self, *, database: bool) -> None:
        """Return memory that a step has freed; a database keeps its own until it is closed."""
        if database:
            self._mine.close()
            self._con = None
        with suppress(AttributeError, OSError, TypeError):  # a C library of another kind
            ctypes.CDLL(None).malloc_trim(0)

    def close(self) -> None:
        """Close the databases."""
        self._mine.close()
        self._open.close()

    @property
    def tools(self) -> Tools:
        if self._tools is None:
            from pipeline.memory import load_pantry
            from pipeline.reading import load_tools

            job, own = self.job, ([name] if (name := self.job.pantry) else [])
            snapshot = _snapshot(job)
            self._open.enter_context(snapshot.connect())  # while one is open, others cost nothing
            with job.work.reading(*own) as mine:
                pantry, _ = load_pantry(mine[0] if mine else None)
            self._tools = load_tools(
                snapshot, pantry=pantry, decisions=self.decisions, settings=self.settings
            )
        return self._tools

    @property
    def decisions(self) -> Decisions:
        if self._decisions is None:
            from pipeline.memory import load_decisions

            answers = [self.job.decisions] if self.job.decisions else []
            with self.job.work.reading(*answers) as said:
                self._decisions, _ = load_decisions(said[0] if said else None)
        return self._decisions

    @property
    def sources(self) -> list[Source]:
        if self._sources is None:
            from pipeline.bulk.source import Source

            rows = json.loads(self.job.work.read_text("sources.json"))
            self._sources = [Source.from_json(row) for row in rows]
        return self._sources


def _snapshot(job: Job) -> Snapshot:
    source, release, built_at = job.snapshot_facts
    path = Path(job.snapshot_path)
    if not job.snapshot_path or not path.is_file():
        path = _fetched_snapshot(job.work, job.snapshot_id)
    return _OneThread(job.snapshot_id, path, source, release, datetime.fromisoformat(built_at))


@cache
def _fetched_snapshot(work: Store, snapshot_id: str) -> Path:
    """The snapshot brought to this worker, once; in a folder of its own that ends with it."""
    home = Path(tempfile.mkdtemp(prefix="steelyard-"))
    atexit.register(shutil.rmtree, home, ignore_errors=True)
    folder = home / "snapshots" / snapshot_id
    folder.mkdir(parents=True)
    for name in SNAPSHOT_FILES:
        with work.reading(f"snapshot/{name}") as (copy,):
            shutil.copyfile(copy, folder / name)
    return folder / SNAPSHOT_FILES[0]


@contextmanager
def _at(job: Job, *, large: bool = False) -> Iterator[tuple[_Loaded, duckdb.DuckDBPyConnection]]:
    """What this process has loaded for a job, and a database; one step at a time uses them.

    Args:
        large: the step fills the database.
    """
    with _loaded_lock:
        loaded = _loaded.get(job)
        if loaded is None:
            forget_jobs()
            loaded = _loaded[job] = _Loaded(job)
        with loaded.cursor() as con:
            con.execute("set enable_progress_bar = false")
            yield loaded, con
        loaded.give_back(database=large)


def load(job: Job) -> None:
    """Load what lines are read with, ahead of the first of them."""
    with _at(job) as (loaded, _):
        loaded.tools  # noqa: B018


def forget_jobs() -> None:
    """Let go of what this process has loaded for a run."""
    with _loaded_lock:
        for loaded in _loaded.values():
            loaded.close()
        _loaded.clear()


# --- intake of a part ------------------------------------------------------------------------

_RECIPE = RECIPE.plus(wanted="varchar", place="varchar", title_key="varchar", portion="varchar")


def read_part(job: Job, item: tuple[int, int, int]) -> int:
    """Intake of one part: its rows or files become recipe, stated, line and problem files.

    Recipes carry a key of this run as ``recipe_id``; the id they want is in ``wanted``.

    Args:
        item: number of the source, number of the part, place of its first recipe in the source.

    Returns:
        How many lines were read.
    """
    from pipeline.intake.numbers_apart import join
    from pipeline.match.titles import portion_of
    from pipeline.problems import problems_frame
    from pipeline.reading import title_keys

    number, part, first = item
    with _at(job) as (loaded, con):
        source = loaded.sources[number]
        problems: list[Problem] = []
        building = _part_building(loaded.settings.creator, part)
        if source.kind == "files":
            reads = list(_read_files(source, job))
            join(reads)
            for name, read in reads:
                problems.extend(read.problems)
                building.add(name, read, problems)
        else:
            read = _read_rows(con, job, source, number, part)
            for raw in read.recipes:
                raw.position += first
            problems.extend(read.problems)
            building.add(source.source, read, problems)
        recipe, stated, line = building.frames()
        recipe["wanted"] = building.wanted
        recipe["place"] = building.places
        recipe["title_key"] = title_keys(recipe["title"])
        recipe["portion"] = recipe["serving_word"].map(portion_of)
        write = ((recipe, "recipe", _RECIPE), (stated, "stated", STATED),
                 (line, "line", LINE),
                 (READING.frame(building.readings), "reading", READING),
                 (problems_frame(problems), "problem", PROBLEM))  # fmt: skip
        for frame, table, types in write:
            write_frame(con, job.work, part_name(f"in/{table}", part), _clean(frame), types)
        return len(line)


def _clean(frame: pd.DataFrame) -> pd.DataFrame:
    """Texts that UTF-8 can hold."""
    from pipeline.report.tables import writable

    texts = {c: frame[c].tolist() for c in frame.columns if frame[c].dtype in ("object", "str")}
    changed: dict[str, Any] = {
        c: whole for c, given in texts.items() if (whole := writable(given)) is not given
    }
    return frame.assign(**changed) if changed else frame


def _part_building(creator: str, part: int) -> Any:
    from pipeline.intake.building import STDIN, STDIN_ID, Building
    from pipeline.intake.model import RawRecipe

    class PartBuilding(Building):
        """Gathers recipes under keys of the run; ids are settled when all parts are known."""

        def __init__(self) -> None:
            super().__init__(creator)
            self.wanted: list[str] = []
            self.places: list[str] = []

        def _id(self, raw: RawRecipe, source: str, problems: list[Problem]) -> str:
            base = STDIN_ID if source == STDIN else source
            named = base if raw.position == 0 else f"{base}#{raw.position + 1}"
            self.wanted.append(raw.own_id or named)
            self.places.append(source if raw.source_line is None else f"{source}:{raw.source_line}")
            return f"{part:06d}-{len(self.wanted):07d}"

    return PartBuilding()


def _read_files(source: Source, job: Job) -> Iterator[tuple[str, Read]]:
    from pipeline.intake.files import SourceFile
    from pipeline.intake.reading import read_file
    from pipeline.intake.spoken.composition import weighed_by

    snapshot = _snapshot(job)
    for path, name, named in zip(source.paths, source.sources, source.named, strict=True):
        with weighed_by(snapshot):
            read = read_file(SourceFile(Path(path), name, named))
        yield name, read


def _read_rows(
    con: duckdb.DuckDBPyConnection, job: Job, source: Source, number: int, part: int
) -> Read:
    from pipeline.intake.tables.table import read_columns, read_rows

    columns = ", ".join(f"c{at}" for at in range(len(source.columns)))
    rows = con.execute(  # in their order: ``sql/bulk_cut_*.sql`` wrote them so
        f"select source_line, {columns} from {table_at(job.work, f'rows/{number:04d}.parquet')}"
        " where part = $part",
        {"part": part},
    )
    if source.kind == "parquet":
        typed = [row[1:] for row in rows.fetchall()]
        return read_rows(source.columns, typed, format="parquet")
    found: list[list[Any]] = [column.tolist() for column in rows.fetchnumpy().values()]
    if source.kind == "jsonl":
        return _read_json_lines(list(zip(*found, strict=True)))
    return read_columns(source.columns, found[1:], found[0], format="csv")


def _read_json_lines(rows: Sequence[tuple[int, str | None]]) -> Read:
    from pipeline.intake.model import Read, cut
    from pipeline.intake.structured.documents import JsonRefusedError, loads, recipes_of
    from pipeline.problems import Problem, input_problem

    read = Read(found="JSON")
    for at, text in rows:
        if text is None or not text.strip():
            continue
        try:
            found = recipes_of(loads(text), None, position=len(read.recipes))
        except JsonRefusedError as fault:
            read.problems.append(
                Problem(fault.code, fault.what.replace("the file", "the line"),
                        "the line was not read", fault.fix, source_line=at, text=cut(text[:500]))
            )  # fmt: skip
            continue
        except (RecursionError, MemoryError):
            read.problems.append(input_problem("json-too-deep/line", source_line=at))
            continue
        if not found:
            read.problems.append(
                input_problem("no-recipe/line", source_line=at, text=cut(text[:200]))
            )
        for raw in found:
            _place(raw, at)
        read.recipes.extend(found)
    return read


def _place(raw: Any, line: int) -> None:
    """Everything of a recipe written on one line stands on that line of the file."""
    raw.source_line = line
    for one in (*raw.lines, *raw.stated):
        one.source_line = line
    raw.problems = [replace(p, source_line=line) for p in raw.problems]


# --- reading distinct lines --------------------------------------------------------------------


def read_texts(job: Job, chunk: int) -> int:
    """Parse, match and weigh one chunk of distinct texts.

    Returns:
        How many texts there were.
    """
    from pipeline.reading import SAID, read_table

    with _at(job) as (loaded, con):
        tools = loaded.tools
        at = table_at(job.work, part_name("texts", chunk))
        known = MATCHED.plus(WEIGHED, SAID)
        texts = [row[0] for row in con.execute(f"select text from {at}").fetchall()]
        read, runners, parts = read_table(texts, tools)
        write_frame(con, job.work, part_name("read/part", chunk), parts, PART)
        write_frame(con, job.work, part_name("read/runner", chunk), runners, RUNNER_UP)
        write_frame(con, job.work, part_name("read/matched", chunk), read, known)
        if len(tools.matcher._seen) > KEPT_ANSWERS:
            _forget(tools)
        return len(texts)


def _forget(tools: Tools) -> None:
    """Drop what is remembered of texts, so that a worker's memory does not grow with the run."""
    from pipeline.dish import opens, states
    from pipeline.foods.words import words
    from pipeline.lines.grammar import forget
    from pipeline.lines.remarks import remarks_on
    from pipeline.lines.use_words import use_words

    tools.matcher.forget()
    forget()
    for kept in (remarks_on, use_words, opens.amount_of, states.stem_of):
        kept.cache_clear()
    if words.cache_info().currsize > KEPT_WORDS:
        words.cache_clear()


# --- joining back --------------------------------------------------------------------------------


def join_parts(job: Job, item: tuple[int, int, int]) -> int:
    """Lines of some parts with what was read of their texts, one file per part.

    Args:
        item: number of the group, its first part, the part after its last.
    """
    group, first, end = item
    work = job.work
    parts = range(first, end)
    with _at(job, large=True) as (_, con):
        lines = ", ".join(f"'{quoted(work.root)}/{part_name('in/line', p)}'" for p in parts)
        written = lines_query(work, f"read_parquet([{lines}])")
        query = sql("bulk_join").replace("$lines", written)
        query = query.replace("$matched", table_at(work, "read/matched/*.parquet"))
        con.execute(f"create temp table joined as {query}")
        runner = sql("bulk_runner").replace("$runner", table_at(work, "read/runner/*.parquet"))
        con.execute(f"create temp table runner as {runner}")
        for part in parts:
            where = f"where part = {part}"
            write_query(
                con, work, part_name("joined/runner", part),
                f"select * exclude (part) from runner {where} order by text, rank",
            )  # fmt: skip
            write_query(
                con, work, part_name("joined/line", part),
                f"select * exclude (part) from joined {where}"
                " order by recipe_id, coalesce(part_of, line_no), line_no",
            )  # fmt: skip
    work.write_text(f"joined/group-{group:04d}.done", f"{first} {end}\n")
    return end - first


# --- judging a part --------------------------------------------------------------------------------


def judge_part(job: Job, part: int) -> dict[str, Any] | None:
    """Totals, verdicts, explanations and the rest for one part, written as result files.

    Returns:
        The part's figures, also kept as ``done/part-NNNNNN.json``; None when the first part has not
        settled the convention of all in ``PATIENCE``, and this one is to be judged later.
    """
    from pipeline.report.data_files import write_parquet
    from pipeline.report.page_rows import page_rows
    from pipeline.report.tables import LAYOUT, tables
    from pipeline.run import frames_together, judge_read

    work = job.work
    with _at(job) as (loaded, con):
        _forget(
            loaded.tools
        )  # nothing is matched any more, and few texts stand in another part too
        tables_of = PartTables(con, job, part, loaded.settings.spoons)
        collection, lines, runners = tables_of.load()
        try:
            result = judge_read(
                collection, lines, runners, loaded.tools, loaded.settings, tables_of.problems,
                agreed=partial(_agreed, work, part),
                habits=tables_of.creators(collection.recipe),
            )  # fmt: skip
        except _NotAgreed:
            return None
        own = tables_of.own
        if len(own) < len(collection.recipe):
            _keep_own(result, own)
        result.problems = frames_together([tables_of.intake_problems(), result.problems])
        for table in tables(result):
            with work.writing(part_name(f"results/{table.name}", part)) as path:
                write_parquet(con, table, path)
        for table in page_rows(result):
            with work.writing(part_name(f"pages/{table.name}", part)) as path:
                write_parquet(con, table, path, "snappy")
        left = result.standing()
        figures = {
            "part": part,
            "verdicts": (counts := result.counts()),
            "accepted": {v: n - left[v] for v, n in counts.items()},
            "rows": {name: len(getattr(result, name)) for name in LAYOUT},
        }
    work.write_text(f"done/part-{part:06d}.json", json.dumps(figures, sort_keys=True) + "\n")
    return figures


class _NotAgreed(BaseException):
    """Nobody has settled the convention in time; no fault of the input, so no ``Exception``."""


def _agreed(work: Store, part: int, own: Callable[[], Convention]) -> Convention:
    """The convention of all parts: settled by the first as soon as it is added up.

    Args:
        own: the convention by this part's own recipes.

    Raises:
        _NotAgreed: the first part has been waited for in vain.
    """
    if part == 0:
        settled = own()
        if not work.exists(CONVENTION):
            work.write_text(CONVENTION, json.dumps(asdict(settled), sort_keys=True))
        return settled
    give_up = time.monotonic() + PATIENCE
    while not work.exists(CONVENTION):
        if time.monotonic() > give_up:
            raise _NotAgreed
        time.sleep(0.5 if work.remote else 0.02)
    return Convention(**json.loads(work.read_text(CONVENTION)))


def _keep_own(result: Any, own: set[str]) -> None:
    """Leave out the recipes that came along only because own ones use them."""
    from pipeline.habits.model import ids_of
    from pipeline.report.tables import LAYOUT

    for name in (*LAYOUT, "checks", "doubt", "computed"):
        frame = getattr(result, name)
        if "recipe_id" in frame.columns:
            keep = frame["recipe_id"].isin(own) | (
                frame["recipe_id"].isna() if name == "problems" else False
            )
            setattr(result, name, frame[keep].reset_index(drop=True))
    first = [min(ids_of(cell), default="") for cell in result.habits["recipe_ids"]]
    mine = [recipe_id in own for recipe_id in first]  # told once, by the part of its first recipe
    result.habits = result.habits[mine].reset_index(drop=True)
