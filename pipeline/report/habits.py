"""The habits of a report: the questions that open it, with the recipes each is about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pipeline.habits.model import READING, ids_of

if TYPE_CHECKING:
    from pipeline.run import Result

#: Questions shown; the table habits.csv has all.
SHOWN = 12
#: Below this a habit is shown as a suspicion, and no explanation rests on it.
SURE = 0.8


@dataclass(frozen=True, slots=True)
class ShownHabit:
    """One habit.

    Attributes:
        phrase, question: in words.
        creator: whose, "" where the page is about one creator.
        probability: that the recipes share this cause.
        sure: whether explanations rest on it.
        recipes: verdict now and title of each recipe.
    """

    phrase: str
    question: str
    creator: str
    probability: float
    sure: bool
    recipes: list[tuple[str, str, str]]


def shown_habits(result: Result, creator: str = "") -> list[ShownHabit]:
    """The habits of a result, the surest first.

    Args:
        result: of ``pipeline.verify``.
        creator: whose page it is, "" for a page of everybody.
    """
    verdict = dict(zip(result.recipes["recipe_id"], result.recipes["verdict"], strict=True))
    title = dict(zip(result.recipes["recipe_id"], result.recipes["title"], strict=True))
    several = not creator and result.collection.recipe["creator"].fillna("").nunique() > 1
    out: list[ShownHabit] = []
    rows: list[dict[str, Any]] = [
        {str(k): v for k, v in row.items()}
        for row in result.habits.to_dict("records")
        if row["kind"] != READING
    ]
    for row in rows:
        ids = [r for r in ids_of(row["recipe_ids"]) if r in verdict]
        if not ids or len(out) == SHOWN:
            continue
        out.append(
            ShownHabit(
                str(row["phrase"]), str(row["question"]), str(row["creator"]) if several else "",
                float(row["probability"]), float(row["probability"]) >= SURE,
                [(r, str(verdict[r]), str(title[r] or r)) for r in ids],
            )
        )  # fmt: skip
    return out


def shown_readings(result: Result, creator: str = "") -> list[str]:
    """What the numbers settled of words that leave the kind open, one sentence each.

    Args:
        result: of ``pipeline.verify``.
        creator: whose page it is, "" for a page of everybody.
    """
    rows = result.habits[result.habits["kind"] == READING]
    if creator:
        rows = rows[rows["creator"] == creator]
    return [str(detail) for detail in rows["detail"]][:SHOWN]
