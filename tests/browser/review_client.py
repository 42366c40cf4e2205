"""What the browser tests of the review page share: a server process and a page of it in a browser."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.memory import load_decisions

if TYPE_CHECKING:
    from selenium.webdriver import Chrome
    from selenium.webdriver.remote.webelement import WebElement

SERVER = """
import sys
from pipeline.web.server import serve
serve(sys.argv[1], open_browser=False, ready=lambda url: print(url, flush=True))
"""
KEYS = {"down": "\ue015", "up": "\ue013", "left": "\ue012", "right": "\ue014", "enter": "\ue007",
        "escape": "\ue00c"}  # fmt: skip


@dataclass
class Page:
    """A served collection in a browser."""

    browser: Any
    served: Served

    @property
    def folder(self) -> Path:
        return self.served.folder

    @property
    def origin(self) -> str:
        return self.served.url.split("/?")[0]

    def open(self) -> None:
        self.browser.get(self.served.url)
        self.ready()

    def ready(self) -> None:
        """Wait until the scripts are at work."""
        self.until(
            lambda: self.browser.execute_script(
                "return !!window.htmx && !document.querySelector('#help-open').hidden"
            )
        )

    def settled(self) -> None:
        """Wait until the page is whole and no answer is still being put in.

        A button clicked before the scripts have taken it over sends its form the plain way, and an
        element found while an answer is put in may be gone a moment later.
        """
        self.ready()
        self.until(
            lambda: self.browser.execute_script(
                "return document.readyState === 'complete' && !document.querySelector("
                "'.htmx-request, .htmx-swapping, .htmx-settling, .htmx-added')"
            )
        )

    def texts(self, what: str) -> list[str]:
        """Text of all such elements, read in one go."""
        return list(
            self.browser.execute_script(
                "return [...document.querySelectorAll(arguments[0])].map(e => e.textContent.trim())",
                what,
            )
        )

    def all(self, what: str) -> list[WebElement]:
        found: list[WebElement] = self.browser.find_elements("css selector", what)
        return found

    def one(self, what: str) -> WebElement:
        return self.all(what)[0]

    def text(self, what: str) -> str:
        return str(self.browser.execute_script("return document.querySelector(arguments[0])?.textContent ?? ''", what))  # fmt: skip

    def until(self, true: Callable[[], Any], seconds: float = 60) -> Any:
        """Wait for something; what it last was is in the failure."""
        from selenium.common.exceptions import WebDriverException

        ends, last = time.monotonic() + seconds, None
        while time.monotonic() < ends:
            try:
                last = true()
            except (IndexError, WebDriverException) as fault:
                last = fault
            else:
                if last:
                    return last
            time.sleep(0.03)
        shown = self.text("#main")[:600]
        raise AssertionError(f"never happened; last: {last!r}; the page shows: {shown}")

    def press(self, *keys: str) -> None:
        from selenium.webdriver import ActionChains

        for key in keys:
            ActionChains(self.browser).send_keys(KEYS.get(key, key)).perform()

    def focused(self, script: str = "document.activeElement.textContent") -> str:
        return str(self.browser.execute_script(f"return {script}")).strip()

    def answers(self) -> dict[str, str]:
        return {d.text: d.food_id for d in load_decisions(self.folder / "decisions.csv")[0].rows}

    def kill(self) -> None:
        os.kill(self.served.process.pid, signal.SIGKILL)
        self.served.process.wait()


def start(folder: Path) -> tuple[subprocess.Popen[str], str]:
    process = subprocess.Popen(
        [sys.executable, "-c", SERVER, str(folder)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    url = process.stdout.readline().strip()
    assert url.startswith("http://127.0.0.1:")
    return process, url


@dataclass
class Served:
    """A copy of the demo collection, its server, and how its own files were at first."""

    folder: Path
    process: subprocess.Popen[str]
    url: str

    def as_at_first(self, demo: Path) -> None:
        for name in ("decisions.csv", "pantry.csv"):
            shutil.copyfile(demo / name, self.folder / name)
        if self.process.poll() is not None:
            self.process, self.url = start(self.folder)


def size(browser: Chrome, width: int) -> None:
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False},
    )


def complaints(browser: Chrome) -> list[str]:
    """What the browser's console holds against the page."""
    return [entry["message"] for entry in browser.get_log("browser")]
