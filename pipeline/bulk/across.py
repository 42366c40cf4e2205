"""What crosses the parts of a bulk run: distinct texts, ids used twice, recipes that use others."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from pipeline.bulk.files import part_name, table_at, write_frame, write_problems, write_query
from pipeline.bulk.source import even
from pipeline.bulk.store import Store
from pipeline.problems import Problem, input_problem
from pipeline.resources import sql
from pipeline.tables import Table

if TYPE_CHECKING:
    import duckdb

#: Distinct texts a chunk, at most.
CHUNK = 5_000
#: Recipes of other parts that a part takes in to see its creators whole, for their habits.
COMPANY = 1_000


def distinct_texts(con: duckdb.DuckDBPyConnection, work: Store) -> tuple[list[int], int]:
    """The distinct texts of the collection in chunks; texts of like words stand together."""
    if work.exists("texts.json"):
        chunks, texts = json.loads(work.read_text("texts.json"))
        return list(range(chunks)), int(texts)
    texts = 0
    chunks = 0
    if work.names("in/line"):
        query = sql("bulk_texts").replace("$line", table_at(work, "in/line/*.parquet"))
        con.execute(f"create or replace temp table ordered_text as {query}")
        row = con.execute("select count(*) from ordered_text").fetchone()
        texts = int(row[0]) if row else 0
        stretches = even(texts, CHUNK) or [(0, 0)]  # one at least, for the tables to be there
        chunks = len(stretches)
        for chunk, (first, end) in enumerate(stretches):
            write_query(
                con, work, part_name("texts", chunk),
                f"select text from ordered_text where place >= {first} and place < {end}"
                " order by place",
            )  # fmt: skip
        con.execute("drop table ordered_text")
    work.write_text("texts.json", json.dumps([chunks, texts]))
    return list(range(chunks)), texts


def across_parts(con: duckdb.DuckDBPyConnection, work: Store) -> None:
    """Ids used twice, and lines that name another recipe of the collection."""
    from pipeline.reading import find_uses

    if work.exists("across.done"):
        return
    if work.names("in/recipe"):
        _settle_ids(con, work)
    if work.names("read/matched"):
        for name, pattern in (("line", "in/line"), ("recipe", "in/recipe"),
                              ("matched", "read/matched")):  # fmt: skip
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
