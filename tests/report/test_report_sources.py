"""Where several tables are in use, every output says which one a food comes from."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from national_tables import ids

from pipeline.cli import app
from pipeline.report import write
from pipeline.run import verify
from pipeline.snapshot import Snapshot

TITLE = "Skarrow Harbour food table (invented)"


def test_files_and_page_name_the_table_of_a_food(harbour_beside: Snapshot, tmp_path: Path) -> None:
    (tmp_path / "r.txt").write_text("Toast\nServes 1\n\n1 slice rusk\n2 eggs\n\n100 kcal\n")
    banana = ids()["Banana raw"]
    (tmp_path / "decisions.csv").write_text(
        f"text,food_id,applies_to\n1 slice rusk,{banana},line\n2 eggs,sr28:01123,line\n"
    )
    result = verify(tmp_path, snapshot=harbour_beside)
    write(result, tmp_path / "out")
    told = json.loads((tmp_path / "out" / "report.json").read_text(encoding="utf-8"))
    assert [line["food_source"] for line in told["lines"]] == [TITLE, "USDA SR28"]
    header = (tmp_path / "out" / "lines.csv").read_text(encoding="utf-8").splitlines()[0]
    assert header.endswith(",food_source")
    pages = (tmp_path / "out" / "pages").iterdir()
    page = "".join(p.read_text(encoding="utf-8") for p in pages)
    assert f"{banana}, {TITLE}" in page
    assert "sr28:01123, USDA SR28" in page


@pytest.mark.soak
def test_one_table_is_not_repeated_on_the_page(snapshot: Snapshot, tmp_path: Path) -> None:
    (tmp_path / "r.txt").write_text("Eggs\nServes 1\n\n2 eggs\n\n140 kcal\n")
    write(verify(tmp_path, snapshot=snapshot), tmp_path / "out")
    assert "USDA SR28" not in (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "USDA SR28" in (tmp_path / "out" / "lines.csv").read_text(encoding="utf-8")


def test_the_terminal_has_a_column_where_there_are_several(
    harbour_beside: Snapshot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STEELYARD_HOME", str(harbour_beside.folder.parents[1]))
    out = CliRunner().invoke(app, ["foods", "banana raw", "--limit", "5"]).stdout
    assert "from" in out.splitlines()[0].split()
    assert "Skarrow Harbour" in out
    assert "USDA SR28" in out
