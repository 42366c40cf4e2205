"""The steps of a bulk run that workers do; each is a function of a ``Job`` and a small item.

A step reads files of the job's store, writes files of the store, and returns a few numbers. It is
done when its last file is there, so it may be repeated at any time, on any machine, with the same
bytes as the outcome.
"""

from __future__ import annotations

import atexit
import json
import shutil
import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.bulk.store import Store
from pipeline.compute.convention import Convention
from pipeline.resources import sql
from pipeline.snapshot.model import Snapshot
from pipeline.tables import (
    LINE,
    LINE_RESULT,
    MATCHED,
    PROBLEM,
    READING,
    RECIPE,
    RUNNER_UP,
    STATED,
    WEIGHED,
    Table,
)  # fmt: skip

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.bulk.source import Source
    from pipeline.intake.collect import Collection
    from pipeline.intake.model import Read
    from pipeline.memory import Decisions
    from pipeline.problems import Problem
    from pipeline.reading import Tools

#: What makes a snapshot; in the store of a run they lie in a folder ``snapshot``.
SNAPSHOT_FILES = ("snapshot.duckdb", "manifest.json")
#: Answers of the matcher kept between chunks, some 10 kB each; beyond it they are forgotten. Texts
#: of like words stand together, so few of them are asked for again.
KEPT_ANSWERS = 4_000


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
        convention: of energy and carbohydrate, as JSON; "" until it is known: a part judged then
            settles it by its own recipes.
        memory_mb: what DuckDB may hold in one worker before it goes to disk.
    """

    work: Store
    settings: str
    snapshot_id: str
    snapshot_path: str
    snapshot_facts: tuple[str, str, str]
    pantry: str = ""
    decisions: str = ""
    convention: str = ""
    memory_mb: int = 256


class _OneThread(Snapshot):
    """A snapshot read by one thread in little memory: the workers share the machine."""

    __slots__ = ()

    def connect(self) -> duckdb.DuckDBPyConnection:
        con = Snapshot.connect(self)
        con.execute("set threads = 1")
        return con


_desks: dict[Job, _Desk] = {}
_desk_lock = threading.RLock()


class _Desk:
    """What one worker process loads once for a job."""

    def __init__(self, job: Job) -> None:
        from pipeline.settings import checked

        self.job = job
        self.settings = checked(json.loads(job.settings))
        self._tools: Tools | None = None
        self._decisions: Decisions | None = None
        self._sources: list[Source] | None = None

    @property
    def tools(self) -> Tools:
        if self._tools is None:
            from pipeline.memory import load_pantry
            from pipeline.reading import load_tools

            job, own = self.job, ([name] if (name := self.job.pantry) else [])
            with job.work.reading(*own) as mine:
                pantry, _ = load_pantry(mine[0] if mine else None)
            self._tools = load_tools(
                _snapshot(job), pantry=pantry, decisions=self.decisions, settings=self.settings
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
def _at(job: Job) -> Iterator[_Desk]:
    """The desk of this process for a job; one step at a time works on it."""
    job = replace(job, convention="")  # what is loaded does not depend on it
    with _desk_lock:
        desk = _desks.get(job)
        if desk is None:
            _desks.clear()  # a worker serves one run at a time
            desk = _desks[job] = _Desk(job)
        yield desk


@contextmanager
def connection(work: Store, memory_mb: int, threads: int) -> Iterator[duckdb.DuckDBPyConnection]:
    """A DuckDB that stays small, spills beside the work, and reads the work's store."""
    import duckdb

    spill = tempfile.TemporaryDirectory(
        prefix=".spill-", dir=None if work.remote else work.root, ignore_cleanup_errors=True
    )
    with spill as folder, duckdb.connect() as con:
        con.execute("set enable_progress_bar = false")
        con.execute(f"set threads = {threads}")
        con.execute(f"set memory_limit = '{memory_mb}MB'")
        con.execute(f"set temp_directory = '{_quoted(folder)}'")
        if work.remote:
            import fsspec

            con.register_filesystem(fsspec.core.url_to_fs(work.root)[0])
        yield con


def table_at(work: Store, name: str) -> str:
    """A file (or a pattern) of the store as a table of SQL."""
    return f"read_parquet('{_quoted(work.root)}/{_quoted(name)}')"


def _quoted(text: str) -> str:
    return text.replace("'", "''")


def write_query(
    con: duckdb.DuckDBPyConnection, work: Store, name: str, query: str, how: str = ""
) -> None:
    """Write what a query gives as one Parquet file, whole or not at all."""
    with work.writing(name) as path:
        con.execute(
            f"copy ({query}) to '{_quoted(str(path))}' (format parquet, compression zstd{how})"
        )


def _write_frame(
    con: duckdb.DuckDBPyConnection, work: Store, name: str, frame: pd.DataFrame, table: Table
) -> None:
    """Write a frame with the types of its table; missing is NULL."""
    con.register("frame_out", frame)
    try:
        write_query(con, work, name, f"select {table.casts()} from frame_out")
    finally:
        con.unregister("frame_out")


def part_name(table: str, part: int) -> str:
    """Name of a part's file of a table."""
    return f"{table}/part-{part:06d}.parquet"


# --- intake of a part ------------------------------------------------------------------------

_RECIPE = RECIPE.plus(wanted="varchar", place="varchar", title_key="varchar")
_LINE = LINE.plus(part_of="integer")


def read_part(job: Job, item: tuple[int, int, int]) -> int:
    """Intake of one part: its rows or files become recipe, stated, line and problem files.

    Recipes carry a key of this run as ``recipe_id``; the id they want stands in ``wanted``.

    Args:
        job: the run.
        item: number of the source, number of the part, place of its first recipe in the source.

    Returns:
        How many lines were read.
    """
    from pipeline.problems import problems_frame
    from pipeline.reading import split_as_read, title_keys

    number, part, first = item
    with _at(job) as desk, connection(job.work, job.memory_mb, 1) as con:
        source = desk.sources[number]
        problems: list[Problem] = []
        building = _part_building(desk.settings.creator, part)
        if source.kind == "files":
            for name, read in _read_files(source):
                problems.extend(read.problems)
                building.add(name, read, problems)
        else:
            read = _read_rows(con, job, source, number, part)
            for raw in read.recipes:
                raw.position += first
            problems.extend(read.problems)
            building.add(source.source, read, problems)
        recipe, stated, written = building.frames()
        line = split_as_read(written, desk.tools)
        recipe["wanted"] = building.wanted
        recipe["place"] = building.places
        recipe["title_key"] = title_keys(recipe["title"])
        write = ((recipe, "recipe", _RECIPE), (stated, "stated", STATED),
                 (line, "line", _LINE),
                 (READING.frame(building.readings), "reading", READING),
                 (problems_frame(problems), "problem", PROBLEM))  # fmt: skip
        for frame, table, types in write:
            _write_frame(con, job.work, part_name(f"in/{table}", part), _clean(frame), types)
        return len(written)


def _clean(frame: pd.DataFrame) -> pd.DataFrame:
    """Texts that UTF-8 can hold."""
    from pipeline.report.tables import writable

    texts: dict[str, Any] = {
        c: writable(frame[c].tolist())
        for c in frame.columns
        if frame[c].dtype == object or str(frame[c].dtype) == "str"
    }
    return frame.assign(**texts)


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


def _read_files(source: Source) -> Iterator[tuple[str, Read]]:
    from pipeline.intake.files import SourceFile
    from pipeline.intake.reading import read_file

    for path, name, named in zip(source.paths, source.sources, source.named, strict=True):
        yield name, read_file(SourceFile(Path(path), name, named))


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
    from pipeline.problems import Problem

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
            read.problems.append(
                Problem("json-too-deep", "a line of JSON is nested deeper than can be read",
                        "the line was not read", "no recipe is: check what wrote the file",
                        source_line=at)
            )  # fmt: skip
            continue
        if not found:
            read.problems.append(
                Problem("no-recipe", "a line of JSON holds no recipe",
                        "nothing in it is a schema.org Recipe or has a title and ingredients",
                        "leave the line out if it holds none", source_line=at, severity="warning",
                        text=cut(text[:200]))
            )  # fmt: skip
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

_MATCHED = MATCHED.plus(
    WEIGHED, codes="varchar", name_key="varchar", dish="boolean", said_unit="varchar",
    said_amount="double", said="varchar", known="boolean",
)  # fmt: skip


def read_texts(job: Job, chunk: int) -> int:
    """Parse, match and weigh one chunk of distinct texts.

    Returns:
        How many texts there were.
    """
    from pipeline.reading import read_table

    with _at(job) as desk, connection(job.work, job.memory_mb, 1) as con:
        tools = desk.tools
        at = table_at(job.work, part_name("texts", chunk))
        texts = [row[0] for row in con.execute(f"select text from {at}").fetchall()]
        read, runners = read_table(texts, tools)
        _write_frame(con, job.work, part_name("read/runner", chunk), runners, RUNNER_UP)
        _write_frame(con, job.work, part_name("read/matched", chunk), read, _MATCHED)
        if len(tools.matcher._seen) > KEPT_ANSWERS:
            tools.matcher.forget()
        return len(texts)


# --- joining back --------------------------------------------------------------------------------


def join_parts(job: Job, item: tuple[int, int, int]) -> int:
    """Lines of some parts with what was read of their texts, one file a part.

    Args:
        job: the run.
        item: number of the group, its first part, the part after its last.
    """
    group, first, end = item
    work = job.work
    parts = range(first, end)
    with _at(job), connection(work, job.memory_mb, 1) as con:
        lines = ", ".join(f"'{_quoted(work.root)}/{part_name('in/line', p)}'" for p in parts)
        query = sql("bulk_join").replace("$lines", f"read_parquet([{lines}])")
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


#: Recipes of a creator larger than a part that show the habits as well as all would.
ENOUGH_OF_ONE = 300


def judge_part(job: Job, part: int) -> dict[str, Any]:
    """Totals, verdicts, explanations and the rest for one part, written as result files.

    Returns:
        The part's figures, also kept as ``done/part-NNNNNN.json``.
    """
    from pipeline.report.data_files import write_parquet
    from pipeline.report.page_rows import page_rows
    from pipeline.report.tables import LAYOUT, tables
    from pipeline.run import frames_together, judge_read

    work = job.work
    with _at(job) as desk, connection(work, job.memory_mb, 1) as con:
        desk.tools.matcher.forget()  # nothing is matched any more
        tables_of = _PartTables(con, job, part, desk.settings.spoons)
        collection, lines, runners = tables_of.load()
        result = judge_read(
            collection, lines, runners, desk.tools, desk.settings, tables_of.problems,
            convention=Convention(**json.loads(job.convention)) if job.convention else None,
            habits=tables_of.creators(collection.recipe),
        )  # fmt: skip
        own = tables_of.own
        if len(own) < len(collection.recipe):
            _keep_own(result, own)
        result.problems = frames_together([tables_of.intake_problems(), result.problems])
        for table in tables(result):
            with work.writing(part_name(f"results/{table.name}", part)) as path:
                write_parquet(con, table, path)
        for table in page_rows(result):
            with work.writing(part_name(f"pages/{table.name}", part)) as path:
                write_parquet(con, table, path)
        left = result.standing()
        figures = {
            "part": part,
            "verdicts": (counts := result.counts()),
            "accepted": {v: n - left[v] for v, n in counts.items()},
            "rows": {name: len(getattr(result, name)) for name in LAYOUT},
            "convention": json.dumps(asdict(result.convention), sort_keys=True),
        }
    work.write_text(f"done/part-{part:06d}.json", json.dumps(figures, sort_keys=True) + "\n")
    return figures


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


class _PartTables:
    """The input tables of one part under final ids, with recipes of other parts that it needs.

    Attributes:
        own: ids of the part's own recipes.
        problems: what could not be settled on their lines.
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, job: Job, part: int, spoons: str) -> None:
        self.con, self.work, self.part, self._spoons = con, job.work, part, spoons
        self.own: set[str] = set()
        self.problems: list[Problem] = []
        self._ids: dict[str, str] = {}
        guests = "select ''::varchar as used_key, 0 as used_part limit 0"
        if self.work.exists("guests.parquet"):
            guests = (
                f"select used_key, used_part from {table_at(self.work, 'guests.parquet')}"
                f" where part = {part} and used_part <> part"
            )
        con.execute(f"create temp table guest as {guests}")
        others = con.execute("select distinct used_part from guest order by 1").fetchall()
        self._others = [int(other) for (other,) in others]

    def load(self) -> tuple[Collection, pd.DataFrame, pd.DataFrame]:
        """The part as a collection, LINE_RESULT with ``part_of``, and RUNNER_UP."""
        from pipeline.intake.collect import Collection
        from pipeline.reading import line_problems, with_uses

        recipe, line, stated, reading = (
            self._of_recipes(name)
            for name in ("in/recipe", "joined/line", "in/stated", "in/reading")
        )
        runners = self._runners(line)
        self._ids = self._final_ids(recipe)
        self.own = {i for key, i in self._ids.items() if key.startswith(f"{self.part:06d}-")}
        for frame in (recipe, line, stated, reading):
            frame["recipe_id"] = frame["recipe_id"].map(self._ids).astype(object)
        recipe = recipe.astype({"source_line": "Int64", "position": "int64"})
        line = with_uses(line, recipe, self._uses(), self._spoons)
        line = line.astype({"line_no": "int64", "source_line": "Int64", "part_of": "Int64"})
        self.problems = line_problems(line, recipe[recipe["recipe_id"].isin(self.own)])
        collection = Collection(
            recipe=recipe.loc[:, RECIPE], stated=stated,
            line=line.loc[line["part_of"].isna(), LINE], problems=[],
            root=Path(self.work.root if not self.work.remote else "."),
            reading=reading.astype({"rank": "int64"}),
        )  # fmt: skip
        return collection, line.loc[:, [*LINE_RESULT, "part_of"]], runners.loc[:, RUNNER_UP]

    def creators(self, recipe: pd.DataFrame) -> frozenset[str]:
        """Creators whose habits this part can tell: those it sees whole, and very large ones.

        Args:
            recipe: all recipes of the part, those that came along among them.
        """
        if not self.work.exists("creators.parquet"):
            return frozenset()
        every = dict(
            self.con.execute(
                f"select creator, recipes from {table_at(self.work, 'creators.parquet')}"
            ).fetchall()
        )
        here = recipe["creator"].fillna("").value_counts()
        return frozenset(
            str(creator) for creator, n in here.items()
            if n >= every.get(creator, 0) or (creator and n >= ENOUGH_OF_ONE)
        )  # fmt: skip

    def _of_recipes(self, name: str) -> pd.DataFrame:
        """A table's rows of the part and of the recipes it needs, in the order of the collection."""
        return self._frame(
            f"select * exclude (file_row_number) from {self._files(name, 'file_row_number = true')}"
            f" where recipe_id[1:6]::integer = {self.part}"
            " or recipe_id in (select used_key from guest)"
            " order by recipe_id, file_row_number"
        )

    def _runners(self, line: pd.DataFrame) -> pd.DataFrame:
        """Runners-up of the texts of these lines; parts that hold one text hold the same of it."""
        if not self._others:
            return self._frame(f"select * from {self._files('joined/runner')}")
        self.con.register("line_in", line[["text"]])
        return self._frame(
            f"select distinct * from {self._files('joined/runner')}"
            " where text in (select text from line_in) order by text, rank"
        )

    def _files(self, name: str, how: str = "") -> str:
        """The files of a table in the part and in those it needs recipes of, as SQL."""
        parts = [part_name(name, part) for part in (self.part, *self._others)]
        files = ", ".join(f"'{_quoted(self.work.root)}/{part}'" for part in parts)
        return f"read_parquet([{files}]{', ' + how if how else ''})"

    def _frame(self, query: str, keys: list[str] | None = None) -> pd.DataFrame:
        found = self.con.execute(query, None if keys is None else {"keys": keys}).df()
        return found.astype({c: object for c in found.columns if str(found[c].dtype) == "str"})

    def _final_ids(self, recipe: pd.DataFrame) -> dict[str, str]:
        keys = recipe["recipe_id"].tolist()
        ids = dict(zip(keys, recipe["wanted"].tolist(), strict=True))
        if self.work.exists("renamed.parquet"):
            ids.update(
                self.con.execute(
                    f"select key, recipe_id from {table_at(self.work, 'renamed.parquet')}"
                    " where list_contains($keys, key)",
                    {"keys": keys},
                ).fetchall()
            )
        return ids

    def _uses(self) -> pd.DataFrame:
        """USE of this part under final ids."""
        import pandas as pd

        from pipeline.reading import USE

        if not self.work.exists("uses.parquet"):
            return pd.DataFrame(columns=USE)
        uses = self.con.execute(
            f"select {', '.join(USE)} from {table_at(self.work, 'uses.parquet')}"
            " where list_contains($keys, key) order by key, line_no",
            {"keys": list(self._ids)},
        ).df()
        ids = {c: uses[c].map(self._ids) for c in ("key", "used_key")}
        return uses.assign(**ids)

    def intake_problems(self) -> pd.DataFrame:
        """Problems of reading this part, with the ids the recipes have in the end."""
        import pandas as pd

        found = self._frame(
            f"select * from {table_at(self.work, part_name('in/problem', self.part))}"
        )
        if self.work.exists("renamed.parquet"):
            more = self._frame(
                "select * exclude (key) from (select p.*, r.key from"
                f" {table_at(self.work, 'duplicates.parquet')} as p"
                f" join {table_at(self.work, 'renamed.parquet')} as r using (recipe_id)"
                " where list_contains($keys, r.key) order by r.key)",
                [k for k, v in self._ids.items() if v in self.own],
            )
            found = pd.concat([found, more.astype(object)], ignore_index=True)
        found["recipe_id"] = [self._ids.get(r, r) for r in found["recipe_id"]]
        return found.astype({"source_line": "Int64", "line_no": "Int64"})
