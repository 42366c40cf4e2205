"""Files of a folder that are not read and yet may hold recipes: reported once, with what to do."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable

from pipeline.problems import Problem, input_problem
from pipeline.resources import shared_rows

#: Row of ``shared/file_kinds.csv`` by ending; rows without a kind hold no recipes.
_KINDS = {e: row for row in shared_rows("file_kinds.csv") for e in row["endings"].split(";")}
#: Endings that are left out of a folder and reported.
REPORTED = frozenset(ending for ending, row in _KINDS.items() if row["kind"])
#: Endings that are left out without a word.
NO_RECIPES = frozenset(_KINDS) - REPORTED


def left_out(names: Iterable[str], source: str) -> list[Problem]:
    """One note about files that were left out of a folder; none when none may hold a recipe.

    Args:
        names: of the files.
        source: the folder, relative to the collection.
    """
    counts: dict[str, Counter[str]] = {}
    for name in names:
        ending = os.path.splitext(name.lower())[1]
        if ending in REPORTED:
            counts.setdefault(_KINDS[ending]["kind"], Counter())[ending] += 1
    total = sum(c.total() for c in counts.values())
    if not total:
        return []
    kinds = {r["kind"]: r for r in _KINDS.values() if r["kind"] in counts}
    listed = ", ".join(
        f"{(many := counts[kind].total()):,} {row['kinds'] if many > 1 else kind}"
        f" ({', '.join(sorted(counts[kind]))})"
        for kind, row in kinds.items()
    )
    were = "file that may hold recipes was" if total == 1 else "files that may hold recipes were"
    return [
        input_problem(
            "files-left-out", source=source, total=total, files=were, listed=listed,
            fix="if they hold recipes: " + "; ".join(row["fix"] for row in kinds.values()),
        )
    ]  # fmt: skip
