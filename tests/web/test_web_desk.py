"""The desk: what is asked, what an answer changes, and that it can all be taken back."""

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
from pipeline.web.desk import Changed, Desk, line_key
from pipeline.web.pack import read_pack

QUARK = line_key("3 tbsp quark")
RELISH = line_key("150 g tinned limpet relish")
COTTAGE = "sr28:01012"
PACK = {
    "food_name": "Harbour quark", "aliases": "quark", "serving_name": "1 tub", "serving_g": "250",
    "kcal": "168", "protein_g": "30", "carbs_g": "10", "fat_g": "0.5", "per": "serving",
}  # fmt: skip


def verdicts(desk: Desk) -> dict[str, str]:
    return {r: now.verdict for r, now in desk.recipes.items()}


def as_run(desk: Desk, folder: Path, snapshot: Any) -> None:
    """What the desk shows is what a fresh run over the files finds."""
    fresh = pipeline.verify(folder, snapshot=snapshot)
    stands = dict(zip(fresh.recipes["recipe_id"], fresh.recipes["verdict"], strict=True))
    assert verdicts(desk) == stands
    for row in fresh.recipes.to_dict("records"):
        shown = desk.recipes[row["recipe_id"]].about
        for column in ("kcal_computed", "protein_g_computed", "coverage"):
            wanted = None if row[column] != row[column] else row[column]
            assert shown[column] == pytest.approx(wanted, nan_ok=True), (row["title"], column)
    asked = {line_key(t) for t in fresh.to_review["text"]}
    assert {item.key for item in desk.queue()} == asked


def test_the_queue_holds_each_text_once_and_the_most_energy_first(desk: Desk) -> None:
    queue = desk.queue()
    assert len({item.key for item in queue}) == len(queue)
    assert [item.kcal for item in queue] == sorted((i.kcal for i in queue), reverse=True)
    quark = next(item for item in queue if item.key == QUARK)
    assert sorted(recipe for recipe, _ in quark.places) == ["porridge.txt", "toast.txt"]
    assert "the table lacks it" in quark.why
    assert 20 < quark.kcal < 200  # two lines of 45 g of something like quark


def test_an_answer_is_on_disk_and_in_the_numbers_and_settles_all_its_lines(
    desk: Desk, cards: Path, snapshot: Any
) -> None:
    done, asked = desk.progress(desk.queue())
    answer = desk.answer(QUARK, food_id=COTTAGE)
    assert answer.lines == 2
    assert {m.recipe_id for m in answer.moved} == {"porridge.txt", "toast.txt"}
    assert load_decisions(cards / "decisions.csv")[0].rows == [answer.changes[0].after]
    assert desk.progress(desk.queue()) == (done + 1, asked)
    as_run(desk, cards, snapshot)


def test_an_answer_about_a_name_settles_every_line_of_it_and_who_uses_them(
    desk: Desk, cards: Path, snapshot: Any
) -> None:
    desk.answer(line_key("100 g quark"), food_id=COTTAGE)
    answer = desk.answer(line_key("100 g quark"), food_id="sr28:01116", scope="name")
    assert answer.lines == 4
    assert {"bowl.txt", "sauce.txt"} <= {m.recipe_id for m in answer.moved}
    assert all(item.key == RELISH for item in desk.queue())
    rows = load_decisions(cards / "decisions.csv")[0].rows
    assert [(r.applies_to, r.text, r.food_id) for r in rows] == [("name", "quark", "sr28:01116")]
    as_run(desk, cards, snapshot)


def test_grams_hold_for_the_text_and_stay_when_the_food_changes(
    desk: Desk, cards: Path, snapshot: Any
) -> None:
    desk.answer(QUARK, food_id="sr28:01014", scope="name")
    desk.answer(QUARK, grams=60)
    line = desk.line("porridge.txt", 2)
    assert line is not None
    assert (line["food_id"], line["grams"], line["basis"]) == ("sr28:01014", 60, "decision")
    desk.answer(QUARK, food_id=COTTAGE)
    line = desk.line("porridge.txt", 2)
    assert line is not None
    assert (line["food_id"], line["grams"]) == (COTTAGE, 60)
    desk.answer(QUARK, forget_grams=True)
    line = desk.line("porridge.txt", 2)
    assert line is not None
    assert line["food_id"] == COTTAGE
    assert 35 < line["grams"] < 55
    as_run(desk, cards, snapshot)


def test_no_food_counts_nothing_and_is_settled(desk: Desk, cards: Path, snapshot: Any) -> None:
    desk.answer(RELISH, food_id="none")
    assert RELISH not in {item.key for item in desk.queue()}
    assert desk.progress(desk.queue())[0] == 1
    as_run(desk, cards, snapshot)


def test_pack_values_make_a_pantry_food_that_other_lines_find_too(
    desk: Desk, cards: Path, snapshot: Any
) -> None:
    answer = desk.answer_with_pack(QUARK, read_pack(PACK).row)
    assert load_pantry(cards / "pantry.csv")[0].by_id["pantry:harbour-quark"].serving_g == 250
    other = desk.line("sauce.txt", 1)
    assert other is not None
    assert (other["food_id"], other["origin"]) == ("pantry:harbour-quark", "pantry")
    assert other["kcal"] == pytest.approx(200 * 168 / 250)
    as_run(desk, cards, snapshot)
    desk.take_back(answer.answer_id)
    assert not load_pantry(cards / "pantry.csv")[0].foods
    as_run(desk, cards, snapshot)


def test_everything_taken_back_in_any_order_leaves_what_was_there(
    desk: Desk, cards: Path, snapshot: Any
) -> None:
    save_decision(cards / "decisions.csv", Decision("1 tbsp honey", "sr28:19296", 20, note="mine"))
    desk.look()
    at_first = (cards / "decisions.csv").read_bytes(), verdicts(desk)
    given = [
        desk.answer(line_key("1 tbsp honey"), food_id="sr28:19304"),
        desk.answer(QUARK, food_id=COTTAGE, scope="name"),
        desk.answer(RELISH, grams=10),
        desk.answer_with_pack(line_key("100 g quark"), read_pack(PACK).row, scope="line"),
    ]
    for at in (1, 3, 0, 2):
        desk.take_back(given[at].answer_id)
    assert (cards / "decisions.csv").read_bytes() == at_first[0]
    assert verdicts(desk) == at_first[1]
    assert desk.history() == []
    with pytest.raises(KeyError):
        desk.take_back(given[0].answer_id)


def test_an_answer_changed_since_is_not_taken_back_blindly(desk: Desk, cards: Path) -> None:
    answer = desk.answer(QUARK, food_id=COTTAGE)
    save_decision(cards / "decisions.csv", Decision("3 tbsp quark", "sr28:01014"))
    with pytest.raises(Changed):
        desk.take_back(answer.answer_id)
    assert load_decisions(cards / "decisions.csv")[0].rows[0].food_id == "sr28:01014"


def test_answers_of_earlier_sittings_can_be_taken_back(desk: Desk, cards: Path) -> None:
    save_decision(cards / "decisions.csv", Decision("3 tbsp quark", COTTAGE))
    desk.look()
    assert QUARK not in {item.key for item in desk.queue()}
    desk.forget("3 TBSP  quark", "line")
    assert QUARK in {item.key for item in desk.queue()}
    assert len(load_decisions(cards / "decisions.csv")[0]) == 0


def test_a_second_tab_that_saw_another_answer_overwrites_nothing(desk: Desk, cards: Path) -> None:
    seen = desk.mark(QUARK, "line")
    desk.answer(QUARK, food_id=COTTAGE, seen=seen)
    with pytest.raises(Changed) as changed:
        desk.answer(QUARK, food_id="sr28:01014", seen=seen)
    assert changed.value.now is not None
    assert changed.value.now.food_id == COTTAGE
    assert load_decisions(cards / "decisions.csv")[0].rows[0].food_id == COTTAGE
    desk.answer(QUARK, food_id="sr28:01014", seen=desk.mark(QUARK, "line"))


def test_two_desks_over_one_folder_keep_each_others_answers(
    desk: Desk, cards: Path, snapshot: Any
) -> None:
    other = Desk(cards, snapshot=snapshot)
    keys = [item.key for item in desk.queue()]
    half = len(keys) // 2

    def work(one: Desk, mine: list[str]) -> None:
        for key in mine:
            one.answer(key, food_id=COTTAGE)

    threads = [
        threading.Thread(target=work, args=(desk, keys[:half])),
        threading.Thread(target=work, args=(other, keys[half:])),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(load_decisions(cards / "decisions.csv")[0]) == len(keys)
    desk.look()
    other.look()
    assert desk.queue() == other.queue() == []
    assert verdicts(desk) == verdicts(other)
    other.close()


def test_files_changed_on_disk_are_taken_up(desk: Desk, cards: Path, snapshot: Any) -> None:
    (cards / "porridge.txt").write_text(
        "Pier porridge\nServes 2\n\nIngredients\n- 80 g rolled oats\n\nPer serving: 152 kcal\n"
    )
    (cards / "new.txt").write_text(
        "New\nServes 1\n\nIngredients\n- 40 g snark\n\nPer serving: 9 kcal\n"
    )
    desk.look(now=True)
    assert "new.txt" in desk.recipes
    assert len(desk.places(QUARK)) == 1
    as_run(desk, cards, snapshot)
    version = desk.version
    desk.answer(QUARK, food_id=COTTAGE)
    desk.look(now=True)
    assert desk.version == version + 1  # own writing does not make it read everything again


def test_an_unreadable_decisions_file_is_told_and_left(desk: Desk, cards: Path) -> None:
    (cards / "decisions.csv").write_bytes(b"text\0")
    with pytest.raises(SteelyardError):
        desk.answer(QUARK, food_id=COTTAGE)
    assert (cards / "decisions.csv").read_bytes() == b"text\0"
    desk.look()
    assert any(p.code == "file-unreadable" for p in desk.problems())


def test_an_unknown_food_or_line_is_refused(desk: Desk) -> None:
    with pytest.raises(KeyError):
        desk.answer(QUARK, food_id="sr28:99999")
    with pytest.raises(KeyError):
        desk.answer("0" * 16, food_id=COTTAGE)


def test_the_demo_answered_line_by_line_is_what_a_fresh_run_finds(
    demo: Path, tmp_path: Path, snapshot: Any
) -> None:
    folder = tmp_path / "demo"
    shutil.copytree(demo, folder)
    desk = Desk(folder, snapshot=snapshot)
    for item in desk.queue():
        reading = desk.reading(item.key)
        near = [c.food_id for c in reading.match.runners_up] or [COTTAGE]
        desk.answer(item.key, food_id=near[0], grams=50)
    desk.answer(line_key("pork shoulder"), food_id="none") if desk.text(
        line_key("pork shoulder")
    ) else None
    as_run(desk, folder, snapshot)
    assert desk.queue() == []
    desk.close()


def test_what_cannot_be_reviewed_is_said(tmp_path: Path, snapshot: Any) -> None:
    with pytest.raises(SteelyardError) as fault:
        Desk(["-"], snapshot=snapshot)
    assert fault.value.problem.code == "review-needs-files"
    with pytest.raises(SteelyardError) as fault:
        Desk(tmp_path, snapshot=snapshot)
    assert fault.value.exit_code == 3
