"""The report of a large collection: an overview, one page that shows any recipe, and their data.

``report.html`` holds what there is to do and the first rows of the list; the other rows and the
recipes lie in ``report-data/`` beside it, a chunk of JSON a file, and are loaded when they are
wanted. The files are scripts that hand over rows, because a page opened from disk may not fetch; the
pages' security policy lets only their own script load them, and no network. All is made by DuckDB
from the tables of a run, so that it needs no more memory for more recipes.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from pipeline.problems import place_of
from pipeline.report import words
from pipeline.report.facts import tables_in_force
from pipeline.report.frames import Row, records
from pipeline.report.page_rows import PAGE_ROWS, page_rows
from pipeline.report.patterns import Pattern, slip_advice
from pipeline.report.recipe_view import LEAST_SHOWN, PUBLISHED
from pipeline.report.tables import LAYOUT, SQL_TYPE, kind_of, tables
from pipeline.report.todo import (
    TRIVIAL_KCAL,
    TRIVIAL_SHARE,
    Group,
    Task,
    answer_group,
    answer_task,
    trivial,
)
from pipeline.report.view import headline, paged_href, view
from pipeline.resources import sql

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.compute.convention import Convention
    from pipeline.run import Result
    from pipeline.settings import Settings

#: Folder of the data, beside the report.
DATA = "report-data"
#: Rows of the list on one page, recipes a file of the list, recipes a file of recipes.
ROWS_A_PAGE, ROWS_A_CHUNK, RECIPES_A_CHUNK = 50, 1000, 100
#: Recipes whose pieces are laid out at once; a multiple of those of a batch.
STRETCH = 20_000
#: Recipes whose JSON is made in one go.
_BATCH = {"index": 2 * ROWS_A_CHUNK, "recipes": 10 * RECIPES_A_CHUNK}
#: Tasks, lines to review, problems, kinds of slip and marks of a picture on the overview.
MOST_TASKS, MOST_LINES, MOST_PROBLEMS, MOST_SLIPS, MOST_MARKS = 20, 40, 100, 8, 300

#: Pieces of a recipe's page and their cells, as ``report_pages.sql`` gives them.
PIECES: dict[str, list[str]] = {
    "recipe": [
        "title", "verdict", "accepted", "coverage", "source", "source_line", "creator", "servings",
        "serving_word", "servings_how", "weight_g", "weight_basis", "why", "other",
    ],
    "findings": ["nutrient", "stated", "computed", "low", "high", "allowed", "verdict", "basis"],
    "publish": ["basis", "caption", "note", "energy_from", "schema_org", *PUBLISHED, "salt_g"],
    "explanations": ["kind", "probability", "detail"],
    "checks": ["message"],
    "advice": ["text"],
    "claims": ["words", "claim", "jurisdiction", "status", "reason"],
    "problems": ["what", "text", "fix"],
    "lines": [
        "line_no", "part_of", "text", "names_food", "food_id", "food", "food_source", "grams", "low",
        "high", "basis", "weigh_reason", "confidence", "status", "reason", "kcal", "role", "others",
    ],
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class About:
    """What holds for the whole run.

    Attributes:
        settings, convention, snapshot: as in ``run.Result``.
        root: folder of the collection, for the commands to copy.
    """

    settings: Settings
    convention: Convention
    snapshot: dict[str, Any]
    root: Path


def write_paged(
    con: duckdb.DuckDBPyConnection, at: Mapping[str, str], about: About, folder: Path,
    *, pages: Mapping[str, str] | None = None, creator: str = "",
) -> None:  # fmt: skip
    """Write the report of a collection of any size.

    Args:
        con: reads the tables; what does not fit its memory goes to its own temporary folder.
        at: every table of ``tables.LAYOUT`` and of ``page_rows.PAGE_ROWS``, as SQL.
        about: what holds for the whole run.
        folder: receives ``report.html``, ``report-recipe.html`` and ``report-data/``.
        pages: creator to the folder of their own report.
        creator: whose recipes these are, "" for everybody's.

    Raises:
        OSError, duckdb.Error: a file cannot be written.
    """
    from concurrent.futures import ThreadPoolExecutor

    from pipeline.report.page import render_paged

    con.execute(f"create or replace table report_order as {_filled('report_order', at)}")
    # what the page shows first is read before the data: both at once outgrow the memory of one run
    shown, first = _view(con, at, about, pages, creator)
    # the largest differences, and others spread evenly over the rest
    picture = con.execute(_filled("report_picture", at), {"most": MOST_MARKS}).df()
    with ThreadPoolExecutor(1) as other:
        data = other.submit(_write_data, con, at, folder / DATA)
        for name, text in render_paged(shown, first, picture):
            (folder / name).write_text(text, encoding="utf-8", newline="\n", errors="replace")
        data.result()


def _write_data(con: duckdb.DuckDBPyConnection, at: Mapping[str, str], folder: Path) -> None:
    """The files that the pages load."""
    _query(con, "report_list", at, "report_list")  # in its order, so that a stretch is read at once
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in _chunks(con, at):
        (folder / f"{name}.js").write_text(text, encoding="utf-8", newline="\n", errors="replace")


def write_paged_result(
    result: Result, folder: Path, *, pages: Mapping[str, str] | None = None, creator: str = ""
) -> None:
    """``write_paged`` of a result in memory."""
    import duckdb

    with duckdb.connect() as con:
        at = {}
        for made in (*tables(result), *page_rows(result)):
            con.register(f"result_{made.name}", made.frame)
            at[made.name] = f"result_{made.name}"
        about = About(
            result.settings, result.convention, result.snapshot, Path(result.collection.root)
        )
        write_paged(con, at, about, folder, pages=pages, creator=creator)


def no_rows(name: str) -> str:
    """A table of the run that has no row, as SQL."""
    columns = PAGE_ROWS[name] if name in PAGE_ROWS else LAYOUT[name][0]
    cells = ", ".join(f'null::{SQL_TYPE[kind_of(c)]} as "{c}"' for c in columns)
    return f"(select {cells} limit 0)"


# --- data ---------------------------------------------------------------------------------------------


def _arrange_pieces(con: duckdb.DuckDBPyConnection, at: Mapping[str, str], first: int) -> None:
    """Lay what the pages of a stretch of recipes show in their order; all at once is too much."""
    total = _one(con, "select count(*) from report_order")
    con.execute(
        "create or replace temp table report_stretch as select * from report_order"
        " where n >= $first and n < $last",
        {"first": first, "last": first + STRETCH},
    )
    if total > STRETCH:
        at = {
            name: f"(select * from {table} semi join report_stretch using (recipe_id))"
            for name, table in at.items()
        }
    limits = {"size": RECIPES_A_CHUNK, "least": LEAST_SHOWN}
    _query(con, "report_pages", at, "report_piece", limits)


def _query(
    con: duckdb.DuckDBPyConnection, name: str, at: Mapping[str, str], made: str,
    limits: Mapping[str, Any] | None = None,
) -> None:  # fmt: skip
    con.execute(f"create or replace temp table {made} as {_filled(name, at)}", limits)


def _filled(name: str, at: Mapping[str, str]) -> str:
    """``sql/NAME.sql`` with the tables put in for their ``$names``."""
    text = sql(name)
    for table in sorted(at, key=len, reverse=True):
        text = text.replace(f"${table}", at[table])
    return text


def _chunks(con: duckdb.DuckDBPyConnection, at: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Name and text of every file of data."""
    total = _one(con, "select count(*) from report_order")
    for kind, size, table, order in (
        ("index", ROWS_A_CHUNK, "report_list", "n"),
        ("recipes", RECIPES_A_CHUNK, "report_piece", "n, kind, place"),
    ):
        query = (
            f"select n // $size, string_agg(row, ',\n' order by {order}) from {table}"
            " where n >= $first and n < $last group by 1 order by 1"
        )
        for first in range(0, total, _BATCH[kind]):
            if kind == "recipes" and first % STRETCH == 0:
                _arrange_pieces(con, at, first)
            limits = {"first": first, "last": first + _BATCH[kind], "size": size}
            for number, rows in con.execute(query, limits).fetchall():
                name = f"{kind}-{number:06d}"
                yield name, f'steelyard("{name}", [\n{rows}\n]);\n'


def _one(con: duckdb.DuckDBPyConnection, query: str) -> int:
    row = con.execute(query).fetchone()
    return int(row[0] or 0) if row else 0


# --- overview -----------------------------------------------------------------------------------------


def _view(
    con: duckdb.DuckDBPyConnection, at: Mapping[str, str], about: About,
    pages: Mapping[str, str] | None, creator: str,
) -> tuple[SimpleNamespace, Result]:  # fmt: skip
    """What the overview shows: the first recipes as any report shows them, and counts of all."""
    counted = dict(con.execute("select standing, count(*) from report_order group by 1").fetchall())
    counts = {code: int(counted.get(code, 0)) for code in words.STANDING}
    first = _first(con, at, about, counts)
    numbers = {r: int(n) + 1 for r, n in first[1].items()}
    shown = view(first[0], pages=pages, creator=creator, numbers=numbers)
    total = sum(counts.values())
    index = sorted(shown.index, key=lambda entry: entry.number)[:ROWS_A_PAGE]
    lines, texts, few = _review(con, at)
    problems = _rows(con, _filled("report_problems", at))
    vars(shown).update(
        facts={**shown.facts, "recipe_count": total},
        total=total,
        counts=counts,
        headline=headline(counts),
        todo=_todo(shown.todo, counts, first[0], lines, texts, few, problems),
        accepted=[],
        unstated=_one(
            con,
            "select count(*) from report_order where recipe_id not in"
            f" (select recipe_id from {at['findings']} where recipe_id is not null)",
        ),
        patterns=_patterns(con, at),
        review=[{**r, "share": r["share"] if r["whole"] else 0.0} for r in lines],
        review_total=_one(con, f"select count(*) from {at['to_review']}"),
        problems=[_example(p) for p in problems[:MOST_PROBLEMS]],
        problem_total=sum(int(p["n"]) for p in problems),
        index=index,
        paged=_paged(total, counts, about),
    )
    return shown, first[0]


def _paged(total: int, counts: dict[str, int], about: About) -> str:
    """What the scripts of both pages need to know, as JSON that may stand in a page."""
    columns = [*PUBLISHED, words.NET_CARBS]
    values = {
        "folder": DATA,
        "total": total,
        "stretches": [[code, counts[code]] for code in words.STANDING],
        "rows_a_page": ROWS_A_PAGE, "rows_a_chunk": ROWS_A_CHUNK,
        "recipes_a_chunk": RECIPES_A_CHUNK,
        "profile": about.settings.profile, "least_likely": words.LEAST_LIKELY,
        "several": len(tables_in_force(about.snapshot)) > 1,
        "pieces": PIECES,
        "words": {
            "standing": words.STANDING, "kind": words.KIND, "basis": words.BASIS,
            "role": words.ROLE, "per": words.PER, "saying": words.SAYING,
            "energy_from": words.ENERGY_FROM, "published": [*PUBLISHED, "salt_g"],
            "nutrient": {c: words.nutrient_word(c) for c in columns},
            "unit": {c: words.unit_of(c) for c in columns},
        },
    }  # fmt: skip
    return json.dumps(values, ensure_ascii=False).replace("<", "\\u003c")


def _first(
    con: duckdb.DuckDBPyConnection, at: Mapping[str, str], about: About, counts: dict[str, int]
) -> tuple[Result, dict[str, int]]:
    """The first recipes of the list and the first uncertain ones as a result of their own."""
    from pipeline.intake import Collection
    from pipeline.run import Result

    open_at = counts["disagrees"]
    con.execute(
        "create or replace temp table report_first as select recipe_id, n from report_order"
        f" where n < {ROWS_A_PAGE} or (n >= {open_at} and n < {open_at + counts['uncertain']}"
        f" and n < {open_at + MOST_TASKS})"
    )
    whole = ("problems", "habits")  # of the collection, not of a recipe
    frame = {name: _frame(con, at[name]) for name in at if name not in whole}
    fact = frame["page_fact"]
    energy = fact[["recipe_id", "whole_kcal", "low_kcal", "high_kcal"]]
    energy = energy.set_axis(["recipe_id", "amount", "low", "high"], axis=1)
    problems = con.execute(f"select * from {at['problems']} limit 0").df()
    habits = con.execute(f"select * from {at['habits']} order by recipes desc limit 50").df()
    empty = frame["lines"].head(0)
    result = Result(
        recipes=frame["recipes"], findings=frame["page_finding"],
        lines=frame["lines"], computed=energy.assign(nutrient="ENERC_KCAL"),
        explanations=frame["explanations"], to_review=frame["to_review"],
        checks=frame["page_check"], corrected=frame["corrected"], claims=frame["claims"],
        doubt=frame["page_doubt"], problems=problems,
        collection=Collection(recipe=fact, stated=empty, line=empty, problems=[], root=about.root),
        settings=about.settings, snapshot=about.snapshot, per_recipe=fact,
        runners_up=empty, convention=about.convention, habits=habits,
    )  # fmt: skip
    numbers = dict(con.execute("select recipe_id, n from report_first").fetchall())
    return result, numbers


def _frame(con: duckdb.DuckDBPyConnection, relation: str) -> pd.DataFrame:
    """The rows of the first recipes."""
    query = f"select t.* from {relation} as t join report_first using (recipe_id)"
    found = con.execute(query).df()
    texts = [c for c in found.columns if found[c].dtype.kind not in "iufb"]
    return found.astype(dict.fromkeys(texts, object))


def _todo(
    groups: list[Group], counts: dict[str, int], first: Result, lines: list[Row], texts: int,
    few: int, problems: list[Row],
) -> list[Group]:  # fmt: skip
    """The groups of the first recipes under counts of all; lines and problems of all."""
    made = {g.kind: g for g in groups}
    out: list[Group] = []

    def of_all(kind: str, n: int, head: str) -> None:
        if kind in made and (tasks := made[kind].tasks[:MOST_TASKS]):
            headline = head.format(words.plural(n, "recipe"))
            out.append(replace(made[kind], headline=headline, tasks=tasks, more=n - len(tasks)))

    of_all("fix", counts["disagrees"], "Fix the numbers of {}")
    asked = [one for one in lines if not one["trivial_line"]]
    if asked or few:
        tasks = [
            answer_task(
                first, one["title"], one["href"],
                {**one, "food": one["food"] if one["food_id"] else ""},
            )
            for one in asked[:MOST_TASKS]
        ]  # fmt: skip
        out.append(answer_group(first, tasks, texts - few, few))
    of_all("weigh", counts["uncertain"], "Weigh or identify what leaves {} uncertain")
    errors = [p for p in problems if p["severity"] == "error"]
    if errors:
        n = sum(int(p["n"]) for p in errors)
        head = f"Correct {words.plural(n, 'place')} that could not be read"
        how = "What could not be read was left out of the run. One of each kind:"
        out.append(Group("correct", head, how, [_correct(p) for p in errors[:MOST_TASKS]]))
    return out


def _correct(problem: Row) -> Task:
    more = f" (and {int(problem['n']) - 1:,d} more of this kind)" if problem["n"] > 1 else ""
    return Task(
        "", "", "", "", f"{problem['what']}{more}",
        subject=place_of(problem) or problem["code"],
        other=problem["fix"],
    )  # fmt: skip


def _example(problem: Row) -> Row:
    """A kind of problem as the table of problems shows one: its count, and the first of them."""
    line = problem["source_line"]
    n = int(problem["n"])
    return {
        **problem, "anchor": "", "source_line": "" if line is None or line != line else int(line),
        "code": problem["code"] if n == 1 else f"{problem['code']}: {n:,d} times, this is the first",
    }  # fmt: skip


def _review(con: duckdb.DuckDBPyConnection, at: Mapping[str, str]) -> tuple[list[Row], int, int]:
    """Lines to look at, how many distinct ones there are, and how many move no number.

    The rows are those of ``todo.open_texts`` with title and page of the first recipe, also as the
    one of ``links``.
    """
    limits = {"most": MOST_LINES, "least_kcal": TRIVIAL_KCAL, "least_share": TRIVIAL_SHARE}
    rows = _rows(con, _filled("report_review", at), limits)
    for row in rows:
        row.update(open=row["open_kcal"], more=int(row["recipes"]) - 1)
        row.update(trivial_line=trivial(row), href=paged_href(int(row["n"]) + 1))
        row.update(links=[(row["title"], row["href"])])
    return (rows, int(rows[0]["texts"]), int(rows[0]["trivial"])) if rows else ([], 0, 0)


def _patterns(
    con: duckdb.DuckDBPyConnection, at: Mapping[str, str]
) -> list[tuple[Pattern, list[tuple[str, str]]]]:
    """The kinds of slip that are the likeliest in most recipes, each with the first of them."""
    rows = _rows(con, _filled("report_slips", at), {"most": MOST_SLIPS})
    return [
        (
            Pattern(
                f"{words.KIND.get(row['kind'], str(row['kind'])).capitalize()}: the likeliest slip in"
                f" {words.plural(int(row['recipes']), 'recipe')}",
                slip_advice(row["kind"]), [""] * int(row["recipes"]), float(row["recipes"]),
            ),
            [(title, paged_href(int(n) + 1))
             for title, n in zip(row["titles"], row["numbers"], strict=True)],
        )
        for row in rows
    ]  # fmt: skip


def _rows(
    con: duckdb.DuckDBPyConnection, query: str, limits: Mapping[str, Any] | None = None
) -> list[Row]:
    return records(con.execute(query, limits or None).df())
