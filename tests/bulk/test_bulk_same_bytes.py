"""Both doors write the same bytes: the plain run, the run in one part, the run in several."""

from __future__ import annotations

from pathlib import Path

import pytest

import pipeline
from pipeline.bulk.schedule import verify_bulk
from pipeline.report import write
from pipeline.report.tables import LAYOUT
from pipeline.resources import ROOT

PAGES = ROOT.parent / "shared" / "data" / "fetched" / "pages"
COLLECTIONS = [
    ROOT / "data" / "demo",
    pytest.param(
        PAGES,
        marks=[
            pytest.mark.soak,
            pytest.mark.skipif(not PAGES.is_dir(), reason="no public pages here"),
        ],
    ),
]


@pytest.fixture(scope="module", params=COLLECTIONS, ids=lambda path: path.name)
def doors(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, Path, Path]:
    """CSV files of the plain run, of one part, and of several."""
    folder = tmp_path_factory.mktemp("doors")
    write(pipeline.verify(request.param), folder / "plain", formats=["csv"])
    for name, part_recipes in (("one", 5_000), ("several", 60)):
        verify_bulk(request.param, folder / name, part_recipes=part_recipes, workers=1, csv=True)
    return folder / "plain", folder / "one" / "bulk", folder / "several" / "bulk"


@pytest.mark.parametrize("name", list(LAYOUT))
def test_the_same_bytes_come_out_of_both_doors(doors: tuple[Path, Path, Path], name: str) -> None:
    plain, one, several = (
        sorted((door / f"{name}.csv").read_bytes().splitlines(keepends=True)) for door in doors
    )
    assert one == plain
    assert several == plain
