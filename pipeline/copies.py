"""Recipes that stand in a collection more than once, word for word: judged once, the result given to each.

Two recipes are the same when everything that a number can follow from is the same: title, method,
servings, creator, lines, what is stated. Ids, files and places differ. Habits and conventions are
read from what differs; a copy is no further evidence for either.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pipeline.compute.subrecipes import PREFIX
from pipeline.tables import READING, RECIPE, STATED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from pipeline.intake import Collection
    from pipeline.run import Result

#: What of a recipe says where it stands and nothing about the dish.
_PLACE = ("recipe_id", "source", "source_line", "position", "format")
_LINE = ("line_no", "section", "text", "part_of", "food_id")
#: Whether a table of a result is in the order of its recipe_ids, or else in that of the collection.
_BY_ID = {
    "recipes": False, "lines": False, "findings": True, "computed": True, "explanations": True,
    "checks": True, "corrected": True, "claims": False, "doubt": True, "per_recipe": True,
}  # fmt: skip


def find_copies(collection: Collection, lines: pd.DataFrame) -> dict[str, str]:
    """recipe_id of each copy → recipe_id of the recipe it repeats, the first by id.

    Args:
        collection: recipe, stated and reading are compared.
        lines: LINE_RESULT with ``part_of``. A recipe that lines use is never taken for a copy.
    """
    recipe, said = collection.recipe, [c for c in RECIPE if c not in _PLACE]
    recipe = recipe[recipe.duplicated(said, keep=False)]
    tables = (
        (recipe, said),
        (lines, _LINE),
        (collection.stated, STATED[1:]),
        (collection.reading, READING[1:]),
    )
    keys = zip(*(_contents(t, columns, recipe["recipe_id"]) for t, columns in tables), strict=True)
    used = _used(lines)
    first: dict[tuple[bytes, ...], str] = {}
    copies: dict[str, str] = {}
    for recipe_id, key in sorted(zip(recipe["recipe_id"].tolist(), keys, strict=True)):
        known = first.setdefault(key, recipe_id)
        if known != recipe_id and recipe_id not in used:
            copies[recipe_id] = known
    return copies


def _contents(table: pd.DataFrame, columns: Sequence[str], ids: pd.Series) -> list[bytes]:
    """What a table says of each of ``ids``, as bytes that are equal only for equal rows."""
    table = table[table["recipe_id"].isin(ids)]
    codes = np.empty((len(table), len(columns)), dtype=np.int64)
    for n, column in enumerate(columns):
        codes[:, n] = pd.factorize(table[column])[0]
    recipe = pd.Index(ids).get_indexer(table["recipe_id"])
    order = np.argsort(recipe, kind="stable")
    ends = np.searchsorted(recipe[order], np.arange(len(ids) + 1))
    codes = codes[order]
    return [codes[a:b].tobytes() for a, b in pairwise(ends)]


def _used(lines: pd.DataFrame) -> set[str]:
    food = lines.loc[lines["origin"] == "recipe", "food_id"]
    return {str(f).removeprefix(PREFIX) for f in food.dropna().unique()}


def without_copies(
    collection: Collection, lines: pd.DataFrame, copies: dict[str, str]
) -> tuple[Collection, pd.DataFrame]:
    """The collection and its lines with each recipe once."""
    if not copies:
        return collection, lines
    return recipes_of(collection, lines, set(collection.recipe["recipe_id"]) - copies.keys())


def recipes_of(
    collection: Collection, lines: pd.DataFrame, ids: set[str]
) -> tuple[Collection, pd.DataFrame]:
    """The collection and its lines reduced to some of its recipes."""

    def some(table: pd.DataFrame) -> pd.DataFrame:
        return table[table["recipe_id"].isin(ids)].reset_index(drop=True)

    part = replace(
        collection, recipe=some(collection.recipe), stated=some(collection.stated),
        line=some(collection.line), reading=some(collection.reading),
    )  # fmt: skip
    return part, some(lines)


def with_copies(
    result: Result, collection: Collection, lines: pd.DataFrame, copies: dict[str, str]
) -> Result:
    """The result of ``without_copies`` with the rows of every recipe.

    Args:
        result: of the recipes without copies.
        collection, lines: with all of them.

    Returns:
        A result whose tables have the order they have when every recipe is judged by itself;
        ``habits`` names each recipe once.
    """
    if not copies:
        return result
    repeated = _Repeated(collection.recipe["recipe_id"], copies)
    recipe = repeated.all_of(result.collection.recipe, by_id=False)
    recipe[list(_PLACE)] = collection.recipe[list(_PLACE)].to_numpy()
    recipe = recipe.astype(collection.recipe.dtypes[list(_PLACE)].to_dict())
    frames: dict[str, Any] = {
        name: repeated.all_of(getattr(result, name), by_id) for name, by_id in _BY_ID.items()
    }
    frames["recipes"]["source"] = recipe["source"].to_numpy()
    line_at = lines.set_index(["recipe_id", "line_no"])["source_line"]
    frames["lines"]["source_line"] = _at(frames["lines"], line_at)
    return replace(
        result,
        **frames,
        problems=_problems(repeated, result.problems, recipe, line_at),
        collection=replace(
            collection, recipe=recipe, stated=repeated.all_of(result.collection.stated, by_id=False)
        ),
    )


class _Repeated:
    """Rows of one recipe repeated for those that are the same."""

    def __init__(self, ids: pd.Series, copies: dict[str, str]) -> None:
        self._ids = np.array(ids.tolist(), dtype=object)
        self._same = np.array([copies.get(i, i) for i in self._ids], dtype=object)
        self._once = pd.Index(sorted(set(self._same)))
        self._by_id = np.argsort(self._ids)

    def all_of(self, table: pd.DataFrame, by_id: bool) -> pd.DataFrame:
        """``table``, which knows each recipe once, with rows for all of them."""
        if "recipe_id" not in table or table.empty:
            return table
        of = self._once.get_indexer(table["recipe_id"])
        order = self._by_id if by_id else np.arange(len(self._ids))
        take, many = self._rows(of, order)
        out = table.take(take).reset_index(drop=True)
        out["recipe_id"] = np.repeat(self._ids[order], many)
        return out.astype({"recipe_id": table["recipe_id"].dtype})

    def _rows(
        self, of: NDArray[np.int64], order: NDArray[np.int64]
    ) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Which rows, and how many for each recipe of ``order``."""
        rows = np.argsort(of, kind="stable")
        start = np.searchsorted(of[rows], np.arange(len(self._once) + 1))
        wanted = self._once.get_indexer(self._same[order])
        many = start[wanted + 1] - start[wanted]
        before = np.repeat(np.cumsum(many) - many, many)
        return rows[np.repeat(start[wanted], many) + np.arange(many.sum()) - before], many


def _at(table: pd.DataFrame, line_at: pd.Series) -> pd.Series:
    """Where the lines of ``table`` stand, in its order."""
    keys = pd.MultiIndex.from_frame(table[["recipe_id", "line_no"]])
    return line_at.reindex(keys).set_axis(table.index)


def _problems(
    repeated: _Repeated, problems: pd.DataFrame, recipe: pd.DataFrame, line_at: pd.Series
) -> pd.DataFrame:
    """Problems of single recipes for all of them, each where it stands; the others behind."""
    mine = problems["recipe_id"].isin(recipe["recipe_id"])
    if not mine.any():
        return problems
    own = repeated.all_of(problems[mine], by_id=True)
    places = recipe.set_index("recipe_id").loc[own["recipe_id"]]
    own["source"] = places["source"].where((own["source"] != "").to_numpy(), "").to_numpy()
    of_recipe = places["source_line"].set_axis(own.index).astype("Int64")
    line = of_recipe.where(own["line_no"].isna(), _at(own, line_at).astype("Int64"))
    own["source_line"] = line.where(own["source_line"].notna())
    return pd.concat([own, problems[~mine]], ignore_index=True)
