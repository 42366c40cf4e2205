"""The report of a large collection as files: complete, escaped, of bounded first sight."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.report import paged, write
from pipeline.report.page_rows import PAGE_ROWS, page_rows
from pipeline.report.paged import (
    DATA,
    PIECES,
    RECIPES_A_CHUNK,
    ROWS_A_CHUNK,
    no_rows,
    write_paged_result,
)
from pipeline.report.tables import LAYOUT
from pipeline.report.view import MOST_PAGES, page_names
from pipeline.report.words import standing_of
from pipeline.run import Result

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
import overview as large

EVIL = "<img src=x onerror=alert(1)>\"'</script><script>alert(2)</script>"


def chunks_of(folder: Path, kind: str) -> list[list[Any]]:
    """The rows of every file of a kind, in order."""
    out: list[list[Any]] = []
    for path in sorted((folder / DATA).glob(f"{kind}-*.js")):
        text = path.read_text(encoding="utf-8")
        head, tail = f'steelyard("{path.stem}", ', ");\n"
        assert text.startswith(head)
        out.append(json.loads(text.removeprefix(head).removesuffix(tail)))
    return out


def rows_of(folder: Path, kind: str) -> list[Any]:
    """Every row of the chunks of a kind, in order."""
    return [row for rows in chunks_of(folder, kind) for row in rows]


def recipes_of(folder: Path) -> list[dict[str, Any]]:
    """What is shown of every recipe: its cells by name, and its other pieces as lists."""
    out: list[dict[str, Any]] = []
    for rows in chunks_of(folder, "recipes"):
        start = len(out)
        out += [{kind: [] for kind in PIECES} for _ in range(rows[-1][0] + 1)]
        for at, kind, *cells in rows:
            assert len(cells) == len(PIECES[kind])
            if kind == "recipe":
                out[start + at] |= dict(zip(PIECES[kind], cells, strict=True))
            else:
                out[start + at][kind].append(cells)
    return out


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of 1,234 invented recipes."""
    out = tmp_path_factory.mktemp("large")
    large.write(1234, out)
    return out


def test_every_recipe_is_there_once_and_in_order(folder: Path) -> None:
    index, recipes = rows_of(folder, "index"), recipes_of(folder)
    assert len(index) == len(recipes) == 1234
    assert [r[0] for r in index] == [r["title"] for r in recipes]
    assert len({r["source"] for r in recipes}) == 1234
    assert all(len(r["lines"]) == large.LINES and len(r["findings"]) == 4 for r in recipes)
    order = ["disagrees", "uncertain", "accepted", "agrees", "not_judged"]
    places = [order.index(r[1]) for r in index]
    assert places == sorted(places)
    off = [abs(r[5] - r[4]) / r[4] for r in index if r[1] == "disagrees"]
    assert off == sorted(off, reverse=True)


def test_chunks_are_of_the_size_that_the_pages_reckon_with(folder: Path) -> None:
    names = sorted(p.name for p in (folder / DATA).iterdir())
    chunks = {kind: sum(n.startswith(kind) for n in names) for kind in ("index", "recipes")}
    assert chunks == {
        "index": -(-1234 // ROWS_A_CHUNK),
        "recipes": -(-1234 // RECIPES_A_CHUNK),
    }


@pytest.mark.soak
def test_stretches_make_the_same_files(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(paged, "STRETCH", 1000)  # a whole one and a part of one
    large.write(1234, tmp_path)
    for kind in ("index", "recipes"):
        assert chunks_of(tmp_path, kind) == chunks_of(folder, kind)


def test_first_sight_does_not_grow_with_the_collection(folder: Path, tmp_path: Path) -> None:
    large.write(4000, tmp_path)
    small, big = ((f / "report.html").stat().st_size for f in (folder, tmp_path))
    assert big < 1.05 * small < 500_000


def test_without_script_the_overview_has_counts_and_the_first_rows(folder: Path) -> None:
    page = (folder / "report.html").read_text(encoding="utf-8")
    counts = {v: sum(r[1] == v for r in rows_of(folder, "index")) for v in ("disagrees", "agrees")}
    for verdict, n in counts.items():
        assert f'<option value="{verdict}">{standing_of(n, verdict)} ({n})' in page
    body = page.partition('id="all-recipes"')[2].partition("</table>")[0]
    assert body.count("<tr ") == 51  # with its head
    assert rows_of(folder, "index")[0][0] in body
    assert "<noscript>" in page
    assert "amount-ambiguous" in page  # problems: each kind once
    assert page.count("a line can be read two ways") <= 4


@pytest.mark.soak
def test_a_result_in_memory_makes_the_same_report_as_tables_of_parts(
    make: Callable[..., Result], tmp_path: Path
) -> None:
    good = {"kcal": (310.0, 305.0, 290.0, 320.0, 35.0, "agrees")}
    many = [(f"r{n}", f"Recipe {n}", "", "agrees", good) for n in range(MOST_PAGES + 1)]
    result = make(many, explanations=[])
    written = write(result, tmp_path, formats=["html"])
    names = {p.relative_to(tmp_path).as_posix() for p in written}
    assert {"report.html", "report-recipe.html", f"{DATA}/index-000000.js"} <= names
    assert not (tmp_path / "pages").exists()
    hrefs = page_names(result)
    index = rows_of(tmp_path, "index")
    for recipe_id, title in zip(result.recipes["recipe_id"], result.recipes["title"], strict=True):
        number = int(hrefs[recipe_id].rpartition("#")[2])
        assert index[number - 1][0] == title


@pytest.mark.soak
def test_a_collection_of_up_to_the_limit_keeps_a_page_a_recipe(
    make: Callable[..., Result], tmp_path: Path
) -> None:
    good = {"kcal": (310.0, 305.0, 290.0, 320.0, 35.0, "agrees")}
    many = [(f"r{n}", f"Recipe {n}", "", "agrees", good) for n in range(MOST_PAGES)]
    write(make(many, explanations=[]), tmp_path, formats=["html"])
    assert len(list((tmp_path / "pages").iterdir())) == MOST_PAGES
    assert not (tmp_path / DATA).exists()


def test_hostile_texts_stay_data(collection: Result, tmp_path: Path) -> None:
    collection.recipes["title"] = EVIL
    collection.lines["text"] = EVIL
    collection.to_review["text"] = EVIL
    write_paged_result(collection, tmp_path)
    for name in ("report.html", "report-recipe.html"):
        page = (tmp_path / name).read_text(encoding="utf-8")
        assert "<img src=x" not in page
        assert "alert(2)</script>" not in page
        assert "'strict-dynamic'" in page
    assert {r["title"] for r in recipes_of(tmp_path)} == {EVIL}


def test_missing_and_boundless_numbers_are_told_apart(
    make: Callable[..., Result], tmp_path: Path
) -> None:
    inf, nan = float("inf"), float("nan")
    spec = [
        ("a", "A", "", "agrees", {"kcal": (500.0, 400.0, nan, nan, inf, "agrees")}),
        ("b", "B", "", "not_judged", {}),
    ]
    write_paged_result(make(spec, explanations=[]), tmp_path)
    first, second = recipes_of(tmp_path)
    assert first["findings"] == [["kcal", 500, 400, None, None, "inf", "agrees", "per_serving"]]
    assert second["findings"] == []


def test_no_recipe_at_all_is_a_report_too(make: Callable[..., Result], tmp_path: Path) -> None:
    write_paged_result(make([]), tmp_path)
    assert "No recipe was found" in (tmp_path / "report.html").read_text(encoding="utf-8")
    with duckdb.connect() as con:
        for name in (*LAYOUT, *PAGE_ROWS):
            assert con.execute(f"select count(*) from {no_rows(name)}").fetchall() == [(0,)]


def test_tables_of_pages_have_their_columns(collection: Result) -> None:
    made = {t.name: list(t.frame.columns) for t in page_rows(collection)}
    assert made == PAGE_ROWS
