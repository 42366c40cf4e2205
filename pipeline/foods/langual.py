"""LanguaL codes of a profile, by the rules of ``shared/langual.csv`` and ``shared/food_parts.csv``.

What a name says is brought to features ("state:boiled", "medium:oil", "group:pulse"); a rule of a
facet holds when the food has every feature it asks for and none that it bars with "!". The first
rule that holds gives the code; in facet H, where several treatments stand side by side, every one
that holds does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import combinations
from typing import NamedTuple, TypeVar

from pipeline.foods.words import words
from pipeline.resources import shared_rows

_T = TypeVar("_T")

#: Water, g per 100 g, below which a food was dried, and one that grows wet (fruit) was.
DRY_WATER, DRIED_FRUIT_WATER = 20.0, 40.0
#: Facets in which several codes stand side by side.
_MANY = frozenset("H")


class Eaten(NamedTuple):
    """What is eaten of a food: a row of ``food_parts.csv``."""

    group: str
    eaten: str
    peel: str


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of ``langual.csv``."""

    code: str
    needs: frozenset[str]
    bars: frozenset[str]


@cache
def _eaten_of() -> Mapping[tuple[str, ...], Eaten]:
    found: dict[tuple[str, ...], Eaten] = {}
    for row in shared_rows("food_parts.csv"):
        for text in row["words"].split(";"):
            found.setdefault(
                tuple(sorted(words(text))), Eaten(row["group"], row["eaten"], row["peel"])
            )
    return found


@cache
def _first_words() -> frozenset[str]:
    return frozenset(w for phrase in _eaten_of() for w in phrase)


@lru_cache(maxsize=20_000)
def eaten_of(name: tuple[str, ...]) -> Eaten | None:
    """What kind of plant or animal a name is and which part of it is eaten.

    Args:
        name: words of the head (its noun last), then of the kind; two together name more closely
            than one ("sweet potato"), and the noun of the head before the others.
    """
    return _closest(_eaten_of(), [w for w in name if w in _first_words()])


def _closest(table: Mapping[tuple[str, ...], _T], known: Sequence[str]) -> _T | None:
    """What a table has for the first two words that it knows together, else for the first alone."""
    keys = [*(tuple(sorted(pair)) for pair in combinations(known, 2)), *((w,) for w in known)]
    return next((table[key] for key in keys if key in table), None)


@cache
def rules() -> Mapping[str, tuple[Rule, ...]]:
    """Rules by facet in the order of the table."""
    found: dict[str, list[Rule]] = {}
    for row in shared_rows("langual.csv"):
        if row["facet"] == "B":  # looked up by its words, see ``source_of``
            continue
        features = row["says"].split()
        found.setdefault(row["facet"], []).append(
            Rule(
                row["code"],
                frozenset(f for f in features if not f.startswith("!")),
                frozenset(f[1:] for f in features if f.startswith("!")),
            )
        )
    return {facet: tuple(listed) for facet, listed in found.items()}


@cache
def _sources() -> Mapping[tuple[str, ...], str]:
    return {
        tuple(sorted(words(row["term"]))): row["code"]
        for row in shared_rows("langual.csv")
        if row["facet"] == "B"
    }


@lru_cache(maxsize=20_000)
def source_of(name: tuple[str, ...]) -> str:
    """LanguaL code of the plant or animal that a name gives, "" when it gives none we know.

    Args:
        name: as for ``eaten_of``.
    """
    return _closest(_sources(), name[:6]) or ""


@cache
def _features_of(facet: str) -> frozenset[str]:
    """Features that the rules of a facet ask for or bar; others make no difference."""
    return frozenset(f for rule in rules()[facet] for f in (*rule.needs, *rule.bars))


@cache
def asked() -> frozenset[str]:
    """Features that some rule asks for or bars."""
    return frozenset().union(*map(_features_of, rules()))


@lru_cache(maxsize=20_000)
def _codes(facet: str, features: frozenset[str]) -> frozenset[str]:
    holding = [r for r in rules()[facet] if r.needs <= features and not r.bars & features]
    if facet in _MANY:
        special = frozenset(r.code for r in holding if r.needs)
        return special or frozenset(r.code for r in holding)
    return frozenset({holding[0].code}) if holding else frozenset()


@lru_cache(maxsize=20_000)
def _all_codes(features: frozenset[str]) -> Mapping[str, frozenset[str]]:
    found = {}
    for facet in rules():
        told = _codes(facet, _features_of(facet) & features)
        if told:
            found[facet] = told
    return found


def codes(features: Iterable[str], source: str = "") -> Mapping[str, frozenset[str]]:
    """LanguaL codes by facet letter for the features of a food and its code of facet B."""
    found = _all_codes(asked().intersection(features))
    return {"B": frozenset({source}), **found} if source else found
