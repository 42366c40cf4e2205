"""Clocks that jump, folders nobody may read, workbooks beside bombs, pages and folders of any size."""

from __future__ import annotations

import datetime as dt
import json
import os
import time
import zipfile
from pathlib import Path

import pytest
from growth import cpu_seconds, growth

from pipeline.intake import read_collection
from pipeline.memory import Decision, decisions, load_decisions, save_decision
from pipeline.snapshot import home as homes
from pipeline.snapshot import list_snapshots, live, rollback, use

GOOD = "Quay soup\nServes 2\n\n100 g rice\n10 g butter\n\nPer serving: 217 kcal\n"


def codes(collection, source: str) -> list[str]:
    return [p.code for p in collection.problems if p.source == source]


# --- clocks -------------------------------------------------------------------------------------


def at(monkeypatch, day: str) -> None:
    """Set the clock that dates answers."""

    class Day(dt.date):
        @classmethod
        def today(cls):
            return cls.fromisoformat(day)

    monkeypatch.setattr(decisions.dt, "date", Day)


def test_the_later_answer_stands_whatever_the_clocks_of_two_people_say(tmp_path, monkeypatch):
    path = tmp_path / "decisions.csv"
    at(monkeypatch, "2031-05-01")
    save_decision(path, Decision("2 figs", "sr28:09089", 80))
    at(monkeypatch, "1999-01-01")
    save_decision(path, Decision("2 figs", "sr28:09089", 100))
    answers, problems = load_decisions(path)
    found = answers.find("2 figs")
    assert found is not None
    assert (found.grams, found.decided_on, problems) == (100, "1999-01-01", [])
    # two people's rows in one file, merged by hand: the last row of the file stands, not the date
    path.write_text(
        "text,food_id,grams,applies_to,decided_on\n"
        "2 figs,,50,line,2099-01-01\n2 figs,,60,line,1970-01-01\n2 figs,,70,line,no date at all\n"
    )
    answers, problems = load_decisions(path)
    assert answers.find("2 figs").grams == 70
    assert [(p.code, p.source_line) for p in problems] == [
        ("decision-twice", 3),
        ("decision-twice", 4),
    ]


def test_a_clock_that_was_set_back_does_not_change_which_table_is_live(snapshot, tmp_path):
    import shutil

    home = tmp_path / "home"
    shutil.copytree(snapshot.folder.parents[1], home)
    (first,) = homes.manifests(home)
    later = "sr28-later"  # built after the first by a machine whose clock stood at 1970
    shutil.copytree(
        homes.snapshots_dir(home) / first.snapshot_id, homes.snapshots_dir(home) / later
    )
    path = homes.snapshots_dir(home) / later / "manifest.json"
    told = json.loads(path.read_text())
    path.write_text(
        json.dumps({**told, "snapshot_id": later, "built_at": "1970-01-01T00:00:00+00:00"})
    )
    use(later, home)
    assert live(home).snapshot_id == later
    assert len(list_snapshots(home)) == 2
    assert rollback(home).snapshot_id == first.snapshot_id
    assert rollback(home).snapshot_id == later


def test_a_wait_for_a_lock_ends_though_the_clock_is_set_back(tmp_path, monkeypatch):
    from pipeline.problems import SteelyardError

    monkeypatch.setattr(time, "time", lambda: 0.0)
    with homes.locked(tmp_path):
        began = time.monotonic()
        with pytest.raises(SteelyardError), homes.locked(tmp_path, wait_s=0.2):
            pass
        assert time.monotonic() - began < 5


# --- another user -------------------------------------------------------------------------------


@pytest.mark.skipif(os.name == "nt" or not hasattr(os, "fork") or os.geteuid() != 0,
                    reason="only root can become another user")  # fmt: skip
def test_files_and_folders_that_may_not_be_read_are_told_and_the_rest_is_read(tmp_path):
    (tmp_path / "good.txt").write_text(GOOD)
    (tmp_path / "secret.txt").write_text(GOOD)
    (tmp_path / "locked").mkdir()
    (tmp_path / "locked" / "c.txt").write_text(GOOD)
    (tmp_path / "pantry.csv").write_text("food_name,serving_g,kcal\nOats,40,150\n")
    read_collection(tmp_path)  # what is needed is loaded while it may be
    (tmp_path / "secret.txt").chmod(0)
    (tmp_path / "pantry.csv").chmod(0)
    (tmp_path / "locked").chmod(0)
    for folder in (tmp_path, *tmp_path.parents):
        if folder.stat().st_uid == 0 and str(folder).startswith("/tmp/"):
            folder.chmod(0o755)
    answer = tmp_path / "answer.json"
    answer.write_text("")
    answer.chmod(0o666)
    child = os.fork()
    if child == 0:
        status = 1
        try:
            os.setgroups([])
            os.setgid(65534)
            os.setuid(65534)
            found = read_collection(tmp_path)
            from pipeline.memory import load_pantry

            pantry = load_pantry(found.pantry_path)[1]
            told = [[p.code, p.source] for p in (*found.problems, *pantry)]
            answer.write_text(json.dumps([found.recipe["source"].tolist(), told]))
            status = 0
        finally:
            os._exit(status)
    assert os.waitpid(child, 0)[1] == 0
    sources, told = json.loads(answer.read_text())
    assert sources == ["good.txt"]
    assert ["file-unreadable", "secret.txt"] in told
    assert ["folder-unreadable", "locked"] in told
    assert ["file-unreadable", "pantry.csv"] in told


# --- workbooks ----------------------------------------------------------------------------------

SHEET = (
    '<?xml version="1.0" encoding="UTF-8"?><worksheet xmlns="http://schemas.openxmlformats.org/'
    'spreadsheetml/2006/main"><sheetData>{}</sheetData></worksheet>'
)
PARTS = {
    "[Content_Types].xml": '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/'
    'package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.'
    'openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/>'
    '<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.'
    'spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType='
    '"application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>',
    "_rels/.rels": '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/'
    'package/2006/relationships"><Relationship Id="r1" Type="http://schemas.openxmlformats.org/'
    'officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>',
    "xl/workbook.xml": '<?xml version="1.0"?><workbook xmlns="http://schemas.openxmlformats.org/'
    'spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/'
    'relationships"><sheets><sheet name="A" sheetId="1" r:id="r1"/></sheets></workbook>',
    "xl/_rels/workbook.xml.rels": '<?xml version="1.0"?><Relationships xmlns="http://schemas.'
    'openxmlformats.org/package/2006/relationships"><Relationship Id="r1" Type="http://schemas.'
    'openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/>'
    "</Relationships>",
}  # fmt: skip


def workbook(path: Path, sheet: str) -> None:
    """A workbook as other programs write it: no styles, no shared strings, texts in the cells."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        for name, text in PARTS.items():
            out.writestr(name, text)
        out.writestr("xl/worksheets/sheet1.xml", sheet)


def cells(*rows: tuple[object, ...]) -> str:
    def cell(value: object) -> str:
        if isinstance(value, str):
            return f'<c t="inlineStr"><is><t>{value}</t></is></c>'
        return f"<c><v>{value}</v></c>"

    return SHEET.format("".join("<row>" + "".join(map(cell, row)) + "</row>" for row in rows))


@pytest.mark.soak
def test_bombs_beside_a_workbook_of_another_program(tmp_path):
    good = cells(
        ("title", "servings", "ingredients", "kcal"),
        ("Quay soup", 2, "100 g rice; 10 g butter", 217),
    )
    workbook(tmp_path / "good.xlsx", good)
    workbook(tmp_path / "zeros.xlsx", " " * 400_000_000)
    workbook(tmp_path / "rows.xlsx", SHEET.format("<row><c><v>1</v></c></row>" * 1_200_000))
    entities = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">' + "".join(
        f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">' for n in range(9)
    )
    workbook(tmp_path / "entities.xlsx", entities + "]>" + good.replace("Quay", "&j;"))
    lies = tmp_path / "lies.xlsx"
    workbook(lies, " " * 400_000_000)
    data = bytearray(lies.read_bytes())
    size = (400_000_000).to_bytes(4, "little")
    for _ in range(data.count(size)):  # its own lists say that it is small
        place = data.index(size)
        data[place : place + 4] = (4_000).to_bytes(4, "little")
    lies.write_bytes(data)
    began = time.process_time()
    found = read_collection(tmp_path)
    assert time.process_time() - began < 60
    assert found.recipe["title"].tolist() == ["Quay soup"]
    assert codes(found, "good.xlsx") == []
    for name in ("zeros.xlsx", "lies.xlsx", "entities.xlsx", "rows.xlsx"):
        assert codes(found, name), name


# --- size ---------------------------------------------------------------------------------------


def test_a_page_of_a_hundred_megabytes_is_refused_in_words_and_at_once(tmp_path):
    with (tmp_path / "big.html").open("wb") as out:
        out.write(b"<!doctype html><html><body>")
        out.truncate(100 << 20)
    with (tmp_path / "text.html").open("wb") as out:
        for _ in range(100):
            out.write(b"<p>x</p>\n" * 116_509)
    (tmp_path / "good.txt").write_text(GOOD)
    began = time.process_time()
    found = read_collection(tmp_path)
    assert time.process_time() - began < 10
    assert found.recipe["title"].tolist() == ["Quay soup"]
    assert codes(found, "text.html") == ["file-too-large"]
    assert codes(found, "big.html")


def many(folder: Path, n: int) -> float:
    """Seconds to read a folder of so many cards and one spoiled table, nothing of which is lost."""
    for k in range(n):
        part = folder / f"{k // 1000}"
        part.mkdir(exist_ok=True, parents=True)
        (part / f"{k}.txt").write_text(GOOD.replace("Quay", f"Quay {k}"))
    (folder / "0" / "bad.csv").write_text('title,line\n"x')
    found = []
    seconds = cpu_seconds(lambda: found.append(read_collection(folder)))
    assert (found[0].recipe["source"] != "0/bad.csv").sum() == n
    assert found[0].recipe["recipe_id"].is_unique
    assert codes(found[0], "0/bad.csv")
    return seconds


@pytest.mark.soak
def test_tens_of_thousands_of_files(tmp_path):
    names = map(str, range(100))
    assert growth(lambda n: many(tmp_path / next(names), n), 8_000) <= 5
