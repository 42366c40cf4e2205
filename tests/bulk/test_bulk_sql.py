"""What the SQL of a bulk run makes of small tables."""

from __future__ import annotations

import math
from collections.abc import Iterator

import duckdb
import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.bulk.cutting import source_line
from pipeline.lines import split_lines
from pipeline.resources import sql
from pipeline.tables import LINE, PART


@pytest.fixture
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    with duckdb.connect() as made:
        yield made


def filled(*names: str, **words: object) -> str:
    """``sql/NAME.sql``, or several that follow one another, with the ``$words`` put in."""
    text = "".join(map(sql, names))
    for word in sorted(words, key=len, reverse=True):
        text = text.replace(f"${word}", str(words[word]))
    return text


def cut(con: duckdb.DuckDBPyConnection, recipes_a_part: int, lines_a_part: int) -> list[tuple]:
    query = filled(
        "bulk_cut_tidy", "bulk_cut_parts", key="c0", columns="raw.c1", first=0,
        source_line=source_line(2, "0"), recipes_a_part=recipes_a_part, size_a_part=lines_a_part,
    )  # fmt: skip
    return con.execute(query).fetchall()


def test_rows_of_one_recipe_come_together_and_a_nameless_row_belongs_to_the_one_above(con):
    con.execute(
        "create table raw as select * from (values (0, 'a', 'x'), (1, null, 'y'), (2, 'b', 'z'),"
        " (3, 'a', 'w')) as t(row_no, c0, c1)"
    )
    found = cut(con, recipes_a_part=1, lines_a_part=100)
    assert [(part, recipe, line, cell) for part, recipe, line, _, cell in found] == [
        (0, 0, 2, "x"), (0, 0, 3, "y"), (0, 0, 5, "w"), (1, 1, 4, "z"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("recipes_a_part", "lines_a_part", "parts"), [(2, 100, [0, 0, 1]), (9, 4, [0, 0, 1])]
)
def test_there_are_as_many_parts_as_recipes_or_lines_ask_for(
    con, recipes_a_part, lines_a_part, parts
):
    con.execute(
        "create table raw as select i as row_no, 'r' || (i // 2) as c0, '' as c1 from range(6) t(i)"
    )
    found = cut(con, recipes_a_part, lines_a_part)
    assert [row[0] for row in found[::2]] == parts


CON = duckdb.connect()  # opening one takes longer than all that is asked of it


@given(
    sizes=st.lists(st.integers(1, 30), min_size=1, max_size=60),
    recipes_a_part=st.integers(1, 20), lines_a_part=st.integers(1, 200),
)  # fmt: skip
@settings(max_examples=examples(60), deadline=None)
def test_parts_follow_one_another_are_alike_and_even_in_number(sizes, recipes_a_part, lines_a_part):
    lines = [f"r{n}" for n, size in enumerate(sizes) for _ in range(size)]
    with CON.cursor() as con:
        con.execute(
            "create or replace temp table raw as select unnest(range(len($lines))) as row_no,"
            " unnest($lines) as c0, '' as c1",
            {"lines": lines},
        )
        found = cut(con, recipes_a_part, lines_a_part)
    assert [recipe for _, recipe, *_ in found] == sorted(recipe for _, recipe, *_ in found)
    parts = [part for part, *_ in found]
    assert parts == sorted(parts)
    assert set(parts) == set(range(parts[-1] + 1))
    asked = max(math.ceil(len(sizes) / recipes_a_part), math.ceil(len(lines) / lines_a_part))
    wanted = asked if asked == 1 else asked + asked % 2
    assert len(set(parts)) <= wanted
    whole = {part: set() for part in parts}
    for part, recipe, *_ in found:
        whole[part].add(recipe)
    share = [
        len(of) / len(sizes) + sum(sizes[r] for r in of) / len(lines) for of in whole.values()
    ]  # of the recipes and of the lines
    most = 1 / len(sizes) + max(sizes) / len(lines)  # a recipe is not cut
    assert max(share) <= 2 / wanted + most + 1e-9


def test_an_empty_row_is_no_recipe_and_a_break_within_a_cell_moves_the_lines_below(con):
    con.execute(
        "create table raw as select * from (values (0, 'a'), (1, ''), (2, 'b')) as t(row_no, c0)"
    )
    query = filled(
        "bulk_cut_rows", "bulk_cut_parts", columns="raw.c0", first=3, recipes_a_part=1,
        source_line=source_line(2, "case c0 when 'a' then 2 else 0 end"), size_a_part=10_000,
        chars="length(c0)", filled="c0 <> ''",
    )  # fmt: skip
    assert con.execute(query).fetchall() == [(3, 0, 2, 0, "a"), (4, 1, 6, 2, "b")]


def test_texts_of_like_words_stand_together_once_each(con):
    con.execute(
        "create table line as select unnest(['2 eggs', '3 g salt', '1 g salt', '2 eggs']) as text"
    )
    found = con.execute(filled("bulk_texts", line="line") + " order by place").fetchall()
    assert found == [("2 eggs", 0), ("1 g salt", 1), ("3 g salt", 2)]


def test_foods_of_a_line_are_numbered_behind_the_last_line_as_in_memory(con):
    rows = [
        (recipe, no, "", text, no)
        for recipe in ("a", "b")
        for no, text in enumerate(["1 egg + 30 ml milk", "1 tsp salt", "salt & oil"], start=1)
    ]
    parts = {"1 egg + 30 ml milk": ["1 egg", "30 ml milk"], "salt & oil": ["salt", "oil"]}
    line = LINE.frame(rows)  # noqa: F841  (DuckDB finds it by its name)
    part = PART.frame((t, no, p) for t, of in parts.items() for no, p in enumerate(of, 1))  # noqa: F841
    found = con.execute(
        filled("bulk_lines", line="line", part="part")
        + " order by recipe_id, coalesce(part_of, line_no), line_no"
    ).fetchall()
    wanted = split_lines(LINE.frame(rows), parts).astype(object)
    assert found == list(wanted.where(wanted.notna(), None).itertuples(index=False, name=None))


def test_recipes_used_through_others_come_along(con):
    con.execute(
        "create table uses as select * from (values ('000000-1', '000001-1'), ('000001-1', '000002-5'))"
        " as t(key, used_key);"
        "create table company as select 2 as part, '000000-9' as used_key"
    )
    assert con.execute(sql("bulk_needed")).fetchall() == [
        (0, "000001-1", 1), (0, "000002-5", 2), (1, "000002-5", 2), (2, "000000-9", 0),
    ]  # fmt: skip


def test_small_creators_are_seen_whole_by_every_part_that_holds_some(con):
    con.execute(
        "create table recipe as select * from (values ('000000-1', 'ann'), ('000001-1', 'ann'),"
        " ('000000-2', 'ben'), ('000000-3', 'ben'), ('000001-2', 'cyd'), ('000000-4', 'cyd'),"
        " ('000001-3', 'cyd')) as t(recipe_id, creator)"
    )
    found = con.execute(sql("bulk_company"), {"most": 2, "room": 5}).fetchall()
    assert found == [(0, "000001-1"), (1, "000000-1")]  # ben is whole, cyd has too many
    assert con.execute(sql("bulk_company"), {"most": 5, "room": 1}).fetchall() == [
        (0, "000001-1"), (1, "000000-1"),
    ]  # fmt: skip


def test_looking_for_titles_that_nobody_says_takes_little_memory(tmp_path):
    """Names of lines come first: memory is that of the buffers, not that of the titles."""
    tables = {
        "recipe": "'r' || i as recipe_id, 'a slow bake of leeks and barley, page ' || i as title_key,"
        " 'c' || i % 50 as creator, 'book.csv' as source, 'serving' as portion, 4.0 as servings from range(200_000) as t(i)",
        "line": "'r' || i % 200_000 as recipe_id, (i // 200_000)::integer as line_no, '' as section,"
        " i % 20_000 || ' g of a food' as text from range(1_600_000) as t(i)",
        "matched": "i || ' g of a food' as text, 'food long ' || i as name_key, i % 50 = 0 as dish,"
        " '' as said_unit, 1.0 as said_amount, '' as said_piece, '' as said, true as known from range(20_000) as t(i)",
    }
    small = {"threads": 1, "memory_limit": "75MB", "temp_directory": str(tmp_path / "spill")}
    with duckdb.connect(config=small) as con:
        for name, query in tables.items():
            con.execute(f"copy (select {query}) to '{tmp_path}/{name}.parquet'")
            con.execute(f"create view {name} as from '{tmp_path}/{name}.parquet'")
        assert con.execute(sql("read_uses")).fetchall() == []
