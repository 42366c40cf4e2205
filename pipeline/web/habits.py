"""Habits on the review page: one question about many recipes, answered with one click."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from pipeline.habits import confirm
from pipeline.habits.model import READING, ids_of
from pipeline.habits.words import weight
from pipeline.memory.decisions import Decision, change_decision
from pipeline.settings import FILE_NAME
from pipeline.web.desk import Answer, Change, Desk

if TYPE_CHECKING:
    from pipeline.web.pack import Pack
    from pipeline.web.pages import Note

#: Habits shown at once; the others follow as these are answered.
SHOWN = 12
#: Recipes of a habit shown by name.
TITLES = 8


@dataclass(slots=True)
class HabitCard:
    """One habit as the page asks about it.

    Attributes:
        key: its name in addresses.
        row: its row of ``habits.HABIT``.
        acts: the answers it can be given; see ``habits.confirm.acts``.
        words: answer to the words of its button.
        recipes: verdict and title of its recipes, some of them; ``more`` how many others.
        pack: pack values typed and found wanting.
    """

    key: str
    row: dict[str, Any]
    acts: list[confirm.Act]
    words: dict[str, str]
    recipes: list[tuple[str, str]]
    more: int
    pack: Pack | None = None


@dataclass(slots=True)
class HabitPanel:
    """The page of habits."""

    cards: list[HabitCard]
    waiting: int
    note: Note | None = None
    titles: dict[str, str] = field(default_factory=dict)


def habit_key(row: Mapping[str, Any]) -> str:
    """The name of a habit in addresses."""
    return hashlib.sha256(str(row["key"]).encode("utf-8", "surrogatepass")).hexdigest()[:16]


def panel(desk: Desk, note: Note | None = None) -> HabitPanel:
    """The habits that wait for an answer, the surest first."""
    rows = questions(desk)
    return HabitPanel([_card(desk, row) for row in rows[:SHOWN]], max(len(rows) - SHOWN, 0), note)


def questions(desk: Desk) -> list[dict[str, Any]]:
    """Rows of the habits that a person is asked about; readings of ours are none."""
    return [row for row in desk.habits if row["kind"] != READING]


def find(desk: Desk, key: str) -> dict[str, Any] | None:
    """A habit by its key, None when it is no longer there."""
    return next((row for row in desk.habits if habit_key(row) == key), None)


def _card(desk: Desk, row: dict[str, Any]) -> HabitCard:
    ids = ids_of(row["recipe_ids"])
    named = [(desk.recipes[r].verdict, str(desk.recipes[r].about["title"] or r))
             for r in ids if r in desk.recipes]  # fmt: skip
    return HabitCard(
        habit_key(row), row, confirm.acts(row), _words(row), named[:TITLES], len(named) - TITLES
    )


def _words(row: Mapping[str, Any]) -> dict[str, str]:
    numbers = "Yes, use what my numbers say"
    if row["kind"] == "measure" and row["measure"]:
        numbers = f"Yes, my {row['measure']} weighs {weight(row['grams'])}"
    return {
        "nearest": f"Yes: {row['nearest_food']}",
        "numbers": numbers,
        "convention": "Yes, I always do",
        "not_eaten": "It is not eaten: count it as no food",
        "no": "No, that is no habit of mine",
    }


def answer(desk: Desk, key: str, act: str, pack: Mapping[str, str] | None = None) -> Answer:
    """Write an answer about a habit; everything is judged again before it returns.

    Args:
        desk: the desk.
        key: of ``habit_key``.
        act: one of ``habits.confirm.acts``.
        pack: pantry row, for ``pack``.

    Raises:
        KeyError: the habit is no longer there.
        ValueError: the answer does not fit the question.
        SteelyardError, TimeoutError, OSError: a file could not be written.
    """
    with desk.lock:
        row = find(desk, key)
        if row is None:
            raise KeyError(key)
        ids = set(ids_of(row["recipe_ids"]))
        names = set(ids_of(row["names"]))
        texts, others = desk.texts_named(names, ids, str(row["table_food_id"] or ""))
        made = confirm.answer(
            row, act, texts, shared=others, one_creator=desk.one_creator, pack=pack,  # type: ignore[arg-type]
            food=desk.food_values(str(row["table_food_id"] or "")),
        )  # fmt: skip

        changes: list[Change] = []

        def write() -> None:
            changes.extend(_written(desk, made))
            desk.take_up()

        moved = desk.moved_by(ids, write)
        return desk.remember(
            Answer("", "", str(row["phrase"]), made.said, len(texts), tuple(changes), moved)
        )


def _written(desk: Desk, made: confirm.Answer) -> list[Change]:
    from pipeline.memory.conventions import save_convention
    from pipeline.memory.pantry import change_pantry_row, read_pantry_food

    out = []
    if made.row:
        food = read_pantry_food(made.row)
        before, after = change_pantry_row(desk.pantry_path, food.food_id, lambda _: made.row)
        out.append(Change(food.name, "pantry", before, after, food.food_id))
    for one in made.decisions:

        def new(old: Decision | None, one: Decision = one) -> Decision:
            return one if old is None else replace(one, grams=old.grams)

        was, now = change_decision(desk.decisions_path, one.text, one.applies_to, new)
        out.append(Change(one.text, one.applies_to, was, now))
    for name, value in made.settings.items():
        path = desk.root / FILE_NAME
        was_text, now_text = save_convention(path, name, value, made.creator)
        out.append(Change(name, "settings", was_text, now_text, settings=path))
    return out
