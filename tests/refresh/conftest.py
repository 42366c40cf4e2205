"""A published home, bundles laid out from it, and a local server that plays the official site."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Iterator
from http.server import ThreadingHTTPServer
from pathlib import Path

import pytest
from fdc_layout import write_bundle, zip_bundle
from official_site import Site, site_handler

from pipeline.snapshot import Snapshot, open_snapshot

FEW = "category in ('Fruits and Fruit Juices', 'Dairy and Egg Products')"


@pytest.fixture(scope="session")
def published(embedded_home: Path) -> Snapshot:
    """The embedded snapshot, built once."""
    return open_snapshot(embedded_home)


@pytest.fixture
def home(embedded_home: Path, tmp_path: Path) -> Path:
    """A home of one's own with the embedded snapshot live."""
    shutil.copytree(embedded_home, tmp_path / "home")
    return tmp_path / "home"


@pytest.fixture(scope="session")
def bundle(published: Snapshot, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Some 640 foods as an extracted Foundation release."""
    folder = tmp_path_factory.mktemp("bundle") / "FoodData_Central_foundation_food_csv_2026-04-30"
    return write_bundle(published.path, folder, kinds=("foundation",), foods=FEW)


@pytest.fixture(scope="session")
def release(bundle: Path, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The same, zipped as the publisher does."""
    path = tmp_path_factory.mktemp("zip") / f"{bundle.name}.zip"
    return zip_bundle(bundle, path).read_bytes()


@pytest.fixture(scope="session")
def next_release(published: Snapshot, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A later release: protein 2 % up."""
    name = "FoodData_Central_foundation_food_csv_2026-10-29"
    folder = write_bundle(
        published.path, tmp_path_factory.mktemp("next") / name, kinds=("foundation",), foods=FEW,
        release="2026-10-29", change="amount * if(nutrient = 'PROCNT', 1.02, 1)",
    )  # fmt: skip
    return zip_bundle(folder, folder.parent / f"{name}.zip").read_bytes()


@pytest.fixture(scope="session")
def poisoned(published: Snapshot, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A release whose energies are ten times too high."""
    name = "FoodData_Central_foundation_food_csv_2026-11-30"
    folder = write_bundle(
        published.path, tmp_path_factory.mktemp("bad") / name, kinds=("foundation",), foods=FEW,
        change="amount * if(nutrient = 'ENERC_KCAL', 10, 1)",
    )  # fmt: skip
    return zip_bundle(folder, folder.parent / f"{name}.zip").read_bytes()


@pytest.fixture
def site() -> Iterator[Site]:
    """The official site, on this machine only."""
    played = Site()
    server = ThreadingHTTPServer(("127.0.0.1", 0), site_handler(played))
    server.daemon_threads = True
    played.address = f"http://127.0.0.1:{server.server_address[1]}"
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    yield played
    server.shutdown()
    server.server_close()
