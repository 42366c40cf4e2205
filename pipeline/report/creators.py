"""One result a creator: the rows of their recipes, and of what was wrong with them."""

from __future__ import annotations

import re
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

from pipeline.habits.model import ids_of

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.run import Result

#: Folder of recipes that name no creator.
NOBODY = "no-creator-named"


@dataclass(frozen=True, slots=True)
class Creator:
    """A creator's part of a result; ``folder`` is safe as a name on every system."""

    name: str
    folder: str
    result: Result


def by_creator(result: Result) -> list[Creator]:
    """Split a result by the creators of its recipes, in order of their names.

    Recipes without a creator come last, under a name of ours. Empty when no recipe names one.
    """
    recipe = result.collection.recipe
    named = recipe["creator"].fillna("").astype(str).str.strip()
    if not named.any():
        return []
    out: list[Creator] = []
    taken: set[str] = set()
    for name in [*sorted(n for n in named.unique() if n), *([""] if (named == "").any() else [])]:
        ids = set(recipe.loc[named == name, "recipe_id"])
        folder = _folder(name, taken)
        out.append(Creator(name or "No creator named", folder, only(result, ids)))
    return out


def only(result: Result, ids: set[str]) -> Result:
    """The result as if only these recipes had been in the collection."""

    def mine(frame: pd.DataFrame) -> pd.DataFrame:
        if "recipe_id" not in frame.columns:
            return frame
        return frame[frame["recipe_id"].isin(ids)].reset_index(drop=True)

    def all_mine(tables: Any) -> dict[str, Any]:
        own = {item.name: getattr(tables, item.name) for item in fields(tables)}
        return {name: mine(frame) for name, frame in own.items() if hasattr(frame, "columns")}

    frames, collection = all_mine(result), result.collection
    read = all_mine(collection)
    marks = collection.script_marks
    sources = set(marks.loc[marks["recipe_id"].isin(ids), "source"])
    wanted = marks["recipe_id"].isin(ids) | (marks["recipe_id"] == "")
    read["script_marks"] = marks[marks["source"].isin(sources) & wanted].reset_index(drop=True)
    scripts = collection.scripts
    read["scripts"] = scripts[scripts["source"].isin(sources)].reset_index(drop=True)
    shared = [bool(ids & set(ids_of(cell))) for cell in result.habits["recipe_ids"]]
    frames["habits"] = result.habits.loc[shared].reset_index(drop=True)
    return replace(result, **frames, collection=replace(collection, **read))


def _folder(name: str, taken: set[str]) -> str:
    """Letters, digits and hyphens only, never empty, never twice (case ignored)."""
    from pipeline.publish.write import slug, unused

    base = slug(name, NOBODY)
    if name and base == NOBODY:
        base = "creator"
    if re.fullmatch(r"con|prn|aux|nul|com\d|lpt\d", base):
        base = f"{base}-creator"
    return unused(base, taken)
