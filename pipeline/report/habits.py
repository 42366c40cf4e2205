"""The habits of a report: the questions that open it, with the recipes each is about."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING

from pipeline.habits.model import READING, ids_of
from pipeline.report.frames import records

if TYPE_CHECKING:
    from pipeline.run import Result

#: Questions shown; the table habits.csv has all.
SHOWN = 12
#: Below this a habit is shown as a suspicion, and no explanation rests on it.
SURE = 0.8


def shown_habits(result: Result, creator: str = "") -> list[SimpleNamespace]:
    """The habits of a result, the surest first.

    Args:
        creator: whose page it is, "" for a page of everybody.

    Returns:
        The row of each, and: phrase and question in words; creator ("" where the page is about one); probability
        that the recipes share this cause; sure: whether explanations rest on it; recipes: id, verdict
        now and title.
    """
    recipes = {row["recipe_id"]: row for row in records(result.recipes)}
    several = not creator and result.collection.recipe["creator"].fillna("").nunique() > 1
    out: list[SimpleNamespace] = []
    for row in records(result.habits[result.habits["kind"] != READING]):
        named = [recipes[r] for r in ids_of(row["recipe_ids"]) if r in recipes]
        if named and len(out) < SHOWN:
            of = [(r["recipe_id"], r["verdict"], r["title"] or r["recipe_id"]) for r in named]
            told = {"recipes": of, "sure": row["probability"] >= SURE}
            whose = row["creator"] if several else ""
            out.append(SimpleNamespace(**{**row, **told, "creator": whose}))
    return out


def shown_readings(result: Result, creator: str = "") -> list[str]:
    """What the numbers settled of words that leave the kind open, one sentence each.

    Args:
        creator: whose page it is, "" for a page of everybody.
    """
    rows = result.habits[result.habits["kind"] == READING]
    if creator:
        rows = rows[rows["creator"] == creator]
    return [str(detail) for detail in rows["detail"]][:SHOWN]
