"""A report written before, served beside the review page: its commands become links to the lines."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from pipeline.problems import failure

MAIN = "report.html"
KINDS = {
    ".html": "text/html; charset=utf-8", ".js": "text/javascript; charset=utf-8",
    ".json": "application/json", ".csv": "text/csv; charset=utf-8",
}  # fmt: skip
#: Its pages say in themselves which script may run; here only where things may come from.
_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'self' 'unsafe-inline'; "
    "img-src 'self' data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
#: A button that copies the command opening the review page at a line.
_BUTTON = re.compile(
    r'<button type="button" data-text="steelyard review [^"]*--line ([0-9a-f]{16})"[^>]*>'
    r'[^<]*(<span class="vh">[^<]*</span>)?</button>'
)
#: Where the page itself begins, and what a page says there that files have overtaken.
_MAIN = re.compile(r"<main\b[^>]*>")
_OLD = (
    '<p class="wrap" role="note"><b>This report is older than your latest answers or recipes</b> and'
    " shows the numbers as they were; <code>steelyard verify FOLDER --out {folder}</code> writes it"
    " again.</p>"
)
#: Where the menu of a page begins.
_MENU = re.compile(r"<nav[^>]*>\s*<ul[^>]*>")


@dataclass(frozen=True, slots=True)
class ReportRoutes:
    """Handlers over the folder that ``steelyard verify --out`` wrote; none without one.

    Attributes:
        folder: of the report.
        written_after: whether what the report is of was changed after a time, in seconds.

    Raises:
        SteelyardError: the folder holds no report.
    """

    folder: Path | None
    written_after: Callable[[float], bool] = lambda _: False

    def __post_init__(self) -> None:
        if self.folder is not None and not (self.folder / MAIN).is_file():
            raise failure("report-not-found", folder=self.folder, main=MAIN)

    def file(self, request: Request) -> Response:
        """A file of the report; pages open lines here instead of copying a command."""
        path = self._path(str(request.path_params["name"]))
        if path is None:
            raise HTTPException(404)
        headers = {"content-security-policy": _POLICY}
        if path.suffix != ".html":
            return Response(path.read_bytes(), media_type=KINDS[path.suffix], headers=headers)
        page = path.read_text(encoding="utf-8")
        if self.written_after(path.stat().st_mtime):
            said = _OLD.format(folder=html.escape(str(self.folder)))
            page = _MAIN.sub(lambda m: m[0] + said, page, count=1)
        return Response(with_links(page), media_type=KINDS[".html"], headers=headers)

    def _path(self, name: str) -> Path | None:
        """The file of a name, None when it is not inside the folder or of no kind that is served."""
        if self.folder is None:
            return None
        root = self.folder.resolve()
        path = (root / (name or MAIN)).resolve()
        fits = path.is_relative_to(root) and path.suffix in KINDS and path.is_file()
        return path if fits else None


def with_links(page: str) -> str:
    """A page of the report whose review commands are links, and that leads back to the review."""
    linked = _BUTTON.sub(
        lambda m: f'<a class="open" href="/line/{m[1]}">Open in the review{m[2] or ""}</a>', page
    )
    return _MENU.sub(lambda m: m[0] + '<li><a href="/">Review</a></li>', linked, count=1)
