"""Screens of the page tests."""

from __future__ import annotations

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
