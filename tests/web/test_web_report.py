"""A report beside the review page: its lines open here; without a server it copies the command."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from web_client import Client

import pipeline
from pipeline.problems import SteelyardError
from pipeline.web.model import line_key
from pipeline.web.report_routes import ReportRoutes
from pipeline.web.session import ReviewSession
from pipeline.web.state import ReviewState

QUARK = line_key("3 tbsp quark")


@pytest.fixture
def report(cards: Path, tmp_path: Path, snapshot: Any) -> Path:
    from pipeline.report import write

    out = tmp_path / "out"
    write(pipeline.verify(cards, snapshot=snapshot), out)
    return out


@pytest.fixture
def page(cards: Path, report: Path, snapshot: Any, serve: Any) -> Iterator[Client]:
    session = ReviewSession(ReviewState(cards, snapshot=snapshot))
    with serve(session, report) as client:
        yield client
    session.close()


def test_lines_of_the_report_open_in_the_review(page: Client, report: Path) -> None:
    alone = (report / "report.html").read_text(encoding="utf-8")
    assert "Copy the review command" in alone
    assert 'href="/line/' not in alone  # a file on disk has no server to open
    got = page.get("/report/")
    assert got.status == 200
    assert "Copy the review command" not in got.text
    keys = re.findall(r'href="/line/([0-9a-f]{16})">Open in the review', got.text)
    assert QUARK in keys
    for key in keys:
        assert page.get(f"/line/{key}").status == 200
    assert 'href="/report/"' in page.get("/").text


@pytest.mark.soak
def test_pages_of_recipes_are_served_and_nothing_outside(page: Client, report: Path) -> None:
    name = next((report / "pages").iterdir()).name
    assert page.get(f"/report/pages/{name}").status == 200
    (report.parent / "secret.html").write_text("x")
    for path in ("/report/../secret.html", "/report/%2e%2e/secret.html", "/report/none.html"):
        assert page.get(path).status == 404
    got = page.get("/report/", cookie=None)
    assert got.status == 403


def test_a_folder_without_a_report_is_said(tmp_path: Path) -> None:
    with pytest.raises(SteelyardError) as fault:
        ReportRoutes(tmp_path)
    assert fault.value.problem.code == "report-not-found"


def test_without_a_report_there_is_none(untouched: Client) -> None:
    assert untouched.get("/report/").status == 404
    assert "/report/" not in untouched.get("/").text


def test_a_report_that_answers_have_overtaken_says_so(page: Client, report: Path) -> None:
    assert "older than your latest answers" not in page.get("/report/").text
    own = report.parent / "cards"
    later = (report / "report.html").stat().st_mtime + 5
    (own / "decisions.csv").write_text("text,food_id\n3 tbsp quark,sr28:01012\n")
    os.utime(own / "decisions.csv", (later, later))
    assert "older than your latest answers" in page.get("/report/").text
