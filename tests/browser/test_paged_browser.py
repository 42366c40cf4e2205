"""The report of a large collection in a real browser, opened from disk: it shows the same as the page
of a recipe, pages, searches, and asks for nothing but the files beside it.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from screens import broken_rules

from pipeline.report import write
from pipeline.report.paged import ROWS_A_PAGE, write_paged_result

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
import overview as large

if TYPE_CHECKING:
    from selenium.webdriver import Chrome

    from pipeline.run import Result

pytestmark = pytest.mark.browser

EVIL = "<img src=x onerror=document.title='owned'><script>document.title='owned'</script>"
RECIPES = 2_200


@pytest.fixture(scope="module")
def result(demo_result: Result) -> Result:
    return demo_result


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Address of the report of 2,200 invented recipes."""
    folder = tmp_path_factory.mktemp("paged")
    large.write(RECIPES, folder)
    return (folder / "report.html").as_uri()


def wait(browser: Chrome, script: str, *arguments: Any) -> Any:
    """The first answer of the script that is not nothing."""
    for _ in range(400):
        answer = browser.execute_script(script, *arguments)
        if answer:
            return answer
        time.sleep(0.02)
    raise AssertionError(f"the page never gave an answer to: {script}")


def titles(browser: Chrome) -> list[str]:
    return browser.execute_script(
        "return [...document.querySelectorAll('#all-recipes tbody th')].map(e => e.textContent)"
    )


def press(browser: Chrome, selector: str) -> None:
    """Click what may still be scrolling."""
    browser.execute_script("document.querySelector(arguments[0]).click()", selector)


def where(browser: Chrome, part: str) -> str:
    """What the list says, once that part is in it."""
    return wait(
        browser,
        "const said = document.getElementById('where').textContent;"
        " return said.includes(arguments[0]) ? said : null",
        part,
    )


def asked_for(browser: Chrome) -> set[str]:
    """Addresses asked for since last time."""
    return {
        message["params"]["request"]["url"]
        for entry in browser.get_log("performance")
        if (message := json.loads(entry["message"])["message"])["method"]
        == "Network.requestWillBeSent"
    }


def opened(browser: Chrome, page: str, number: int) -> None:
    """Open one recipe and wait for it."""
    browser.get("about:blank")
    browser.get(f"{page.replace('report.html', 'report-recipe.html')}#{number}")
    wait(browser, "return document.querySelector('#recipe .title')")


@pytest.mark.soak
def test_only_files_beside_the_page_are_asked_for(browser: Chrome, report: str) -> None:
    folder = report.rpartition("/")[0]
    browser.get("about:blank")
    browser.get_log("browser")
    asked_for(browser)
    browser.get(report)
    first = asked_for(browser)
    assert {u for u in first if not u.startswith(("data:", "chrome:"))} == {report}
    press(browser, "#later")
    where(browser, "51 to 100")
    opened(browser, report, 3)
    later = {u for u in asked_for(browser) if not u.startswith(("data:", "about:", "chrome:"))}
    assert later == {
        f"{folder}/report-data/index-000000.js", f"{folder}/report-recipe.html#3",
        f"{folder}/report-recipe.html", f"{folder}/report-data/recipes-000000.js",
    } & later  # fmt: skip
    assert f"{folder}/report-data/recipes-000000.js" in later
    assert browser.get_log("browser") == []


def look_through(browser: Chrome, report: str, recipes: int) -> None:
    """Page, filter, search and open one, in a report of that many invented recipes."""
    from selenium.webdriver.support.ui import Select

    browser.get(report)
    assert where(browser, "1 to ") == f"1 to {ROWS_A_PAGE} of {recipes:,d} recipes"
    first = titles(browser)
    assert len(first) == ROWS_A_PAGE
    press(browser, "#later")
    where(browser, "51 to 100")
    assert not set(titles(browser)) & set(first)
    press(browser, "#earlier")
    where(browser, "1 to 50")
    assert titles(browser) == first
    find = browser.find_element("id", "find")
    find.send_keys(f"no. {recipes - 1}")
    assert where(browser, "1 to 1 of 1 recipe") == "1 to 1 of 1 recipe"
    (title,) = titles(browser)
    assert title.endswith(f"no. {recipes - 1}")
    press(browser, "#all-recipes tbody th a")
    wait(browser, "return document.querySelector('#recipe .title')")
    assert browser.find_element("css selector", "#recipe h1").text == title
    assert len(browser.find_elements("css selector", "#recipe .gauge")) == 4
    assert len(browser.find_elements("css selector", "#recipe tbody tr")) == large.LINES
    browser.back()
    assert where(browser, "of 1 recipe")
    assert titles(browser) == [title]
    find = browser.find_element("id", "find")
    find.clear()
    Select(browser.find_element("id", "which")).select_by_value("uncertain")
    wait(browser, "return document.querySelector('#all-recipes .v-uncertain')")
    shown = browser.find_elements("css selector", "#all-recipes tbody .badge")
    assert {b.text for b in shown} == {"uncertain"}


def test_a_person_finds_one_recipe_among_many(browser: Chrome, report: str) -> None:
    look_through(browser, report, RECIPES)


@pytest.mark.soak
def test_a_person_finds_one_recipe_among_a_hundred_thousand(
    browser: Chrome, tmp_path: Path
) -> None:
    large.write(100_000, tmp_path)
    assert (tmp_path / "report.html").stat().st_size < large.MOST_BYTES
    look_through(browser, (tmp_path / "report.html").as_uri(), 100_000)


def test_links_of_tasks_show_the_recipes_meant(browser: Chrome, report: str) -> None:
    browser.get(report)
    press(browser, "[data-show=uncertain]")
    wait(browser, "return document.querySelector('#all-recipes .v-uncertain')")
    assert browser.find_element("id", "which").get_attribute("value") == "uncertain"


def test_a_lost_file_is_told(browser: Chrome, tmp_path: Path) -> None:
    large.write(400, tmp_path)
    for path in (tmp_path / "report-data").iterdir():
        path.unlink()
    page = (tmp_path / "report.html").as_uri()
    browser.get(page)
    press(browser, "#later")
    assert "Keep the folder report-data" in where(browser, "missing or damaged")
    browser.get(page.replace("report.html", "report-recipe.html") + "#7")
    wait(browser, "return document.body.textContent.includes('missing or damaged')")


@pytest.mark.parametrize("number", ["0", "401", "abc"])
@pytest.mark.soak
def test_a_number_that_no_recipe_has_is_told_or_the_first_shown(
    browser: Chrome, tmp_path: Path, number: str
) -> None:
    large.write(400, tmp_path)
    browser.get("about:blank")
    browser.get((tmp_path / "report-recipe.html").as_uri() + f"#{number}")
    if number == "401":
        wait(browser, "return document.body.textContent.includes('There is no recipe number 401')")
    else:
        wait(browser, "return document.querySelector('#recipe .title')")


#: Words, classes, places and labels of a recipe's page, without white space.
_CONTENT = r"""
const part = (document.querySelector('#recipe') || document.querySelector('main')).cloneNode(true);
part.querySelectorAll('.caution, noscript').forEach(e => e.remove());
part.querySelectorAll('*').forEach(e => e.prepend(
    `<${e.tagName} ${e.className.baseVal ?? e.className} ${e.getAttribute('aria-label') ?? ''}`
    + ` ${(e.getAttribute('style') ?? '').replace(/;$/, '').replace(/(\.\d*?)0+%/g, '$1%').replace(/\.%/g, '%')}>`));
return part.textContent.replace(/\s+/g, '')
"""


@pytest.mark.soak
def test_a_recipe_reads_the_same_as_on_a_page_of_its_own(
    browser: Chrome, result: Result, tmp_path: Path
) -> None:
    small, paged = tmp_path / "small", tmp_path / "paged"
    write(result, small, formats=["html"])
    paged.mkdir()
    write_paged_result(result, paged)
    browser.get((small / "report.html").as_uri())
    links = browser.execute_script(
        "return [...document.querySelectorAll('#all tbody tr')].map("
        "r => [r.querySelector('.no').textContent, r.querySelector('a').href])"
    )
    assert len(links) == len(result.recipes)
    for number, href in links:
        browser.get(href)
        own = browser.execute_script(_CONTENT)
        opened(browser, (paged / "report.html").as_uri(), int(number))
        assert browser.execute_script(_CONTENT) == own, href


def test_hostile_texts_are_shown_and_never_run(
    browser: Chrome, result: Result, tmp_path: Path
) -> None:
    from pipeline.report.creators import only

    some = only(result, set(result.recipes_by_size().head(6)["recipe_id"]))
    spared = {"recipe_id", "verdict", "nutrient", "basis", "status", "severity", "tag", "role"}
    for frame in (some.recipes, some.lines, some.explanations, some.corrected, some.problems,
                  some.collection.recipe, some.checks, some.to_review):  # fmt: skip
        for column in frame.columns:
            if column not in spared and frame[column].map(type).eq(str).any():
                frame[column] = EVIL
    write_paged_result(some, tmp_path)
    page = (tmp_path / "report.html").as_uri()
    browser.get(page)
    assert "owned" not in browser.title
    opened(browser, page, 1)
    assert browser.find_elements("css selector", "main img, main script") == []
    assert EVIL in browser.find_element("css selector", "#recipe h1").text
    assert browser.title.startswith(EVIL)
    browser.execute_script("document.getElementById('hide-energy').click()")


@pytest.mark.soak
def test_axe_finds_nothing_and_nothing_overflows(
    browser: Chrome, report: str, axe_script: str, width: int
) -> None:
    for page in ("report.html", "report-recipe.html"):
        if page == "report.html":
            browser.get(report)
            press(browser, "#later")
            where(browser, "51 to 100")
        else:
            opened(browser, report, 1)
        assert broken_rules(browser, axe_script) == []
        wide = browser.execute_script("return document.documentElement.scrollWidth")
        assert wide <= width
