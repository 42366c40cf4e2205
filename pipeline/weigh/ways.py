"""The ways of weighing one unit of a food, in the order in which they are tried."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from pipeline.foods import singular, words
from pipeline.lines.vocabulary import LEXICON
from pipeline.weigh.case import Case
from pipeline.weigh.estimate import Estimate
from pipeline.weigh.packages import is_package, package
from pipeline.weigh.pieces import made_whole, own_piece, piece
from pipeline.weigh.trade import trade
from pipeline.weigh.volume import volume
from pipeline.weigh.words import word_list

#: So many weights of one unit are kept; then all are forgotten.
_KEPT = 200_000


class Way(NamedTuple):
    """A way of weighing one unit.

    Attributes:
        applies: whether a unit is weighed so, for a food.
        weigh: grams of one unit of a size; None when they are not known this way.
        last: no further way is tried for such a unit.
    """

    applies: Callable[[Case, str], bool]
    weigh: Callable[[Case, str, str], Estimate | None]
    last: bool


def _is_volume(case: Case, unit: str) -> bool:
    return case.kitchen.units.ml(unit, case.kitchen.spoons) is not None


def _millimetre(case: Case, unit: str, size: str) -> Estimate | None:
    cm = _one(case, "cm", size)
    return cm and cm._replace(grams=cm.grams / 10, low=cm.low / 10, high=cm.high / 10)


def _share(unit: str) -> float:
    """What part of a whole a unit is: 0.5 of "2 pear halves", 0 of what is no part."""
    entry = LEXICON.get(unit)
    return (entry.number or 0.0) if entry and entry.number_class == "fraction" else 0.0


def _part_of_one(case: Case, unit: str, size: str) -> Estimate | None:
    whole, share = piece(case, "piece", size), _share(unit)
    if whole is None:
        return None
    return whole._replace(
        grams=whole.grams * share, low=whole.low * share, high=whole.high * share,
        why=f"a {unit} of {whole.why}",
    )  # fmt: skip


def _is_trade(case: Case, unit: str) -> bool:
    """A scoop, say, unless the food has its own."""
    return unit in case.kitchen.tables.trade and unit not in case.food.own.counts


WAYS = (
    Way(_is_volume, volume, last=True),
    Way(lambda case, unit: unit == "whole", made_whole, last=True),
    Way(lambda case, unit: unit == "mm", _millimetre, last=True),
    Way(_is_trade, trade, last=False),
    Way(lambda case, unit: is_package(unit), package, last=True),
    Way(lambda case, unit: True, piece, last=False),
    Way(lambda case, unit: _share(unit) > 0, _part_of_one, last=True),
    Way(lambda case, unit: unit in case.kitchen.tables.contents, package, last=True),
)


def one_unit(case: Case, unit: str, size: str) -> Estimate | None:
    """Grams of one unit of the food of a line, worked out once for all lines that say the same."""
    known = case.kitchen.per_unit
    key = (unit, size, *case.key)
    try:
        return known[key]
    except KeyError:
        if len(known) > _KEPT:
            known.clear()
        known[key] = found = _one(case, unit, size)
        return found


def _one(case: Case, unit: str, size: str) -> Estimate | None:
    if unit == "piece":
        unit = _held_in(case.parsed.name) or unit
    for way in WAYS:
        if way.applies(case, unit):
            found = way.weigh(case, unit, size)
            if found is not None or way.last:
                return found
    return _as_sold(case, size) if unit == "piece" else None


def _as_sold(case: Case, size: str) -> Estimate | None:
    """ "4 pieces of bread", "1 yogurt": of what is no piece itself, the slice or the pot."""
    if not all(word in case.food.words for word in words(case.parsed.name)[-1:]):
        return None  # "2 lardons" are no slices of bacon
    for unit in ("slice", "container"):
        found = own_piece(case, unit, size)
        if found is not None:
            return found.estimate
    return None


def _held_in(name: str) -> str:
    """The package that a bare count is of, where it stands first in the name: "sleeve crackers"."""
    first, _, rest = name.partition(" ")
    held = singular(first) if rest else ""
    return held if held in word_list("holder") else ""
