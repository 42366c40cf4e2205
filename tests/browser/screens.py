"""Screens of the page tests."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from selenium.webdriver import Chrome


@contextmanager
def screen(browser: Chrome, width: int, scheme: str = "light", media: str = "") -> Iterator[None]:
    """A screen of that width (a phone below 500) and colour scheme."""
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 500},
    )
    browser.execute_cdp_cmd(
        "Emulation.setEmulatedMedia",
        {"media": media, "features": [{"name": "prefers-color-scheme", "value": scheme}]},
    )
    try:
        yield
    finally:
        browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "", "features": []})


def broken_rules(browser: Chrome, axe_script: str) -> list[str]:
    """Rules that axe-core finds broken, with the elements; all that can be opened is open."""
    browser.execute_script("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    browser.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
    browser.execute_script(axe_script)
    found = browser.execute_async_script(
        "const done = arguments[arguments.length - 1];"
        "axe.run(document, {resultTypes: ['violations']}).then(r => done(JSON.stringify(r.violations)))"
    )
    browser.execute_cdp_cmd("Page.setBypassCSP", {"enabled": False})
    return [
        f"{v['id']}: {v['help']} {[(n['target'], n.get('failureSummary', '')) for n in v['nodes']][:4]}"
        for v in json.loads(found)
    ]
