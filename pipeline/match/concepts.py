"""From a concept of the words files to the food of a table that answers it.

A concept is a few words that a description has to hold ("squash zucchini raw"), in any order, and
perhaps the fat that tells kinds apart ("beef ground raw fat:20"). Of the foods that hold them all
the plainest one is meant: nearest to the fat asked for, then with the fewest rare words beside,
then one that the table's makers use themselves. No code of a table stands in it, so the same
concept is resolved in whichever table is loaded.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Sequence

from pipeline.match.knowledge import Concept

#: Fat this near to the fat asked for counts as equal: g per 100 g, or a share of it.
FAT_NEAR_G, FAT_NEAR_SHARE = 0.5, 0.1


class Resolver:
    """Finds the plainest food of one table that holds the words of a concept.

    Args:
        own: words of every food of the index.
        fat: g fat per 100 g of every food, NaN when unknown.
        survey: True for foods that the table's makers use in their own surveys.
        places: positions of the foods of the table in question.
    """

    def __init__(
        self,
        own: Sequence[frozenset[str]],
        fat: Sequence[float],
        survey: Sequence[bool],
        places: Sequence[int],
    ) -> None:
        self.own, self.fat, self.survey, self.places = own, fat, survey, places
        holders: defaultdict[str, set[int]] = defaultdict(set)
        seen: Counter[str] = Counter()
        for at in self.places:
            seen.update(self.own[at])
            for w in self.own[at]:
                holders[w].add(at)
        rarity = {w: math.log((len(self.places) + 1) / n) for w, n in seen.items()}
        self._holders = dict(holders)
        self._weight = {at: sum(rarity[w] for w in sorted(self.own[at])) for at in self.places}

    def holding(self, asked: Sequence[str]) -> set[int]:
        """Foods whose descriptions hold every word."""
        found: set[int] | None = None
        for w in sorted(asked, key=lambda w: len(self._holders.get(w, ()))):
            have = self._holders.get(w)
            if not have:
                return set()
            found = set(have) if found is None else found & have
            if not found:
                return found
        return found or set()

    def order(self, at: int, fat: float | None) -> tuple[float, float, bool, int]:
        """Sort key: the plainest food first."""
        off = 0.0
        if fat is not None and math.isfinite(self.fat[at]):
            off = max(0.0, abs(self.fat[at] - fat) - max(FAT_NEAR_G, FAT_NEAR_SHARE * fat))
        return round(off, 3), round(self._weight[at], 4), not self.survey[at], at

    def find(self, concept: Concept) -> int:
        """Position of the food, -1 when no food of the table holds all the words."""
        found = {
            at
            for at in self.holding(concept.words)
            if not any(w in self.own[at] for w in concept.without)
        }
        return min(found, key=lambda at: self.order(at, concept.fat_pct)) if found else -1
