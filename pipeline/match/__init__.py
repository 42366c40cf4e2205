"""Stage 3, match: food name and state → a food of the snapshot, with honest confidence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.match.model import Candidate, Match

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.match.index import Index
    from pipeline.match.matcher import Matcher

__all__ = ["Candidate", "Match", "Matcher", "load_index", "matched_frames"]


def load_index(con: duckdb.DuckDBPyConnection) -> Index:
    """Words, names and facets of an open snapshot's foods, ready for ``Matcher``."""
    from pipeline.match.foods import load_foods
    from pipeline.match.index import build_index
    from pipeline.match.knowledge import load_knowledge

    return build_index(load_foods(con), load_knowledge())


def matched_frames(matches: list[Match]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The tables ``matched_line`` and ``runner_up`` of ``pipeline.tables``."""
    import pandas as pd

    from pipeline.tables import MATCHED, RUNNER_UP

    matched = pd.DataFrame(
        [tuple(getattr(m, c) for c in MATCHED) for m in matches], columns=MATCHED
    ).astype({"text": object, "confidence": float})
    runners = pd.DataFrame(
        [
            (m.text, rank, c.food_id, c.description, c.probability)
            for m in matches
            for rank, c in enumerate(m.runners_up, start=1)
        ],
        columns=RUNNER_UP,
    )
    return matched, runners


def __getattr__(name: str) -> object:
    if name == "Matcher":
        from pipeline.match.matcher import Matcher

        return Matcher
    raise AttributeError(f"module 'pipeline.match' has no attribute {name!r}")
