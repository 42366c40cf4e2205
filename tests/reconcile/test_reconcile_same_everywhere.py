"""Verdict, sentence and table say the same in the terminal, the page, CSV, JUnit and SARIF."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from cases import cases
from selectolax.lexbor import LexborHTMLParser

import pipeline
from pipeline.report import write
from pipeline.report.terminal import recipes_table
from pipeline.run import Result

#: Energy, protein, carbohydrate, fat of the lines below, a serving, and what is stated instead.
CARDS = cases(__file__, "cards")
LINES = [
    "200 g cooked brown rice",
    "120 g chicken breast, raw",
    "2 tbsp olive oil",
    "1 large carrot",
]


@pytest.fixture(scope="module")
def made(tmp_path_factory, snapshot) -> tuple[Result, Path]:
    """Cards whose stated numbers are off by so many per cent, checked and written out."""
    folder = tmp_path_factory.mktemp("bowls")
    truth = _computed(
        folder / "first", snapshot, {title: ("", more) for title, (_, more) in CARDS.items()}
    )
    result = _computed(folder / "cards", snapshot, CARDS, truth)
    write(result, folder / "out", formats=["csv", "html", "junit", "sarif", "markdown"])
    return result, folder / "out"


def _computed(folder, snapshot, cards, truth=None):
    folder.mkdir()
    for title, (change, more) in cards.items():
        text = [title, "Serves 2", "", *LINES, *([more] if more else [])]
        if truth is not None and change:
            row = truth.recipes.set_index("title").loc[title]
            numbers = {c: row[f"{c}_computed"] for c in ("kcal", "protein_g", "carbs_g", "fat_g")}
            what, by = change.split()
            column = {"kcal": "kcal", "fat": "fat_g"}.get(what, "")
            if column:
                numbers[column] *= 1 + float(by) / 100
            said = (f"{numbers['kcal']:.0f} kcal, P {numbers['protein_g']:.0f} g, "
                    f"C {numbers['carbs_g']:.0f} g, F {numbers['fat_g']:.0f} g")  # fmt: skip
            text += ["", f"Per serving: {said}" + (f", sodium {by} mg" if what == "sodium" else "")]
        (folder / f"{title.lower().replace(' ', '-')}.txt").write_text("\n".join(text), "utf-8")
    return pipeline.verify([folder], snapshot=snapshot)


def test_every_kind_of_verdict_occurs(made):
    verdict = dict(zip(made[0].recipes["title"], made[0].recipes["verdict"], strict=True))
    assert verdict["Harbour light bowl"] == "agrees"
    assert verdict["Low tide bowl"] == "disagrees"
    assert verdict["Bilge bowl"] == "disagrees"
    assert verdict["Brine bowl"] != "disagrees"
    assert verdict["Empty bowl"] == "not_judged"


def test_a_recipe_disagrees_where_one_of_its_numbers_does(made):
    result, _ = made
    off = set(result.findings.loc[result.findings["verdict"] == "disagrees", "recipe_id"])
    said = set(result.recipes.loc[result.recipes["verdict"] == "disagrees", "recipe_id"])
    assert off == said


def test_csv_and_page_and_terminal_say_the_same(made):
    result, out = made
    wanted = dict(zip(result.recipes["title"], result.recipes["verdict"], strict=True))
    with (out / "recipes.csv").open(encoding="utf-8-sig", newline="") as handle:
        assert {row["title"]: row["verdict"] for row in csv.DictReader(handle)} == wanted
    page = LexborHTMLParser((out / "report.html").read_text("utf-8"))
    shown = {}
    for row in page.css("#all-recipes tr[data-title]"):
        pills = {n.attributes["class"].split("v-")[1] for n in row.css(".badge")}
        assert pills == {row.attributes["data-verdict"]}
        shown[row.attributes["data-title"]] = pills.pop()
    assert shown == wanted
    pages = sorted((out / "pages").glob("*.html"))
    assert len(pages) == len(wanted)
    for path in pages:
        recipe = LexborHTMLParser(path.read_text("utf-8"))
        head = recipe.css_first("header.title")
        verdict = wanted[head.css_first("h1").text()]
        assert head.css_first(".badge").attributes["class"].split("v-")[1] == verdict
        gauges = [g.attributes["class"].split("v-")[1].split()[0] for g in recipe.css(".gauge")]
        assert ("disagrees" in gauges) == (verdict == "disagrees")
        said = recipe.css_first("p.lede").text()
        assert ("not follow from the lines" in said) == (verdict == "disagrees")
    table = recipes_table(result)
    cells = [re.sub(r"\[[^\]]*\]", "", str(c)) for c in table.columns[1]._cells]
    named = dict(zip(table.columns[0]._cells, cells, strict=True))
    assert named == {t: v.replace("_", " ") for t, v in wanted.items()}


def test_junit_and_sarif_say_the_same(made):
    result, out = made
    wanted = result.recipes.set_index("title")["verdict"]
    suite = ElementTree.parse(out / "report.junit.xml").getroot()
    failed = {c.attrib["name"] for c in suite.iter("testcase") if c.find("failure") is not None}
    for title, verdict in wanted.items():
        assert any(title in name for name in failed) == (verdict == "disagrees")
    sarif = json.loads((out / "report.sarif").read_text("utf-8"))
    for found in sarif["runs"][0]["results"]:
        if found["ruleId"].startswith("stated-"):
            title = next(t for t in wanted.index if found["message"]["text"].startswith(t))
            assert found["ruleId"] == f"stated-{wanted[title]}"
            if wanted[title] == "disagrees":
                assert "stated," in found["message"]["text"]
