"""A release server that stalls, resets, lies about lengths, or serves yesterday's file."""

from __future__ import annotations

import shutil
import socket
import struct
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from official_site import QUICK, Site

from pipeline.exit_codes import Exit
from pipeline.problems import SteelyardError
from pipeline.refresh import fetch, refresh
from pipeline.snapshot import Snapshot, open_snapshot

NAME = "FoodData_Central_foundation_food_csv_2026-04-30.zip"
PATIENCE = fetch.Patience(connect_s=1, read_s=0.4, tries=2, backoff_s=0.01)


def stalls(line: socket.socket, body: bytes) -> None:
    """Takes the request and says nothing."""
    time.sleep(1.5)


def stalls_within(line: socket.socket, body: bytes) -> None:
    """Gives the beginning and says nothing more."""
    line.sendall(head(len(body)) + body[:1000])
    time.sleep(1.5)


def resets(line: socket.socket, body: bytes) -> None:
    """Cuts the connection as a broken line does."""
    line.sendall(head(len(body)) + body[:1000])
    line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))


def says_more(line: socket.socket, body: bytes) -> None:
    """Promises twice what it gives."""
    line.sendall(head(2 * len(body)) + body)


def says_less(line: socket.socket, body: bytes) -> None:
    """Promises half of what it gives."""
    line.sendall(head(len(body) // 2) + body)


def says_terabytes(line: socket.socket, body: bytes) -> None:
    """Promises more than any disk holds."""
    line.sendall(head(1 << 45) + body)


def says_nonsense(line: socket.socket, body: bytes) -> None:
    """A length that is no number."""
    line.sendall(head(0).replace(b": 0", b": -5e3") + body[:500])


def is_no_server(line: socket.socket, body: bytes) -> None:
    """Bytes that are no HTTP."""
    line.sendall(b"\x00\xff" * 500)


def head(length: int) -> bytes:
    return f'HTTP/1.1 200 OK\r\nContent-Length: {length}\r\nETag: "a"\r\n\r\n'.encode()


@pytest.fixture
def serve() -> Iterator[Callable[..., str]]:
    """Starts a server of one behaviour; gives its address."""
    listeners: list[socket.socket] = []

    def start(act: Callable[[socket.socket, bytes], None], body: bytes) -> str:
        listener = socket.create_server(("127.0.0.1", 0))
        listeners.append(listener)

        def answer(line: socket.socket) -> None:
            with line:
                try:
                    line.recv(65536)
                    act(line, body)
                except OSError:
                    pass

        def work() -> None:
            while True:
                try:
                    line, _ = listener.accept()
                except OSError:
                    return
                threading.Thread(target=answer, args=(line,), daemon=True).start()

        threading.Thread(target=work, daemon=True).start()
        return f"http://127.0.0.1:{listener.getsockname()[1]}/{NAME}"

    yield start
    for listener in listeners:
        listener.close()


@pytest.mark.parametrize(
    "act",
    [
        stalls,
        stalls_within,
        resets,
        says_more,
        says_less,
        says_terabytes,
        says_nonsense,
        is_no_server,
    ],
    ids=lambda act: act.__name__,
)
def test_a_server_that_does_not_keep_its_word_changes_nothing(
    serve: Callable[..., str], home: Path, release: bytes, act: Callable[..., None]
) -> None:
    before = open_snapshot(home).snapshot_id
    began = time.monotonic()
    with pytest.raises(SteelyardError) as fault:
        refresh(from_=serve(act, release), home=home, patience=PATIENCE)
    assert time.monotonic() - began < 60
    assert fault.value.exit_code in (Exit.UNREACHABLE, Exit.REFUSED)
    assert fault.value.problem.fix
    assert open_snapshot(home).snapshot_id == before
    assert open_snapshot(home).notes == ()


@pytest.mark.usefixtures("no_gate")
def test_yesterdays_file_under_todays_name_is_told_and_not_built(
    site: Site, published: Snapshot, release: bytes, tmp_path: Path
) -> None:
    home = tmp_path / "home"
    shutil.copytree(published.folder.parents[1], home)
    site.release(NAME, release)
    first = refresh(home=home, config=site.config(), patience=QUICK)
    assert first.changed
    site.release(NAME.replace("2026-04-30", "2026-10-29"), release)
    second = refresh(home=home, config=site.config(), patience=QUICK)
    assert second.status == "unchanged"
    (told,) = second.notes
    assert "2026-10-29" in told
    assert "2026-04-30" in told
    assert open_snapshot(home).snapshot_id == first.snapshot.snapshot_id  # type: ignore[union-attr]
