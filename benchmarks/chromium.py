"""A headless Chromium for benchmarks, page tests and pictures.

It is Debian's, or the one that CHROMIUM and CHROMEDRIVER name.
"""

from __future__ import annotations

import os
import shutil
from typing import Any


def paths() -> tuple[str, str]:
    """The browser and its driver; "" for what is not installed."""
    return (
        os.environ.get("CHROMIUM") or shutil.which("chromium") or "",
        os.environ.get("CHROMEDRIVER") or shutil.which("chromedriver") or "",
    )


def start(*arguments: str, log: bool = False) -> Any:
    """A browser without a window; the caller quits it.

    Args:
        arguments: of the command line, besides those every run needs.
        log: whether console messages and network events are kept for ``get_log``.
    """
    from selenium.webdriver import Chrome
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    chromium, driver = paths()
    options = Options()
    options.binary_location = chromium
    if log:
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    for argument in ("--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"):
        options.add_argument(argument)
    for argument in arguments:
        options.add_argument(argument)
    return Chrome(options=options, service=Service(driver))
