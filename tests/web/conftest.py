"""A small invented collection, a desk over it, and a served page to speak HTTP with."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from web_client import CARDS, Client


@pytest.fixture
def cards(tmp_path: Path) -> Path:
    """Four recipes; quark, which the table lacks, is in three of them."""
    folder = tmp_path / "cards"
    folder.mkdir()
    for name, text in CARDS.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def desk(cards: Path, snapshot: Any) -> Iterator[Any]:
    from pipeline.web.desk import Desk

    made = Desk(cards, snapshot=snapshot)
    yield made
    made.close()


@pytest.fixture
def client(desk: Any) -> Iterator[Client]:
    """The desk served on a free port of this machine."""
    from pipeline.web.app import create_app
    from pipeline.web.guard import Pass
    from pipeline.web.server import listen, make_server

    listener = listen("127.0.0.1", 0)
    key = Pass.new(f"127.0.0.1:{listener.getsockname()[1]}")
    server = make_server(create_app(desk, key))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield Client(key)
    server.should_exit = True
    thread.join(timeout=10)
    listener.close()
