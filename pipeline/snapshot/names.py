"""Where a food comes from, in words: "USDA SR28", the title of a national table, "your pantry"."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.snapshot.model import Snapshot

#: Short names of the sources that have one; others go by their own title.
SHORT_NAMES = {
    "sr28": "USDA SR28",
    "sr_legacy": "USDA SR Legacy",
    "foundation": "USDA Foundation Foods",
    "fndds": "USDA survey foods (FNDDS)",
    "branded": "USDA Branded Foods",
    "pantry": "your pantry",
    "recipe": "your recipes",
}


@dataclass(frozen=True, slots=True)
class SourceNames:
    """Names of the sources of one snapshot.

    Attributes:
        names: source → its name in words.
        source_of: food_id → source, for foods whose id begins with another source's name (SR
            Legacy keeps the ids of SR28).
        several: foods of more than one table may be answers.
    """

    names: Mapping[str, str]
    source_of: Mapping[str, str]
    several: bool

    def of(self, food_id: str | None) -> str:
        """Name of a food's source, "" for no food."""
        if not food_id or food_id != food_id:  # NaN in frames
            return ""
        source = self.source_of.get(food_id) or food_id.partition(":")[0]
        return self.names.get(source, source)

    def column(self, food_ids: Iterable[str | None]) -> list[str]:
        """Names for a column of ids, in order."""
        given = list(food_ids)
        known = {food_id: self.of(food_id) for food_id in set(given)}
        return [known[food_id] for food_id in given]


def source_names(snapshot: Snapshot) -> SourceNames:
    """Names of a snapshot's sources; read once a snapshot and process."""
    return _names_in(snapshot.path)


@lru_cache(maxsize=4)  # a published file never changes
def _names_in(path: Path) -> SourceNames:
    import duckdb

    with duckdb.connect(str(path), read_only=True) as con:
        rows = con.execute(
            "select distinct food.source, source.title, source.reference from food "
            "join source using (preference) order by all"
        ).fetchall()
        moved = con.execute(
            "select food_id, source from food where split_part(food_id, ':', 1) <> source"
        ).fetchall()
    names = {**{source: title for source, title, _ in rows}, **SHORT_NAMES}
    return SourceNames(names, dict(moved), sum(not row[2] for row in rows) > 1)
