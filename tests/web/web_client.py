"""What the tests of the page share: an invented collection, and a client that speaks plain HTTP."""

from __future__ import annotations

import http.client
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

CARDS = {
    "porridge.txt": """Pier porridge
Serves 2

Ingredients
- 80 g rolled oats
- 3 tbsp quark
- 1 tbsp honey

Per serving: 205 kcal, P 6 g, C 37 g, F 3 g
""",
    "toast.txt": """Gull toast
Serves 1

Ingredients
- 2 slices whole wheat bread
- 3 tbsp quark
- 100 g quark
- 150 g tinned limpet relish

Per serving: 420 kcal, P 24 g, C 60 g, F 4 g
""",
    "sauce.txt": """Base quark sauce
Serves 4

Ingredients
- 200 g quark
- 1 tbsp olive oil

Per serving: 60 kcal, P 6 g, C 2 g, F 4 g
""",
    "bowl.txt": """Landing bowl
Serves 2

Ingredients
- 300 g boiled potatoes
- 2 portions of the base quark sauce

Per serving: 190 kcal, P 9 g, C 32 g, F 4 g
""",
}


@dataclass
class Answer:
    """An HTTP answer."""

    status: int
    headers: dict[str, str]
    text: str


@dataclass
class Client:
    """Speaks plain HTTP with a served page; nothing is normalised on the way."""

    key: Any
    folder: Path = Path()
    cookie: str = ""
    form_key: str = ""

    def __post_init__(self) -> None:
        self.cookie = self.cookie or f"{self.key.cookie}={self.key.token}"
        self.form_key = self.form_key or self.key.form_key

    def ask(
        self, method: str, path: str, body: bytes | None = None, **headers: str | None
    ) -> Answer:
        """A request; ``headers`` by name with _ for -, None to leave one out."""
        host, port = self.key.host.rsplit(":", 1)
        line = http.client.HTTPConnection(host, int(port), timeout=60)
        line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        given: dict[str, str | None] = {"host": self.key.host, "cookie": self.cookie}
        if method == "POST":
            given["origin"] = self.key.origin
            given["content-type"] = "application/x-www-form-urlencoded"
            given["content-length"] = str(len(body or b""))
        given |= {name.replace("_", "-"): value for name, value in headers.items()}
        for name, value in given.items():
            if value is not None:
                line.putheader(name, value)
        line.endheaders(body)
        got = line.getresponse()
        text = got.read().decode("utf-8")
        line.close()
        return Answer(got.status, {k.lower(): v for k, v in got.getheaders()}, text)

    def get(self, path: str, **headers: str | None) -> Answer:
        return self.ask("GET", path, **headers)

    def post(self, path: str, form: dict[str, str], **headers: str | None) -> Answer:
        return self.ask(
            "POST", path, urlencode({"form_key": self.form_key, **form}).encode(), **headers
        )

    def fields(self, path: str) -> dict[str, str]:
        """Hidden marks of a page's answer form."""
        page = self.get(path).text
        return dict(re.findall(r'name="(seen_line|seen_name)" value="([^"]*)"', page))
