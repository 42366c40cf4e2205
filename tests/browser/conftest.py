"""A headless Chromium for the page tests: Debian's, or the one CHROMIUM names."""

from __future__ import annotations

import importlib.util
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from screens import screen

if TYPE_CHECKING:
    from selenium.webdriver import Chrome


def _missing(what: str) -> None:
    """Skip where a person tries the tests without a browser; fail where CI should have one."""
    if os.environ.get("CI"):
        pytest.fail(f"{what} is missing, and CI is set")
    pytest.skip(f"{what} is missing; install Debian's chromium and chromium-driver")


@pytest.fixture
def galley(demo: Path, tmp_path: Path) -> Path:
    """The demo collection as a person's own folder, to be changed."""
    return shutil.copytree(demo, tmp_path / "galley")


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chrome]:
    """One browser a session, with a profile of its own and no network chatter."""
    if importlib.util.find_spec("selenium") is None:
        _missing("the package selenium (extra 'browser')")
    sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
    import chromium

    if not all(Path(path).is_file() for path in chromium.paths()):
        _missing("chromium")
    chrome = chromium.start(
        "--disable-background-networking", "--no-first-run", "--window-size=1280,900",
        f"--user-data-dir={tmp_path_factory.mktemp('profile')}",
        log=True,
    )  # fmt: skip
    chrome.set_script_timeout(120)
    yield chrome
    chrome.quit()


@pytest.fixture(params=[(1280, "light"), (390, "dark")])
def width(browser: Chrome, request: pytest.FixtureRequest) -> Iterator[int]:
    """The width of the screen: a wide one, and a narrow one in dark colours."""
    wide, scheme = request.param
    with screen(browser, wide, scheme):
        yield wide


@pytest.fixture(scope="session")
def axe_script() -> str:
    """The accessibility engine axe-core, from the package axe-core-python (a test dependency)."""
    found = importlib.util.find_spec("axe_core_python")
    if found is None or not found.submodule_search_locations:
        _missing("the package axe-core-python")
    assert found is not None
    folder = Path(next(iter(found.submodule_search_locations or [])))
    return (folder / "axe.min.js").read_text(encoding="utf-8")
