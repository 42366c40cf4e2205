"""Problems in the words of a table: every row is used, and called with all its values."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from string import Formatter
from typing import get_args

import pytest

import pipeline
from pipeline.exit_codes import Exit
from pipeline.problems import Severity, failure, input_problem
from pipeline.resources import shared_rows

INPUT = {row["code"]: row for row in shared_rows("input_problems.csv")}
COMMAND = {row["code"]: row for row in shared_rows("command_problems.csv")}
ROWS = INPUT | COMMAND
#: Arguments of ``input_problem`` that are no values of a row.
OWN = {"source", "source_line", "recipe_id", "line_no", "severity", "text", "extra"}
#: What takes the code of a row and its values.
TAKERS = {"input_problem", "failure", "RefusedError", "YamlRefusedError", "JsonRefusedError"}


def names_in(row: dict[str, str]) -> set[str]:
    texts = (row["what"], row["why"], row["fix"])
    named = {name for text in texts for _, name, _, _ in Formatter().parse(text) if name}
    return named - {"source"}


def calls() -> Iterator[tuple[str, ast.Call]]:
    for path in sorted(Path(pipeline.__file__).parent.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in TAKERS:
                yield f"{path.name}:{node.lineno}", node


def test_calls_give_the_values_their_row_asks_for() -> None:
    found = 0
    for place, call in calls():
        first = call.args[0]
        given = {keyword.arg for keyword in call.keywords} - OWN
        if isinstance(first, ast.Constant):  # else the code is chosen among several of one form
            assert names_in(ROWS[first.value]) == given, (place, first.value)
            found += 1
    assert found > 100


def test_every_row_is_used() -> None:
    assert not INPUT.keys() & COMMAND.keys()
    sources = "".join(p.read_text("utf-8") for p in Path(pipeline.__file__).parent.rglob("*.py"))
    made = {"file-not-amended/line", "file-not-amended/servings", "file-not-amended/weight"}
    assert [code for code in ROWS if f'"{code}"' not in sources and code not in made] == []


@pytest.mark.parametrize("code", COMMAND)
def test_a_failure_ends_with_the_exit_code_of_its_row(code: str) -> None:
    row = COMMAND[code]
    made = failure(code, source="a.txt", **dict.fromkeys(names_in(row), 7))
    assert made.exit_code == Exit[row["exit"] or "USAGE"] not in (Exit.OK, Exit.FAIL_ON)
    assert str(made) == made.problem.what


@pytest.mark.parametrize("code", ROWS)
def test_a_row_says_what_why_and_how_to_fix_it(code: str) -> None:
    row = ROWS[code]
    assert row["severity"] in get_args(Severity)
    made = input_problem(code, source="a.txt", source_line=3, **dict.fromkeys(names_in(row), 7))
    assert made.code == code.partition("/")[0]
    assert made.severity == row["severity"]
    assert made.what
    assert made.why
    assert made.fix
    assert "{" not in made.what + made.why
    assert made.where == "a.txt:3"
