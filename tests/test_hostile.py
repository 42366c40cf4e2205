"""Content written to harm: nothing of it runs, reaches outside, or takes the run down with it.

The stages' own tests look at single pieces; here whole runs read a folder made of nothing but
hostile files and write every format.
"""

from __future__ import annotations

import csv
import json
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from growth import cpu_seconds, growth
from selectolax.lexbor import LexborHTMLParser

from pipeline.bulk.schedule import verify_bulk
from pipeline.reading import load_tools, read_lines
from pipeline.report import FORMATS, write
from pipeline.run import verify

SCRIPT = "<script>document.title='owned'</script>"
MARKUP = [
    SCRIPT, "<img src=x onerror=alert(1)>", "\"><svg onload=alert(1)>", "javascript:alert(1)",
    "</title></style></script><script>alert(1)</script>", "{{ 7 * 7 }}{% raw %}", "<!--", "]]>",
    "&lt;script&gt;alert(1)&lt;/script&gt;", "<a href='javascript:alert(1)'>oats</a>",
]  # fmt: skip
FORMULAS = ['=HYPERLINK("http://x")', "+1+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1+1", "＝1+1"]
ENTITIES = (
    '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">'
    + "".join(f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">' for n in range(9))
    + "]>"
)


@pytest.fixture(scope="module")
def hostile(tmp_path_factory) -> Path:
    """The folder; a secret file lies beside it."""
    top = tmp_path_factory.mktemp("hostile")
    folder = top / "recipes"
    folder.mkdir()
    (top / "secret.txt").write_text("Secret\nServes 1\n\nIngredients\n- 1 g gold\n")
    texts = [*MARKUP, *FORMULAS]
    recipes = [
        {"id": f"../../../{n}" if n % 2 else f"{text}", "title": text, "creator": text,
         "servings": "2", "ingredients": [f"100 g oats {text}", text, f"For the {text}:", "2 eggs"],
         "stated": {"kcal": 900 + n, "protein_g": 3}, "description": text}
        for n, text in enumerate(texts)
    ]  # fmt: skip
    (folder / "texts.json").write_text(json.dumps(recipes), encoding="utf-8")
    with (folder / "=cmd.csv").open("w", newline="", encoding="utf-8") as handle:
        rows = csv.writer(handle)
        rows.writerow(["title", "servings", "line", "kcal"])
        rows.writerows([text, 1, f"50 g rice {text}", 900] for text in texts)
    (folder / "<b onclick=x>.txt").write_text(
        f"{SCRIPT}\nServes 2\n\nIngredients\n- 100 g oats\n- {SCRIPT}\n\nPer serving: 20 kcal\n"
    )
    bomb = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
        f"{chr(98 + n)}: &{chr(98 + n)} [{', '.join([f'*{chr(97 + n)}'] * 9)}]\n" for n in range(12)
    )
    (folder / "bomb.yaml").write_text(bomb + "title: T\ningredients: *m\n")
    (folder / "tag.yaml").write_text("title: !!python/object/apply:os.system [touch owned]\n")
    (folder / "entities.html").write_text(
        f'{ENTITIES}<html><body><script type="application/ld+json">'
        '{"@type": "Recipe", "name": "&j;", "recipeIngredient": ["100 g oats &j;"]}'
        "</script></body></html>"
    )
    (folder / "deep.json").write_text("[" * 200_000)
    with zipfile.ZipFile(folder / "zip.xlsx", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 40 * 1024 * 1024)
        archive.writestr("../../escaped.txt", "out")
    with zipfile.ZipFile(folder / "xml.xlsx", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", ENTITIES + "<x>&j;</x>")
        archive.writestr("xl/workbook.xml", ENTITIES + "<x>&j;</x>")
    (folder / "linked.txt").symlink_to(top / "secret.txt")
    (folder / "up").symlink_to(top, target_is_directory=True)
    (folder / "loop").symlink_to(folder, target_is_directory=True)
    (folder / "fifo-like.txt").write_bytes(b"\x00" * 5000)
    return folder


@pytest.fixture(scope="module")
def result(hostile, snapshot):
    return verify(hostile)


@pytest.fixture(scope="module")
def written(result, hostile) -> Path:
    """Every format of the plain run, and a bulk run of the same folder, below one folder."""
    top = hostile.parent / "written"
    write(result, top / "plain", formats=FORMATS, by_creator=True)
    verify_bulk(hostile, top / "parts", part_recipes=40, workers=1, small_bytes=0, csv=True)
    return top


def test_bombs_and_broken_files_are_told_one_by_one(result):
    told = dict(zip(result.problems["source"], result.problems["code"], strict=True))
    assert told["zip.xlsx"] == "xlsx-bomb"
    assert told["bomb.yaml"] == "yaml-bomb"
    assert told["tag.yaml"] == "yaml-tag"
    assert told["deep.json"] == "json-too-deep"
    assert told["xml.xlsx"] == "xlsx-invalid"
    assert told["linked.txt"] == told["up"] == "link-outside"
    assert len(result.recipes) >= 2 * len([*MARKUP, *FORMULAS])


def test_nothing_outside_the_collection_is_read_or_written(result, written, hostile):
    assert not result.lines["text"].str.contains("gold").any()
    assert sorted(p.name for p in hostile.parent.iterdir()) == ["recipes", "secret.txt", "written"]
    assert not (Path.cwd() / "owned").exists()
    real = os.path.realpath(written) + os.sep
    for path in written.rglob("*"):
        assert os.path.realpath(path).startswith(real)
        assert ".." not in path.name


def test_no_page_holds_a_script_a_handler_or_a_link_of_theirs(written):
    pages = list(written.rglob("*.html"))
    assert len(pages) > 2
    for page in pages:
        text = page.read_text(encoding="utf-8")
        tree = LexborHTMLParser(text)
        for script in tree.css("script"):
            assert "owned" not in script.text()
            assert "alert(1)" not in script.text()
        assert not tree.css("img, svg[onload], iframe, object, embed")
        for node in tree.css("*"):
            for name, value in node.attributes.items():
                assert not name.lower().startswith("on"), (page, name)
                if name in ("href", "src", "action"):
                    assert not re.match(r"\s*(javascript|data|vbscript):", value or "", re.I)
        assert "Content-Security-Policy" in text


def test_no_text_cell_of_a_csv_file_starts_a_formula(written):
    files = list(written.rglob("*.csv"))
    assert len(files) >= 16
    formula = re.compile(r"[=+\-@\t\r＝＋－＠].", re.DOTALL)
    seen = 0
    for file in files:
        with file.open(newline="", encoding="utf-8") as handle:
            for row in csv.DictReader(handle):
                for cell in row.values():
                    if cell and formula.match(cell):
                        assert re.fullmatch(r"-?[\d.e+-]+", cell), (file, cell)
                    seen += bool(cell and cell.startswith("'"))
    assert seen > 20  # texts that would have started one are there, with an apostrophe before them


def test_markdown_and_xml_hold_their_shape(written):
    from xml.etree import ElementTree

    tree = ElementTree.parse(written / "plain" / "report.junit.xml")
    assert len(list(tree.iter("testcase"))) > 10
    json.loads((written / "plain" / "report.sarif").read_text(encoding="utf-8"))
    assert "<script" not in (written / "plain" / "report.md").read_text(encoding="utf-8")


def test_the_bulk_run_found_the_same(result, written):
    told = json.loads((written / "parts" / "bulk" / "summary.json").read_text(encoding="utf-8"))
    assert told["verdicts"] == result.counts()


# --- long and odd lines --------------------------------------------------------------------------

SHAPES = [
    "1 cup " + "very " * 50, "(" * 200, ")" * 200 + "(", "1/" * 100, "2 x " * 80, "½" * 200,
    "1 or " * 80, "a, " * 120, "200 g " * 60, "1-" * 150, "and " * 100, "oats (" * 60, "é" * 300,
    "1 tin (400 g) " * 30, "plus 1 tsp " * 40, "\u202e100 g oats", "9" * 300, "1e" * 100,
]  # fmt: skip


@pytest.fixture(scope="module")
def tools(snapshot):
    return load_tools(snapshot)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda s: s[:12].strip() or "spaces")
def test_no_line_takes_long_however_long_it_is(tools, shape):
    def seconds(times: int) -> float:
        text = shape * times

        def run() -> None:
            (read,) = read_lines([text], tools)
            assert read.parsed.text == text

        return cpu_seconds(run)

    seconds(4)
    # five hundred times as long costs little more: what no line is long enough for is left
    assert growth(seconds, 4, within=10, times=500) <= 10


def test_a_user_never_meets_a_traceback(hostile, tmp_path, snapshot):
    command = [sys.executable, "-c", "from pipeline.cli import console; console()", "verify",
               str(hostile), "--out", str(tmp_path / "out")]  # fmt: skip
    done = subprocess.run(command, check=False, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0
    assert "Traceback" not in done.stdout + done.stderr
    assert (tmp_path / "out" / "report.html").is_file()
