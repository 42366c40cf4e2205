"""What a person's answer about a habit is written as: a pantry row, decisions, or a convention.

An answer holds for the creator alone: where others of the collection use the same words, it is
given line by line, else by the name of the food.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from pipeline.habits.model import BETWEEN, FACTORS, NET, NET_ENERGY, ids_of
from pipeline.habits.report import DETECTED
from pipeline.memory.decisions import Decision
from pipeline.memory.pantry import COLUMNS, read_pantry_food

Act = Literal["nearest", "numbers", "pack", "convention", "not_eaten", "no"]

#: Settings that stand for each convention.
SETTINGS: dict[str, dict[str, str]] = {
    NET: {"carbohydrate": "available"},
    NET_ENERGY: {"carbohydrate": "available", "energy": "without fibre"},
    FACTORS: {"energy": "atwater"},
}
#: The same for a whole collection: 4-4-9 of available carbohydrate counts no fibre either.
OF_ALL = {**SETTINGS, NET_ENERGY: {"carbohydrate": "available", "energy": "atwater"}}
_VALUES = ("kcal", "protein_g", "carbs_g", "fat_g", "fiber_g")
REFUSED = "habit"


@dataclass(frozen=True, slots=True)
class Answer:
    """What is to be written.

    Attributes:
        row: pantry row, by column name; empty for none.
        decisions: about names, lines or the habit itself.
        settings: key and value for ``steelyard.toml``; ``creator`` whose, "" for everybody's.
        said: one sentence for the person.
    """

    said: str
    row: dict[str, str] = field(default_factory=dict)
    decisions: list[Decision] = field(default_factory=list)
    settings: dict[str, str] = field(default_factory=dict)
    creator: str = ""


def acts(habit: Mapping[str, Any]) -> list[Act]:
    """The answers a habit can be given, the likeliest first; all can be refused."""
    kind = habit["kind"]
    if kind == "convention":
        return ["convention"] if habit["key"] == DETECTED else ["convention", "no"]
    if kind == "base":
        return ["no"]
    if kind == "measure":
        return ["not_eaten", "no"] if left_out(habit) else ["numbers", "pack", "no"]
    if kind == "state":
        return ["nearest", "no"]
    first: list[Act] = ["nearest"] if habit["nearest_food_id"] else []
    return [*first, "numbers", "pack", "no"]


def of_several(habit: Mapping[str, Any]) -> bool:
    """Whether a habit is a state of several foods: its foods stand in the order of its names."""
    return habit["kind"] == "state" and BETWEEN in habit["nearest_food_id"]


def left_out(habit: Mapping[str, Any]) -> bool:
    """Whether a habit is a food that is never counted."""
    return habit["kind"] == "measure" and not habit["measure"]


def answer(
    habit: Mapping[str, Any], act: Act, texts: Sequence[str], *, shared: bool,
    one_creator: bool, pack: Mapping[str, str] | None = None,
    food: Mapping[str, float] | None = None, texts_of: Mapping[str, Sequence[str]] | None = None,
) -> Answer:  # fmt: skip
    """What an answer is written as.

    Args:
        texts: the habit's distinct line texts.
        shared: other creators of the collection use the same names.
        one_creator: the collection is of one creator, or of none named.
        pack: pantry row of the pack, for ``pack``.
        food: values per 100 g of the table's food by column name, for a measure.
        texts_of: distinct line texts by name, for a habit of several foods.

    Raises:
        ValueError: the habit cannot be answered so.
    """
    if act not in acts(habit):
        raise ValueError("this question has no such answer")
    phrase = habit["phrase"]
    if act == "no":
        refusal = Decision(habit["key"], "none", None, REFUSED, note="no habit of mine")
        said = f"“{phrase}” is no habit; it is not asked about again"
        return Answer(said, decisions=[refusal])
    if act == "convention":
        return Answer(
            f"{phrase[:1].upper()}{phrase[1:]} is your convention from here on",
            settings=dict((OF_ALL if one_creator else SETTINGS)[phrase]),
            creator="" if one_creator else habit["creator"],
        )  # fmt: skip

    def given(food_id: str, note: str) -> list[Decision]:
        names = ids_of(habit["names"])
        if shared:
            return [Decision(t, food_id, None, "line", note=note) for t in texts]
        return [Decision(n, food_id, None, "name", note=note) for n in names]

    if act == "nearest" and of_several(habit):
        said = f"The grams mean what the numbers say: {phrase}"
        return Answer(said, decisions=_of_each(habit, texts_of or {}))
    if act == "not_eaten":
        return Answer(f"“{phrase}” is counted as no food", decisions=given("none", "not eaten"))
    if act == "nearest":
        name, food_id = habit["nearest_food"], habit["nearest_food_id"]
        said = f"“{phrase}” means “{name}” in your recipes"
        return Answer(said, decisions=given(food_id, name))
    row = dict(pack) if act == "pack" and pack else _implied(habit, food)
    made = read_pantry_food(row)
    return Answer(
        f"“{made.name}” is in your pantry and stands for “{phrase}”", row=row,
        decisions=given(made.food_id, made.name),
    )  # fmt: skip


def _of_each(habit: Mapping[str, Any], texts_of: Mapping[str, Sequence[str]]) -> list[Decision]:
    """A decision for each line of a state of everything."""
    foods = zip(ids_of(habit["names"]), ids_of(habit["nearest_food_id"]), strict=True)
    return [
        Decision(text, food_id, None, "line", note=habit["phrase"])
        for name, food_id in foods for text in texts_of.get(name, ())
    ]  # fmt: skip


def _implied(habit: Mapping[str, Any], food: Mapping[str, float] | None) -> dict[str, str]:
    """A pantry row with what the creator's numbers imply, or with the weight of the measure."""
    named = {"food_name": f"Own {habit['phrase']}".replace(",", "")}
    if habit["kind"] == "measure":
        grams = float(habit["grams"])
        if not food or not grams > 0:
            raise ValueError("the table has no values for this food; type them from the pack")
        values = {c: v * grams / 100 for c, v in food.items() if v == v and c in COLUMNS}
        named |= {"serving_name": f"1 {habit['measure']}", "serving_g": f"{grams:.4g}"}
    else:
        known = ((c, float(habit[c])) for c in _VALUES if habit[c] is not None)
        values = {c: value for c, value in known if not math.isnan(value)}
        named |= {"serving_name": "100 g", "serving_g": "100"}
    return {**dict.fromkeys(COLUMNS, ""), **named, **{c: f"{v:.4g}" for c, v in values.items()}}
