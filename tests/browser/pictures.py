"""The pictures of docs/tour.md, taken anew: ``.venv/bin/python tests/browser/pictures.py``.

Report, recipe page, review page and drift of the demo collection, on a desktop and a phone, light
and dark, by a headless Chromium (CHROMIUM and CHROMEDRIVER name others). The drift is against a
table laid out for the picture, in which olive oil and feta have other values.
"""

from __future__ import annotations

import base64
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
IMAGES = ROOT / "docs" / "images"
DESKTOP, PHONE = (1280, 860), (390, 844)
PIE = "pages/little-skarrow-fish-pie.html"


def main() -> None:
    """Take every picture."""
    sys.path.insert(0, str(ROOT / "benchmarks"))
    import chromium

    browser = chromium.start("--hide-scrollbars")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        os.environ["STEELYARD_HOME"] = str(folder / "home")
        shutil.copytree(ROOT / "data" / "demo", folder / "galley")
        os.chdir(folder)  # the commands on the pictures are as a person would type them
        _pages(browser, folder)
        _review(browser, folder)
    browser.quit()


def _pages(browser: Any, folder: Path) -> None:
    import pipeline
    from pipeline.refresh import refresh
    from pipeline.refresh.drift import drift, write_drift
    from pipeline.report import write
    from pipeline.snapshot import live

    out = folder / "out"
    write(pipeline.verify(folder / "galley"), out, formats=["html"])
    report, recipe = (out / "report.html").as_uri(), (out / PIE).as_uri()
    _large(browser, folder / "large")
    take(browser, "report", report, DESKTOP, "light")
    take(browser, "report-phone", report, PHONE, "dark")
    take(browser, "recipe", recipe, DESKTOP, "dark")
    take(browser, "recipe-phone", recipe, PHONE, "light")

    sys.path.insert(0, str(ROOT / "tests" / "refresh"))
    from fdc_layout import write_bundle

    bundle = write_bundle(
        live().path, folder / "FoodData_Central_sr_legacy_food_csv_2018-04", kinds=("sr_legacy",),
        change="amount * if(nutrient = 'ENERC_KCAL' and source_code = '04053', 0.5,"
        " if(source_code = '01019', 1.8, 1))",
    )  # fmt: skip
    refresh(from_=str(bundle), only=True)
    write_drift(drift([folder / "galley"]), folder / "drift")
    page = (folder / "drift" / "drift.html").as_uri()
    take(browser, "drift", page, DESKTOP, "light")
    take(browser, "drift-phone", page, PHONE, "dark")


def _large(browser: Any, folder: Path) -> None:
    """The list of many recipes; these are invented for the benchmark."""
    import overview

    overview.write(5000, folder)
    take(browser, "report-large", (folder / "report.html").as_uri(), DESKTOP, "light", _LIST)


#: Shows the list, of those that are uncertain.
_LIST = """
document.documentElement.style.scrollBehavior = 'auto';
const which = document.getElementById('which');
which.value = 'uncertain';
which.dispatchEvent(new Event('change'));
document.getElementById('all').scrollIntoView();
"""


def _review(browser: Any, folder: Path) -> None:
    from pipeline.web.model import line_key, recipe_key

    code = (
        "import sys; from pipeline.web.server import serve; serve(sys.argv[1], open_browser=False,"
        " ready=lambda url: print(url, flush=True))"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code, str(folder / "galley")], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    url = process.stdout.readline().strip()
    origin = re.sub(r"/\?.*", "", url)
    try:
        browser.get(url)
        take(browser, "review", f"{origin}/line/{line_key('3 tbsp quark')}", DESKTOP, "light")
        take(browser, "review-phone", f"{origin}/line/{line_key('½ cup milk')}", PHONE, "dark")
        pie = f"{origin}/recipe/{recipe_key('cards/fish-pie.txt')}"
        take(browser, "review-recipe", pie, DESKTOP, "dark")
    finally:
        process.kill()
        process.wait()


def take(
    browser: Any, name: str, url: str, screen: tuple[int, int], scheme: str, script: str = ""
) -> None:
    """One screen of a page as docs/images/NAME.png; ``script``: run before it is taken."""
    width, height = screen
    metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)
    browser.execute_cdp_cmd(
        "Emulation.setEmulatedMedia",
        {"features": [{"name": "prefers-color-scheme", "value": scheme}]},
    )
    browser.get(url)
    browser.execute_script(script)
    browser.execute_async_script("setTimeout(arguments[0], 600)")
    shot = browser.execute_cdp_cmd("Page.captureScreenshot", {"format": "png"})["data"]
    (IMAGES / f"{name}.png").write_bytes(base64.b64decode(shot))
    print(f"docs/images/{name}.png")


if __name__ == "__main__":
    main()
