"""What crosses the parts of a bulk run: distinct texts, ids used twice, recipes that use others."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import TYPE_CHECKING

from pipeline.bulk.files import (
    part_name,
    quoted,
    table_at,
    write_frame,
    write_problems,
    write_query,
)
from pipeline.bulk.source import even
from pipeline.bulk.store import Store
from pipeline.problems import Problem, input_problem
from pipeline.resources import sql
from pipeline.tables import Table

if TYPE_CHECKING:
    import duckdb

    from pipeline.memory import Decisions
    from pipeline.settings import Settings

#: Distinct texts a chunk, at most; and of which no further chunk is made.
CHUNK, LEAST_CHUNK = 5_000, 250
#: Recipes of other parts that a part takes in to see its creators whole, for their habits.
COMPANY = 1_000


def distinct_texts(con: duckdb.DuckDBPyConnection, work: Store) -> tuple[list[int], int]:
    """The distinct texts of the collection in chunks; texts of like words stand together."""
    return _in_chunks(con, work, "in/line", table_at(work, "in/line/*.parquet"), [])


def texts_of_parts(
    con: duckdb.DuckDBPyConnection, work: Store, before: list[int]
) -> tuple[list[int], int]:
    """The foods of lines that hold several, as far as no line is written so, in further chunks.

    Args:
        before: the chunks of ``distinct_texts``, all of them read.
    """
    known = ", ".join(f"'{quoted(work.root)}/{part_name('texts', chunk)}'" for chunk in before)
    query = (
        f"(select part as text from {table_at(work, 'read/part/*.parquet')} where part not in"
        f" (select text from read_parquet([{known}])))"
    )
    return _in_chunks(con, work, "read/part", query, before)


def _in_chunks(
    con: duckdb.DuckDBPyConnection, work: Store, name: str, lines: str, before: list[int]
) -> tuple[list[int], int]:
    """Texts in chunks after those of ``before``, noted in the store under the table's name."""
    noted = f"{name}.texts.json"
    if not work.exists(noted):
        texts = chunks = 0
        if work.names(name):
            query = sql("bulk_texts").replace("$line", lines)
            con.execute(f"create or replace temp table ordered_text as {query}")
            texts = con.execute("select count(*) from ordered_text").fetchall()[0][0]
            # two at least, or one worker waits for the other
            stretches = even(texts, max(min(CHUNK, -(-texts // 2)), LEAST_CHUNK))
            if not before:  # one at least, for the tables to be there
                stretches = stretches or [(0, 0)]
            chunks = len(stretches)
            for chunk, (first, end) in enumerate(stretches, start=len(before)):
                write_query(
                    con, work, part_name("texts", chunk),
                    f"select text from ordered_text where place >= {first} and place < {end}"
                    " order by place",
                )  # fmt: skip
            con.execute("drop table ordered_text")
        work.write_text(noted, json.dumps([chunks, texts]))
    chunks, texts = json.loads(work.read_text(noted))
    return list(range(len(before), len(before) + chunks)), int(texts)


def lines_query(work: Store, line: str) -> str:
    """SQL of lines with the foods of those that hold several; ``line`` reads the written ones."""
    part = table_at(work, "read/part/*.parquet")
    return sql("bulk_lines").replace("$line", line).replace("$part", part)


def across_parts(con: duckdb.DuckDBPyConnection, work: Store) -> None:
    """Ids used twice, and lines that name another recipe of the collection."""
    from pipeline.reading import find_uses

    if work.exists("across.done"):
        return
    if work.names("in/recipe"):
        _settle_ids(con, work)
    if work.names("read/matched"):
        lines = lines_query(work, table_at(work, "in/line/*.parquet"))
        con.execute(f"create or replace temp view line as {lines}")
        for name, pattern in (("recipe", "in/recipe"), ("matched", "read/matched")):
            con.execute(
                f"create or replace temp view {name} as"
                f" select * from {table_at(work, f'{pattern}/*.parquet')}"
            )
        find_uses(con).create("uses")
        room = {"most": COMPANY, "room": COMPANY}
        con.execute(f"create or replace temp table company as {sql('bulk_company')}", room)
        uses, company = (
            con.execute(f"select count(*) from {t}").fetchall()[0][0] for t in ("uses", "company")
        )
        if uses:
            write_query(con, work, "uses.parquet", "select * from uses order by key, line_no")
        if uses or company:
            write_query(con, work, "needed.parquet", sql("bulk_needed"))
        sizes = (
            "select coalesce(creator, '') as creator, count(*) as recipes from recipe group by 1"
        )
        write_query(con, work, "creators.parquet", f"{sizes} order by 1")
    work.write_text("across.done", "ids and uses\n")


def _settle_ids(con: duckdb.DuckDBPyConnection, work: Store) -> None:
    """Give ids used twice a counter, in the order of the collection, as the intake stage does."""
    from pipeline.intake.model import cut

    con.execute(
        "create or replace temp view recipe as"
        f" select * from {table_at(work, 'in/recipe/*.parquet')}"
    )
    rows = con.execute(sql("bulk_same_id")).fetchall()
    if not rows:
        return
    import pandas as pd

    where: dict[str, str] = {}
    again: dict[str, int] = {}
    renamed: list[tuple[str, str]] = []
    problems: list[Problem] = []
    for key, wanted, place, source, source_line in rows:
        recipe_id = wanted
        while recipe_id in where:
            again[wanted] = again.get(wanted, 1) + 1
            recipe_id = f"{wanted}~{again[wanted]}"
        if recipe_id != wanted:
            renamed.append((key, recipe_id))
            problems.append(
                input_problem(
                    "duplicate-id", source=source, source_line=source_line, recipe_id=recipe_id,
                    id=cut(wanted, 60), first=where[wanted], now=cut(recipe_id, 64),
                )
            )  # fmt: skip
        where[recipe_id] = place
    if renamed:
        frame = pd.DataFrame(renamed, columns=["key", "recipe_id"])
        write_problems(con, work, "duplicates.parquet", problems)
        write_frame(con, work, "renamed.parquet", frame, Table(key="varchar", recipe_id="varchar"))


def untouched(
    con: duckdb.DuckDBPyConnection, work: Store, decisions: Decisions, settings: Settings
) -> list[Problem]:
    """What a person owns that touches nothing of the collection, once all parts are judged."""
    from pipeline.memory.accepted import orphans
    from pipeline.memory.unused import unused_answers, unused_creators

    told: list[Problem] = []
    if decisions.by_subject and work.names("read/matched"):
        told += unused_answers(
            decisions, _column(con, work, "text", "read/matched"),
            _column(con, work, "text", "read/part") if work.names("read/part") else (),
        )  # fmt: skip
    if decisions.recipes and work.names("results/recipes"):
        recipes, findings = (
            con.execute(f"select {columns} from {table_at(work, f'results/{name}/*.parquet')}").df()
            for name, columns in (
                ("recipes", "recipe_id, title, source, verdict"),
                ("findings", "recipe_id, nutrient, stated, computed, verdict"),
            )
        )
        told += orphans(recipes, findings, decisions)
    if settings.creators and work.names("in/recipe"):
        told += unused_creators(settings, _column(con, work, "creator", "in/recipe"))
    return told


def _column(con: duckdb.DuckDBPyConnection, work: Store, name: str, folder: str) -> Iterator[str]:
    """The distinct values of a column of all parts, in their order."""
    at = table_at(work, f"{folder}/*.parquet")
    rows = con.execute(f"select distinct {name} from {at} where {name} is not null order by 1")
    while chunk := rows.fetchmany(CHUNK):
        yield from (str(value) for (value,) in chunk)
