"""The one reader of CSV: whole rows as they are, faulty ones told by line, nothing after them lost."""

from __future__ import annotations

import csv
import io

import pytest
from growth import cpu_seconds, growth
from hypothesis import given
from hypothesis import strategies as st

from pipeline import csv_rows
from pipeline.csv_rows import (
    MOST_LISTED,
    Fault,
    Row,
    all_plain,
    problems_of,
    rows,
    split_lines,
    write_row,
)


def read(text: str, delimiter: str = ","):
    return list(rows(split_lines(text), delimiter))


def cells(text: str) -> list[list[str]]:
    return [item.cells for item in read(text) if isinstance(item, Row)]


def faults(text: str) -> list[tuple[int, int]]:
    return [(item.line, item.last) for item in read(text) if isinstance(item, Fault)]


CELL = st.text(st.sampled_from('ab ,"\n;é'), max_size=6)


@given(st.lists(st.lists(CELL, min_size=3, max_size=3), min_size=1, max_size=8))
def test_what_a_csv_writer_wrote_comes_back(table):
    out = io.StringIO()
    csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL).writerows(table)
    found = read(out.getvalue())
    assert [item.cells for item in found] == table
    assert "\n".join(write_row(row, ",") for row in table).count("\n") >= len(table) - 1
    again = "".join(write_row(row, ",") + "\n" for row in [["h"] * 3, *table])
    assert cells(again)[1:] == [row for row in table if write_row(row, ",").strip()]


@given(st.text(st.sampled_from('ab,"\n '), max_size=80))
def test_every_line_is_in_a_row_or_a_fault_or_blank(text):
    lines = list(split_lines(text))
    told: set[int] = set()
    for item in read(text):
        last = item.last if isinstance(item, Fault) else item.line + item.lines - 1
        told |= set(range(item.line, last + 1))
    for at, line in enumerate(lines, start=1):
        assert at in told or not line.strip(), (at, line)


@given(st.text(st.sampled_from('ab,"\n '), max_size=80), st.integers(1, 9))
def test_a_table_is_plain_when_each_line_is_a_plain_row(text, block):
    found = read(text)
    plain = all(isinstance(item, Row) and item.plain and item.lines == 1 for item in found)
    plain = (
        plain
        and [item.line for item in found] == list(range(1, text.count("\n") + 2))[: len(found)]
    )
    lines = [*split_lines(text)]
    before = csv_rows._BLOCK
    csv_rows._BLOCK = block  # lines reach over the ends of blocks
    try:
        assert all_plain(io.StringIO(text), ",") == (plain and len(found) == len(lines) > 0)
    finally:
        csv_rows._BLOCK = before


def test_one_unclosed_quote_costs_its_own_row():
    text = 'title,servings,line\nA,2,"1 egg\n' + "".join(f"B{n},2,{n} eggs\n" for n in range(40))
    assert len(cells(text)) == 41
    assert faults(text) == [(2, 2)]


def test_the_lines_of_an_unclosed_cell_are_no_rows():
    text = 'title,servings,ingredients\nA,2,"1 egg\n2 eggs\n3 eggs\nB,3,"x"\nC,3,y\n'
    assert cells(text)[1:] == [["B", "3", "x"], ["C", "3", "y"]]
    assert faults(text) == [(2, 4)]


def test_a_row_too_wide_costs_itself_and_empty_cells_beyond_nothing():
    text = "a,b\n1,2,3\n4\n5,6,,\n"
    assert cells(text) == [["a", "b"], ["4"], ["5", "6"]]
    assert faults(text) == [(2, 2)]


def test_quotes_inside_a_word_are_the_word():
    assert cells('a,b\n12" pan,"4"" tin" \n')[1] == ['12" pan', '4" tin']


def test_many_faults_are_counted_beyond_the_first():
    told = problems_of([Fault(n, n, "why", "") for n in range(1, 500)], "x.csv")
    assert len(told) == MOST_LISTED + 1
    assert "399" in told[-1].what


@pytest.mark.parametrize(
    "line",
    ['x,"y', '"', ',"",', *(
        pytest.param(line, marks=pytest.mark.soak)
        for line in ['""', '"""', 'a,"b"c', '"a","b', 'x","y', '"" "', '"a""b', '", "x']
    )],
)  # fmt: skip
def test_the_time_grows_with_the_length(line):
    def seconds(n: int) -> float:
        text = "h,i,j\n" + (line + "\n") * n
        return cpu_seconds(lambda: read(text))

    seconds(1_000)
    assert growth(seconds, 10_000, within=6) <= 6  # linear is 4, quadratic 16
