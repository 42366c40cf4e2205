"""The script view in a real browser: a correction from the click to the card and the new numbers."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from review_client import Page, Served, complaints, size, start
from screens import broken_rules
from script_talk import SOURCE, TALK

import pipeline
from pipeline.report import write

if TYPE_CHECKING:
    from selenium.webdriver import Chrome

    from pipeline.snapshot import Snapshot

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def served(snapshot: Snapshot, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("spoken") / "galley"
    folder.mkdir()
    (folder / SOURCE).write_text(TALK, encoding="utf-8")
    one = Served(folder, *start(folder))
    yield one
    one.process.kill()
    one.process.wait()


@pytest.fixture
def page(browser: Chrome, served: Served) -> Iterator[Page]:
    for path in served.folder.iterdir():
        if path.name != SOURCE:
            path.unlink() if path.is_file() else shutil.rmtree(path)
    size(browser, 1280)
    made = Page(browser, served)
    browser.get_log("browser")
    made.open()
    browser.execute_script("document.querySelector('#d-scripts a').click()")
    made.until(lambda: made.all("#main .script mark"))
    yield made
    browser.get("about:blank")
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def card(page: Page) -> str:
    file = page.folder / f"{SOURCE}.cards.txt"
    return file.read_text(encoding="utf-8") if file.exists() else ""


def mark(page: Page, words: str) -> Any:
    """The link of the mark over some words."""
    return page.until(
        lambda: page.browser.execute_script(
            "return [...document.querySelectorAll('.script mark > a')]"
            ".find(a => a.textContent.replace(/\\s+/g, ' ').includes(arguments[0]))",
            words,
        )
    )


def select(page: Page, words: str) -> None:
    """Select words of one stretch of text as a person would with the mouse."""
    found = page.browser.execute_script(
        """
        const walker = document.createTreeWalker(document.querySelector('.script'), NodeFilter.SHOW_TEXT);
        while (walker.nextNode()) {
          const at = walker.currentNode.textContent.indexOf(arguments[0]);
          if (at < 0) continue;
          const range = document.createRange();
          range.setStart(walker.currentNode, at);
          range.setEnd(walker.currentNode, at + arguments[0].length);
          getSelection().removeAllRanges();
          getSelection().addRange(range);
          return true;
        }
        return false;
        """,
        words,
    )
    assert found


def press(page: Page, words: str) -> None:
    """Press the button of that name in the panel."""
    page.browser.execute_script(
        "[...document.querySelectorAll('#fix button')]"
        ".find(b => b.textContent.trim().startsWith(arguments[0])).click()",
        words,
    )


def pick(page: Page, words: str) -> None:
    """Select words of the script and open them for correction."""
    select(page, words)
    page.until(lambda: page.one("#pick").is_displayed())
    page.one("#pick").click()
    page.until(lambda: page.text("#fix h2") == f"“{words}”")


def fill(page: Page, what: str, text: str) -> None:
    field = page.one(what)
    field.clear()
    field.send_keys(text)


def numbers(folder: Path, snapshot: Snapshot) -> dict[str, float]:
    fresh = pipeline.verify(folder, snapshot=snapshot)
    return dict(zip(fresh.recipes["title"], fresh.recipes["kcal_computed"], strict=True))


def test_a_click_corrects_a_line_and_the_numbers_follow(page: Page, snapshot: Snapshot) -> None:
    before = numbers(page.folder, snapshot)
    mark(page, "eighty grams of rolled oats").click()
    field = page.until(lambda: page.one("#x-1"))
    assert field.get_attribute("value") == "80 g rolled oats"
    assert page.all(".script mark.chosen")
    fill(page, "#x-1", "120 g rolled oats")
    press(page, "Save the line")
    page.until(lambda: "now reads “120 g rolled oats”" in page.text("#fix .n-done"))
    assert (page.folder / SOURCE).read_text(encoding="utf-8") == TALK
    assert "- 120 g rolled oats  [00:00:12 @" in card(page)
    after = numbers(page.folder, snapshot)
    grown = [t for t in after if after[t] > before.get(t, 1e9) + 100]  # 40 g of oats
    assert len(grown) == 1
    assert "kcal per serving computed" in page.text("#fix .n-done")
    assert "120 g rolled oats" in page.text("#said")

    press(page, "Take it back")
    page.until(lambda: page.all("#fix .n-back"))
    assert card(page) == ""
    assert numbers(page.folder, snapshot) == before
    assert complaints(page.browser) == []


@pytest.mark.soak
def test_no_ingredient_missed_words_a_total_and_a_new_recipe(page: Page) -> None:
    mark(page, "a tablespoon of honey").click()
    page.until(lambda: "honey" in page.text("#fix h2"))
    press(page, "It is no ingredient")
    page.until(lambda: "is no ingredient of" in page.text("#fix .n-done"))
    assert "honey" not in card(page)
    page.until(lambda: "honey" in page.text(".script mark.k-left_out"))

    pick(page, "the big pan")
    fill(page, "#t-add", "1 tsp butter")
    press(page, "Add the line")
    page.until(lambda: "“1 tsp butter” is an ingredient" in page.text("#fix .n-done"))
    assert "- 1 tsp butter  [00:00:" in card(page)
    assert "the big pan" in page.browser.execute_script(
        "return [...document.querySelectorAll('.script mark.k-ingredient')]"
        ".map(m => m.textContent).join('|')"
    )

    pick(page, "mind the step")
    fill(page, "#t-state", "Per serving: 455 kcal, protein 36 g")
    press(page, "Save the total")
    page.until(lambda: "states Per serving: 455 kcal" in page.text("#fix .n-done"))
    assert "Per serving: 455 kcal, protein 36 g" in card(page)

    mark(page, "seventy five grams of white rice").click()
    page.until(lambda: "rice" in page.text("#fix h2"))
    page.browser.execute_script(
        "document.querySelectorAll('#fix details').forEach(d => { d.open = true; })"
    )
    fill(page, "#t-begin", "Plain rice")
    press(page, "Begin it")
    page.until(lambda: "“Plain rice” is a recipe of its own" in page.text("#fix .n-done"))
    assert "\nPlain rice  [" in card(page)
    for _ in range(4):
        page.one("#undo-latest").click()
        page.until(lambda: page.all("#fix .n-back"))
        page.browser.execute_script("document.querySelector('.n-back').remove()")
    assert card(page) == ""
    assert complaints(page.browser) == []


@pytest.mark.soak
def test_by_keys_alone(page: Page) -> None:
    link = mark(page, "two hundred millilitres of semi skimmed milk")
    page.browser.execute_script("arguments[0].focus()", link)
    page.press("enter")
    page.until(lambda: page.focused("document.activeElement.tagName") == "H2")
    assert "milk" in page.focused()
    page.press("m")
    assert page.focused("document.activeElement.id") == "words"
    page.press(*"the BIG pan", "enter")
    page.until(lambda: page.text("#fix h2") == "“the big pan”")
    page.press("m")
    page.press(*"anchor winch", "enter")
    page.until(lambda: "is not said in the script" in page.text("#e-words"))
    assert page.focused("document.activeElement.id") == "words"


def test_what_cannot_be_read_is_told_in_place(page: Page) -> None:
    mark(page, "eighty grams of rolled oats").click()
    page.until(lambda: page.one("#x-1"))
    fill(page, "#x-1", "Per serving: 300 kcal, fat 2 g")
    press(page, "Save the line")
    page.until(lambda: "would not be read as it is meant" in page.text("#fix .n-fault"))
    assert page.one("#x-1").get_attribute("value") == "Per serving: 300 kcal, fat 2 g"
    assert card(page) == ""


@pytest.mark.soak
def test_without_scripts_it_can_be_read_and_corrected(page: Page) -> None:
    address = page.browser.current_url.partition("?")[0]
    page.browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        page.browser.get(address)
        links = [a for a in page.all(".script mark > a") if "honey" in a.text]
        links[0].click()
        page.until(lambda: page.all("#fix .way"))
        next(b for b in page.all("#fix button") if "no ingredient" in b.text).click()
        page.until(lambda: page.all("#fix .n-done"))
        assert "honey" not in card(page)
        next(b for b in page.all("#fix button") if b.text == "Take it back").click()
        page.until(lambda: page.all("#fix .n-back"))
        assert card(page) == ""
    finally:
        page.browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 390)])
@pytest.mark.soak
def test_axe_finds_nothing(page: Page, axe_script: str, scheme: str, width: int) -> None:
    address = page.browser.current_url.partition("?")[0]
    page.browser.execute_cdp_cmd(
        "Emulation.setEmulatedMedia",
        {"features": [{"name": "prefers-color-scheme", "value": scheme}]},
    )
    try:
        size(page.browser, width)
        page.browser.get(address)
        page.ready()
        assert broken_rules(page.browser, axe_script) == []
        for words in ("eighty grams of rolled oats", "calories"):
            link = mark(page, words)
            page.browser.execute_script("arguments[0].click()", link)
            page.until(lambda words=words: words in page.text("#fix h2"))
            assert broken_rules(page.browser, axe_script) == []
        wide = page.browser.execute_script(
            "return document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert wide <= 0
    finally:
        page.browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})


# --- in the report ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def report(snapshot: Snapshot, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Address of the report of the script."""
    folder = tmp_path_factory.mktemp("told")
    (folder / SOURCE).write_text(TALK, encoding="utf-8")
    write(pipeline.verify(folder, snapshot=snapshot), folder / "out", formats=["html"])
    return (folder / "out" / "report.html").as_uri()


def test_the_report_leads_from_the_words_to_the_line_and_back(browser: Chrome, report: str) -> None:
    browser.get(report)
    link = browser.execute_script(
        "return [...document.querySelectorAll('.script mark > a')]"
        ".find(a => a.textContent.includes('rolled oats'))"
    )
    target = link.get_attribute("href").partition("#")[2]
    browser.execute_script("arguments[0].click()", link)
    browser.execute_async_script("requestAnimationFrame(() => arguments[0]())")
    line = browser.find_element("id", target)
    assert "80 g rolled oats" in line.text
    assert line.is_displayed()
    back = line.find_element("css selector", "a[href*='report.html#s-1-']")
    assert back.text.startswith("said at 00:")
    anchor = (back.get_attribute("href") or "").partition("#")[2]
    browser.execute_script("arguments[0].click()", back)
    said = browser.find_element("id", anchor)
    assert said.is_displayed()  # a link to a folded part opens it
    assert " ".join(said.text.split()).endswith("eighty grams of rolled oats")


@pytest.mark.parametrize("width", [320, 1280])
@pytest.mark.soak
def test_the_report_with_a_script_is_accessible_and_fits(
    browser: Chrome, report: str, axe_script: str, width: int
) -> None:
    size(browser, width)
    try:
        browser.get(report)
        assert broken_rules(browser, axe_script) == []
        assert browser.execute_script("return document.documentElement.scrollWidth") <= width
    finally:
        browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_kinds_are_told_apart_without_colour(browser: Chrome, report: str) -> None:
    """Each kind on the page differs from plain text and from the others in more than colour."""
    browser.get(report)
    looks = browser.execute_script(
        """
        return [...document.querySelectorAll('.marks mark')].map(m => {
          const s = getComputedStyle(m);
          return [m.className, [s.textDecorationLine, s.textDecorationStyle, s.fontWeight,
            s.fontStyle, s.outlineStyle, s.boxShadow === 'none' ? '' : 'boxed'].join(' ')];
        })
        """
    )
    assert len(looks) >= 3
    assert len({look for _, look in looks}) == len(looks)
    plain = browser.execute_script(
        "const s = getComputedStyle(document.querySelector('.script p'));"
        "return [s.textDecorationLine, s.textDecorationStyle, s.fontWeight, s.fontStyle,"
        " s.outlineStyle, ''].join(' ')"
    )
    assert plain not in {look for _, look in looks}
