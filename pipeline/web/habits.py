"""Habits on the review page: one question about many recipes, answered with one click."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from pipeline.habits import confirm
from pipeline.habits.model import READING, ids_of
from pipeline.habits.words import weight
from pipeline.memory.conventions import save_convention
from pipeline.memory.decisions import Decision
from pipeline.nutrients import BY_TAG
from pipeline.settings import FILE_NAME
from pipeline.web.file_changes import answer_changed, pantry_changed
from pipeline.web.model import Answer, FileChange, recipe_key

if TYPE_CHECKING:
    from pipeline.web.pages import Note
    from pipeline.web.session import ReviewSession
    from pipeline.web.state import ReviewState

#: Habits shown at once; the others follow as these are answered.
SHOWN = 12
#: Recipes of a habit shown by name.
TITLES = 8


def habit_key(row: Mapping[str, Any]) -> str:
    """The name of a habit in addresses."""
    return recipe_key(str(row["key"]))


class HabitPanel:
    """The page of habits: those that wait for an answer, the surest first.

    Attributes:
        waiting: how many more there are.
        files: names of decisions and pantry.
        outdated: they are being looked for again.
    """

    def __init__(self, session: ReviewSession, note: Note | None = None) -> None:
        state = session.state
        rows, own = questions(state), state.own
        self.cards = [_card(state, row) for row in rows[:SHOWN]]
        self.waiting = max(len(rows) - SHOWN, 0)
        self.one_creator = one_creator(state)
        self.files = own.decisions_path.name, own.pantry_path.name
        self.outdated, self.note = state.habits_outdated, note


def questions(state: ReviewState) -> list[dict[str, Any]]:
    """Rows of the habits that a person is asked about; readings of ours are none."""
    return [row for row in state.habits if row["kind"] != READING]


def _card(state: ReviewState, row: dict[str, Any]) -> SimpleNamespace:
    """One habit as the page asks about it.

    ``acts``: the answers it can be given; ``words``: those of their buttons; ``recipes``: verdict and
    title of some, ``more`` how many others; ``pack``: values typed and found wanting.
    """
    named = [state.recipes[r] for r in ids_of(row["recipe_ids"]) if r in state.recipes]
    return SimpleNamespace(
        key=habit_key(row), row=row, acts=confirm.acts(row), words=_words(row), pack=None,
        recipes=[(now.verdict, now.title) for now in named[:TITLES]], more=len(named) - TITLES,
    )  # fmt: skip


def _words(row: Mapping[str, Any]) -> dict[str, str]:
    numbers = "Yes, use what my numbers say"
    if row["kind"] == "measure" and row["measure"]:
        numbers = f"Yes, my {row['measure']} weighs {weight(row['grams'])}"
    return {
        "nearest": "Yes, they all do" if confirm.of_several(row) else f"Yes: {row['nearest_food']}",
        "numbers": numbers,
        "convention": "Yes, I always do",
        "not_eaten": "It is not eaten: count it as no food",
        "no": "No, that is no habit of mine",
    }


def answer(
    session: ReviewSession, key: str, act: str, pack: Mapping[str, str] | None = None
) -> Answer:
    """Write an answer about a habit; the recipes it touches are judged again before it returns.

    Args:
        key: of ``habit_key``.
        act: one of ``habits.confirm.acts``.
        pack: pantry row, for ``pack``.

    Raises:
        KeyError: the habit is no longer there.
        ValueError: the answer does not fit the question.
        SteelyardError, TimeoutError, OSError: a file could not be written.
    """
    state = session.state
    with state.lock:
        row = next((row for row in state.habits if habit_key(row) == key), None)
        if row is None:
            raise KeyError(key)
        ids, food_id = set(ids_of(row["recipe_ids"])), str(row["table_food_id"] or "")
        texts, others = _texts_named(state, set(ids_of(row["names"])), ids, food_id)
        texts_of: dict[str, list[str]] = {}
        if confirm.of_several(row):
            for name, read in zip(ids_of(row["names"]), ids_of(row["table_food_id"]), strict=True):
                texts_of[name] = _texts_named(state, {name}, ids, read)[0]
            texts = [text for some in texts_of.values() for text in some]
        made = confirm.answer(
            row, act, texts, shared=others, one_creator=one_creator(state), pack=pack,  # type: ignore[arg-type]
            food=_food_values(state, food_id), texts_of=texts_of,
        )  # fmt: skip

        changes: list[FileChange] = []

        def write() -> None:
            changes.extend(_written(state, made))
            state.refresh(now=True)

        moved = state.moved_by(ids, write)
        state.drop_habit(str(row["key"]))
        phrase = str(row["phrase"])
        answer = Answer(phrase, made.said, tuple(changes), moved, lines=len(texts), habit=row)
        return session.history.record(answer)


def one_creator(state: ReviewState) -> bool:
    """Whether all recipes are of one creator, or none names one."""
    return state.collection.recipe["creator"].fillna("").str.strip().nunique() <= 1


def _texts_named(
    state: ReviewState, names: set[str], recipes: set[str], food_id: str
) -> tuple[list[str], bool]:
    """Line texts of some food names in some recipes, and whether the names mean more than that.

    Args:
        names: folded food names.
        recipes: recipe_ids, of one creator.
        food_id: what they are counted as; "" does not matter.

    Returns:
        The texts; True when other creators use the names, or lines of another food do.
    """
    recipe = state.collection.recipe
    owner = dict(zip(recipe["recipe_id"], recipe["creator"], strict=True))
    owners = {owner.get(r) for r in recipes}
    texts, more = [], False
    for key in dict.fromkeys(key for name in names for key in state.lines.about("name", name)):
        places = state.lines.places(key)
        foods = {(state.line(*place) or {}).get("food_id") for place in places}
        if food_id and food_id not in foods:
            more = True
        elif any(r in recipes for r, _ in places):
            texts.append(state.lines.texts[key])
        more |= any(owner.get(r) not in owners for r, _ in places)
    return texts, more


def _food_values(state: ReviewState, food_id: str) -> dict[str, float]:
    """Values per 100 g of a food by pantry column; empty when it is not there."""
    with state.lock:
        rows = state.con.execute(
            "select nutrient, amount_per_100g from food_nutrient where food_id = ?", [food_id]
        ).fetchall()
    return {
        BY_TAG[tag].column: float(amount)
        for tag, amount in rows if tag in BY_TAG and amount is not None
    }  # fmt: skip


def _written(state: ReviewState, made: confirm.Answer) -> list[FileChange]:
    out = [pantry_changed(state.own.pantry_path, made.row)] if made.row else []
    for one in made.decisions:

        def new(old: Decision | None, one: Decision = one) -> Decision:
            return one if old is None else replace(one, grams=old.grams)

        out.append(answer_changed(state.own.decisions_path, one.text, one.applies_to, new))
    for name, value in made.settings.items():
        path = state.root / FILE_NAME
        was_text, now_text = save_convention(path, name, value, made.creator)
        out.append(FileChange(name, "settings", was_text, now_text, path=path))
    return out
