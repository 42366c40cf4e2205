"""The page over HTTP: who is let in, what forms do without scripts, what hostile text cannot do."""

from __future__ import annotations

import re
import stat
from pathlib import Path
from typing import Any

import pytest
from web_client import Client

from pipeline.intake import read_collection
from pipeline.memory import load_decisions, load_pantry, save_decision
from pipeline.memory.decisions import Decision
from pipeline.web.guard import LARGEST_BODY
from pipeline.web.model import line_key
from pipeline.web.session import ReviewSession

QUARK = line_key("3 tbsp quark")
HONEY = line_key("1 tbsp honey")
LINE = f"/line/{QUARK}"
COTTAGE = "sr28:01012"


# --- who is let in ----------------------------------------------------------------------------


def test_the_start_address_gives_a_strict_cookie_and_goes_on_by_itself(untouched: Client) -> None:
    got = untouched.get(untouched.key.url.removeprefix(untouched.key.origin), cookie=None)
    assert got.status == 200
    cookie = got.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert 'http-equiv="refresh" content="0; url=/"' in got.text
    assert "Pier porridge" not in got.text


def test_a_link_opens_the_page_once_and_is_followed_by_a_fresh_one(untouched: Client) -> None:
    link = untouched.key.url.removeprefix(untouched.key.origin)
    assert untouched.key.token not in link
    assert untouched.ask("HEAD", link, cookie=None).status == 403  # a look does not use it up
    assert untouched.get(link, cookie=None, host="evil.example").status == 421
    assert untouched.get(link, cookie=None).status == 200
    assert (
        untouched.get(link, cookie=None).status == 403
    )  # whoever read it elsewhere comes too late
    again = untouched.get(link)  # the browser that is in goes on
    assert (again.status, again.headers["location"]) == (303, "/")
    fresh = untouched.key.url.removeprefix(untouched.key.origin)
    assert fresh != link
    assert untouched.get(fresh, cookie=None).status == 200


def test_the_cookie_s_value_is_no_link(untouched: Client) -> None:
    assert untouched.get(f"/?token={untouched.key.token}", cookie=None).status == 403


@pytest.mark.parametrize(
    ("path", "cookie"),
    [
        ("/", None), ("/?token=wrong", None), ("/?token=", None), (LINE, None),
        ("/", "steelyard_1=x"), ("/", "COOKIE=wrong"), ("/static/review.css", None),
        (f"{LINE}/foods?q=oats", None), ("/since/0", None), (f"{LINE}?token=TOKEN", None),
    ],
)  # fmt: skip
def test_without_the_token_nothing_is_shown(
    untouched: Client, path: str, cookie: str | None
) -> None:
    path = path.replace("TOKEN", untouched.key.token)
    cookie = cookie and cookie.replace("COOKIE", untouched.key.cookie)
    got = untouched.get(path, cookie=cookie)
    assert got.status == 403
    assert "quark" not in got.text


@pytest.mark.parametrize(
    "host", ["evil.example", "localhost", "localhost:PORT", "127.0.0.1", "127.0.0.1:1", "", None,
             "127.0.0.1:PORT.evil.example", "[::1]:PORT"],
)  # fmt: skip
def test_a_name_that_was_made_to_point_here_is_refused(untouched: Client, host: str | None) -> None:
    port = untouched.key.host.rpartition(":")[2]
    got = untouched.get("/", host=host and host.replace("PORT", port))
    assert got.status in (400, 421)
    assert "quark" not in got.text


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"}, {"origin": "null"}, {"origin": None}, {"origin": ""},
        {"origin": "https://HOST"}, {"origin": "http://HOST.evil.example"},
        {"origin": "http://127.0.0.1:1"}, {"sec_fetch_site": "cross-site"},
        {"sec_fetch_site": "same-site"}, {"cookie": None}, {"host": "evil.example"},
    ],
)  # fmt: skip
def test_no_other_page_can_answer(untouched: Client, headers: dict[str, str | None]) -> None:
    headers = {k: v and v.replace("HOST", untouched.key.host) for k, v in headers.items()}
    got = untouched.post(LINE, {"act": "food", "food": COTTAGE}, **headers)
    assert got.status in (403, 421)
    assert not (untouched.folder / "decisions.csv").exists()


@pytest.mark.parametrize("key", ["", "wrong", "0" * 64])
def test_a_form_needs_the_key_of_our_own_pages(untouched: Client, key: str) -> None:
    got = untouched.post(LINE, {"act": "food", "food": COTTAGE, "form_key": key})
    assert got.status == 403
    assert untouched.post("/undo", {"form_key": key}).status == 403
    assert not (untouched.folder / "decisions.csv").exists()


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_do_nothing(untouched: Client, method: str) -> None:
    assert untouched.ask(method, LINE, origin=untouched.key.origin).status == 405
    assert untouched.ask(method, LINE).status == 403


def test_looking_changes_nothing_even_with_the_fields_of_an_answer(untouched: Client) -> None:
    untouched.get(f"{LINE}?act=food&food={COTTAGE}&form_key={untouched.form_key}")
    assert untouched.get("/undo").status == 405
    assert not (untouched.folder / "decisions.csv").exists()


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py", "/static/..%2fapp.py", "/static/%2e%2e/app.py", "/static//etc/passwd",
        "/static/....//app.py", "/line/../../etc/passwd", "/line/%00", "/static/review.css%00",
        "/line/" + "a" * 5000, "/recipe/../../x", "/nothing", "/static/htmx.LICENSE.txt",
    ],
)  # fmt: skip
def test_paths_lead_nowhere_else(untouched: Client, path: str) -> None:
    got = untouched.get(path)
    assert got.status in (400, 404, 405)
    assert "root:" not in got.text
    assert "import" not in got.text


@pytest.mark.parametrize(
    "path", ["/", LINE, "/static/review.js", "/nothing", f"{LINE}/foods?q=oats"]
)
def test_every_answer_carries_the_headers(untouched: Client, path: str) -> None:
    headers = untouched.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"
    assert headers["cache-control"] == "no-store"
    assert headers["referrer-policy"] == "same-origin"
    assert "server" not in headers


def test_refusals_carry_them_too(untouched: Client) -> None:
    assert "content-security-policy" in untouched.get("/", cookie=None).headers


def test_a_body_larger_than_any_form_is_refused(untouched: Client) -> None:
    """Nothing of it is sent: what is refused unread would be cut off while it is on its way."""
    assert untouched.ask("POST", LINE, content_length=str(LARGEST_BODY + 1)).status == 413
    assert untouched.ask("POST", LINE, content_length="-5").status in (400, 413)


def test_the_page_names_no_other_host_and_no_inline_script(untouched: Client) -> None:
    page = untouched.get(LINE).text
    assert not re.search(r"""(?:src|href|action)=["'](?:https?:)?//""", page)
    assert re.findall(r"<script[^>]*>(.*?)</script>", page) == ["", ""]
    assert not re.search(r"\s(?:on[a-z]+|style)=", page)


# --- hostile text -----------------------------------------------------------------------------

EVIL = "<script>document.title='owned'</script><img src=x onerror=alert(1)>\"'{{7*7}}"


def test_hostile_titles_lines_and_foods_are_text(
    cards: Path, client: Client, session: ReviewSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    def hostile(*args: Any, **more: Any) -> Any:
        """The collection as if no mark-up were taken out of it on the way in."""
        read = read_collection(*args, **more)
        read.line["text"] = read.line["text"].str.replace("rolled oats", EVIL)
        read.recipe["title"] = read.recipe["title"] + EVIL
        read.recipe["source"] = read.recipe["source"] + EVIL
        return read

    monkeypatch.setattr("pipeline.web.state.read_collection", hostile)
    (cards / "touch.txt").write_text("Touch\nServes 1\n\nIngredients\n- 10 g butter\n")
    (cards / "pantry.csv").write_text(
        "food_name,aliases,serving_name,serving_g,kcal\n"
        '"<img src=x onerror=alert(2)>curd",,1 tub,100,60\n'
    )
    save_decision(cards / "decisions.csv", Decision("10 g butter", "sr28:01001", note=EVIL))
    session.state.refresh(now=True)
    key = line_key(next(t for t in session.state.lines.texts.values() if "<script>" in t))
    page = client.get(f"/line/{key}").text
    found = client.get(f"/line/{key}/foods?q=curd%3Cscript%3E").text
    pack = client.post(f"/line/{key}/pack", {"food_name": EVIL, "serving_g": EVIL}).text
    listed = client.get(f"/line/{key}/foods?q=curd").text
    assert "curd" in listed
    assert "{{7*7}}" in page
    for text in (client.get("/").text, page, found, pack, listed):
        assert "<img" not in text
        assert "<script>" not in text


def test_a_hostile_line_is_answered_and_written_as_text(
    cards: Path, client: Client, session: ReviewSession
) -> None:
    (cards / "evil.txt").write_text(
        "Evil\nServes 1\n\nIngredients\n=cmd|' /C calc'!A0 100 g quark\n\nPer serving: 9 kcal\n"
    )
    session.state.refresh(now=True)
    key = line_key(next(t for t in session.state.lines.texts.values() if t.startswith("=cmd")))
    assert client.post(f"/line/{key}", {"act": "food", "food": COTTAGE}).status == 303
    client.post(f"/line/{key}", {"act": "grams", "grams": "100"})
    assert "\n'=cmd" in (cards / "decisions.csv").read_text()
    assert session.questions.answer_to(key, "line") is not None
    assert key not in {item.key for item in session.questions.queue()}


# --- forms without scripts --------------------------------------------------------------------


def follow(client: Client, got: Any) -> str:
    assert got.status == 303
    return client.get(got.headers["location"]).text


def test_choosing_a_food_by_its_form(client: Client, cards: Path) -> None:
    page = client.get(LINE).text
    assert f'name="food" value="{COTTAGE}"' in client.get(f"{LINE}?q=cottage+cheese").text
    assert "also settles" in page
    got = client.post(LINE, {"act": "food", "food": COTTAGE, **client.fields(LINE)})
    page = follow(client, got)
    assert "is now Cheese, cottage" in page
    assert "Take it back" in page
    assert "Next line" in page
    answer = re.search(r'name="answer_id" value="(\d+)"', page)
    assert answer is not None
    page = follow(client, client.post("/undo", {"answer_id": answer[1]}))
    assert "Taken back" in page
    assert len(load_decisions(cards / "decisions.csv")[0]) == 0


def test_grams_no_food_and_weighing_again_by_their_forms(
    client: Client, session: ReviewSession
) -> None:
    assert "weighs 21.5 g" in follow(
        client, client.post(f"/line/{HONEY}", {"act": "grams", "grams": "21,5"})
    )
    line = session.state.line("porridge.txt", 3)
    assert line is not None
    assert line["grams"] == 21.5
    assert "weighed by the tool" in follow(client, client.post(f"/line/{HONEY}", {"act": "weigh"}))
    assert "is no food" in follow(client, client.post(LINE, {"act": "food", "food": "none"}))


@pytest.mark.parametrize("grams", ["", "a lot", "-1", "nan", "1e99", "12 13 g"])
def test_grams_that_cannot_be_read_are_told_and_kept_in_the_field(
    untouched: Client, grams: str
) -> None:
    got = untouched.post(f"/line/{HONEY}", {"act": "grams", "grams": grams})
    assert got.status == 422
    assert "were not taken" in got.text
    assert f'name="grams" inputmode="decimal" autocomplete="off" value="{grams}"' in got.text
    assert not (untouched.folder / "decisions.csv").exists()


def test_pack_values_by_their_form(client: Client, cards: Path) -> None:
    values = {"food_name": "Pier quark", "serving_g": "250", "kcal": "16", "protein_g": "30",
              "carbs_g": "10", "fat_g": "x"}  # fmt: skip
    got = client.post(f"{LINE}/pack", values)
    assert got.status == 422
    assert "is no number" in got.text
    assert 'aria-invalid="true" aria-describedby="e-fat_g"' in got.text
    values["fat_g"] = "0.5"
    got = client.post(f"{LINE}/pack", values)
    assert got.status == 422
    assert "does not follow from the macros" in got.text
    assert not (cards / "pantry.csv").exists()
    page = follow(client, client.post(f"{LINE}/pack", {**values, "insist": "yes"}))
    assert "is in your pantry" in page
    assert load_pantry(cards / "pantry.csv")[0].by_id["pantry:pier-quark"].serving_g == 250
    got = client.post(f"/line/{HONEY}/pack", {**values, "kcal": "168"})
    assert "already; its values would be replaced" in got.text


def test_a_tab_that_saw_another_answer_is_told(client: Client, cards: Path) -> None:
    seen = client.fields(LINE)
    assert client.post(LINE, {"act": "food", "food": COTTAGE, **seen}).status == 303
    got = client.post(LINE, {"act": "food", "food": "none", **seen})
    assert got.status == 409
    assert "answered elsewhere" in got.text
    assert "Cheese, cottage" in got.text
    assert load_decisions(cards / "decisions.csv")[0].rows[0].food_id == COTTAGE
    again = client.post(LINE, {"act": "food", "food": "none", **client.fields(LINE)})
    assert again.status == 303


def test_a_file_that_cannot_be_written_is_told_and_nothing_is_claimed(
    client: Client, cards: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pipeline.safe_files._settle", refuse)
    got = client.post(LINE, {"act": "food", "food": COTTAGE})
    assert got.status == 503
    assert "Permission denied" in got.text
    assert "is now" not in got.text
    monkeypatch.undo()
    assert [p.name for p in cards.iterdir() if "decisions" in p.name] == []


def test_a_binary_decisions_file_is_told_and_left(client: Client, cards: Path) -> None:
    (cards / "decisions.csv").write_bytes(b"\0\0")
    got = client.post(LINE, {"act": "food", "food": COTTAGE})
    assert got.status == 503
    assert "could not be read" in got.text
    assert (cards / "decisions.csv").read_bytes() == b"\0\0"


def test_an_answers_mode_and_neighbours_are_kept(client: Client, cards: Path) -> None:
    save_decision(cards / "decisions.csv", Decision("something else", "sr28:01001", 3))
    (cards / "decisions.csv").chmod(0o600)
    client.post(LINE, {"act": "food", "food": COTTAGE})
    assert stat.S_IMODE((cards / "decisions.csv").stat().st_mode) == 0o600
    assert len(load_decisions(cards / "decisions.csv")[0]) == 2


def test_lines_that_are_gone_are_said_to_be(
    client: Client, cards: Path, session: ReviewSession
) -> None:
    for name in ("porridge.txt", "toast.txt"):
        (cards / name).unlink()
    session.state.refresh(now=True)
    for got in (client.get(LINE), client.post(LINE, {"act": "food", "food": COTTAGE})):
        assert got.status == 404
        assert "files have changed" in got.text
    assert client.get(f"/recipe/{'0' * 16}").status == 404


# --- parts for scripts ------------------------------------------------------------------------


def test_htmx_gets_the_middle_and_what_else_changed(client: Client) -> None:
    got = client.post(LINE, {"act": "food", "food": COTTAGE}, hx_request="true")
    assert got.status == 200
    assert "<html" not in got.text
    for part in ('id="queue"', 'id="tally"', 'id="pulse"', 'id="said"'):
        assert got.text.count(part) == 1
    said = re.search(r'<div id="said"[^>]*>([^<]*)', got.text)
    assert said is not None
    assert "Pier porridge: " in said[1]


def test_the_pulse_is_silent_until_something_changes(client: Client, cards: Path) -> None:
    version = re.search(r"/since/(\d+)", client.get("/").text)
    assert version is not None
    assert client.get(f"/since/{version[1]}", hx_request="true").status == 204
    save_decision(cards / "decisions.csv", Decision("3 tbsp quark", COTTAGE))
    got = client.get(f"/since/{version[1]}", hx_request="true")
    assert got.status == 200
    assert QUARK not in re.sub(r"<details.*?</details>", "", got.text, flags=re.S)


def test_when_nothing_is_left_the_page_says_so(client: Client, session: ReviewSession) -> None:
    for item in session.questions.queue():
        session.answers.give(item.key, food_id="none")
    page = client.get("/").text
    assert "Every line is settled" in page
    assert "steelyard verify" in page
