"""Stage 3, match: food name and state → a food of the snapshot, with honest confidence."""

from __future__ import annotations

from operator import attrgetter
from typing import TYPE_CHECKING

from pipeline.match.model import Candidate, Match
from pipeline.tables import MATCHED, RUNNER_UP

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb
    import pandas as pd

    from pipeline.match.index import Index

__all__ = ["Candidate", "Match", "load_index", "matched_frames"]


def load_index(con: duckdb.DuckDBPyConnection, folder: Path | None = None) -> Index:
    """Words, names and facets of an open snapshot's foods, ready for ``Matcher``.

    Args:
        folder: where an index built before may stand and a new one is kept; the snapshot's own
            folder as a rule. None builds it afresh and keeps nothing.
    """
    from pipeline.match.build import build_index
    from pipeline.match.foods import load_foods
    from pipeline.match.knowledge import knowledge_digest, load_knowledge
    from pipeline.match.store import index_key, read_index, save_index

    if folder is None:
        return build_index(load_foods(con), load_knowledge())
    path = folder / f"index-{index_key(folder.name, knowledge_digest())}.bin"
    index = read_index(path)
    if index is None:
        index = build_index(load_foods(con), load_knowledge())
        save_index(index, path)
    return index


def _others(match: Match) -> list[tuple[Candidate, float, float]]:
    """Runners-up and open kinds of a match, each food once: (food, belief, share left open)."""
    if not match.open_kinds:
        return [(c, c.probability, 0.0) for c in match.runners_up]
    open_ = {c.food_id: c.probability for c in match.open_kinds}
    others = [(c, c.probability, open_.pop(c.food_id, 0.0)) for c in match.runners_up]
    return others + [(c, 0.0, c.probability) for c in match.open_kinds if c.food_id in open_]


def matched_frames(matches: list[Match]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The tables ``matched_line`` and ``runner_up`` of ``pipeline.tables``."""
    runners = (
        (m.text, rank, c.food_id, c.description, probability, left_open)
        for m in matches
        for rank, (c, probability, left_open) in enumerate(_others(m), start=1)
    )
    return MATCHED.frame(map(attrgetter(*MATCHED), matches)), RUNNER_UP.frame(runners)
