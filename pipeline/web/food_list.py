"""Foods to choose from: values of any food by its id, and the search box."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.lines.model import ParsedLine

if TYPE_CHECKING:
    from pipeline.match.matcher import Matcher
    from pipeline.memory.pantry import Pantry
    from pipeline.snapshot import SourceNames

#: Shorter searches find everything, so nothing useful.
SHORTEST = 2


@dataclass(frozen=True, slots=True)
class Food:
    """A food of the table or the pantry.

    Attributes:
        food_id: its id.
        name: the table's description, or the pantry's name.
        group: the table's food group; "your pantry" for a label food.
        kcal, protein_g, carbs_g, fat_g: per 100 g, None where the source does not say.
        source: the table it comes from, "" where only one is in use.
    """

    food_id: str
    name: str
    group: str
    kcal: float | None
    protein_g: float | None
    carbs_g: float | None
    fat_g: float | None
    source: str = ""


class FoodList:
    """All foods a line may be given.

    Args:
        matcher: with the index of the snapshot in force and the creator's pantry.
        before: a list over the same table, whose work is used again.
        names: to say which table a food comes from, where there are several.
    """

    def __init__(
        self, matcher: Matcher, before: FoodList | None = None, names: SourceNames | None = None
    ) -> None:
        self._matcher = matcher
        self._names = names if names is not None and names.several else None
        self._foods = matcher.index.foods
        self._pantry: Pantry = matcher.pantry
        self._at: dict[str, int] = (
            before._at if before else {f: at for at, f in enumerate(self._foods.ids)}
        )
        self._folded: list[str] = before._folded if before else []

    def get(self, food_id: str) -> Food | None:
        """A food by its id, None when neither table nor pantry has it."""
        own = self._pantry.by_id.get(food_id)
        if own is not None:
            value = own.per_100g.get
            return Food(
                own.food_id, own.name, "your pantry", value("ENERC_KCAL"), value("PROCNT"),
                value("CHOCDF"), value("FAT"),
            )  # fmt: skip
        at = self._at.get(food_id)
        if at is None:
            return None
        foods = self._foods
        kcal, protein, fat, carbs = (_known(float(v)) for v in foods.macros[at])
        return Food(
            food_id, foods.descriptions[at], foods.categories[at], kcal, protein, carbs, fat,
            self._names.of(food_id) if self._names is not None else "",
        )  # fmt: skip

    def search(self, words: str, limit: int = 12) -> list[Food]:
        """Foods that words may mean, also while the last word is still being typed.

        The pantry comes first, then what the matcher thinks of first, then every food of the table
        whose description holds all the words or their beginnings.
        """
        words = " ".join(words.split())[:120]
        if len(words) < SHORTEST:
            return []
        found = dict.fromkeys(self._ids(words, limit))
        foods = (self.get(food_id) for food_id in list(found)[:limit])
        return [food for food in foods if food is not None]

    def _ids(self, words: str, limit: int) -> Iterator[str]:
        from pipeline.match.search import search

        typed = _fold(words).split()
        if not typed:
            return
        for own in self._pantry.foods:
            if _holds(_fold(" ".join((own.name, *own.aliases))), typed):
                yield own.food_id
        yield from self._stand_ins(words)
        ids, survey = self._foods.ids, self._foods.survey
        holding = sorted(
            (not text.startswith(f" {typed[0]}"), not survey[at], len(text), at)
            for at, text in enumerate(self._texts())
            if _holds(text, typed)
        )
        ranked = [food.food_id for food in search(self._matcher.index, words.lower(), limit=limit)]
        inside = {ids[at] for *_, at in holding}
        yield from (food_id for food_id in ranked if food_id in inside)
        yield from (ids[at] for *_, at in holding[:limit])
        yield from ranked

    def _stand_ins(self, words: str) -> list[str]:
        """For a food that the table is known to lack: what comes nearest to it."""
        line = ParsedLine(words, "food", name=words.lower())
        found = self._matcher.find(self._matcher.query(line))
        if found is None or found.food >= 0:
            return []
        return [candidate.food_id for candidate in found.runners_up]

    def _texts(self) -> list[str]:
        if not self._folded:
            foods = self._foods
            self._folded += [
                _fold(f"{d} {c}")
                for d, c in zip(foods.descriptions, foods.common_names, strict=True)
            ]
        return self._folded


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _fold(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text).casefold()
    return " " + " ".join(re.findall(r"[^\W_]+", plain))


def _holds(text: str, typed: list[str]) -> bool:
    return all(f" {word}" in text for word in typed)
