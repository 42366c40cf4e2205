"""The review page end to end: a real server process, a real browser, real files.

Keys, two tabs, no scripts, kill -9 in the middle, accessibility, and nothing fetched from elsewhere.
"""

from __future__ import annotations

import html
import http.client
import json
import os
import re
import shutil
import signal
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlencode

import pytest
from review_client import KEYS, Page, Served, complaints, size, start
from screens import broken_rules

from pipeline.memory import load_decisions, load_pantry, save_decision
from pipeline.memory.decisions import Decision

if TYPE_CHECKING:
    from selenium.webdriver import Chrome

    from pipeline.snapshot import Snapshot

pytestmark = pytest.mark.browser

#: The narrow page is the one where something may not fit.
WIDTHS = [390, pytest.param(1280, marks=pytest.mark.soak)]


@pytest.fixture(scope="module")
def served(
    demo: Path, snapshot: Snapshot, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("review") / "galley"
    shutil.copytree(demo, folder)
    one = Served(folder, *start(folder))
    yield one
    one.process.kill()
    one.process.wait()


@pytest.fixture
def page(browser: Chrome, served: Served, demo: Path) -> Iterator[Page]:
    served.as_at_first(demo)
    size(browser, 1280)
    made = Page(browser, served)
    browser.get_log("browser")
    made.open()
    yield made
    first, *others = browser.window_handles
    for handle in others:
        browser.switch_to.window(handle)
        browser.close()
    browser.switch_to.window(first)
    browser.get("about:blank")
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


# --- keys -------------------------------------------------------------------------------------


def test_a_sitting_by_keys_alone(page: Page) -> None:
    before = page.answers()
    first = page.text("#main h1")
    waiting = len(page.all("#queue a.item"))
    page.press("down")
    page.until(lambda: page.focused("document.activeElement.className") == "choose")
    chosen = page.focused("document.activeElement.value")
    page.press("enter")
    page.until(lambda: page.focused() == "Next line")
    assert page.answers() == {**before, first: chosen}
    assert first in page.text("#said")
    assert re.search(r"(was|still) (agrees|disagrees|uncertain|not judged)", page.text("#said"))
    assert len(page.all("#queue a.item")) == waiting - 1

    page.press("enter")
    page.until(lambda: page.text("#main h1") not in ("", first))
    page.until(lambda: page.focused("document.activeElement.tagName") == "H1")
    second = page.text("#main h1")

    page.press("/")
    assert page.focused("document.activeElement.id") == "q"
    page.press(*"cottage cheese")
    page.until(lambda: page.all("#found button.choose"))
    page.until(lambda: "food" in page.text("#said"))
    page.press("down", "down")
    assert page.focused("document.activeElement.form.id") == "answer"
    chosen = page.focused("document.activeElement.value")
    page.press("enter")
    page.until(lambda: page.all("#main .n-done"))
    assert page.answers() == {**before, first: page.answers()[first], second: chosen}

    page.until(lambda: page.focused() in ("Next line", "See the end of the list"))
    page.press("g")
    assert page.focused("document.activeElement.id") == "grams"
    page.press(*"77", "enter")
    page.until(lambda: "weighs 77 g" in page.text("#main .n-done"))

    for more in (2, 1, 0):  # the grams, then each food
        page.press("u")
        page.until(lambda more=more: len(page.answers()) == len(before) + more)
        page.until(lambda: page.all("#main .n-back"))
        page.browser.execute_script("document.querySelector('.n-back').remove()")
    assert page.answers() == before
    page.until(lambda: len(page.all("#queue a.item")) == waiting)

    page.press("left")
    page.until(lambda: page.focused("document.activeElement.id").startswith("q-"))
    page.press("down", "enter")
    page.until(lambda: page.focused("document.activeElement.tagName") == "H1")
    page.press("?")
    page.until(lambda: page.all("dialog[open]"))
    page.press("escape")
    page.until(lambda: not page.all("dialog[open]"))
    assert complaints(page.browser) == []


@pytest.mark.soak
def test_undo_is_still_there_after_a_reload_and_the_way_back_works(page: Page) -> None:
    before = page.answers()
    first = page.text("#main h1")
    page.one("#main button.choose").click()
    page.until(lambda: page.all("#main .n-done"))
    page.one("#main .n-done a.main").click()
    page.until(lambda: page.text("#main h1") not in ("", first))
    page.browser.back()
    page.until(lambda: page.text("#main h1") == first)
    page.browser.refresh()
    page.ready()
    assert first in page.answers()
    page.one("#undo-latest").click()
    page.until(lambda: page.all("#main .n-back"))
    assert page.answers() == before


def test_the_verdict_changes_at_once(page: Page) -> None:
    """Five answers in a row: each shows its numbers without loading the page anew."""
    took = []
    for at in range(5):
        page.browser.execute_script(
            """
            window.took = 0;
            document.querySelector('.note')?.remove();
            const button = document.querySelectorAll('#main button.choose')[arguments[0]];
            const from = performance.now();
            document.addEventListener('htmx:afterSettle',
                () => { window.took ||= performance.now() - from; }, {once: true});
            button.click();
            """,
            at % max(1, len(page.all("#main button.choose"))),
        )
        took.append(page.until(lambda: page.browser.execute_script("return window.took")))
        page.until(lambda: page.all("#main .n-done"))
    assert max(took) < 30_000, took


# --- two tabs ---------------------------------------------------------------------------------


@pytest.mark.soak
def test_two_tabs_do_not_overwrite_each_other(page: Page) -> None:
    before = page.answers()
    browser, here = page.browser, page.browser.current_window_handle
    text = page.text("#main h1")
    browser.switch_to.new_window("tab")
    browser.get(page.origin)
    page.until(lambda: page.text("#main h1") == text)
    other = browser.current_window_handle
    page.one("#main button.choose").click()
    page.until(lambda: page.all("#main .n-done"))
    chosen = page.answers()[text]

    browser.switch_to.window(here)  # it still shows the line as it was
    page.one('#main button[value="none"]').click()
    page.until(lambda: "answered elsewhere" in page.text("#main .n-conflict"))
    assert page.answers() == {**before, text: chosen}
    page.one('#main button[value="none"]').click()
    page.until(lambda: page.all("#main .n-done"))
    assert page.answers() == {**before, text: "none"}

    browser.switch_to.window(other)  # hears of it by itself
    page.until(lambda: "changed elsewhere" in page.text("#said"), 15)
    assert page.one("#main h1").text.strip("“”") == text  # what is being worked on stays


@pytest.mark.soak
def test_the_list_follows_the_files(page: Page) -> None:
    text = page.text("#queue a.item .text")
    count = len(page.all("#queue a.item"))
    save_decision(page.folder / "decisions.csv", Decision(text, "none"))
    page.until(lambda: len(page.all("#queue a.item")) == count - 1, 15)


# --- pack values, no scripts ------------------------------------------------------------------


def fill(page: Page, values: dict[str, str]) -> None:
    for name, value in values.items():
        field = page.one(f"#f-{name}")
        field.clear()
        field.send_keys(value)


@pytest.mark.soak
def test_pack_values_with_a_mistake_then_right(page: Page) -> None:
    page.press("p")
    assert page.focused("document.activeElement.id") == "f-food_name"
    fill(page, {"food_name": "Kelp curd", "serving_g": "150", "kcal": "20", "protein_g": "18",
                "carbs_g": "6", "fat_g": "many"})  # fmt: skip
    page.one(".pack button.main").click()
    page.until(lambda: "is no number" in page.text("#e-fat_g"))
    assert page.focused("document.activeElement.id") == "f-fat_g"
    fill(page, {"fat_g": "12"})
    page.one(".pack button.main").click()
    page.until(lambda: "does not follow" in page.text(".pack .note"))
    assert not (load_pantry(page.folder / "pantry.csv")[0]).by_id.get("pantry:kelp-curd")
    fill(page, {"kcal": "204"})
    page.one(".pack button.main").click()
    page.until(lambda: "is in your pantry" in page.text("#main .n-done"))
    assert load_pantry(page.folder / "pantry.csv")[0].by_id["pantry:kelp-curd"].serving_g == 150


def test_the_page_works_without_scripts(page: Page) -> None:
    before = page.answers()
    page.browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        page.browser.get(page.served.url)
        page.until(lambda: page.all("#main h1"))
        text = page.one("#main h1").text.strip("“”")
        page.one("#q").send_keys("butter", KEYS["enter"])
        page.until(lambda: page.all("#found button.choose"))
        page.one("#found button.choose").click()
        page.until(lambda: page.all("#main .n-done"))
        assert page.answers().keys() == {*before, text}
        page.one("#main .n-done form button").click()
        page.until(lambda: page.all("#main .n-back"))
        assert page.answers() == before
        page.one("#queue a.item:not([aria-current])").click()
        page.until(lambda: page.all("#main h1") and page.one("#main h1").text.strip("“”") != text)
        page.all("#d-recipes summary")[0].click()
        page.one("#d-recipes a").click()
        page.until(lambda: page.all("#h-lines"))
    finally:
        page.browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


# --- kill -9 ----------------------------------------------------------------------------------


def test_killed_between_answers_nothing_is_lost_and_the_page_says_so(page: Page) -> None:
    text = page.text("#main h1")
    page.one("#main button.choose").click()
    page.until(lambda: page.all("#main .n-done"))
    page.kill()
    assert text in page.answers()
    page.one("#main .n-done a.main").click()
    page.until(lambda: "Every answer given is saved" in page.text("#lost"))
    page.served.process, page.served.url = start(page.folder)
    page.open()
    assert text not in [e.text for e in page.all("#queue a.item .text")]
    page.browser.execute_script("document.querySelector('#d-answers').open = true")
    assert text in page.text("#d-answers")
    page.one("#d-answers form button").click()  # also answers of an earlier sitting go back
    page.until(lambda: page.all("#main .n-back"))
    assert text not in page.answers()


@pytest.mark.soak
def test_killed_in_the_middle_of_answers_every_confirmed_one_is_there(
    galley: Path, snapshot: Snapshot
) -> None:
    process, url = start(galley)
    host, _, _ = url.removeprefix("http://").partition("/?token=")
    way_in = http.client.HTTPConnection(host, timeout=30)
    way_in.request("GET", url.removeprefix(f"http://{host}"))
    cookie = (way_in.getresponse().getheader("set-cookie") or "").partition(";")[0]

    def ask(method: str, path: str, form: dict[str, str] | None = None) -> tuple[int, str]:
        line = http.client.HTTPConnection(host, timeout=30)
        headers = {"Cookie": cookie, "Origin": f"http://{host}"}
        if form:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        line.request(method, path, urlencode(form or {}), headers)
        got = line.getresponse()
        return got.status, got.read().decode()

    home = ask("GET", "/")[1]
    form_key = re.search(r'name="form_key" value="([0-9a-f]+)"', home)
    assert form_key is not None
    recipes = re.findall(r'href="(/recipe/[0-9a-f]{16})"', home)
    lines = "".join(ask("GET", r)[1].partition('<ul class="lines">')[2] for r in recipes[:3])
    keys = dict(
        re.findall(r'<a href="/line/([0-9a-f]{16})" [^>]*>([^<]+)</a>\s*<span class="fine">', lines)
    )
    assert len(keys) > 12
    confirmed: list[str] = []
    enough = threading.Event()

    def work() -> None:
        for key, text in keys.items():
            try:
                status, _ = ask(
                    "POST",
                    f"/line/{key}",
                    {"form_key": form_key[1], "act": "grams", "grams": "12", "insist": "yes"},
                )
            except (OSError, http.client.HTTPException):
                return
            if status == 303:
                confirmed.append(text)
            if len(confirmed) >= 5:
                enough.set()

    worker = threading.Thread(target=work)
    worker.start()
    assert enough.wait(60)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    worker.join()
    decisions, problems = load_decisions(galley / "decisions.csv")
    assert not problems
    assert {"a knob of galley butter", "pork shoulder"} <= {d.text for d in decisions.rows}
    for text in confirmed:
        answer = decisions.find(html.unescape(text))
        assert answer is not None, text
        assert answer.grams == 12
    again, _ = start(galley)  # no lock is left over
    again.kill()
    again.wait()


# --- access, looks, isolation -----------------------------------------------------------------


@pytest.mark.soak
def test_axe_finds_nothing(page: Page, axe_script: str) -> None:
    for scheme, width in (("light", 1280), ("dark", 1280), ("light", 390), ("dark", 390)):
        page.browser.execute_cdp_cmd(
            "Emulation.setEmulatedMedia",
            {"features": [{"name": "prefers-color-scheme", "value": scheme}]},
        )
        size(page.browser, width)
        page.browser.get(page.origin)
        page.ready()
        page.one("#q").send_keys("butter")
        page.until(lambda: page.all("#found button.choose"))
        assert broken_rules(page.browser, axe_script) == [], (scheme, width)
        page.browser.execute_script("document.querySelector('#main button.choose').click()")
        page.until(lambda: page.all("#main .n-done"))
        assert broken_rules(page.browser, axe_script) == [], (scheme, width)
    page.browser.execute_script("document.querySelector('#d-recipes a').click()")
    page.until(lambda: page.all("#h-lines"))
    assert broken_rules(page.browser, axe_script) == []
    page.browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})


def test_nothing_runs_out_of_the_window(page: Page) -> None:
    page.one("#main button.choose").click()
    page.until(lambda: page.all("#main .n-done"))
    for width in (320, 390, 768, 1024, 1280, 1920):
        size(page.browser, width)
        wide = page.browser.execute_script(
            """
            const limit = document.documentElement.clientWidth + 1;
            return [...document.querySelectorAll('body *')]
                .filter(e => !e.closest('.vh, .skip, thead, .symbols'))
                .filter(e => e.getBoundingClientRect().right > limit)
                .map(e => e.tagName + '.' + e.className).slice(0, 5)
            """
        )
        assert wide == [], width


def test_nothing_is_fetched_from_elsewhere_and_nothing_is_refused(page: Page) -> None:
    page.browser.get_log("performance")
    page.open()
    page.one("#main button.choose").click()
    page.until(lambda: page.all("#main .n-done"))
    asked = [
        message["params"]["request"]["url"]
        for entry in page.browser.get_log("performance")
        if (message := json.loads(entry["message"])["message"])["method"]
        == "Network.requestWillBeSent"
    ]
    assert asked
    assert all(url.startswith((page.origin, "about:", "data:", "chrome:")) for url in asked), asked
    assert complaints(page.browser) == []


def test_another_page_cannot_reach_it(page: Page, tmp_path: Path) -> None:
    key = page.one("#main article").get_attribute("data-line")
    before = page.answers()
    trap = tmp_path / "trap.html"
    trap.write_text(
        f'<form id="f" method="post" action="{page.origin}/line/{key}">'
        '<input name="act" value="food"><input name="food" value="none"></form>'
        f"<script>fetch('{page.origin}/', {{credentials: 'include'}}).then(r => r.text())"
        ".then(t => document.title = 'read ' + t.length, () => document.title = 'blocked')"
        "</script>"
    )
    page.browser.get(trap.as_uri())
    page.until(lambda: page.browser.title == "blocked")
    page.browser.execute_script("document.getElementById('f').submit()")
    page.until(lambda: "Only this page" in page.browser.page_source)
    assert page.answers() == before
    page.browser.get_log("browser")


@pytest.mark.soak
def test_the_end_of_the_list(page: Page) -> None:
    while page.all("#main button.choose, #main button[value=none]"):
        page.one('#main button[value="none"]').click()
        page.until(lambda: page.all("#main .n-done a.main"))
        page.one("#main .n-done a.main").click()
        page.until(lambda: not page.all("#main .n-done") and page.all("#main h1"))
    assert page.text("#main h1") == "Every line is settled"
    done = re.search(r"(\d+) of (\d+)", page.text("#tally"))
    assert done is not None
    assert done[1] == done[2]


# --- a slow save, a recipe's own page --------------------------------------------------------------

#: A save takes until the file "saved" lies beside the collection, at most half a minute.
SLOW_SERVER = """
import sys, time
from pathlib import Path
from pipeline.web.server import serve
from pipeline.web.answers import Answers
answer = Answers.give
saved = Path(sys.argv[1]).with_name("saved")
def slow(self, *args, **more):
    give_up = time.monotonic() + 30
    while not saved.exists() and time.monotonic() < give_up:
        time.sleep(0.05)
    return answer(self, *args, **more)
Answers.give = slow
serve(sys.argv[1], open_browser=False, ready=lambda url: print(url, flush=True))
"""


@pytest.mark.soak
def test_a_slow_save_never_moves_the_next_click_to_another_line(
    browser: Chrome, galley: Path
) -> None:
    import review_client

    fast, review_client.SERVER = review_client.SERVER, SLOW_SERVER
    try:
        process, url = start(galley)
    finally:
        review_client.SERVER = fast
    page = Page(browser, Served(galley, process, url))
    try:
        size(browser, 1280)
        page.open()
        first = page.text("#main h1")
        before = page.answers()
        assert first in page.texts("#queue a.item .text")
        button = page.one("#main button.choose")
        chosen = button.get_attribute("value")
        button.click()
        assert page.one("#main button.choose").get_attribute("aria-disabled") == "true"
        button.click()  # impatience answers nothing twice
        other = page.all("#queue a.item")[2]
        wanted = other.find_element("css selector", ".text").text
        other.click()
        page.until(lambda: page.text("#main h1") == wanted)
        assert page.answers() == before
        galley.with_name("saved").touch()
        page.until(lambda: page.answers() != before)  # the slow save is there ...
        page.until(lambda: first not in page.texts("#queue a.item .text"))
        page.settled()
        assert first in page.text("#said")  # ... and was told in a word, which stays
        assert page.text("#main h1") == wanted  # the line on the screen is still the one chosen
        second = page.one("#main button.choose")
        food = second.get_attribute("value")
        second.click()
        page.until(lambda: len(page.answers()) >= len(before) + 2)
        new = {text: food_id for text, food_id in page.answers().items() if text not in before}
        assert sorted(new.values()) == sorted([chosen, food])
        assert len(new) == 2
    finally:
        process.kill()
        process.wait()


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.soak
def test_a_recipe_is_corrected_and_accepted_on_its_page(
    page: Page, demo: Path, axe_script: str, width: int
) -> None:
    size(page.browser, width)
    from pipeline.web.model import recipe_key

    page.browser.get(f"{page.origin}/recipe/{recipe_key('cards/fish-pie.txt')}")
    page.ready()
    assert broken_rules(page.browser, axe_script) == []
    assert page.browser.execute_script("return document.documentElement.scrollWidth") <= width
    card = page.folder / "cards" / "fish-pie.txt"
    text = card.read_text()
    try:
        field = page.one("#servings")
        field.clear()
        field.send_keys("eight")
        page.press("enter")
        page.until(lambda: page.text("#e-servings"))
        assert page.focused("document.activeElement.id") == "servings"
        field = page.one("#servings")
        field.clear()
        field.send_keys("8")
        page.press("enter")
        page.until(lambda: "makes 8" in page.text("#main .note"))
        assert "8" in card.read_text()
        assert card.read_text() != text
        page.press("u")
        page.until(lambda: page.all("#main .n-back"))
        assert card.read_text() == text
        page.one("#reason").send_keys("half the butter stays in the dish")
        page.press("enter")
        page.until(lambda: "is accepted" in page.text("#main .note"))
        assert "half the butter stays in the dish" in (page.folder / "decisions.csv").read_text()
        assert broken_rules(page.browser, axe_script) == []
    finally:
        card.write_text(text)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.soak
def test_a_food_the_table_lacks_begins_with_its_pack(
    page: Page, axe_script: str, width: int
) -> None:
    size(page.browser, width)
    from pipeline.web.model import line_key

    page.browser.get(f"{page.origin}/line/{line_key('3 tbsp quark')}")
    page.ready()
    assert page.one("#f-kcal").is_displayed()
    assert page.one("#f-kcal").location["y"] < page.one("#main .foods").location["y"]
    assert broken_rules(page.browser, axe_script) == []
    for name, value in (
        ("kcal", "67 kcal"),
        ("protein_g", "12 g"),
        ("carbs_g", "4g"),
        ("fat_g", "0,2"),
    ):
        page.one(f"#f-{name}").send_keys(value)
    page.press("enter")
    page.until(lambda: "is in your pantry" in page.text("#main .note"))
    assert re.search(r"[1-9]\d* of \d+ settled", page.text("#tally"))
