"""Who may speak to the page: this machine, this address, and who holds the token.

A local server can be reached by every page a browser has open and by every program of the machine.
So: the host must be our own (no name that some page made point here), a link that works once must
have been opened and its cookie come back, which no other site's request carries, and whatever
changes something must also say that it comes from our own pages and hold their form key. The link
stands on the browser's command line, where other programs can read it; it is worth nothing there,
because opening it uses it up.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from starlette.datastructures import Headers, MutableHeaders, QueryParams
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: More than any form of the page can hold.
LARGEST_BODY = 64 * 1024
SAFE_METHODS = frozenset({"GET", "HEAD"})

HEADERS: dict[str, str] = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "cache-control": "no-store",
    "x-robots-tag": "noindex",
}


@dataclass(frozen=True, slots=True)
class Pass:
    """The secrets of one server: its address, its token, its links, and what follows from them.

    Attributes:
        host: "127.0.0.1:41234", as a browser says it.
        token: random; the cookie's value. Whoever has it may use the page; it is in no address.
        on_used: called with a fresh link when the one before was opened, for another browser.
    """

    host: str
    token: str
    on_used: Callable[[str], None] | None = None
    _link: list[str] = field(default_factory=list, repr=False)

    @classmethod
    def new(cls, host: str, on_used: Callable[[str], None] | None = None) -> Pass:
        """A pass with a fresh token and a first link, each of 256 random bits."""
        return cls(host, secrets.token_urlsafe(32), on_used, [secrets.token_urlsafe(32)])

    @property
    def origin(self) -> str:
        return f"http://{self.host}"

    @property
    def url(self) -> str:
        """The address that opens the page, once."""
        return f"{self.origin}/?token={self._link[-1] if self._link else ''}"

    def opens(self, link: str) -> bool:
        """Whether a link is the one that opens the page now; no second time the same."""
        if not self._link or not hmac.compare_digest(link.encode(), self._link[-1].encode()):
            return False
        self._link[:] = [secrets.token_urlsafe(32)]
        if self.on_used is not None:
            self.on_used(self.url)
        return True

    @property
    def cookie(self) -> str:
        """Its own name a port: servers on one machine share a browser's cookies."""
        return f"steelyard_{self.host.rpartition(':')[2]}"

    @property
    def form_key(self) -> str:
        """What every form of the page carries."""
        return hmac.new(self.token.encode(), b"form", hashlib.sha256).hexdigest()

    def fits(self, token: str) -> bool:
        """Whether a token is ours, in a time that says nothing of how much of it fits."""
        return hmac.compare_digest(token.encode(), self.token.encode())

    def fits_form(self, key: str) -> bool:
        """The same for a form key."""
        return hmac.compare_digest(key.encode(), self.form_key.encode())


class Guard:
    """Turns away what may not speak to ``app`` and puts the security headers on every answer.

    Args:
        app: what is guarded; it checks the form key of what it changes with ``Pass.fits_form``.
        key: the server's pass.
    """

    def __init__(self, app: ASGIApp, key: Pass) -> None:
        self.app = app
        self.key = key

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through or answer it here."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # a websocket that is not accepted is closed

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            status, text = refusal
            answer = PlainTextResponse(f"{text}\n", status, {"connection": "close"})
            await answer(scope, receive, guarded)
            return
        await self.app(scope, _limited(receive), guarded)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        """Status and plain words for what is turned away, None for what may pass."""
        headers = Headers(scope=scope)

        def one(name: str) -> str | None:
            values = headers.getlist(name)
            return values[0] if len(values) == 1 else None

        if one("host") != self.key.host:
            return 421, "This address is not served here."
        if "origin" in headers and one("origin") != self.key.origin:
            return 403, "Only this page's own requests are answered."
        safe = scope["method"] in SAFE_METHODS
        if not safe and "origin" not in headers:
            return 403, "A request that changes something has to say where it comes from."
        if not safe and one("sec-fetch-site") not in (None, "same-origin"):
            return 403, "Only this page's own requests are answered."
        length = one("content-length")
        if length is not None and (not length.isdigit() or int(length) > LARGEST_BODY):
            return 413, "That is more than any form of this page holds."
        if not self._known(scope, headers):
            return 403, (
                "This page opens with the full address that `steelyard review` printed last, "
                "token included. Each opens it once: copy the newest from the terminal."
            )
        return None

    def _known(self, scope: Scope, headers: Headers) -> bool:
        for cookies in map(cookie_parser, headers.getlist("cookie")):
            if self.key.fits(cookies.get(self.key.cookie, "")):
                return True
        if scope["path"] != "/" or scope["method"] != "GET":
            return False
        given = QueryParams(scope.get("query_string", b"")).getlist("token")
        if len(given) != 1 or not self.key.opens(given[0]):
            return False
        scope.setdefault("state", {})["way_in"] = True
        return True


def _limited(receive: Receive) -> Receive:
    """The same body, cut off with a disconnect where it is longer than any form."""
    got = 0

    async def limited() -> Message:
        nonlocal got
        message = await receive()
        if message["type"] == "http.request":
            got += len(message.get("body", b""))
            if got > LARGEST_BODY:
                return {"type": "http.disconnect"}
        return message

    return limited
