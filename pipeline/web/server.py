"""Starts the review page on this machine and waits until it is stopped."""

from __future__ import annotations

import gc
import socket
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.problems import failure

if TYPE_CHECKING:
    import uvicorn
    from starlette.types import ASGIApp


#: The page is served to this machine alone.
HOST = "127.0.0.1"


def serve(
    paths: Sequence[str | Path] | str | Path,
    *,
    port: int = 0,
    open_browser: bool = True,
    line: str = "",
    report: str | Path | None = None,
    ready: Callable[[str], None],
) -> None:
    """Serve the review page of a collection until interrupted.

    Args:
        paths: files and folders of the collection.
        port: 0 takes a free one.
        open_browser: open the page in the person's browser.
        line: open it at this ingredient line: its text, or its key as the report gives it.
        report: folder written by ``verify --out``, served beside the page at ``/report/``.
        ready: called with the address, token included, when the page can be opened; and with a
            fresh one whenever an address was used, because each opens the page once.

    Raises:
        SteelyardError: port, report, settings or snapshot cannot be used, or there is
            no recipe (exit code 3).
    """
    from pipeline.web.app import create_app
    from pipeline.web.guard import Pass
    from pipeline.web.report_routes import ReportRoutes
    from pipeline.web.session import ReviewSession
    from pipeline.web.state import ReviewState

    folder = None if report is None else Path(report)
    ReportRoutes(folder)  # says before anything is read that there is none
    session = ReviewSession(ReviewState(paths))
    gc.collect()
    gc.freeze()  # the index stays for good; looking through it again would hold up an answer
    with listen(port) as listener:
        key = Pass.new(f"{HOST}:{listener.getsockname()[1]}", ready)
        server = make_server(create_app(session, key, session.line_address(line), folder))
        ready(key.url)
        if open_browser:
            threading.Thread(target=_open, args=(key.url,), daemon=True).start()
        try:
            server.run(sockets=[listener])
        except KeyboardInterrupt:
            pass
        finally:
            session.close()


def make_server(app: ASGIApp) -> uvicorn.Server:
    """A server that says nothing of itself and logs no request: their addresses hold the token."""
    import uvicorn

    config = uvicorn.Config(
        app, log_level="error", access_log=False, server_header=False, ws="none", lifespan="off",
        timeout_graceful_shutdown=2,
    )  # fmt: skip
    return uvicorn.Server(config)


def listen(port: int) -> socket.socket:
    """A socket that listens already, so that the address works as soon as it is printed."""
    listener = socket.socket()
    try:
        if sys.platform != "win32":  # there it would let another program listen as well
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((HOST, port))
        listener.listen(128)
    except (OSError, OverflowError) as fault:
        listener.close()
        raise failure("port-not-free", port=port, said=fault) from None
    return listener


def _open(url: str) -> None:
    import webbrowser

    webbrowser.open(url)
