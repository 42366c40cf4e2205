"""Scripts on the page: what is shown of a mark, and corrections that go into the cards beside it."""

from __future__ import annotations

import html
import re
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from script_talk import SOURCE, TALK, mark_of, words_at
from web_client import Client

import pipeline
from pipeline.intake.spoken.cards import ENDING
from pipeline.web.model import ChangedElsewhere, line_key
from pipeline.web.session import ReviewSession
from pipeline.web.state import ReviewState

KEY = line_key(SOURCE)
PAGE = f"/script/{KEY}"


@pytest.fixture
def cards(tmp_path: Path) -> Path:
    """A script of two recipes, and a card."""
    folder = tmp_path / "galley"
    folder.mkdir()
    (folder / SOURCE).write_text(TALK, encoding="utf-8")
    (folder / "toast.txt").write_text(
        "Gull toast\nServes 1\n\nIngredients\n- 2 slices whole wheat bread\n\n"
        "Per serving: 140 kcal, P 7 g, C 24 g, F 2 g\n", "utf-8",
    )  # fmt: skip
    return folder


@pytest.fixture
def script(session: ReviewSession) -> Any:
    made = session.scripts.find(KEY)
    assert made is not None
    return made


def lines(session: ReviewSession) -> dict[str, list[str]]:
    return {
        str(now.about["title"]): [row["text"] for row in now.lines]
        for now in session.state.recipes.values()
    }


def as_run(session: ReviewSession, folder: Path, snapshot: Any) -> None:
    """What the session shows is what a fresh run over the files finds."""
    fresh = pipeline.verify(folder, snapshot=snapshot)
    stands = {r: now.verdict for r, now in session.state.recipes.items()}
    assert stands == dict(zip(fresh.recipes["recipe_id"], fresh.recipes["verdict"], strict=True))
    for row in fresh.recipes.to_dict("records"):
        shown = session.state.recipes[row["recipe_id"]].about["kcal_computed"]
        assert shown == pytest.approx(row["kcal_computed"])


def fields(page: str) -> dict[str, str]:
    """The hidden fields of the first correction form."""
    found = re.search(r'name="seen" value="([^"]+)"', page)
    assert found is not None
    return {"seen": found[1]}


# --- looking --------------------------------------------------------------------------------------


def test_the_script_stands_there_with_its_marks(
    client: Client, session: ReviewSession, script: Any
) -> None:
    page = client.get(PAGE).text
    said = "".join(re.findall(r'<p data-at="\d+">(.*?)</p>', page, re.S))
    text = html.unescape(re.sub(r'<a class="handle".*?</a>|<[^>]+>', "", said))
    assert text == script.text
    for words in ("eighty grams of rolled oats", "a tablespoon of honey"):
        mark = mark_of(script, words)
        assert f'href="{PAGE}?at={mark["start"]}-{mark["end"]}-ingredient"' in page
    assert not (session.state.root / f"{SOURCE}{ENDING}").exists()  # looking writes nothing


def test_recipes_and_lines_lead_to_where_they_were_said(
    client: Client, session: ReviewSession
) -> None:
    home = client.get("/").text
    assert f'href="{PAGE}"' in home
    recipe = next(k for k, r in session.state._recipe_of.items() if r == SOURCE)
    page = client.get(f"/recipe/{recipe}").text
    assert f'href="{PAGE}"' in page
    assert re.search(rf'href="{PAGE}\?at=\d+-\d+-ingredient"[^>]*>said at 00:', page)


@pytest.mark.parametrize("partial", [True, False])
def test_a_mark_says_what_it_became(client: Client, script: Any, partial: bool) -> None:
    mark = mark_of(script, "eighty grams of rolled oats")
    headers = {"hx_request": "true", "hx_target": "fix"} if partial else {}
    page = client.get(f"{PAGE}?at={mark['start']}-{mark['end']}-ingredient", **headers).text
    assert ("<article" in page) != partial
    assert 'value="80 g rolled oats"' in page
    assert "It is no ingredient" in page
    assert re.search(r'data-mark="m-\d+"', page)


def test_words_that_were_missed_are_found_and_offered(client: Client, script: Any) -> None:
    page = client.get(f"{PAGE}?words={quote('the big PAN')}").text
    start, end = words_at(script, "the big pan")
    assert f'data-at="{start}-{end}"' in page
    assert "taken for talk" in page
    assert "It is an ingredient" in page
    page = client.get(f"{PAGE}?words=anchor+winch").text
    assert "is not said in the script" in page


def test_a_selection_is_widened_to_whole_words(client: Client, script: Any) -> None:
    start, end = words_at(script, "big pan")
    page = client.get(f"{PAGE}?from={start + 1}&to={end - 1}").text
    assert f'data-at="{start}-{end}"' in page


@pytest.mark.parametrize(
    "query",
    ["at=99999-100000", "at=x", "at=5-5", "at=9-3-total", "from=1&to=", "from=-1&to=4", "words=",
     "from=99999999999&to=999999999999", "recipe=77", "recipe=x", "at=1-2-<b>", "words=%00"],
)  # fmt: skip
@pytest.mark.soak
def test_odd_addresses_show_the_script_all_the_same(client: Client, query: str) -> None:
    got = client.get(f"{PAGE}?{query}")
    assert got.status == 200
    assert "Spoken script" in got.text


def test_a_script_that_is_not_there_is_said(client: Client) -> None:
    assert client.get(f"/script/{'0' * 16}").status == 404
    assert client.get("/script/../../etc/passwd").status == 404
    assert client.post(f"/script/{'0' * 16}", {"act": "drop"}).status == 404


# --- correcting -------------------------------------------------------------------------------------


def send(client: Client, query: str, **form: str) -> Any:
    page = client.get(f"{PAGE}?{query or 'recipe=0'}").text
    return client.post(PAGE, {**fields(page), **form})


def test_no_ingredient_goes_into_the_card_and_the_numbers(
    client: Client, session: ReviewSession, cards: Path, script: Any, snapshot: Any
) -> None:
    mark = mark_of(script, "a tablespoon of honey")
    at = f"{mark['start']}-{mark['end']}-ingredient"
    recipe, line = script.place_of(mark["recipe_id"]), mark["line_no"] - 1
    before = {r: now.about["kcal_computed"] for r, now in session.state.recipes.items()}
    got = send(client, f"at={at}", at=at, act="drop", recipe=str(recipe), line=str(line))
    assert got.status == 303
    page = client.get(got.headers["location"].partition("#")[0]).text
    assert "is no ingredient of" in page
    assert (cards / SOURCE).read_text(encoding="utf-8") == TALK
    card = (cards / f"{SOURCE}{ENDING}").read_text(encoding="utf-8")
    assert "honey" not in card
    assert "80 g rolled oats" in card
    assert session.state.recipes[SOURCE].about["kcal_computed"] < before[SOURCE]
    as_run(session, cards, snapshot)
    again = session.scripts.find(KEY)
    assert again is not None
    (left,) = [m for m in again.marks if (m["start"], m["end"]) == (mark["start"], mark["end"])]
    assert (left["kind"], left["note"]) == ("left_out", "taken out in the card")


def test_a_line_reads_otherwise_and_keeps_its_place(
    client: Client, session: ReviewSession, cards: Path, script: Any, snapshot: Any
) -> None:
    mark = mark_of(script, "eighty grams of rolled oats")
    form = {"recipe": "0", "line": str(mark["line_no"] - 1), "act": "change"}
    got = send(client, "", text="90 g jumbo oats", **form)
    assert got.status == 303
    assert "90 g jumbo oats" in lines(session)[session.state.title(SOURCE)]
    again = session.scripts.find(KEY)
    assert again is not None
    same = mark_of(again, "eighty grams of rolled oats")
    assert (same["recipe_id"], same["line_no"]) == (mark["recipe_id"], mark["line_no"])
    as_run(session, cards, snapshot)


def test_missed_words_become_a_line_in_the_order_said(
    client: Client, session: ReviewSession, script: Any
) -> None:
    start, end = words_at(script, "the big pan")
    got = send(
        client, "", act="add", recipe="0", start=str(start), end=str(end),
        at=f"{start}-{end}", text="1 knob butter",
    )  # fmt: skip
    assert got.status == 303
    again = session.scripts.find(KEY)
    assert again is not None
    made = mark_of(again, "the big pan")
    assert made["kind"] == "ingredient"
    text = again.cards.recipes[0].lines[made["line_no"] - 1]
    assert (text.text, text.place.span) == ("1 knob butter", (start, end))
    assert text.place.when.startswith("00:00:")
    starts = [e.place.span[0] for e in again.cards.recipes[0].lines if e.place.span]
    assert starts == sorted(starts)


def test_a_total_a_title_servings_a_new_recipe(
    client: Client, session: ReviewSession, script: Any
) -> None:
    start, end = words_at(script, "four hundred and ten calories")
    words = {"start": str(start), "end": str(end), "at": f"{start}-{end}"}
    assert send(client, "", act="state", recipe="0", text="Per serving: 405 kcal, protein 14 g",
                **words).status == 303  # fmt: skip
    assert session.state.recipes[SOURCE].about["kcal_stated"] == 405
    assert send(client, "", act="serve", recipe="0", text="2").status == 303
    assert session.state.recipes[SOURCE].about["servings"] == 2
    assert send(client, "", act="rename", recipe="0", text="Anchor porridge",
                keep_place="yes").status == 303  # fmt: skip
    assert session.state.title(SOURCE) == "Anchor porridge"
    count = len(session.state.recipes)
    start, end = words_at(script, "a tablespoon of honey")
    assert send(client, "", act="begin", recipe="0", text="Honey pot",
                start=str(start), end=str(end)).status == 303  # fmt: skip
    assert lines(session)["Honey pot"] == ["1 tbsp honey"]
    assert len(session.state.recipes) == count + 1
    assert send(client, "", act="join", recipe="1").status == 303
    assert "Honey pot" not in lines(session)
    assert "1 tbsp honey" in lines(session)["Anchor porridge"]


def test_what_cannot_be_meant_is_told_and_nothing_is_written(client: Client, cards: Path) -> None:
    for form, why in (
        ({"act": "change", "recipe": "0", "line": "0", "text": " "}, "Nothing was written"),
        ({"act": "change", "recipe": "0", "line": "77", "text": "1 egg"}, "no longer"),
        ({"act": "state", "recipe": "0", "text": "plenty"}, "No stated numbers"),
        ({"act": "serve", "recipe": "0", "text": "none"}, "plain number"),
        ({"act": "add", "text": "1 egg"}, "Choose the recipe"),
        ({"act": "sink", "recipe": "0"}, "Choose what"),
        ({"act": "join", "recipe": "0"}, "no recipe before"),
        ({"act": "begin", "recipe": "0", "text": "X"}, "Choose the words"),
        ({"act": "move", "recipe": "0", "line": "0", "to": "0"}, "in this recipe already"),
    ):
        got = send(client, "", **form)
        assert (got.status, why in got.text) == (422, True), (form, got.text[:300])
    assert not (cards / f"{SOURCE}{ENDING}").exists()
    assert sorted(p.name for p in cards.iterdir()) == sorted([SOURCE, "toast.txt"])


def test_typed_markup_is_text(client: Client, session: ReviewSession) -> None:
    evil = "9 g <script>alert(1)</script> oats"
    got = send(client, "", act="change", recipe="0", line="0", text=evil)
    page = client.get(got.headers["location"].partition("#")[0]).text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page


@pytest.mark.parametrize("name", ["roast_base.vtt", "smoothies.vtt", "sunday.txt"])
def test_the_line_that_a_mark_opens_is_the_one_it_became(
    name: str, tmp_path: Path, snapshot: Any
) -> None:
    """Also where the cards have headings that the script has not, and lines of a base in each."""
    from pipeline.resources import ROOT
    from pipeline.web.scripts import ScriptPanel

    (tmp_path / name).write_bytes((ROOT / "tests" / "intake" / "scripts" / name).read_bytes())
    session = ReviewSession(ReviewState(tmp_path, snapshot=snapshot))

    def check() -> int:
        (key, _), *_ = session.scripts.sources()
        script = session.scripts.find(key)
        assert script is not None
        line = session.state.collection.line
        texts = {(r, n): t for r, n, t in zip(line["recipe_id"], line["line_no"], line["text"],
                                              strict=True)}  # fmt: skip
        opened = 0
        for mark in [m for m in script.marks if m["line_no"] is not None]:
            at = f"{mark['start']}-{mark['end']}-{mark['kind']}"
            fix = ScriptPanel(session.state, script, {"at": at}).fix
            wanted = texts[mark["recipe_id"], mark["line_no"]].strip()
            assert wanted in [f.text for f in fix.lines] or fix.more_lines, (at, wanted, fix.lines)
            opened += 1
        return opened

    before = check()
    assert before > 8
    (key, _), *_ = session.scripts.sources()

    def change(script: Any) -> str:
        script.cards.rename(0, "Another name")
        return "renamed"

    session.scripts.correct(key, change)
    assert check() == before
    session.close()


# --- undo, conflict, guard --------------------------------------------------------------------------


def drop(session: ReviewSession, recipe: int, line: int) -> Any:
    def change(script: Any) -> str:
        script.cards.drop_line(recipe, line)
        return "dropped"

    return session.scripts.correct(KEY, change)


@pytest.mark.soak
def test_taken_back_in_any_order_all_is_as_it_was(
    session: ReviewSession, cards: Path, snapshot: Any
) -> None:
    files = {p.name: p.read_bytes() for p in cards.iterdir()}
    before = lines(session)
    first, second = drop(session, 0, 0), drop(session, 1, 0)
    assert lines(session) != before
    session.history.take_back(first.answer_id)
    assert (cards / f"{SOURCE}{ENDING}").exists()
    assert lines(session)[session.state.title(SOURCE)] == before[session.state.title(SOURCE)]
    back = session.history.take_back(second.answer_id)
    assert back.summary.startswith("Taken back")
    assert {p.name: p.read_bytes() for p in cards.iterdir()} == files
    assert lines(session) == before
    as_run(session, cards, snapshot)


def test_undo_over_http_shows_the_script_again(
    client: Client, session: ReviewSession, cards: Path
) -> None:
    send(client, "", act="drop", recipe="0", line="0")
    answer = session.history.answers()[-1]
    got = client.post("/undo", {"answer_id": answer.answer_id})
    assert got.status == 303
    assert got.headers["location"].startswith(PAGE)
    assert not (cards / f"{SOURCE}{ENDING}").exists()


def test_a_line_changed_since_is_not_taken_back(
    client: Client, session: ReviewSession, cards: Path
) -> None:
    send(client, "", act="change", recipe="0", line="0", text="90 g oats")
    answer = session.history.answers()[-1]
    file = cards / f"{SOURCE}{ENDING}"
    file.write_text(file.read_text("utf-8").replace("90 g oats", "95 g oats"), "utf-8")
    got = client.post("/undo", {"answer_id": answer.answer_id})
    assert got.status == 409
    assert "changed since" in got.text
    assert "95 g oats" in file.read_text("utf-8")


def test_a_page_that_is_behind_overwrites_nothing(
    client: Client, session: ReviewSession, cards: Path
) -> None:
    behind = fields(client.get(f"{PAGE}?recipe=0").text)
    drop(session, 0, 0)
    stands = (cards / f"{SOURCE}{ENDING}").read_bytes()
    got = client.post(PAGE, {**behind, "act": "drop", "recipe": "0", "line": "0"})
    assert got.status == 409
    assert "nothing was saved" in got.text
    assert (cards / f"{SOURCE}{ENDING}").read_bytes() == stands


def test_cards_edited_by_hand_are_taken_up_and_kept(session: ReviewSession, cards: Path) -> None:
    drop(session, 0, 0)
    file = cards / f"{SOURCE}{ENDING}"
    mine = file.read_text("utf-8").replace("1 tbsp honey", "2 tbsp heather honey")
    file.write_text(mine + "\nMine.\n", encoding="utf-8")
    session.state.refresh(now=True)
    assert "2 tbsp heather honey" in lines(session)[session.state.title(SOURCE)]
    drop(session, 1, 0)
    assert file.read_text("utf-8").endswith("\nMine.\n")


def test_begun_again_from_the_script_the_cards_are_kept(
    client: Client, session: ReviewSession, cards: Path
) -> None:
    before = lines(session)
    drop(session, 0, 0)
    mine = (cards / f"{SOURCE}{ENDING}").read_bytes()
    assert send(client, "", act="start_over").status == 303
    assert lines(session) == before
    assert (cards / f"{SOURCE}{ENDING}.bak").read_bytes() == mine
    session.history.take_back(session.history.answers()[-1].answer_id)
    assert (cards / f"{SOURCE}{ENDING}").read_bytes() == mine


def test_cards_that_hold_no_recipe_are_not_written_over(
    client: Client, session: ReviewSession, cards: Path
) -> None:
    (cards / f"{SOURCE}{ENDING}").write_text("to do\n", encoding="utf-8")
    got = send(client, "", act="drop", recipe="0", line="0")
    assert got.status == 503
    assert "no recipe can be read" in got.text
    assert (cards / f"{SOURCE}{ENDING}").read_text("utf-8") == "to do\n"


def test_only_our_own_page_corrects(client: Client, cards: Path) -> None:
    form = {"act": "drop", "recipe": "0", "line": "0"}
    for headers in ({"origin": "http://evil.example"}, {"origin": None}, {"cookie": None},
                    {"sec_fetch_site": "cross-site"}):  # fmt: skip
        assert client.post(PAGE, form, **headers).status == 403
    assert client.post(PAGE, {**form, "form_key": "wrong"}).status == 403
    assert client.get(f"{PAGE}?act=drop&recipe=0&line=0").status == 200
    assert not (cards / f"{SOURCE}{ENDING}").exists()


def test_a_seen_mark_that_is_wrong_raises(session: ReviewSession) -> None:
    with pytest.raises(ChangedElsewhere):
        session.scripts.correct(KEY, lambda _: "", seen="other")
    with pytest.raises(KeyError):
        session.scripts.correct("0" * 16, lambda _: "")
