"""A habit confirmed in a real browser: one click, and the verdicts of its recipes change."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from review_client import Page, Served, complaints, size, start
from screens import broken_rules

from pipeline.memory import load_decisions, load_pantry

if TYPE_CHECKING:
    from selenium.webdriver import Chrome

    from pipeline.snapshot import Snapshot

pytestmark = pytest.mark.browser


@pytest.fixture
def page(browser: Chrome, galley: Path, snapshot: Snapshot) -> Iterator[Page]:
    served = Served(galley, *start(galley))
    size(browser, 1280)
    made = Page(browser, served)
    browser.get_log("browser")
    made.open()
    yield made
    browser.get("about:blank")
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    served.process.kill()
    served.process.wait()


def to_habits(page: Page) -> None:
    page.settled()
    page.one(".habit-link a").click()
    page.until(lambda: page.text("#main h1") == "Habits")
    page.settled()


def answered(page: Page, button: str) -> None:
    """Click, and wait for the receipt and for all that comes with it."""
    page.one(button).click()
    page.until(lambda: page.all("#main .n-done") and not page.all("#main section.habit"))
    page.settled()


@pytest.mark.soak
def test_one_click_confirms_the_habit_and_the_verdicts_change(page: Page, axe_script: str) -> None:
    before = page.answers()
    to_habits(page)
    card = page.text("#main section.habit")
    assert "greek yogurt" in card
    assert "In 4 recipes" in card
    assert "disagrees" in card
    assert broken_rules(page.browser, axe_script) == []

    answered(page, "#main .habit button.main")
    receipt = page.text("#main .n-done")
    assert "Overboard berry cups" in receipt
    verdicts = page.texts("#main .n-done .moved .badge")
    assert "disagrees" in verdicts
    assert verdicts[1] == "agrees"
    page.until(lambda: not page.all(".habit-link"))
    assert page.answers() == {**before, "greek yogurt": "sr28:01256"}
    page.until(lambda: "was disagrees, now agrees" in page.text("#said"))

    page.one("#main .n-done form button").click()
    page.until(lambda: page.all("#main .n-back") and page.all("#main section.habit"))
    assert page.answers() == before
    assert complaints(page.browser) == []


@pytest.mark.soak  # tests/web/test_web_habits.py holds the same without a browser
def test_a_refusal_is_kept_and_changes_no_verdict(page: Page) -> None:
    to_habits(page)
    answered(page, "#main .habit button.quiet")
    rows = load_decisions(page.folder / "decisions.csv")[0].rows
    assert [r.food_id for r in rows if r.applies_to == "habit"] == ["none"]
    page.browser.refresh()
    page.ready()
    assert not page.all(".habit-link")


@pytest.mark.soak
def test_the_pack_is_typed_in_without_scripts_too(page: Page) -> None:
    page.browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        page.browser.get(f"{page.origin}/habits")
        page.one("#main .habit summary").click()
        typed = {
            "serving_g": "170",
            "kcal": "97",
            "protein_g": "17",
            "carbs_g": "6",
            "fat_g": "0.7",
        }
        for name, value in typed.items():
            page.one(f"#main .habit input[name={name}]").send_keys(value)
        page.one("#main .habit form.pack button.main").click()
        page.until(lambda: page.all("#main .n-done"))
    finally:
        page.browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
    names = [f.name for f in load_pantry(page.folder / "pantry.csv")[0].foods]
    assert "Own greek yogurt" in names
