"""Single recipe files read again, so that a change of one recipe does not cost the whole collection."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pandas as pd

from pipeline.intake.building import Building
from pipeline.intake.files import SourceFile
from pipeline.intake.reading import read_file
from pipeline.intake.spoken.cards import ENDING
from pipeline.tables import READING

if TYPE_CHECKING:
    from pathlib import Path

    from pipeline.intake import Collection
    from pipeline.problems import Problem
    from pipeline.settings import Settings

    Frames = dict[str, pd.DataFrame]


def with_files_read_again(
    collection: Collection, paths: set[Path], settings: Settings
) -> tuple[Collection, set[str]] | None:
    """The collection with some of its files read again.

    Args:
        collection: as read before.
        paths: files that changed.

    Returns:
        The collection, and the recipe_ids whose lines, numbers or servings are not the same. None
        when more than these files has to be read: one of them is no recipe file known before, or
        belongs to a spoken script, or numbers of its recipes stand elsewhere, or its recipes are no
        longer the same ones by id, title and creator, which other recipes may refer to.
    """
    sources = {source: path for source, path in collection.files.items() if path in paths}
    spoken = set(collection.scripts["source"])
    apart = spoken | collection.together
    if set(sources.values()) != paths or any(
        s in apart or s.removesuffix(ENDING) in apart for s in sources
    ):
        return None
    changed: set[str] = set()
    for source, path in sources.items():
        building = Building(settings.creator)
        problems = [p for p in collection.problems if p.source != source]
        read = read_file(SourceFile(path, source, named=False))
        if read.script is not None:
            return None
        problems += read.problems
        building.add(source, read, problems)
        old, new = _of_source(collection, source), _built(building)
        if not _same_recipes(old["recipe"], new["recipe"]):
            return None
        changed |= _changed(old, new)
        collection = _with_rows(collection, old, new, building.said_at, problems)
    return collection, changed


def _of_source(collection: Collection, source: str) -> Frames:
    recipe = collection.recipe[collection.recipe["source"] == source]
    ids = set(recipe["recipe_id"])
    others = {name: getattr(collection, name) for name in ("stated", "line", "reading")}
    return {"recipe": recipe, **{n: f[f["recipe_id"].isin(ids)] for n, f in others.items()}}


def _built(building: Building) -> Frames:
    recipe, stated, line = building.frames()
    return {
        "recipe": recipe, "stated": stated, "line": line,
        "reading": READING.frame(building.readings),
    }  # fmt: skip


def _same_recipes(old: pd.DataFrame, new: pd.DataFrame) -> bool:
    named = ["recipe_id", "title", "creator"]
    return [tuple(r) for r in old[named].to_numpy()] == [tuple(r) for r in new[named].to_numpy()]


def _changed(old: Frames, new: Frames) -> set[str]:
    return {str(row[0]) for name in old for row in _rows(old[name]) ^ _rows(new[name])}


def _rows(frame: pd.DataFrame) -> set[tuple[Any, ...]]:
    """Rows, each with its recipe and its place in it before it."""
    kept = frame.drop(columns="source_line", errors="ignore")  # no number depends on it
    place = kept.groupby("recipe_id").cumcount()
    # missing numbers differ from themselves, their text does not
    rows = kept.astype("object").fillna("").itertuples(index=False, name=None)
    return set(zip(kept["recipe_id"], place, rows, strict=True))


def _with_rows(
    collection: Collection, old: Frames, new: Frames, said_at: dict[tuple[str, int], str],
    problems: list[Problem],
) -> Collection:  # fmt: skip
    """The collection with the rows of some recipes replaced, each table's where they stood."""
    ids = set(old["recipe"]["recipe_id"])
    kept = {k: v for k, v in collection.said_at.items() if k[0] not in ids}
    frames: dict[str, Any] = {
        name: _in_place(getattr(collection, name), ids, new[name]) for name in new
    }
    return replace(collection, **frames, said_at=kept | said_at, problems=problems)


def _in_place(frame: pd.DataFrame, ids: set[str], new: pd.DataFrame) -> pd.DataFrame:
    mine = frame["recipe_id"].isin(ids).to_numpy()
    start = int(mine.argmax()) if mine.any() else len(frame)
    parts = [frame[:start], new, frame[start:][~mine[start:]]]
    whole = [part for part in parts if len(part)]
    return pd.concat(whole, ignore_index=True) if whole else new
