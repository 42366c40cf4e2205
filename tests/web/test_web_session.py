"""The session: what is asked, what an answer changes, and that it can all be taken back."""

from __future__ import annotations

import shutil
import threading
from pathlib import Path
from typing import Any

import pytest

import pipeline
from pipeline.memory import load_decisions, load_pantry, save_decision
from pipeline.memory.decisions import Decision
from pipeline.problems import SteelyardError
from pipeline.web.model import ChangedElsewhere, line_key
from pipeline.web.pack import read_pack
from pipeline.web.session import ReviewSession
from pipeline.web.state import ReviewState

QUARK = line_key("3 tbsp quark")
RELISH = line_key("150 g tinned limpet relish")
COTTAGE = "sr28:01012"
PACK = {
    "food_name": "Harbour quark", "aliases": "quark", "serving_name": "1 tub", "serving_g": "250",
    "kcal": "168", "protein_g": "30", "carbs_g": "10", "fat_g": "0.5", "per": "serving",
}  # fmt: skip


def verdicts(session: ReviewSession) -> dict[str, str]:
    return {r: now.verdict for r, now in session.state.recipes.items()}


def as_run(session: ReviewSession, folder: Path, snapshot: Any) -> None:
    """What the session shows is what a fresh run over the files finds."""
    fresh = pipeline.verify(folder, snapshot=snapshot)
    stands = dict(zip(fresh.recipes["recipe_id"], fresh.recipes["verdict"], strict=True))
    assert verdicts(session) == stands
    for row in fresh.recipes.to_dict("records"):
        shown = session.state.recipes[row["recipe_id"]].about
        for column in ("kcal_computed", "protein_g_computed", "coverage"):
            wanted = None if row[column] != row[column] else row[column]
            assert shown[column] == pytest.approx(wanted, nan_ok=True), (row["title"], column)
    asked = {line_key(t) for t in fresh.to_review["text"]}
    assert {item.key for item in session.questions.queue()} == asked


def test_the_queue_holds_each_text_once_and_the_most_energy_first(session: ReviewSession) -> None:
    queue = session.questions.queue()
    assert len({item.key for item in queue}) == len(queue)
    assert [item.kcal for item in queue] == sorted((i.kcal for i in queue), reverse=True)
    quark = next(item for item in queue if item.key == QUARK)
    assert sorted(recipe for recipe, _ in quark.places) == ["porridge.txt", "toast.txt"]
    assert "the table lacks it" in quark.why
    assert 20 < quark.kcal < 200  # two lines of 45 g of something like quark


def test_an_answer_is_on_disk_and_in_the_numbers_and_settles_all_its_lines(
    session: ReviewSession, cards: Path, snapshot: Any
) -> None:
    done, asked = session.questions.progress(session.questions.queue())
    answer = session.answers.give(QUARK, food_id=COTTAGE)
    assert answer.lines == 2
    assert {m.recipe_id for m in answer.moved} == {"porridge.txt", "toast.txt"}
    assert load_decisions(cards / "decisions.csv")[0].rows == [answer.changes[0].after]
    assert session.questions.progress(session.questions.queue()) == (done + 1, asked)
    as_run(session, cards, snapshot)


def test_an_answer_about_a_name_settles_every_line_of_it_and_who_uses_them(
    session: ReviewSession, cards: Path, snapshot: Any
) -> None:
    session.answers.give(line_key("100 g quark"), food_id=COTTAGE)
    answer = session.answers.give(line_key("100 g quark"), food_id="sr28:01116", scope="name")
    assert answer.lines == 4
    assert {"bowl.txt", "sauce.txt"} <= {m.recipe_id for m in answer.moved}
    assert all(item.key == RELISH for item in session.questions.queue())
    rows = load_decisions(cards / "decisions.csv")[0].rows
    assert [(r.applies_to, r.text, r.food_id) for r in rows] == [("name", "quark", "sr28:01116")]
    as_run(session, cards, snapshot)


def test_grams_hold_for_the_text_and_stay_when_the_food_changes(
    session: ReviewSession, cards: Path, snapshot: Any
) -> None:
    session.answers.give(QUARK, food_id="sr28:01014", scope="name")
    session.answers.give(QUARK, grams=60)
    line = session.state.line("porridge.txt", 2)
    assert line is not None
    assert (line["food_id"], line["grams"], line["basis"]) == ("sr28:01014", 60, "decision")
    session.answers.give(QUARK, food_id=COTTAGE)
    line = session.state.line("porridge.txt", 2)
    assert line is not None
    assert (line["food_id"], line["grams"]) == (COTTAGE, 60)
    session.answers.give(QUARK, forget_grams=True)
    line = session.state.line("porridge.txt", 2)
    assert line is not None
    assert line["food_id"] == COTTAGE
    assert 35 < line["grams"] < 55
    as_run(session, cards, snapshot)


def test_no_food_counts_nothing_and_is_settled(
    session: ReviewSession, cards: Path, snapshot: Any
) -> None:
    session.answers.give(RELISH, food_id="none")
    assert RELISH not in {item.key for item in session.questions.queue()}
    assert session.questions.progress(session.questions.queue())[0] == 1
    as_run(session, cards, snapshot)


def test_pack_values_make_a_pantry_food_that_other_lines_find_too(
    session: ReviewSession, cards: Path, snapshot: Any
) -> None:
    answer = session.answers.give_pack(QUARK, read_pack(PACK).row)
    assert load_pantry(cards / "pantry.csv")[0].by_id["pantry:harbour-quark"].serving_g == 250
    other = session.state.line("sauce.txt", 1)
    assert other is not None
    assert (other["food_id"], other["origin"]) == ("pantry:harbour-quark", "pantry")
    assert other["kcal"] == pytest.approx(200 * 168 / 250)
    as_run(session, cards, snapshot)
    session.history.take_back(answer.answer_id)
    assert not load_pantry(cards / "pantry.csv")[0].foods
    as_run(session, cards, snapshot)


@pytest.mark.soak
def test_everything_taken_back_in_any_order_leaves_what_was_there(
    session: ReviewSession, cards: Path, snapshot: Any
) -> None:
    save_decision(cards / "decisions.csv", Decision("1 tbsp honey", "sr28:19296", 20, note="mine"))
    session.state.refresh()
    at_first = (cards / "decisions.csv").read_bytes(), verdicts(session)
    given = [
        session.answers.give(line_key("1 tbsp honey"), food_id="sr28:19304"),
        session.answers.give(QUARK, food_id=COTTAGE, scope="name"),
        session.answers.give(RELISH, grams=10),
        session.answers.give_pack(line_key("100 g quark"), read_pack(PACK).row, scope="line"),
    ]
    for at in (1, 3, 0, 2):
        session.history.take_back(given[at].answer_id)
    assert (cards / "decisions.csv").read_bytes() == at_first[0]
    assert verdicts(session) == at_first[1]
    assert session.history.answers() == []
    with pytest.raises(KeyError):
        session.history.take_back(given[0].answer_id)


def test_an_answer_changed_since_is_not_taken_back_blindly(
    session: ReviewSession, cards: Path
) -> None:
    answer = session.answers.give(QUARK, food_id=COTTAGE)
    save_decision(cards / "decisions.csv", Decision("3 tbsp quark", "sr28:01014"))
    with pytest.raises(ChangedElsewhere):
        session.history.take_back(answer.answer_id)
    assert load_decisions(cards / "decisions.csv")[0].rows[0].food_id == "sr28:01014"


def test_answers_of_earlier_sittings_can_be_taken_back(session: ReviewSession, cards: Path) -> None:
    save_decision(cards / "decisions.csv", Decision("3 tbsp quark", COTTAGE))
    session.state.refresh()
    assert QUARK not in {item.key for item in session.questions.queue()}
    session.history.forget("3 TBSP  quark", "line")
    assert QUARK in {item.key for item in session.questions.queue()}
    assert len(load_decisions(cards / "decisions.csv")[0]) == 0


def test_a_second_tab_that_saw_another_answer_overwrites_nothing(
    session: ReviewSession, cards: Path
) -> None:
    seen = session.answers.mark(QUARK, "line")
    session.answers.give(QUARK, food_id=COTTAGE, seen=seen)
    with pytest.raises(ChangedElsewhere) as changed:
        session.answers.give(QUARK, food_id="sr28:01014", seen=seen)
    assert changed.value.now is not None
    assert changed.value.now.food_id == COTTAGE
    assert load_decisions(cards / "decisions.csv")[0].rows[0].food_id == COTTAGE
    session.answers.give(QUARK, food_id="sr28:01014", seen=session.answers.mark(QUARK, "line"))


def test_two_desks_over_one_folder_keep_each_others_answers(
    session: ReviewSession, cards: Path, snapshot: Any
) -> None:
    other = ReviewSession(ReviewState(cards, snapshot=snapshot))
    keys = [item.key for item in session.questions.queue()]
    half = len(keys) // 2

    def work(one: ReviewSession, mine: list[str]) -> None:
        for key in mine:
            one.answers.give(key, food_id=COTTAGE)

    threads = [
        threading.Thread(target=work, args=(session, keys[:half])),
        threading.Thread(target=work, args=(other, keys[half:])),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(load_decisions(cards / "decisions.csv")[0]) == len(keys)
    session.state.refresh()
    other.state.refresh()
    assert session.questions.queue() == other.questions.queue() == []
    assert verdicts(session) == verdicts(other)
    other.close()


def test_files_changed_on_disk_are_taken_up(
    session: ReviewSession, cards: Path, snapshot: Any
) -> None:
    (cards / "porridge.txt").write_text(
        "Pier porridge\nServes 2\n\nIngredients\n- 80 g rolled oats\n\nPer serving: 152 kcal\n"
    )
    (cards / "new.txt").write_text(
        "New\nServes 1\n\nIngredients\n- 40 g snark\n\nPer serving: 9 kcal\n"
    )
    session.state.refresh(now=True)
    assert "new.txt" in session.state.recipes
    assert len(session.state.lines.places(QUARK)) == 1
    as_run(session, cards, snapshot)
    version = session.state.version
    session.answers.give(QUARK, food_id=COTTAGE)
    session.state.refresh(now=True)
    assert (
        session.state.version == version + 1
    )  # own writing does not make it read everything again


def test_an_unreadable_decisions_file_is_told_and_left(session: ReviewSession, cards: Path) -> None:
    (cards / "decisions.csv").write_bytes(b"text\0")
    with pytest.raises(SteelyardError):
        session.answers.give(QUARK, food_id=COTTAGE)
    assert (cards / "decisions.csv").read_bytes() == b"text\0"
    session.state.refresh()
    assert any(p.code == "file-unreadable" for p in session.state.problems())


def test_an_unknown_food_or_line_is_refused(session: ReviewSession) -> None:
    with pytest.raises(KeyError):
        session.answers.give(QUARK, food_id="sr28:99999")
    with pytest.raises(KeyError):
        session.answers.give("0" * 16, food_id=COTTAGE)


@pytest.mark.parametrize("every", [2, pytest.param(1, marks=pytest.mark.soak)])
@pytest.mark.soak
def test_the_demo_answered_line_by_line_is_what_a_fresh_run_finds(
    demo: Path, tmp_path: Path, snapshot: Any, every: int
) -> None:
    folder = tmp_path / "demo"
    shutil.copytree(demo, folder)
    session = ReviewSession(ReviewState(folder, snapshot=snapshot))
    asked = session.questions.queue()
    for item in asked[::every]:
        reading = session.questions.reading(item.key)
        near = [c.food_id for c in reading.match.runners_up] or [COTTAGE]
        session.answers.give(item.key, food_id=near[0], grams=50)
    session.answers.give(line_key("pork shoulder"), food_id="none") if session.state.lines.text(
        line_key("pork shoulder")
    ) else None
    as_run(session, folder, snapshot)
    answered = {item.key for item in asked[::every]}
    left = {item.key for item in session.questions.queue()}
    assert len(answered) > 2
    assert not left & answered
    assert not left or every > 1
    session.close()


def test_what_cannot_be_reviewed_is_said(tmp_path: Path, snapshot: Any) -> None:
    with pytest.raises(SteelyardError) as fault:
        ReviewSession(ReviewState(["-"], snapshot=snapshot))
    assert fault.value.problem.code == "review-needs-files"
    with pytest.raises(SteelyardError) as fault:
        ReviewSession(ReviewState(tmp_path, snapshot=snapshot))
    assert fault.value.exit_code == 3
