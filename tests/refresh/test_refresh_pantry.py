"""Pack values into the pantry, typed in or looked up on a server that plays the official API."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
from official_site import QUICK

from pipeline.problems import SteelyardError
from pipeline.refresh.lookup import Lookup, look_up
from pipeline.refresh.pantry_add import add_to_pantry

GOOD = {
    "food_name": "Invented pea protein", "serving_name": "1 scoop", "serving_g": 30, "kcal": 118,
    "protein_g": 24, "carbs_g": 1.5, "fat_g": 1.8, "fiber_g": "",
}  # fmt: skip
SECRET = "k3y-nobody-may-see"
ANSWER = {
    "foods": [
        {
            "fdcId": 7, "description": "PEA  PROTEIN", "dataType": "Branded",
            "brandOwner": "Invented Foods", "servingSize": 30, "servingSizeUnit": "g",
            "householdServingFullText": "1 scoop",
            "foodNutrients": [
                {"nutrientNumber": "208", "value": 393}, {"nutrientNumber": "203", "value": 80},
                {"nutrientNumber": "205", "value": 5}, {"nutrientNumber": "204", "value": 6},
                {"nutrientNumber": "307", "value": 900}, {"nutrientNumber": "999", "value": 1},
                {"nutrientNumber": "291", "value": None}, "odd",
            ],
        },
        {"description": ""}, None,
    ]
}  # fmt: skip


def test_pack_values_are_checked_and_written(tmp_path: Path) -> None:
    path = tmp_path / "pantry.csv"
    food = add_to_pantry(path, GOOD)
    assert food.food_id == "pantry:invented-pea-protein"
    assert food.per_100g["PROCNT"] == pytest.approx(80)
    assert "FIBTG" not in food.per_100g
    add_to_pantry(path, {**GOOD, "kcal": 120})
    assert len(path.read_text(encoding="utf-8").splitlines()) == 2  # replaced, not doubled


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"kcal": 393}, "pantry-values-contradict"),  # per 100 g beside values per serving
        ({"protein_g": 34}, "pantry-values-contradict"),
        ({"serving_g": ""}, "pantry-row-incomplete"),
        ({"fat_g": "some"}, "pantry-value-unreadable"),
        ({"food_name": ""}, "pantry-row-incomplete"),
    ],
)
def test_pack_values_that_cannot_be(tmp_path: Path, change: dict[str, object], code: str) -> None:
    path = tmp_path / "pantry.csv"
    with pytest.raises(SteelyardError) as fault:
        add_to_pantry(path, {**GOOD, **change})
    assert fault.value.problem.code == code
    assert not path.exists()


def test_force_keeps_what_stands_on_the_pack(tmp_path: Path) -> None:
    assert add_to_pantry(tmp_path / "pantry.csv", {**GOOD, "kcal": 60}, force=True)


class Api:
    """What the server says and what it was asked."""

    def __init__(self) -> None:
        self.status, self.body, self.retry_after = 200, json.dumps(ANSWER).encode(), ""
        self.asked: list[tuple[str, str]] = []
        self.address = ""


@pytest.fixture
def api() -> Iterator[Api]:
    """The search API, on this machine only."""
    played = Api()

    class Handler(BaseHTTPRequestHandler):
        def log_message(self, *args: object) -> None:
            return

        def do_GET(self) -> None:
            played.asked.append((self.path, self.headers.get("X-Api-Key", "")))
            self.send_response(played.status)
            if played.retry_after:
                self.send_header("Retry-After", played.retry_after)
            self.send_header("Content-Length", str(len(played.body)))
            self.end_headers()
            self.wfile.write(played.body)

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    played.address = f"http://127.0.0.1:{server.server_address[1]}/search"
    yield played
    server.shutdown()
    server.server_close()


def ask(api: Api, home: Path, **options: object) -> Lookup:
    return look_up("pea protein", key=SECRET, home=home, api=api.address, patience=QUICK, **options)  # type: ignore[arg-type]


def test_a_food_found_becomes_a_pantry_row(api: Api, tmp_path: Path) -> None:
    found = ask(api, tmp_path)
    assert found.problem is None
    assert len(found.foods) == 1
    food = found.foods[0]
    assert (food.description, food.brand, food.serving_g) == ("PEA PROTEIN", "Invented Foods", 30)
    assert food.per_100g == {"kcal": 393, "protein_g": 80, "carbs_g": 5, "fat_g": 6,
                             "sodium_mg": 900}  # fmt: skip
    per_serving = {name: value * 0.3 for name, value in food.per_100g.items()}
    row = {"food_name": food.description, "serving_g": 30, **per_serving}
    written = add_to_pantry(tmp_path / "pantry.csv", row)
    assert written.per_100g["ENERC_KCAL"] == pytest.approx(393, rel=1e-3)
    path, key = api.asked[0]
    assert key == SECRET
    assert parse_qs(urlsplit(path).query)["query"] == ["pea protein"]


def test_the_key_is_nowhere_but_in_the_request(
    api: Api, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("DEBUG")
    ask(api, tmp_path)
    assert SECRET not in api.asked[0][0]
    kept = [p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()]
    assert kept
    assert not any(SECRET.encode() in content for content in kept)
    assert SECRET not in caplog.text


def test_an_answer_is_asked_for_once_a_week(api: Api, tmp_path: Path) -> None:
    ask(api, tmp_path)
    again = ask(api, tmp_path)
    assert len(api.asked) == 1
    assert len(again.foods) == 1


@pytest.mark.parametrize(
    ("status", "code"),
    [(429, "lookup-limit"), (403, "lookup-key-refused"), (500, "lookup-offline"),
     (200, "lookup-offline")],
)  # fmt: skip
def test_refusals_are_told_and_the_rest_goes_on(
    api: Api, tmp_path: Path, status: int, code: str
) -> None:
    api.status, api.body, api.retry_after = status, b"<html>log in</html>", "120"
    found = ask(api, tmp_path)
    assert found.foods == []
    assert found.problem is not None
    assert found.problem.code == code
    assert SECRET not in found.problem.render()
    if status == 429:
        assert "120 s" in found.problem.why
        assert len(api.asked) == 1  # not asked again and again


def test_offline_says_so(api: Api, tmp_path: Path) -> None:
    api.address = "http://127.0.0.1:9/search"
    found = ask(api, tmp_path)
    assert found.problem is not None
    assert found.problem.code == "lookup-offline"


def test_without_a_key_nothing_is_asked(
    api: Api, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("STEELYARD_FDC_KEY", raising=False)
    monkeypatch.delenv("FDC_API_KEY", raising=False)
    found = look_up("x", home=tmp_path, api=api.address)
    assert found.problem is not None
    assert found.problem.code == "lookup-no-key"
    assert api.asked == []
