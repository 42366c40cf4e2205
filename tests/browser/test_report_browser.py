"""report.html in a real browser: it runs nothing foreign, fetches nothing, and can be used.

Pages come from whole runs: the demo collection, and one with hostile texts put in.
"""

from __future__ import annotations

import base64
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from screens import broken_rules, screen

import pipeline
from pipeline.report import write
from pipeline.report.creators import only

if TYPE_CHECKING:
    from selenium.webdriver import Chrome

    from pipeline.run import Result
    from pipeline.snapshot import Snapshot

pytestmark = pytest.mark.browser

EVIL = "<img src=x onerror=document.title='owned'><script>document.title='owned'</script>"


@pytest.fixture(scope="module")
def result(demo_result: Result) -> Result:
    return demo_result


@pytest.fixture(scope="module")
def report(result: Result, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Address of the demo's report."""
    out = tmp_path_factory.mktemp("report")
    write(result, out, formats=["html"])
    return (out / "report.html").as_uri()


@pytest.fixture(scope="module")
def kitchen(result: Result, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Address of a report on 26 recipes, those that differ most first."""
    ids = set(result.recipes_by_size().head(26)["recipe_id"])
    out = tmp_path_factory.mktemp("kitchen")
    write(only(result, ids), out, formats=["html"])
    return (out / "report.html").as_uri()


def recipe_page(report: str, slug: str) -> str:
    return report.replace("report.html", f"pages/{slug}.html")


PIE = "little-skarrow-fish-pie"


@pytest.fixture(scope="module")
def small(result: Result, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Address of a report with two recipes of each verdict, for what costs time by the element."""
    ids = set(result.recipes.groupby("verdict").head(2)["recipe_id"])
    out = tmp_path_factory.mktemp("small")
    write(only(result, ids), out, formats=["html"])
    return (out / "report.html").as_uri()


@pytest.fixture(scope="module")
def hostile(snapshot: Snapshot, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Address of a report whose every text tries to run, put in behind the back of intake."""
    folder = tmp_path_factory.mktemp("hostile")
    card = {
        "title": "Quay bowl, full of fibre", "creator": "A", "servings": 2,
        "ingredients": ["100 g rice", "50 g unheard of weed"],
        "stated": {"kcal": 900, "carbs_g": 20},
    }  # fmt: skip
    (folder / "card.yaml").write_text(json.dumps(card), encoding="utf-8")
    result = pipeline.verify(folder, snapshot=snapshot)
    spared = {"recipe_id", "verdict", "nutrient", "basis", "status", "severity", "tag"}
    changed = 0
    for frame in (
        result.recipes, result.lines, result.explanations, result.to_review, result.checks,
        result.corrected, result.claims, result.problems, result.collection.recipe,
    ):  # fmt: skip
        for column in frame.columns:
            if column not in spared and frame[column].map(type).eq(str).any():
                frame[column] = EVIL
                changed += len(frame)
    assert changed > 40
    write(result, folder / "out", formats=["html"])
    return (folder / "out" / "report.html").as_uri()


def run(browser: Chrome, script: str, *arguments: Any) -> Any:
    return browser.execute_script(script, *arguments)


def test_the_page_asks_for_nothing_and_complains_of_nothing(browser: Chrome, report: str) -> None:
    browser.get_log("browser")
    browser.get_log("performance")
    browser.get(report)
    asked = {
        message["params"]["request"]["url"]
        for entry in browser.get_log("performance")
        if (message := json.loads(entry["message"])["message"])["method"]
        == "Network.requestWillBeSent"
    }
    assert {url for url in asked if not url.startswith("data:")} == {report}
    assert browser.get_log("browser") == []
    assert run(browser, "return performance.getEntriesByType('resource').length") == 0


def test_hostile_texts_are_shown_and_never_run(browser: Chrome, hostile: str) -> None:
    browser.get(hostile)
    pages = [a.get_attribute("href") for a in browser.find_elements("css selector", "#all th a")]
    assert len(pages) == 1
    for page in (hostile, pages[0]):
        browser.get(page)
        run(browser, "document.querySelectorAll('details').forEach(d => d.open = true)")
        assert "owned" not in browser.title.replace(EVIL, "")
        assert run(browser, "return document.images.length") == 0
        assert run(browser, "return document.scripts.length") == 1
        assert EVIL in run(browser, "return document.body.innerText")


def test_the_policy_stops_a_script_that_got_in(browser: Chrome, report: str) -> None:
    browser.get(report)
    run(
        browser,
        "const s = document.createElement('script'); s.textContent = 'window.got = 1';"
        "document.body.append(s); const i = new Image(); i.src = 'https://x.example/i.png';"
        "document.body.append(i);",
    )
    assert run(browser, "return window.got") is None
    refused = " ".join(entry["message"] for entry in browser.get_log("browser"))
    assert "Content Security Policy" in refused


@pytest.mark.parametrize("which", ["overview", "recipe"])
@pytest.mark.soak
def test_axe_finds_nothing(
    browser: Chrome, small: str, report: str, axe_script: str, width: int, which: str
) -> None:
    """axe-core's rules for WCAG 2 A and AA and good practice, all parts open."""
    browser.get(small if which == "overview" else recipe_page(report, PIE))
    assert broken_rules(browser, axe_script) == []


@pytest.mark.parametrize("width", [320, 390, 768, 1280])
@pytest.mark.soak
def test_no_screen_scrolls_sideways(browser: Chrome, report: str, width: int) -> None:
    with screen(browser, width):
        for page in (report, recipe_page(report, PIE)):
            browser.get(page)
            run(browser, "document.querySelectorAll('details').forEach(d => d.open = true)")
            assert run(browser, "return document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [390, 1280])
def test_the_first_screen_says_what_to_do(browser: Chrome, report: str, width: int) -> None:
    with screen(browser, width):
        browser.get(report)
        run(browser, "window.scrollTo(0, 0)")
        seen = run(
            browser,
            "const h = window.innerHeight; return ['h1', '.bar', '#do-fix h2', '.tasks li']"
            ".map(s => document.querySelector(s).getBoundingClientRect().bottom <= h)",
        )
        assert seen == [True] * 4
        assert run(browser, "return document.querySelector('.tasks b').textContent")


@pytest.mark.parametrize(("width", "height", "most"), [(1280, 800, 6), (390, 844, 12)])
def test_a_kitchen_of_26_recipes_is_a_few_screens(
    browser: Chrome, kitchen: str, width: int, height: int, most: int
) -> None:
    with screen(browser, width):
        browser.get(kitchen)
        assert len(browser.find_elements("css selector", "#all-recipes tbody tr")) == 26
        assert run(browser, "return document.documentElement.scrollHeight") <= most * height


def test_a_phone_shows_every_number_of_every_recipe(browser: Chrome, report: str) -> None:
    with screen(browser, 390):
        browser.get(report)
        cells = run(
            browser,
            "return [...document.querySelectorAll('#all-recipes td[data-label]')].map(c => {"
            " const r = c.getBoundingClientRect();"
            " return [c.innerText.trim(), r.left >= 0 && r.right <= 390 && r.width > 10]; })",
        )
        rows = run(browser, "return document.querySelectorAll('#all-recipes tbody tr').length")
        assert len(cells) == 5 * rows > 0
        assert all(text and inside for text, inside in cells)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_numbers_on_the_bar_can_be_read(
    browser: Chrome, result: Result, tmp_path: Path, scheme: str
) -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1, on a bar in which every part is large enough for its number."""
    ids = list(result.recipes.groupby("verdict").head(3)["recipe_id"])
    part = only(result, set(ids))
    part.recipes = part.recipes.assign(
        verdict=(["disagrees", "uncertain", "agrees", "not_judged"] * 3)[: len(ids)],
        accepted=["", "", "", "", "known"] + [""] * (len(ids) - 5),
    )
    write(part, tmp_path, formats=["html"])
    with screen(browser, 390, scheme):
        browser.get((tmp_path / "report.html").as_uri())
        seen = run(
            browser,
            "const solid = e => { for (; e; e = e.parentElement) {"
            "  const c = getComputedStyle(e).backgroundColor;"
            "  if (!/, 0\\)$|transparent/.test(c)) return c; } };"
            "return [...document.querySelectorAll('.bar i')].map(i => [i.parentElement.className,"
            " getComputedStyle(i).color, solid(i)])",
        )
    assert {name for name, *_ in seen} == {
        "b-disagrees", "b-uncertain", "b-accepted", "b-agrees", "b-not_judged",
    }  # fmt: skip
    for name, ink, under in seen:
        assert contrast(ink, under) >= 4.5, (name, ink, under)


def contrast(a: str, b: str) -> float:
    """WCAG 2.2 contrast ratio of two computed colours."""

    def light(colour: str) -> float:
        parts = [int(n) / 255 for n in re.findall(r"\d+", colour)[:3]]
        r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    low, high = sorted((light(a), light(b)))
    return (high + 0.05) / (low + 0.05)


def test_the_scheme_changes_page_and_pictures(browser: Chrome, report: str) -> None:
    script = (
        "return [getComputedStyle(document.body).backgroundColor,"
        " getComputedStyle(document.querySelector('.plots svg text')).fill]"
    )
    seen = []
    for scheme in ("light", "dark"):
        with screen(browser, 1280, scheme):
            browser.get(report)
            seen.append(run(browser, script))
    assert seen[0][0] != seen[1][0]
    assert seen[0][1] != seen[1][1]


def test_marks_lie_where_the_numbers_are(browser: Chrome, report: str) -> None:
    """On every beam: the mark right of the poise exactly when the sum is the larger number."""
    browser.get(report)
    pages = [
        a.get_attribute("href")
        for a in browser.find_elements("css selector", "tr[data-verdict=disagrees] th a")
    ]
    rows = []
    for page in pages:
        browser.get(page)
        rows += beams(browser)
    compared = 0
    for label, poise, mark in rows:
        said = re.search(r"stated ([\d,.]+)\s.*add up to ([\d,.]+)\s", label)
        if said is None or poise is None or mark is None:
            continue
        stated, computed = (float(n.rstrip(".").replace(",", "")) for n in said.groups())
        if abs(stated - computed) > 0.02 * max(stated, computed):
            compared += 1
            assert (mark > poise) == (computed > stated), label
    assert compared > 15


def beams(browser: Chrome) -> list[list[Any]]:
    """Of each beam of the page: what it says, where the poise and the mark are."""
    return run(
        browser,
        "return [...document.querySelectorAll('.beam')].map(b => {"
        " const x = s => { const e = b.querySelector(s); if (!e) return null;"
        "   const r = e.getBoundingClientRect(); return (r.left + r.right) / 2; };"
        " return [b.getAttribute('aria-label'), x('.poise'), x('.mark')]; })",
    )


@pytest.mark.parametrize("which", ["overview", "recipe"])
def test_calories_can_be_hidden_everywhere(browser: Chrome, report: str, which: str) -> None:
    browser.get(report if which == "overview" else recipe_page(report, PIE))
    run(browser, "document.querySelectorAll('details').forEach(d => d.open = true)")
    energy = re.compile(r"\d\s?(kcal|kJ)\b")
    switch = browser.find_element("id", "hide-energy")
    assert energy.search(run(browser, "return document.querySelector('main').innerText"))
    switch.click()
    text = run(browser, "return document.querySelector('main').innerText")
    lines = [line for line in text.splitlines() if energy.search(line)]
    assert lines == []
    switch.click()
    assert energy.search(run(browser, "return document.querySelector('main').innerText"))


def test_finding_and_filtering_recipes(browser: Chrome, report: str) -> None:
    browser.get(report)
    from selenium.webdriver.support.ui import Select

    def shown() -> list[str]:
        return run(
            browser,
            "return [...document.querySelectorAll('#all-recipes tbody tr')]"
            ".filter(r => r.offsetParent).map(r => r.dataset.verdict)",
        )

    everything = shown()
    Select(browser.find_element("id", "which")).select_by_value("disagrees")
    assert set(shown()) == {"disagrees"}
    assert len(shown()) == everything.count("disagrees")
    Select(browser.find_element("id", "which")).select_by_value("")
    first = run(browser, "return document.querySelector('#all-recipes th a').textContent")
    browser.find_element("id", "find").send_keys(first)
    assert len(shown()) == 1
    status = run(browser, "return document.getElementById('status').textContent")
    assert status == f"1 of {len(everything)} recipes shown"


def test_a_link_to_a_recipe_leads_to_its_page_and_back(browser: Chrome, report: str) -> None:
    browser.get(report)
    link = browser.find_elements("css selector", "#all-recipes th a")[-1]
    title = link.text
    run(browser, "arguments[0].click()", link)
    assert browser.find_element("css selector", "h1").text == title
    assert "/pages/" in browser.current_url
    browser.find_element("link text", "The whole report").click()
    assert browser.current_url == report


def test_a_link_to_a_folded_part_opens_it(browser: Chrome, report: str) -> None:
    browser.get(report + "#columns")
    assert run(browser, "return document.getElementById('how-to-read').open")
    assert run(browser, "return document.getElementById('columns').open")


@pytest.mark.parametrize(
    ("group", "copied"),
    [("fix", "Per serving: "), ("answer", "steelyard review ")],
)
def test_one_button_copies_what_is_needed(
    browser: Chrome, report: str, group: str, copied: str
) -> None:
    browser.get(report)
    browser.execute_cdp_cmd(
        "Browser.grantPermissions",
        {"permissions": ["clipboardReadWrite", "clipboardSanitizedWrite"]},
    )
    button = browser.find_element("css selector", f"#do-{group} .tasks button")
    said = button.text
    run(browser, "arguments[0].scrollIntoView({block: 'center', behavior: 'instant'})", button)
    button.click()
    status = "return document.getElementById('status').textContent"
    for _ in range(50):
        if run(browser, status):
            break
        browser.execute_async_script("setTimeout(arguments[0], 40)")
    assert run(browser, status) == "Copied"
    text = browser.execute_async_script("navigator.clipboard.readText().then(arguments[0])")
    assert text.startswith(copied)
    browser.execute_async_script("setTimeout(arguments[0], 1700)")
    assert button.text == said


def test_the_keyboard_reaches_the_report_first(browser: Chrome, report: str) -> None:
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    browser.get(report)
    ActionChains(browser).send_keys(Keys.TAB).perform()
    focused = browser.switch_to.active_element
    assert focused.text == "Skip to the report"
    assert run(browser, "return getComputedStyle(arguments[0]).outlineStyle", focused) == "solid"
    ActionChains(browser).send_keys(Keys.ENTER).perform()
    assert run(browser, "return document.activeElement.id") == "main"


def test_on_paper_every_part_is_open(browser: Chrome, small: str) -> None:
    browser.get(small)
    printed = browser.execute_cdp_cmd("Page.printToPDF", {"printBackground": False})
    pdf = base64.b64decode(printed["data"])
    assert pdf.startswith(b"%PDF-")
    pages = len(re.findall(rb"/Type\s*/Page\b", pdf))
    run(browser, "document.querySelectorAll('details').forEach(d => d.open = true)")
    again = browser.execute_cdp_cmd("Page.printToPDF", {"printBackground": False})
    opened = len(re.findall(rb"/Type\s*/Page\b", base64.b64decode(again["data"])))
    assert pages == opened > 3


def test_without_scripts_everything_is_still_there(
    browser: Chrome, report: str, result: Result
) -> None:
    browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        browser.get(report)
        document = browser.execute_cdp_cmd("DOM.getDocument", {"depth": 0})
        text = browser.execute_cdp_cmd("DOM.getOuterHTML", {"nodeId": document["root"]["nodeId"]})[
            "outerHTML"
        ]
    finally:
        browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
    wrong = (result.recipes["verdict"] == "disagrees").sum()
    assert f"Fix the numbers of {wrong} recipes" in text
    assert "steelyard review" in text
    assert '<div class="tools" data-needs-script="" hidden="">' in text


@pytest.fixture(scope="module")
def drifted(result: Result, snapshot: Snapshot, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Address of a drift page in which something of each kind moved."""
    import pandas as pd

    from pipeline.refresh.drift import write_drift
    from pipeline.refresh.drift_model import DECISIONS, FOODS, LINES, RECIPES, Drift

    row = result.recipes[result.recipes["title"] == "Little Skarrow fish pie"].iloc[0]
    who = (row["recipe_id"], row["title"], row["source"], "per_serving")
    found = Drift(
        snapshot, snapshot,
        pd.DataFrame([("sr28:01001", "Butter, salted", "changed", "", "kcal", 717.0, 650.0, -67.0, -9.3, 3, 2, "A table")], columns=FOODS),
        pd.DataFrame(
            [(*who, "", None, None, None, None, "agrees", "disagrees", True),
             (*who, "fat_g", 11.0, 15.6, 4.6, 41.8, "agrees", "disagrees", True),
             (*who, "kcal", 400.0, 453.0, 53.0, 13.2, "uncertain", "uncertain", False)],
            columns=RECIPES,
        ),
        pd.DataFrame([(who[0], 4, "4 tbsp butter", "a", "Butter", "b", "Butter, salted", 56.0, 57.6, "A", "B")], columns=LINES),
        pd.DataFrame([("1 egg", "line", "x:1", "Egg", "A table")], columns=DECISIONS),
        35, result,
    )  # fmt: skip
    out = tmp_path_factory.mktemp("drift")
    write_drift(found, out)
    return (out / "drift.html").as_uri()


@pytest.mark.soak
def test_the_drift_page_is_accessible_fits_and_leads_to_the_recipe(
    browser: Chrome, drifted: str, axe_script: str, width: int
) -> None:
    browser.get(drifted)
    assert run(browser, "return document.documentElement.scrollWidth") <= width
    text = run(browser, "return document.querySelector('main').innerText").replace("\u00a0", " ")
    for said in (
        "stated 400 kcal",
        "computed 11 g",
        "453 kcal",
        "717 kcal",
        "650 kcal",
        "Per serving: ",
    ):
        assert said in text or said.replace("stated ", "") in text, said
    assert broken_rules(browser, axe_script) == []
    run(browser, "document.querySelector('#verdicts a').click()")
    assert browser.find_element("css selector", "h1").text == "Little Skarrow fish pie"
