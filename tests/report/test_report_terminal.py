"""The terminal at any size: what grows with the collection stands in the files."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.problems import Problem, problems_frame
from pipeline.report.guide import next_steps
from pipeline.report.terminal import (
    MOST_FIRST,
    MOST_PROBLEMS,
    MOST_WHOLE,
    print_result,
    problem_lines,
    shown_rows,
)
from pipeline.report.todo import how_many, to_do
from pipeline.run import Result

GOOD = {"kcal": (310.0, 305.0, 290.0, 320.0, 35.0, "agrees")}


def many(make: Callable[..., Result], recipes: int) -> Result:
    """Invented recipes, every second disagrees, by more the higher its number; two problems each."""
    specs = [
        (f"r{n:04d}", f"Jetty stew {n:04d}", "", "disagrees" if n % 2 else "agrees",
         {"kcal": (700.0 + n, 305.0, 290.0, 320.0, 35.0, "disagrees")} if n % 2 else GOOD)
        for n in range(recipes)
    ]  # fmt: skip
    problems = [
        Problem(code, f"{code} {n}", "it was left", "mend it", source=f"f{n}.txt", source_line=n,
                recipe_id=f"r{n:04d}", severity=severity)
        for n in range(recipes)
        for code, severity in (("amount-odd", "warning"), ("line-unread", "error"))
    ]  # fmt: skip
    return make(specs, explanations=[], problems=problems)


def said(result: Result, capsys: pytest.CaptureFixture[str], **options: object) -> list[str]:
    print_result(result, [], options.pop("out", None), paths=["x"], **options)  # type: ignore[arg-type]
    return capsys.readouterr().out.splitlines()


def test_a_small_collection_is_shown_whole(
    make: Callable[..., Result], capsys: pytest.CaptureFixture[str]
) -> None:
    lines = said(many(make, MOST_WHOLE), capsys)
    assert sum("Jetty stew" in line for line in lines) == MOST_WHOLE
    assert not any("more, which differ less" in line for line in lines)


def test_a_title_is_printed_as_it_is_written(
    make: Callable[..., Result], capsys: pytest.CaptureFixture[str]
) -> None:
    result = make([("r1", "Jetty :egg: stew", "", "agrees", GOOD)], explanations=[], problems=[])
    assert any("Jetty :egg: stew" in line for line in said(result, capsys))


def test_nothing_grows_with_a_large_collection(
    make: Callable[..., Result], capsys: pytest.CaptureFixture[str]
) -> None:
    small, large = (said(many(make, n), capsys) for n in (60, 240))
    assert len(small) == len(large)
    assert sum("Jetty stew" in line for line in large) == MOST_FIRST
    assert "Jetty stew 0239" in large[2]  # the farthest off stands first
    assert any(line.startswith("... and 220 more") for line in large)
    assert any(line.startswith("240 recipes against") for line in large)


def test_what_is_left_out_stands_in_a_file_that_is_named(
    make: Callable[..., Result], capsys: pytest.CaptureFixture[str]
) -> None:
    lines = said(many(make, 60), capsys, out=Path("out"))
    assert any("all are in recipes.csv" in line for line in lines)
    assert any("problems.csv" in line for line in lines)
    assert any("--out FOLDER" in line for line in said(many(make, 60), capsys))


@pytest.mark.parametrize("show", [0, 3, 100])
def test_as_many_as_were_asked_for_are_shown(
    make: Callable[..., Result], capsys: pytest.CaptureFixture[str], show: int
) -> None:
    lines = said(many(make, 50), capsys, show=show)
    assert sum("Jetty stew" in line for line in lines) == min(show, 50)
    assert shown_rows(50, show) == min(show, 50)


def test_many_problems_are_told_by_kind_the_gravest_first() -> None:
    few = [Problem("a", f"a {n}", "w", "f", source=f"s{n}") for n in range(MOST_PROBLEMS)]
    assert len(problem_lines(problems_frame(few))) == MOST_PROBLEMS
    noted = [Problem("z", f"z {n}", "w", "f", severity="note") for n in range(40)]
    lines = problem_lines(problems_frame([*noted, *few]))
    assert lines == [
        f"error: s0: a 0 [a], and {MOST_PROBLEMS - 1} more of this kind",
        "note: z 0 [z], and 39 more of this kind",
    ]


def test_what_waits_is_counted_as_the_report_lists_it(
    make: Callable[..., Result], collection: Result
) -> None:
    for result in (collection, make(), many(make, 50), make([])):
        groups = {g.kind: len(g.tasks) for g in to_do(result, {}, {})}
        settle = int((result.habits["probability"] >= 0.8).sum())
        listed = {k: groups.get(k, 0) for k in ("fix", "answer", "weigh")}
        assert how_many(result) == listed | {"settle": settle}
    assert any(
        "25 recipes" in does for _, does in next_steps(many(make, 50), ["x"], out=Path("out"))
    )
