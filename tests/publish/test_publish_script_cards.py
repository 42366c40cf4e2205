"""Cards beside a spoken script: which is read, what a correction changes, where the marks go."""

from __future__ import annotations

from pathlib import Path

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.intake import read_collection
from pipeline.intake.files import SourceFile
from pipeline.intake.model import RawLine, RawMark, RawRecipe, Read
from pipeline.intake.spoken.card_marks import ADDED, TAKEN_OUT, mark_shared_lines, marks_by_cards
from pipeline.intake.spoken.cards import ENDING, Place, cards_path, pairs, words_key
from pipeline.publish.script_cards import CannotChange, CardEditor, without_change, write_out

SCRIPTS = Path(__file__).parents[1] / "intake" / "scripts"

CARDS = """Galley oats  [00:00:04 @10-21]
Serves 2

Ingredients
- 80 g rolled oats  [00:00:06 @30-50]
- 200 ml milk  [00:00:09 @52-70]
For the top:
- 1 tbsp honey  [00:00:12 @80-99]

Per serving: 260 kcal, protein 9 g [00:00:20 @120-160]

Notes
Written out from talk.srt; mine to keep.

---

Bosun rice  [00:00:30 @200-211]
Serves 1

Ingredients
- 75 g white rice  [00:00:33 @220-240]
- 1 splash water  [line 12]

Whole recipe: 280 kcal [00:00:40 @260-280]
"""


# --- which files belong together ----------------------------------------------------------------


def file(folder: Path, name: str, *, named: bool = False) -> SourceFile:
    (folder / name).touch()
    return SourceFile(folder / name, name, named)


def test_a_script_and_its_cards_are_one_and_other_files_are_not(tmp_path: Path) -> None:
    script, cards = file(tmp_path, "a.srt"), file(tmp_path, f"a.srt{ENDING}")
    other, page = file(tmp_path, "a.txt"), file(tmp_path, "b.html")
    found = list(pairs([other, script, cards, page]))
    assert found == [(other, None), (script, cards), (page, None)]


@pytest.mark.parametrize("named", ["a.srt", f"a.srt{ENDING}"])
def test_naming_one_of_the_two_brings_the_other(tmp_path: Path, named: str) -> None:
    script, cards = file(tmp_path, "a.srt"), file(tmp_path, f"a.srt{ENDING}")
    ((first, second),) = pairs([SourceFile(tmp_path / named, named, named=True)])
    assert second is not None
    assert (first.path, second.path) == (script.path, cards.path)


def test_cards_whose_script_is_gone_are_cards(tmp_path: Path) -> None:
    (tmp_path / f"a.srt{ENDING}").write_text(CARDS, encoding="utf-8")
    got = read_collection(tmp_path)
    assert got.recipe["recipe_id"].tolist() == ["a.srt", "a.srt#2"]
    assert got.scripts.empty


# --- written out and read again -----------------------------------------------------------------


@pytest.fixture(scope="module")
def scripts(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Captions and talk, all with their cards written out beside them."""
    folder = tmp_path_factory.mktemp("scripts")
    for path in SCRIPTS.iterdir():
        if path.suffix in (".srt", ".vtt", ".txt"):
            (folder / path.name).write_bytes(path.read_bytes())
    return folder


@pytest.mark.soak
def test_written_out_cards_are_the_script_over_again(scripts: Path) -> None:
    before = read_collection(scripts)
    for source in before.scripts["source"]:
        cards_path(scripts / source).write_text(write_out(before, source), encoding="utf-8")
    after = read_collection(scripts)
    assert not [p for p in after.problems if p.code in ("script-changed", "cards-empty")]
    assert set(after.recipe["format"]) == {"card"}
    kept = ["recipe_id", "title", "servings"]
    had_lines = before.recipe["recipe_id"].isin(before.line["recipe_id"])
    was = before.recipe.loc[had_lines, kept].sort_values("recipe_id", ignore_index=True)
    same = after.recipe["recipe_id"].isin(was["recipe_id"])
    now = after.recipe.loc[same, kept].sort_values("recipe_id", ignore_index=True)
    assert now.equals(was)
    assert set(after.line["text"]) >= set(before.line["text"].str.strip())

    # every mark is still there, and leads to the same line
    def told(got):
        texts = got.line.set_index(["recipe_id", "line_no"])["text"]
        return {
            (m.source, m.start, m.end, m.kind, texts.get((m.recipe_id, m.line_no), "").strip())
            for m in got.script_marks.itertuples()
        }

    assert told(after) == told(before)
    assert after.scripts.equals(before.scripts)


def test_a_script_that_was_changed_since_shows_no_wrong_places(tmp_path: Path) -> None:
    source = tmp_path / "talk.srt"
    source.write_bytes((SCRIPTS / "muffins.srt").read_bytes())
    cards_path(source).write_text(write_out(read_collection(tmp_path), "talk.srt"), "utf-8")
    source.write_text(source.read_text(encoding="utf-8").replace("the", "thee"), "utf-8")
    got = read_collection(tmp_path)
    assert [p.code for p in got.problems if p.source.endswith(ENDING)] == ["script-changed"]
    assert got.script_marks.empty
    assert len(got.recipe)
    assert len(got.scripts) == 1


def test_cards_without_a_recipe_give_way_to_the_script(tmp_path: Path) -> None:
    source = tmp_path / "talk.srt"
    source.write_bytes((SCRIPTS / "muffins.srt").read_bytes())
    alone = read_collection(tmp_path)
    cards_path(source).write_text("nothing yet\n", encoding="utf-8")
    got = read_collection(tmp_path)
    assert got.recipe["format"].tolist() == ["script"] * len(alone.recipe)
    assert [p.code for p in got.problems if p.code == "cards-empty"] == ["cards-empty"]
    assert got.line.equals(alone.line)


# --- single changes ---------------------------------------------------------------------------------


def texts(cards: CardEditor, recipe: int) -> list[str]:
    return [entry.text for entry in cards.recipes[recipe].lines]


def changed_lines(before: str, after: str) -> tuple[list[str], list[str]]:
    old, new = before.split("\n"), after.split("\n")
    return [x for x in old if x not in new], [x for x in new if x not in old]


def test_a_line_changes_and_nothing_else_does() -> None:
    cards = CardEditor(CARDS)
    cards.change_line(0, 1, "  250 ml  oat milk ")
    gone, come = changed_lines(CARDS, cards.text)
    assert gone == ["- 200 ml milk  [00:00:09 @52-70]"]
    assert come == ["- 250 ml oat milk  [00:00:09 @52-70]"]


def test_a_line_goes_and_comes_in_the_order_said() -> None:
    cards = CardEditor(CARDS)
    cards.drop_line(0, 0)
    assert texts(cards, 0)[0] == "200 ml milk"
    cards.add_line(0, "1 pinch salt", Place("00:00:10", (71, 79)))
    assert texts(cards, 0) == ["200 ml milk", "1 pinch salt", "For the top:", "1 tbsp honey"]
    cards.add_line(0, "80 g oats", Place("", (30, 50)))
    assert texts(cards, 0)[0] == "80 g oats"
    assert cards.recipes[0].lines[0].place == Place("", (30, 50))


def test_a_line_moves_with_its_place() -> None:
    cards = CardEditor(CARDS)
    cards.move_line(0, 3, 1)
    assert "1 tbsp honey" in texts(cards, 1)
    assert "1 tbsp honey" not in texts(cards, 0)
    (moved,) = [e for e in cards.recipes[1].lines if e.text == "1 tbsp honey"]
    assert moved.place == Place("00:00:12", (80, 99))


def test_numbers_are_stated_once_a_basis() -> None:
    cards = CardEditor(CARDS)
    cards.state(0, "430 kcal, protein 31 g", Place("00:00:50", (300, 330)))
    assert [e.text for e in cards.recipes[0].stated] == ["Per serving: 430 kcal, protein 31 g"]
    cards.state(0, "Whole recipe: 860 kcal", Place("", (340, 350)))
    assert len(cards.recipes[0].stated) == 2
    cards.drop_stated(0, 0)
    assert [e.text for e in cards.recipes[0].stated] == ["Whole recipe: 860 kcal"]
    assert "Notes\nWritten out from talk.srt; mine to keep." in cards.text


def test_titles_and_servings() -> None:
    cards = CardEditor(CARDS)
    cards.rename(0, "Harbour oats")
    assert (cards.recipes[0].title, cards.recipes[0].place.span) == ("Harbour oats", (10, 21))
    cards.rename(1, "2 cups of rice", Place("", (201, 214)))  # reads like an ingredient
    assert (cards.recipes[1].title, cards.recipes[1].place.span) == ("2 cups of rice", (201, 214))
    cards.serve(0, 3)
    cards.serve(1, 1.5)
    assert [card.servings for card in cards.recipes] == [3, 1.5]


def test_a_recipe_begins_within_another_and_is_joined_again() -> None:
    cards = CardEditor(CARDS)
    cards.begin(0, "Honey pot", Place("00:00:11", (75, 79)))
    assert [card.title for card in cards.recipes] == ["Galley oats", "Honey pot", "Bosun rice"]
    assert texts(cards, 1) == ["1 tbsp honey"]
    assert [e.text for e in cards.recipes[1].stated] == ["Per serving: 260 kcal, protein 9 g"]
    assert not cards.recipes[0].stated
    cards.join(1)
    assert [card.title for card in cards.recipes] == ["Galley oats", "Bosun rice"]
    assert texts(cards, 0)[-1] == "1 tbsp honey"
    assert len(cards.recipes[0].stated) == 1


def test_a_recipe_begun_empty_waits_for_its_lines() -> None:
    cards = CardEditor(CARDS)
    cards.begin(1, "Tin soup", Place("", (500, 508)))
    assert [(c.title, c.position) for c in cards.recipes][-1] == ("Tin soup", None)
    cards.state(2, "Per serving: 90 kcal", Place("", (560, 570)))
    cards.add_line(2, "1 tin tomato soup", Place("", (520, 540)))
    soup = cards.recipes[2]
    assert (soup.position, texts(cards, 2), len(soup.stated)) == (2, ["1 tin tomato soup"], 1)
    assert texts(CardEditor(cards.text), 2) == ["1 tin tomato soup"]


@pytest.mark.parametrize(
    "act",
    [
        lambda c: c.change_line(0, 0, "Per serving: 300 kcal, fat 2 g"),
        lambda c: c.change_line(0, 0, "  "),
        lambda c: c.change_line(0, 0, "x" * 400),
        lambda c: c.add_line(0, "Per serving: 300 kcal, protein 2 g", Place()),
        lambda c: c.add_line(0, "", Place()),
        lambda c: c.state(0, "rather a lot", Place()),
        lambda c: c.state(0, "", Place()),
        lambda c: c.rename(0, "   "),
        lambda c: c.join(0),
        lambda c: c.begin(0, "", Place("", (75, 79))),
        lambda c: c.move_line(0, 0, 9),
    ],
)
def test_what_a_card_cannot_hold_is_refused_and_changes_nothing(act) -> None:
    cards = CardEditor(CARDS)
    with pytest.raises(CannotChange):
        act(cards)
    assert cards.text == CARDS
    assert texts(cards, 0)[0] == "80 g rolled oats"


EMPTY = f"{CARDS}\n---\n\nMess tin\nServes 2\n"


def test_a_card_without_a_list_gets_one() -> None:
    cards = CardEditor(EMPTY)
    cards.add_line(2, "1 egg", Place())
    assert cards.text == f"{EMPTY}\nIngredients\n- 1 egg\n"
    cards = CardEditor(EMPTY)
    cards.state(2, "300 kcal", Place())
    assert cards.text == f"{EMPTY}\nPer serving: 300 kcal\n"
    cards = CardEditor(
        "Mess tin\nServes 2\n\n---\n\nBosun rice\nServes 1\n\nIngredients\n- 75 g rice\n"
    )
    cards.join(1)
    assert cards.text == "Mess tin\nServes 2\n\nIngredients\n- 75 g rice\n"


def test_new_numbers_take_the_place_of_all_on_their_basis() -> None:
    more = "Per serving: 240 kcal, fat 2 g\n"
    cards = CardEditor(CARDS.replace("Per serving", f"{more}Per serving"))
    assert len(cards.recipes[0].stated) == 2
    cards.state(0, "300 kcal", Place())
    assert [stated.text for stated in cards.recipes[0].stated] == ["Per serving: 300 kcal"]


def test_several_ingredients_on_a_line_of_the_file_are_left_to_the_person() -> None:
    cards = CardEditor("Mess tea\nServes 1\n\nIngredients: 2 g tea; 20 ml milk\n")
    with pytest.raises(CannotChange, match="in the file"):
        cards.drop_line(0, 0)


def test_line_ends_of_another_system_stay() -> None:
    cards = CardEditor(CARDS.replace("\n", "\r\n"))
    cards.change_line(0, 0, "90 g rolled oats")
    assert cards.text == CARDS.replace("80 g rolled", "90 g rolled").replace("\n", "\r\n")


def every_line(cards: CardEditor) -> list[str]:
    return sorted(text for n in range(len(cards.recipes)) for text in texts(cards, n))


def test_a_title_that_reads_like_a_number_takes_no_line_away() -> None:
    cards = CardEditor(CARDS)
    before = every_line(cards)
    cards.begin(0, "0", Place("", (0, 3)))
    assert cards.recipes[1].title == "0"
    assert texts(cards, 1) == ["80 g rolled oats", "200 ml milk", "1 tbsp honey"]
    cards.join(1)
    assert every_line(cards) == before


_ACT = st.one_of(
    st.tuples(st.just("change"), st.integers(0, 2), st.integers(0, 5), st.text(max_size=40)),
    st.tuples(st.just("drop"), st.integers(0, 2), st.integers(0, 5), st.just("")),
    st.tuples(st.just("add"), st.integers(0, 2), st.integers(0, 400), st.text(max_size=40)),
    st.tuples(st.just("state"), st.integers(0, 2), st.integers(0, 400), st.text(max_size=40)),
    st.tuples(st.just("rename"), st.integers(0, 2), st.integers(0, 400), st.text(max_size=40)),
    st.tuples(st.just("begin"), st.integers(0, 2), st.integers(0, 400), st.text(max_size=40)),
    st.tuples(st.just("join"), st.integers(0, 2), st.just(0), st.just("")),
)


@settings(max_examples=examples(150), deadline=None)
@given(st.lists(_ACT, max_size=6))
def test_whatever_is_typed_a_change_happens_as_meant_or_not_at_all(acts) -> None:
    cards = CardEditor(CARDS)
    for name, recipe, at, text in acts:
        before = cards.text
        try:
            if name == "change":
                cards.change_line(recipe, at, text)
                assert " ".join(text.split())[:3] in cards.text
            elif name == "drop":
                lines = every_line(cards)
                lines.remove(texts(cards, recipe)[at])
                cards.drop_line(recipe, at)
                assert every_line(cards) == lines
            elif name == "join":
                lines = every_line(cards)
                cards.join(recipe)
                assert every_line(cards) == lines
            else:
                place = Place("", (at, at + 3))
                doing = {"add": cards.add_line, "state": cards.state, "rename": cards.rename,
                         "begin": cards.begin}  # fmt: skip
                doing[name](recipe, text, place)
        except (CannotChange, IndexError):
            assert cards.text == before
        back = without_change(cards.text, before, cards.text)
        assert back == before


def test_a_change_is_taken_back_from_under_later_ones() -> None:
    cards = CardEditor(CARDS)
    cards.change_line(0, 0, "90 g rolled oats")
    first = cards.text
    cards.add_line(1, "1 egg", Place("", (245, 250)))
    cards.rename(0, "Harbour oats")
    left = without_change(cards.text, CARDS, first)
    assert left is not None
    assert "80 g rolled oats" in left
    assert "1 egg" in left
    assert "Harbour oats" in left
    assert without_change(left, CARDS, first) is None  # it is not there any more


# --- marks that follow -------------------------------------------------------------------------------


def heard() -> Read:
    """A script of 300 characters as a reader may understand it."""
    oats = RawRecipe("Galley oats", "script", 0, 2.0)
    oats.lines = [RawLine(t) for t in ("80 g rolled oats", "200 ml milk", "1 tbsp honey")]
    rice = RawRecipe("Bosun rice", "script", 1, 1.0)
    rice.lines = [RawLine("75 g white rice")]
    marks = [
        RawMark(10, 21, "title", 0),
        RawMark(30, 50, "ingredient", 0, 0, 6.0), RawMark(30, 34, "amount", 0, 0, 6.0),
        RawMark(52, 70, "ingredient", 0, 1, 9.0), RawMark(80, 99, "ingredient", 0, 2, 12.0),
        RawMark(104, 108, "left_out", None, None, 15.0, note="a plate is no food"),
        RawMark(120, 140, "total", 0, None, 20.0), RawMark(142, 160, "total", 0, None, 21.0),
        RawMark(200, 211, "title", 1),
        RawMark(220, 240, "ingredient", 1, 0, 33.0), RawMark(260, 280, "total", 1, None, 40.0),
    ]  # fmt: skip
    return Read([oats, rice], script="w" * 300, marks=marks)


def kinds(marks: list[RawMark]) -> dict[tuple[int, int], tuple[str, int | None, int | None]]:
    return {(m.start, m.end): (m.kind, m.recipe, m.line) for m in marks}


def test_marks_lead_to_the_lines_of_the_cards() -> None:
    got = kinds(marks_by_cards(heard(), CardEditor(CARDS)))
    assert got[80, 99] == ("ingredient", 0, 3)  # behind the heading of the card
    assert got[30, 34] == ("amount", 0, 0)
    assert got[220, 240] == ("ingredient", 1, 0)
    assert got[104, 108] == ("left_out", None, None)
    assert {k: v[0] for k, v in got.items()} == {(m.start, m.end): m.kind for m in heard().marks}


def test_what_was_taken_out_is_left_out_and_what_was_added_is_marked() -> None:
    cards = CardEditor(CARDS)
    cards.drop_line(0, 0)
    cards.drop_stated(1, 0)
    cards.add_line(0, "1 bread roll", Place("00:00:15", (104, 108)))
    marks = marks_by_cards(heard(), cards)
    got = kinds(marks)
    assert got[30, 50] == ("left_out", None, None)
    assert (30, 34) not in got
    assert got[260, 280][0] == "left_out"
    assert got[104, 108] == ("ingredient", 0, 3)  # no longer left out
    notes = {(m.start, m.end): m.note for m in marks}
    assert notes[30, 50] == TAKEN_OUT
    assert notes[104, 108] == ADDED
    assert next(m for m in marks if (m.start, m.end) == (104, 108)).start_s == 15.0


def test_marks_follow_a_line_to_another_recipe_and_a_recipe_that_was_parted() -> None:
    cards = CardEditor(CARDS)
    cards.move_line(0, 1, 1)
    cards.begin(0, "Honey pot", Place("00:00:11", (75, 79)))
    got = kinds(marks_by_cards(heard(), cards))
    assert got[52, 70][:2] == ("ingredient", 2)
    assert got[75, 79] == ("title", 1, None)
    assert got[80, 99][:2] == ("ingredient", 1)
    assert got[120, 140][:2] == ("total", 1)
    assert got[200, 211][:2] == ("title", 2)


def test_a_line_of_a_base_in_two_recipes_keeps_both() -> None:
    read = heard()
    read.marks.append(RawMark(30, 50, "ingredient", 1, 1, 6.0))
    read.recipes[1].lines.append(RawLine("80 g rolled oats"))
    cards = CardEditor(CARDS)
    cards.add_line(1, "80 g rolled oats", Place("00:00:06", (30, 50)))
    marks = [m for m in marks_by_cards(read, cards) if (m.start, m.end) == (30, 50)]
    assert sorted((m.recipe, m.kind) for m in marks) == [(0, "ingredient"), (1, "ingredient")]


def test_lines_of_a_base_are_found_by_its_words() -> None:
    script = "the base is 300 ml of skim milk and one scoop of vanilla whey then 20 grams of oats"
    milk, whey = script.index("300"), script.index("one scoop")
    oats = script.index("20")
    one, two = RawRecipe("One", "script", 0), RawRecipe("Two", "script", 1)
    one.lines = [RawLine("300 ml skim milk"), RawLine("1 scoop vanilla whey"), RawLine("20 g oats")]
    two.lines = [RawLine("For the top:"), RawLine("2 scoops vanilla whey"), RawLine("1 pinch salt")]
    marks = [
        RawMark(milk, script.index(" and"), "base"), RawMark(whey, script.index(" then"), "base"),
        RawMark(oats, len(script), "ingredient", 0, 2),
    ]  # fmt: skip
    read = Read([one, two], script=script, marks=list(marks))
    mark_shared_lines(read)
    new = [m for m in read.marks if m not in marks]
    assert [(m.start, m.recipe, m.line) for m in new] == [(milk, 0, 0), (whey, 0, 1), (whey, 1, 1)]
    assert {m.kind for m in new} == {"base"}
    mark_shared_lines(read)  # once is enough
    assert len(read.marks) == 6


def test_a_base_line_taken_out_of_one_recipe_stays_in_the_other() -> None:
    read = heard()
    read.marks[1:3] = [
        RawMark(30, 50, "base", None, None, 6.0), RawMark(30, 50, "base", 0, 0, 6.0),
        RawMark(30, 50, "base", 1, 1, 6.0),
    ]  # fmt: skip
    read.recipes[1].lines.append(RawLine("80 g rolled oats"))
    cards = CardEditor(CARDS)
    cards.add_line(1, "80 g rolled oats", Place("00:00:06", (30, 50)))
    cards.drop_line(0, 0)
    got = [m for m in marks_by_cards(read, cards) if (m.start, m.end) == (30, 50)]
    assert [(m.kind, m.recipe) for m in got if m.line is not None] == [("base", 1)]
    cards.drop_line(1, [e.text for e in cards.recipes[1].lines].index("80 g rolled oats"))
    got = [m for m in marks_by_cards(read, cards) if (m.start, m.end) == (30, 50)]
    assert [(m.kind, m.note) for m in got] == [("left_out", TAKEN_OUT)]


def test_a_fingerprint_is_of_the_words_alone() -> None:
    assert words_key("eighty grams") == words_key("eighty grams") != words_key("eighty gram")
