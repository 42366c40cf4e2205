"""CSV, Parquet and JSON: exact columns, numbers that stay numbers, text that cannot run."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable
from pathlib import Path

import duckdb
import pandas as pd
import pytest
from examples import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.habits import HABIT
from pipeline.nutrients import NUTRIENTS
from pipeline.problems import PROBLEM_COLUMNS
from pipeline.report import write
from pipeline.report.data_files import neutral, write_csv, write_parquet
from pipeline.report.tables import table
from pipeline.run import Result
from pipeline.tables import EXPLANATION, FINDING, LINE_RESULT, TO_REVIEW

RECIPE_COLUMNS = [
    "recipe_id", "title", "source", "verdict", "coverage", "basis",
    "kcal_stated", "kcal_computed", "protein_g_stated", "protein_g_computed",
    "carbs_g_stated", "carbs_g_computed", "fat_g_stated", "fat_g_computed",
    "fiber_g_stated", "fiber_g_computed", "sugar_g_stated", "sugar_g_computed",
    "sodium_mg_stated", "sodium_mg_computed", "accepted",
]  # fmt: skip
EXPECTED = {
    "recipes": RECIPE_COLUMNS,
    "findings": FINDING,
    "lines": [*LINE_RESULT, *(n.column for n in NUTRIENTS), "part_of", "food_source"],
    "explanations": [*EXPLANATION, "basis"],
    "problems": PROBLEM_COLUMNS,
    "to_review": TO_REVIEW,
    "habits": HABIT,
}


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def test_every_file_is_there_with_its_columns(collection: Result, tmp_path: Path) -> None:
    paths = write(collection, tmp_path)
    written = {p.name for p in paths if p.parent == tmp_path}
    assert len(paths) - len(written) == len(collection.recipes)  # a page a recipe
    names = ["recipes", "findings", "lines", "explanations", "problems", "to_review", "claims",
             "corrected", "habits"]  # fmt: skip
    assert written == {f"{n}.{e}" for n in names for e in ("csv", "parquet")} | {
        "report.html", "report.json",
    }  # fmt: skip
    assert written == {p.name for p in tmp_path.iterdir() if p.is_file()}
    for name, columns in EXPECTED.items():
        with (tmp_path / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
            assert next(csv.reader(handle)) == columns
        described = duckdb.sql(f"describe from '{tmp_path / name}.parquet'").fetchall()
        assert [c[0] for c in described] == columns


def test_an_empty_run_still_has_every_file_and_header(
    make: Callable[..., Result], tmp_path: Path
) -> None:
    write(make([]), tmp_path)
    for name, columns in EXPECTED.items():
        assert (tmp_path / f"{name}.csv").read_text().splitlines() == [",".join(columns)]
    assert json.loads((tmp_path / "report.json").read_text())["recipes"] == []


def test_integers_are_integers_and_missing_is_blank(collection: Result, tmp_path: Path) -> None:
    write(collection, tmp_path, formats=["csv"])
    first, second = rows(tmp_path / "explanations.csv")
    assert (first["line_no"], first["rank"]) == ("", "1")
    assert second["line_no"] == "1"
    cake = next(r for r in rows(tmp_path / "recipes.csv") if r["recipe_id"] == "cake")
    assert cake["kcal_stated"] == cake["kcal_computed"] == ""
    problem = rows(tmp_path / "problems.csv")
    assert [p["source_line"] for p in problem] == ["", "3"]


def test_numbers_agree_between_csv_parquet_and_json(collection: Result, tmp_path: Path) -> None:
    write(collection, tmp_path, formats=["csv", "parquet", "json"])
    as_csv = pd.read_csv(tmp_path / "findings.csv")
    as_parquet = duckdb.sql(f"from '{tmp_path}/findings.parquet'").df()
    as_json = pd.DataFrame(json.loads((tmp_path / "report.json").read_text())["findings"])
    for column in ("stated", "computed", "low", "high", "difference", "allowed"):
        assert as_csv[column].tolist() == pytest.approx(collection.findings[column].tolist())
        assert as_csv[column].tolist() == pytest.approx(as_parquet[column].tolist())
        assert as_csv[column].tolist() == pytest.approx(as_json[column].tolist())
    assert as_csv["difference"].min() < 0  # a minus sign is no formula


def test_an_allowance_without_limit(make: Callable[..., Result], tmp_path: Path) -> None:
    spec = [("r", "R", "", "agrees", {"kcal": (500.0, 400.0, 390.0, 410.0, math.inf, "agrees")})]
    write(make(spec, profile="us"), tmp_path)
    assert rows(tmp_path / "findings.csv")[0]["allowed"] == "inf"
    assert json.loads((tmp_path / "report.json").read_text())["findings"][0]["allowed"] is None


def test_numbers_to_publish_are_kept_as_shown(collection: Result, tmp_path: Path) -> None:
    write(collection, tmp_path, formats=["csv", "parquet"])
    assert rows(tmp_path / "corrected.csv")[0]["fiber_g"] == "<0.5"
    assert duckdb.sql(f"select fiber_g from '{tmp_path}/corrected.parquet'").fetchall()[0] == (
        "<0.5",
    )


HOSTILE = [
    '=HYPERLINK("http://x.example","click")', "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "＝1",
    "'=1", "''+2", "- 2 eggs",
]  # fmt: skip
HARMLESS = ["2 eggs", "1/2 = half", "'quoted'", "-", "=", "", " =1", "½ cup"]


@pytest.mark.parametrize("text", HOSTILE)
def test_a_cell_that_a_spreadsheet_would_run_gets_an_apostrophe(text: str) -> None:
    assert neutral(text) == "'" + text


@pytest.mark.parametrize("text", HARMLESS)
def test_other_text_is_left_alone(text: str) -> None:
    assert neutral(text) == text


@given(
    st.lists(st.text(max_size=12) | st.sampled_from(HOSTILE + HARMLESS), min_size=1, max_size=60)
)
@settings(max_examples=examples(15), suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_text_comes_back_and_never_starts_a_formula(tmp_path: Path, texts: list[str]) -> None:
    made = table("t", pd.DataFrame({"recipe_id": texts, "stated": [-1.5] * len(texts)}))
    with duckdb.connect() as con:
        write_csv(con, made, tmp_path / "t.csv")
        write_parquet(con, made, tmp_path / "t.parquet")
        back = [
            r[0] for r in con.execute(f"select recipe_id from '{tmp_path}/t.parquet'").fetchall()
        ]
    held = [t.replace("\0", "\ufffd") for t in texts]
    assert back == held
    with (tmp_path / "t.csv").open(encoding="utf-8", newline="") as handle:
        cells = list(csv.reader(handle))[1:]
    assert [c[0] for c in cells] == [neutral(t) for t in held]
    assert {c[1] for c in cells} == {"-1.5"}
    for cell, text in zip(cells, held, strict=True):
        assert len(cell[0]) < 2 or cell[0][0] not in "=+-@\t\r＝＋－＠"
        assert cell[0] == text or cell[0].removeprefix("'") == text


def test_half_a_surrogate_pair_and_nul_do_not_stop_the_run(
    make: Callable[..., Result], tmp_path: Path
) -> None:
    spec = [("r", "Tab\ud83dle \0 soup", "", "not_judged", {})]
    formats = ["csv", "parquet", "json", "html", "markdown", "junit", "sarif"]
    write(make(spec), tmp_path, formats=formats)
    assert rows(tmp_path / "recipes.csv")[0]["title"] == "Tab\ufffdle \ufffd soup"
    for name in ("report.html", "report.md", "report.junit.xml", "report.sarif"):
        (tmp_path / name).read_text(encoding="utf-8")


def test_an_unknown_format_is_refused_before_anything_is_written(
    collection: Result, tmp_path: Path
) -> None:
    with pytest.raises(ValueError, match="pdf"):
        write(collection, tmp_path / "out", formats=["csv", "pdf"])
    assert not (tmp_path / "out").exists()
