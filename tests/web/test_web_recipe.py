"""What belongs to a recipe on the review page: servings, weight, lines in two, accepted differences;
pantry answers count; a name's answer settles its lines; recipes that follow an answer follow soon."""

from __future__ import annotations

import re
import time
from pathlib import Path
from typing import Any

import pytest
from web_client import CARDS, Client

from pipeline.memory import Decision, load_decisions, save_decision
from pipeline.problems import SteelyardError
from pipeline.publish.amend import Amendment
from pipeline.web import state as state_module
from pipeline.web.model import ChangedElsewhere, line_key, recipe_key
from pipeline.web.pack import read_pack, typed_number
from pipeline.web.session import ReviewSession
from pipeline.web.state import ReviewState

PORRIDGE, TOAST = (recipe_key(f"{name}.txt") for name in ("porridge", "toast"))
COTTAGE = "sr28:01014"
QUARK = line_key("3 tbsp quark")
HTMX = {"hx_request": "true"}


def own(client: Client, act: str, value: str = "", **headers: str) -> Any:
    return client.post(f"/recipe/{PORRIDGE}", {"act": act, "value": value}, **(headers or HTMX))


# --- servings, weight, lines in two ---------------------------------------------------------------


def test_servings_go_into_the_card_and_can_be_taken_back(client: Client, cards: Path) -> None:
    before = (cards / "porridge.txt").read_bytes()
    page = client.get(f"/recipe/{PORRIDGE}").text
    assert 'name="value" inputmode="decimal" autocomplete="off" maxlength="20" value="2"' in page
    done = own(client, "servings", "4")
    assert done.status == 200
    assert "“Pier porridge” makes 4." in done.text
    assert (cards / "porridge.txt").read_bytes() == before.replace(b"Serves 2", b"Serves 4")
    answer_id = re.findall(r'name="answer_id" value="(\d+)"', done.text)[0]
    back = client.post("/undo", {"answer_id": answer_id}, **HTMX)
    assert back.status == 200
    assert (cards / "porridge.txt").read_bytes() == before


def test_the_weight_of_the_whole_takes_a_unit(client: Client, cards: Path) -> None:
    assert own(client, "yield", "0.6 kg").status == 200
    assert "Cooked weight: 600 g" in (cards / "porridge.txt").read_text()


def test_without_scripts_a_redirect_shows_what_was_done(client: Client) -> None:
    done = own(client, "servings", "3", accept="text/html")
    assert done.status == 303
    assert "makes 3" in client.get(done.headers["location"]).text


@pytest.mark.parametrize("act", ["servings", "yield"])
@pytest.mark.parametrize("value", ["", "none", "0", "-2", "12 13"])
def test_what_is_no_number_is_said_beside_its_field(
    untouched: Client, act: str, value: str
) -> None:
    got = own(untouched, act, value)
    assert got.status == 422
    field = re.findall(rf'<input id="{act}"[^>]*>', got.text)[0]
    assert 'aria-invalid="true"' in field
    assert f'aria-describedby="e-{act}"' in field
    assert f'value="{value}"' in field
    assert re.search(rf'<p class="error" id="e-{act}">“[^<]*” is no number', got.text)


def test_a_line_is_parted_wherever_it_stands(client: Client, cards: Path) -> None:
    form = {"line": QUARK, "one": "2 tbsp quark", "two": "1 tbsp yoghurt"}
    done = client.post(f"/line/{QUARK}/split", form, **HTMX)
    assert done.status == 200
    for name in ("porridge", "toast"):
        text = (cards / f"{name}.txt").read_text()
        assert text == CARDS[f"{name}.txt"].replace(
            "- 3 tbsp quark\n", "- 2 tbsp quark\n- 1 tbsp yoghurt\n"
        )
    assert "now “2 tbsp quark” and “1 tbsp yoghurt”" in done.text
    client.post("/undo", {"answer_id": re.findall(r'answer_id" value="(\d+)"', done.text)[0]})
    assert (cards / "toast.txt").read_text() == CARDS["toast.txt"]


@pytest.mark.parametrize("two", ["", "Per serving: 9 kcal"])
def test_a_line_that_cannot_be_parted_is_left_with_the_reason(untouched: Client, two: str) -> None:
    got = untouched.post(f"/line/{QUARK}/split", {"one": "2 tbsp quark", "two": two}, **HTMX)
    assert got.status == 422
    assert 'id="e-split"' in got.text
    assert 'aria-describedby="e-split"' in got.text


def test_a_file_that_changed_meanwhile_is_not_overwritten(
    session: ReviewSession, cards: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pipeline.publish import amend as amend_module

    real = amend_module.amend

    def and_then_someone_writes(*args: Any) -> Any:
        done = real(*args)
        (cards / "porridge.txt").write_text("Somebody else's\n")
        return done

    monkeypatch.setattr(amend_module, "amend", and_then_someone_writes)
    with pytest.raises(ChangedElsewhere):
        session.recipe_edits.amend("porridge.txt", "said", Amendment(servings=9))
    assert (cards / "porridge.txt").read_text() == "Somebody else's\n"


# --- accepted differences -------------------------------------------------------------------------


def off(cards: Path) -> None:
    path = cards / "porridge.txt"
    path.write_text(path.read_text().replace("205 kcal", "905 kcal"))


def test_a_difference_is_accepted_and_judged_again(cards: Path, snapshot: Any) -> None:
    off(cards)
    session = ReviewSession(ReviewState(cards, snapshot=snapshot))
    assert session.state.recipes["porridge.txt"].verdict == "disagrees"
    session.answers.accept("porridge.txt", "the jar is  licked")
    assert session.state.recipes["porridge.txt"].about["accepted"].startswith("the jar is licked")
    rows = load_decisions(cards / "decisions.csv")[0].rows
    assert [(r.applies_to, r.note) for r in rows] == [("recipe", "the jar is licked")]
    assert session.questions.settled() == []  # it is no answer about a line
    session.answers.judge_again("porridge.txt")
    assert not session.state.recipes["porridge.txt"].about["accepted"]
    assert load_decisions(cards / "decisions.csv")[0].rows == []
    with pytest.raises(KeyError):
        session.answers.judge_again("porridge.txt")
    agreeing = next(r for r, now in session.state.recipes.items() if now.verdict == "agrees")
    with pytest.raises(SteelyardError):
        session.answers.accept(agreeing, "")
    session.close()


def test_the_receipt_of_an_acceptance_says_accepted(cards: Path, snapshot: Any, serve: Any) -> None:
    off(cards)
    session = ReviewSession(ReviewState(cards, snapshot=snapshot))
    with serve(session) as client:
        done = own(client, "accept", "the jar is licked")
    receipt = done.text.partition('class="note n-done"')[2].partition("</section>")[0]
    assert re.findall(r"badge v-(\w+)", receipt) == ["disagrees", "accepted"]  # then and now
    session.close()


def test_an_older_acceptance_by_place_gives_way(cards: Path, snapshot: Any) -> None:
    off(cards)
    save_decision(
        cards / "decisions.csv", Decision("porridge.txt", "", None, "recipe", numbers="kcal 1 2")
    )
    session = ReviewSession(ReviewState(cards, snapshot=snapshot))
    session.answers.accept("porridge.txt", "so")
    rows = load_decisions(cards / "decisions.csv")[0].rows
    assert [(r.text, r.note) for r in rows] == [("Pier porridge", "so")]
    session.close()


def test_accepting_from_another_window_is_taken_up(cards: Path, session: ReviewSession) -> None:
    off(cards)
    session.state.refresh(now=True)
    findings = session.state.recipes["porridge.txt"].findings
    numbers = "; ".join(f"{f['nutrient']} {f['stated']:g} {f['computed']:g}" for f in findings)
    save_decision(
        cards / "decisions.csv",
        Decision("Pier porridge", "", None, "recipe", note="so", numbers=numbers),
    )
    session.state.refresh()
    assert session.state.recipes["porridge.txt"].about["accepted"].startswith("so")


# --- the food the table lacks, and the pack -------------------------------------------------------


def test_the_pack_comes_first_where_the_table_lacks_the_food(untouched: Client) -> None:
    page = untouched.get(f"/line/{QUARK}").text
    assert page.index('id="h-pack"') < page.index('id="h-foods"')
    assert "Yes, this" not in page
    assert "Near enough" in page
    honey = untouched.get(f"/line/{line_key('1 tbsp honey')}").text
    assert honey.index('id="h-foods"') < honey.index('id="h-pack"')


PER_100 = {"food_name": "Quay quark", "per": "100g", "kcal": "67 kcal", "protein_g": "12g",
           "carbs_g": "4 g", "fat_g": "0,2"}  # fmt: skip


def test_values_of_100_g_need_no_serving() -> None:
    pack = read_pack(PER_100)
    assert not pack.faults
    assert (pack.row["serving_g"], pack.row["kcal"], pack.row["protein_g"]) == ("100", "67", "12")
    assert list(read_pack({**PER_100, "per": "serving"}).faults) == ["serving_g"]


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("5", "g", 5), ("5 g", "g", 5), ("5g", "g", 5), ("0,5 g", "g", 0.5), ("1 200 g", "g", 1200),
        ("836 kJ", "kcal", pytest.approx(199.8, abs=0.1)), ("1.2 g", "mg", 1200), ("500mg", "g", 0.5),
        ("", "g", None), ("g", "g", None), ("5 kcal", "g", None), ("12 13 g", "g", None), ("nan", "g", None),
    ],
)  # fmt: skip
def test_a_number_may_have_its_unit(text: str, unit: str, value: float | None) -> None:
    assert typed_number(text, unit) == value


def test_grams_may_have_their_unit_and_a_fault_stands_beside_them(
    client: Client, cards: Path
) -> None:
    done = client.post(f"/line/{QUARK}", {"act": "grams", "grams": "45 g"}, **HTMX)
    assert done.status == 200
    assert load_decisions(cards / "decisions.csv")[0].rows[0].grams == 45
    bad = client.post(f"/line/{QUARK}", {"act": "grams", "grams": "a lot"}, **HTMX)
    assert '<p class="error" id="e-grams">“a lot” is not a number of grams' in bad.text


def test_a_pantry_answer_counts_and_settles_what_it_names(session: ReviewSession) -> None:
    queue = session.questions.queue()
    done, asked = session.questions.progress(queue)
    assert done == 0
    quark = [item for item in queue if "quark" in item.text]
    assert len(quark) == 3
    row = read_pack({**PER_100, "food_name": "Quark"}).row
    session.answers.give_pack(QUARK, row, scope="line")
    assert session.questions.progress(session.questions.queue()) == (3, asked)


def test_one_answer_about_a_food_is_offered_first_and_says_what_it_settles(
    client: Client, session: ReviewSession
) -> None:
    page = client.get(f"/line/{QUARK}").text
    chosen = re.findall(r'name="scope" value="(\w+)" checked', page)
    assert set(chosen) == {"name"}
    form = {"food": COTTAGE, "scope": "name", "line": QUARK, **client.fields(f"/line/{QUARK}")}
    done = client.post(f"/line/{QUARK}", form, **HTMX)
    assert "Every line of “quark” is now" in done.text
    assert "It settles 4 lines." in done.text
    assert not [item for item in session.questions.queue() if "quark" in item.text]


# --- slow saves, and many recipes ---------------------------------------------------------------


@pytest.mark.parametrize("where", ["", "/pack", "/split"])
def test_a_form_of_another_line_is_refused(untouched: Client, where: str) -> None:
    form = {"line": line_key("1 tbsp honey"), "food": COTTAGE, "one": "a", "two": "b"}
    got = untouched.post(f"/line/{QUARK}{where}", form, **HTMX)
    assert got.status == 409
    assert "belongs to another line" in got.text


def test_every_form_of_a_line_names_it(untouched: Client) -> None:
    page = untouched.get(f"/line/{QUARK}").text
    forms = re.findall(
        rf'<form[^>]*method="post" action="/line/{QUARK}[^>]*>(.*?)</form>', page, re.DOTALL
    )
    assert len(forms) >= 4
    assert all(f'name="line" value="{QUARK}"' in form for form in forms)


@pytest.fixture
def many(tmp_path: Path, snapshot: Any) -> Any:
    folder = tmp_path / "many"
    folder.mkdir()
    for n in range(30):
        (folder / f"bowl-{n:02}.txt").write_text(
            f"Bowl {n}\nServes 2\n\n- {80 + n} g rolled oats\n- 3 tbsp quark\n\nPer serving: 205 kcal\n"
        )
    made = ReviewSession(ReviewState(folder, snapshot=snapshot))
    yield made
    made.close()


@pytest.mark.soak
def test_an_answer_judges_a_few_recipes_at_once_and_the_others_soon(many: Any) -> None:
    before = {r: now.about["kcal_computed"] for r, now in many.state.recipes.items()}
    answer = many.answers.give(QUARK, food_id="sr28:01009")
    assert len(answer.moved) == state_module.AT_ONCE
    assert answer.pending == 30 - state_module.AT_ONCE
    assert [i for i in many.questions.queue() if i.key == QUARK] == []  # settled everywhere at once
    many.state.finish(["bowl-29.txt"])  # as a page that shows it does
    assert many.state.recipes["bowl-29.txt"].about["kcal_computed"] != before["bowl-29.txt"]
    until = time.monotonic() + 30
    while many.state.pending and time.monotonic() < until:
        time.sleep(0.05)
    assert not many.state.pending
    fresh = ReviewSession(ReviewState(many.state.root, snapshot=many.state.snapshot))
    assert {r: n.about["kcal_computed"] for r, n in many.state.recipes.items()} == {
        r: n.about["kcal_computed"] for r, n in fresh.state.recipes.items()
    }
    assert {r: n.asks.keys() for r, n in many.state.recipes.items()} == {
        r: n.asks.keys() for r, n in fresh.state.recipes.items()
    }
    fresh.close()


def test_taking_back_asks_again_everywhere_at_once(many: Any) -> None:
    answer = many.answers.give(QUARK, food_id="sr28:01009")
    many.history.take_back(answer.answer_id)
    (item,) = [i for i in many.questions.queue() if i.key == QUARK]
    assert len(item.places) == 30
    many.state.finish()
    (item,) = [i for i in many.questions.queue() if i.key == QUARK]
    assert len(item.places) == 30


def test_what_follows_later_is_no_news_from_elsewhere(many: Any) -> None:
    many.answers.give(QUARK, food_id="sr28:01009")
    shown = many.state.version
    many.state.finish()
    assert many.state.version > shown
    assert many.state.changed_version == shown
    save_decision(many.state.own.decisions_path, Decision("80 g rolled oats", "none"))
    many.state.refresh()
    assert many.state.changed_version > shown


def test_the_page_opens_at_a_line(session: ReviewSession) -> None:
    assert session.line_address("3 TBSP  quark") == f"/line/{QUARK}"
    assert session.line_address(QUARK) == f"/line/{QUARK}"
    assert session.line_address("") == session.line_address("no such line") == "/"


# --- lines of several foods ------------------------------------------------------------------------

OMELETTE = """Mooring omelette
Serves 1

Ingredients
- 2 eggs + 100 g egg whites
- 1 tsp butter

Per serving: 240 kcal
"""


@pytest.fixture
def parted(tmp_path: Path, snapshot: Any) -> Any:
    folder = tmp_path / "parted"
    folder.mkdir()
    (folder / "omelette.txt").write_text(OMELETTE)
    made = ReviewSession(ReviewState(folder, snapshot=snapshot))
    yield made
    made.close()


WHOLE, EGGS = line_key("2 eggs + 100 g egg whites"), line_key("2 eggs")


def test_a_line_counted_in_parts_names_them_and_offers_no_split(parted: Any, serve: Any) -> None:
    with serve(parted) as client:
        page = client.get(f"/line/{WHOLE}").text
        assert "each counted by itself" in page
        assert f'href="/line/{EGGS}"' in page
        assert 'id="h-split"' not in page
        part = client.get(f"/line/{EGGS}").text
        assert "<dt>part of</dt><dd>2 eggs + 100 g egg whites</dd>" in part
        assert 'id="h-split"' not in part
        refused = client.post(f"/line/{EGGS}/split", {"one": "1 egg", "two": "1 egg"}, **HTMX)
        assert refused.status == 422
        assert "counted in parts" in refused.text
        butter = client.get(f"/line/{line_key('1 tsp butter')}").text
        assert 'id="h-split"' in butter


def test_a_line_of_several_foods_that_means_one_is_one_line_again(parted: Any) -> None:
    assert parted.state.lines.text(EGGS)
    answer = parted.answers.give(WHOLE, food_id="sr28:01123")
    assert parted.state.lines.text(EGGS) is None
    assert parted.state.line("omelette.txt", 1)["food_id"] == "sr28:01123"
    assert parted.questions.parts(WHOLE) == []
    parted.history.take_back(answer.answer_id)
    assert parted.state.lines.text(EGGS)
    assert parted.questions.parts(WHOLE)[0] == EGGS


# --- a change of one file reads that file alone ----------------------------------------------------


def test_servings_changed_read_only_their_own_file_and_judge_who_uses_it(
    session: ReviewSession, cards: Path, snapshot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:

    def everything(*args: Any, **more: Any) -> Any:
        raise AssertionError("the whole collection was read")

    before = dict(session.state.recipes)
    monkeypatch.setattr(state_module, "read_collection", everything)
    session.recipe_edits.amend("sauce.txt", "said", Amendment(servings=2))
    again = {r for r, now in session.state.recipes.items() if now is not before[r]}
    assert again == {"sauce.txt", "bowl.txt"}  # the bowl is made with the sauce
    monkeypatch.undo()
    fresh = ReviewSession(ReviewState(cards, snapshot=snapshot))
    assert {r: n.kcal for r, n in session.state.recipes.items()} == {
        r: n.kcal for r, n in fresh.state.recipes.items()
    }
    fresh.close()


def test_an_edit_in_another_program_reads_its_file_alone_and_a_new_title_all(
    session: ReviewSession, cards: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, calls = state_module.read_collection, []

    def counted(*args: Any, **more: Any) -> Any:
        calls.append(args)
        return real(*args, **more)

    monkeypatch.setattr(state_module, "read_collection", counted)
    path = cards / "toast.txt"
    path.write_text(path.read_text().replace("- 100 g quark\n", "- 90 g quark\n"))
    assert session.state.refresh(now=True)
    assert not calls
    assert session.state.lines.text(line_key("100 g quark")) is None
    assert session.state.line("toast.txt", 3)["text"] == "90 g quark"  # type: ignore[index]
    path.write_text(path.read_text().replace("Gull toast", "Tern toast"))
    assert session.state.refresh(now=True)
    assert len(calls) == 1
    assert session.state.title("toast.txt") == "Tern toast"
