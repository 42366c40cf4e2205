"""A small invented collection, a session over it, and a served page to speak HTTP with."""

from __future__ import annotations

import copy
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from web_client import CARDS, Client


def lay_out(folder: Path) -> Path:
    folder.mkdir()
    for name, text in CARDS.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@contextmanager
def served(session: Any, report: Path | None = None) -> Iterator[Client]:
    """A session served on a free port of this machine."""
    from pipeline.web.app import create_app
    from pipeline.web.guard import Pass
    from pipeline.web.server import listen, make_server

    listener = listen(0)
    key = Pass.new(f"127.0.0.1:{listener.getsockname()[1]}")
    server = make_server(create_app(session, key, report=report))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield Client(key)
    server.should_exit = True
    thread.join(timeout=10)
    listener.close()


@pytest.fixture(scope="session", autouse=True)
def _first_look_once() -> Iterator[None]:
    """Sessions that begin over the same files, no answer given, share what the first one judged.

    Most tests here begin so, and what they are about comes after.
    """
    from pipeline.web import state

    made: dict[tuple[object, ...], Any] = {}
    judge = state.run_all

    def judged(collection: Any, tools: Any, settings: Any, *, habits: bool) -> Any:
        if len(tools.decisions) or tools.pantry.foods:
            return judge(collection, tools, settings, habits=habits)
        files = [(name, path.read_bytes()) for name, path in sorted(collection.files.items())]
        key = (tools.snapshot.path, repr(settings), habits, *files)
        if key not in made:
            made[key] = judge(collection, tools, settings, habits=habits)
        return copy.deepcopy(made[key])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(state, "run_all", judged)
        yield


@pytest.fixture
def serve() -> Any:
    """``served``, for tests with a session of their own."""
    return served


@pytest.fixture
def cards(tmp_path: Path) -> Path:
    """Four recipes; quark, which the table lacks, is in three of them."""
    return lay_out(tmp_path / "cards")


@pytest.fixture
def session(cards: Path, snapshot: Any) -> Iterator[Any]:
    from pipeline.web.session import ReviewSession
    from pipeline.web.state import ReviewState

    made = ReviewSession(ReviewState(cards, snapshot=snapshot))
    yield made
    made.close()


@pytest.fixture
def client(session: Any) -> Iterator[Client]:
    """A page that may be answered."""
    with served(session) as made:
        yield made


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory, snapshot: Any) -> Iterator[Client]:
    """A page that every test of a module leaves as it was: nothing is ever written beside it."""
    from pipeline.web.session import ReviewSession
    from pipeline.web.state import ReviewState

    folder = lay_out(tmp_path_factory.mktemp("untouched") / "cards")
    session = ReviewSession(ReviewState(folder, snapshot=snapshot))
    with served(session) as made:
        made.folder = folder
        yield made
        assert sorted(p.name for p in folder.iterdir()) == sorted(CARDS)
    session.close()
