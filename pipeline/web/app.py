"""The page's addresses: forms that work without scripts, and the same as parts of a page with them."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from pipeline.web.guard import Guard, Pass
from pipeline.web.report_routes import ReportRoutes
from pipeline.web.routes import FormHandler, Routes
from pipeline.web.view import View, static_file

if TYPE_CHECKING:
    from starlette.types import ASGIApp

    from pipeline.web.session import ReviewSession

STATIC = {
    "base.css": "text/css; charset=utf-8",
    "review.css": "text/css; charset=utf-8",
    "review.js": "text/javascript; charset=utf-8",
    "htmx.min.js": "text/javascript; charset=utf-8",
    "script.css": "text/css; charset=utf-8",
    "steelyard.svg": "image/svg+xml",
}

Handler = Callable[[Request], Response]


def create_app(
    session: ReviewSession, key: Pass, start: str = "/", report: Path | None = None
) -> ASGIApp:
    """The page over a session, guarded by a pass.

    Args:
        key: whose host and token requests must show.
        start: address of our own at which the page opens.
        report: folder of a report that is served beside the page.

    Raises:
        SteelyardError: there is no report in ``report``.
    """
    reports = ReportRoutes(report, session.state.written_after)
    view = View(session, key, has_report=report is not None)
    routes = Routes(view, start)
    pages: dict[str, Handler] = {
        "/": routes.home,
        "/line/{key}": routes.line,
        "/line/{key}/foods": routes.foods,
        "/recipe/{key}": routes.recipe,
        "/script/{key}": routes.script,
        "/habits": routes.habits,
        "/report/{name:path}": reports.file,
        "/since/{version:int}": routes.since,
        "/static/{name}": _static,
    }
    forms: dict[str, FormHandler] = {
        "/line/{key}": routes.own_form(routes.answer),
        "/line/{key}/pack": routes.own_form(routes.pack),
        "/line/{key}/split": routes.own_form(routes.split),
        "/undo": routes.undo,
        "/recipe/{key}": routes.change,
        "/script/{key}": routes.correct,
        "/habit/{key}": routes.settle,
    }
    addresses = [Route(path, _timed(session, page)) for path, page in pages.items()]
    for path, act in forms.items():
        addresses.append(Route(path, _form(key, _timed(session, act)), methods=["POST"]))
    handlers: dict[Any, Any] = {HTTPException: _not_there, Exception: _own_fault}
    return Guard(Starlette(routes=addresses, exception_handlers=handlers), key)


def _timed(session: ReviewSession, handler: Callable[..., Response]) -> Callable[..., Response]:
    """A handler before which work in the background waits, and that says what CPU time it took."""

    def run(request: Request, *typed: dict[str, str]) -> Response:
        start = time.thread_time()
        with session.state.in_use():
            response = handler(request, *typed)
        took_ms = 1000 * (time.thread_time() - start)
        response.headers["server-timing"] = f"cpu;dur={took_ms:.1f}"
        return response

    return run


def _form(key: Pass, act: FormHandler) -> Callable[[Request], Any]:
    """A handler of a form: only with the key that our own forms carry."""

    async def handler(request: Request) -> Response:
        try:
            form: FormData = await request.form(max_files=0, max_fields=60)
        except ClientDisconnect:
            return PlainTextResponse("That is more than any form holds.\n", 413)
        typed = {k: v for k, v in form.items() if isinstance(v, str)}
        if not key.fits_form(typed.get("form_key", "")):
            return PlainTextResponse("This form is not of this page; reload it.\n", 403)
        return await run_in_threadpool(act, request, typed)

    return handler


def _static(request: Request) -> Response:
    """A file of the page; names that are not listed do not exist."""
    name = request.path_params["name"]
    if name not in STATIC:
        raise HTTPException(404)
    return Response(static_file(name), media_type=STATIC[name])


def _not_there(request: Request, fault: Exception) -> Response:
    """An address that is not there."""
    status = fault.status_code if isinstance(fault, HTTPException) else 404
    return PlainTextResponse("There is nothing at this address.\n", status)


def _own_fault(request: Request, fault: Exception) -> Response:
    """A fault of the page itself; answers are on disk and nothing is lost."""
    text = f"The page met an internal error: {type(fault).__name__}. Your answers are saved.\n"
    return PlainTextResponse(text, 500)
