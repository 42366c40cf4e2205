"""A local server that plays the official site, with the faults a real one has."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler

from pipeline.refresh.fetch import Patience
from pipeline.refresh.run import Config, SourceConfig

QUICK = Patience(connect_s=2, read_s=0.5, tries=3, backoff_s=0.01)


@dataclass
class Site:
    """What the server answers, and what it was asked.

    Attributes:
        files: path → content; a 304 is given when the asker has this content already.
        faults: path → faults for the next requests, each used once: an HTTP status, ``cut``
            (half of the body), ``slow``, ``login`` (an HTML page with 200), ``redirect:URL``.
        asked: (path, Range header, If-None-Match header) in order.
    """

    address: str = ""
    files: dict[str, bytes] = field(default_factory=dict)
    faults: dict[str, list[str]] = field(default_factory=dict)
    asked: list[tuple[str, str, str]] = field(default_factory=list)

    def release(self, name: str, content: bytes) -> None:
        """Put a release on the site and name it on the page, beside older ones."""
        self.files[f"/{name}"] = content
        links = "".join(f'<a href="/{n[1:]}">{n}</a>' for n in self.files if n.endswith(".zip"))
        self.files["/download"] = f"<html>{links}</html>".encode()

    def config(self, sha256: str = "") -> Config:
        """Sources that ask this site."""
        source = SourceConfig(
            key="foundation", title="Foundation", page=f"{self.address}/download",
            pattern=r"FoodData_Central_foundation_food_csv_(?P<date>[\d-]+)\.zip",
            kinds=("foundation",), sha256=sha256,
        )  # fmt: skip
        return Config({"foundation": source}, ("foundation",), f"{self.address}/")

    def archive_requests(self) -> list[tuple[str, str, str]]:
        return [row for row in self.asked if row[0].endswith(".zip")]


def site_handler(site: Site) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def log_message(self, *args: object) -> None:
            return

        def do_GET(self) -> None:  # http.server's name
            path = self.path
            asked_range = self.headers.get("Range", "")
            site.asked.append((path, asked_range, self.headers.get("If-None-Match", "")))
            fault = site.faults[path].pop(0) if site.faults.get(path) else ""
            if fault.isdigit():
                return self._answer(int(fault), b"no")
            if fault.startswith("redirect:"):
                self.send_response(302)
                self.send_header("Location", fault.partition(":")[2])
                self.send_header("Content-Length", "0")
                self.end_headers()
                return None
            if fault == "login":
                return self._answer(200, b"<html>please log in</html>", kind="text/html")
            if path not in site.files:
                return self._answer(404, b"nothing here")
            body = site.files[path]
            etag = f'"{hash(body)}"'
            if self.headers.get("If-None-Match") == etag:
                return self._answer(304, b"", etag)
            start = 0
            if asked_range and self.headers.get("If-Range") == etag:
                start = int(asked_range.removeprefix("bytes=").rstrip("-"))
            status = 206 if start else 200
            if fault == "slow":
                time.sleep(1.0)
            return self._answer(status, body, etag, start, cut=fault == "cut")

        def _answer(
            self, status: int, body: bytes, etag: str = "", start: int = 0, *, cut: bool = False,
            kind: str = "application/zip",
        ) -> None:  # fmt: skip
            self.send_response(status)
            if etag:
                self.send_header("ETag", etag)
            if start:
                self.send_header("Content-Range", f"bytes {start}-{len(body) - 1}/{len(body)}")
            part = body[start:]
            if status != 304:
                self.send_header("Content-Type", kind)
                self.send_header("Content-Length", str(len(part)))
            self.end_headers()
            try:
                if cut:
                    self.wfile.write(part[: len(part) // 2])
                    self.close_connection = True
                    self.connection.close()
                elif status != 304:
                    self.wfile.write(part)
            except OSError:
                self.close_connection = True

    return Handler
