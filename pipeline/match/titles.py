"""Lines that name another recipe of the collection: "2 portions of the base dressing"."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.lines.model import ParsedLine
from pipeline.match.query import GLUE
from pipeline.match.words import words

#: Units that only a dish is counted in; a line with one may name a title in part.
DISH_UNITS = frozenset({"portion", "whole", "batch"})
#: Words around a title that say only that it was made before.
_MADE_BEFORE = frozenset(
    {"recipe", "batch", "portion", "serving", "homemade", "leftover", "quantity", "above", "below",
     "one", "full", "see", "from", "made", "earlier", "previous", "prepared", "remaining", "rest"}
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Title:
    """A recipe of the collection by its title words."""

    recipe_id: str
    title: str
    key: tuple[str, ...]


class Titles:
    """Looks titles up in food names.

    Args:
        titles: recipe_id → title.
    """

    def __init__(self, titles: Mapping[str, str]) -> None:
        self._titles = [
            Title(recipe_id, title, key)
            for recipe_id, title in titles.items()
            if (key := key_of(title))
        ]
        self._whole: dict[tuple[str, ...], list[Title]] = {}
        for title in self._titles:
            self._whole.setdefault(title.key, []).append(title)

    def find(self, line: ParsedLine, within: str) -> Title | None:
        """The recipe a line means, None when it means none or when two could be meant.

        The whole title (articles and "recipe", "batch" apart) has to be said. Where the line counts
        in portions, batches or shares, part of one title is enough if no other title holds it too.

        Args:
            line: the parsed line.
            within: recipe_id the line stands in; a recipe is no ingredient of itself.
        """
        if line.kind != "food" or not line.name:
            return None
        key = key_of(line.name)
        if not key:
            return None
        whole = [t for t in self._whole.get(key, []) if t.recipe_id != within]
        if whole:
            return whole[0] if len(whole) == 1 else None
        if not any(m.unit in DISH_UNITS for m in line.measures):
            return None
        said = set(key)
        part = [t for t in self._titles if said <= set(t.key) and t.recipe_id != within]
        return part[0] if len(part) == 1 and key[-1] in part[0].key else None

    def __bool__(self) -> bool:
        return bool(self._titles)


def key_of(text: str) -> tuple[str, ...]:
    """The words of a title or a food name that decide whether one names the other."""
    return tuple(w for w in words(text) if w not in GLUE and w not in _MADE_BEFORE)
