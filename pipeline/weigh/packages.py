"""Tins, packets and jars: what they usually hold, and what is left without the liquid."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

from pipeline.lines.model import Measure
from pipeline.lines.vocabulary import UNITS
from pipeline.units import stem_of
from pipeline.weigh.case import Case
from pipeline.weigh.estimate import Estimate, as_written, figure
from pipeline.weigh.pieces import own_piece, sized_row
from pipeline.weigh.tables import MeasureRow
from pipeline.weigh.volume import density
from pipeline.weigh.words import size_factor, word_list

#: Packages whose food lies in liquid.
_TINS = ("tin", "jar")
_POURED = frozenset(("drained", "rinsed"))
#: Grams of the usual tins with their liquid, and how near to one a weight has to be to be a tin's.
_TIN_G, _NEAR_TIN_G = (400, 410, 425, 439, 540, 800), 6


def is_package(unit: str) -> bool:
    """Whether a unit is a package: tin, packet, jar ("pack" is another word for packet)."""
    row = UNITS.get(unit)
    return unit == "pack" or (row is not None and row.kind == "package")


def content(case: Case, unit: str, size: str) -> Estimate | None:
    """What a package of a food usually holds, before draining."""
    contents = case.kitchen.tables.contents
    table = contents.get(unit) or contents.get("packet" if unit in ("pack", "package") else "")
    row = sized_row(table.ranked(case.bag), size, 0.0) if table is not None else None
    if row is None:
        own = own_piece(case, unit, size)
        if own is not None:
            return own.estimate._replace(basis="package")
        anything = table.anything if table is not None else []
        row = sized_row([(1.0, one) for one in anything], size, 0.0)
    if row is None:
        return None
    factor = 1.0 if row.size == size else size_factor(size)
    why = (
        f"{figure(row.value * factor)} {row.of} a {size + ' ' if size else ''}{unit} [{row.cited}]"
    )
    holds = replace(row, value=row.value * factor, low=row.low * factor, high=row.high * factor)
    if row.of == "ml":
        found = density(case, "cup", "")
        if found is None:
            return None
        return found.per_ml.times(holds, "package", f"{why}, {found.per_ml.why}")
    return Estimate(holds.value, holds.low, holds.high, "package", why)


def package(case: Case, unit: str, size: str) -> Estimate | None:
    """A tin or packet without a stated size, drained where the line or its food says so."""
    usual = content(case, unit, size)
    if usual is None:
        return None
    # A tin of a food that the table holds drained is weighed drained there.
    drained = usual.why.startswith("[") and "drained" in case.food.state
    if not drained and "can drained" not in usual.why:
        share = drained_share(case, unit)
        if share is not None:
            kept = usual.left(share, "drained")
            usual = kept._replace(basis=usual.basis)
    return usual._replace(problem="package-size-assumed")


def drained_share(case: Case, unit: str) -> MeasureRow | None:
    """What is left of a package's weight without its liquid; None: all of it counts."""
    states = case.parsed.states
    if "undrained" in states or "net_weight" in case.parsed.flags:
        return None
    if _POURED & states:
        return _drained(case)
    # Not said: go by the food that the line was matched to.
    food = case.food
    if stem_of(unit) not in _TINS or "liquid" in food.state:
        return None
    if not word_list("eaten_with").isdisjoint(case.bag):
        return None  # "1 tin pilchards in tomato sauce"
    boiled_pulse = food.category.startswith("Legume") and "boiled" in food.state
    if "drained" in food.state or boiled_pulse:
        share = case.kitchen.tables.drained.best(case.bag)
        return None if share is None else replace(share, high=1.0)
    return None


def _share_left(case: Case, unit: str) -> MeasureRow | None:
    """What is left of a package whose weight is said of what is left, too."""
    return drained_share(case, unit) or (
        _drained(case) if "net_weight" in case.parsed.flags else None
    )


def poured_off(case: Case, measure: Measure, grams: float) -> MeasureRow | None:
    """Share left of a weight without a tin that can only be a tin's: "400 g canned beans, drained"."""
    parsed, states = case.parsed, case.parsed.states
    if "net_weight" in parsed.flags:
        return None
    of_a_tin = "canned" in states and any(abs(grams - size) < _NEAR_TIN_G for size in _TIN_G)
    if of_a_tin and _POURED & states and not parsed.remarks.drained_before(measure):
        return _drained(case)
    return None


def _drained(case: Case) -> MeasureRow | None:
    """Share left of a package's weight once drained: of its kind, else of any tin."""
    table = case.kitchen.tables.drained
    parsed = case.parsed
    tinned = bool({"canned", "jarred"} & parsed.states)
    tinned = tinned or any(m.unit in _TINS for m in parsed.measures)
    return table.best(case.bag) or next(iter(table.anything if tinned else ()), None)


#: How far from the usual contents a package may lie, as a factor.
_STRETCH = math.log(1.25)
#: How much less likely, in logs, a weight is that of what is left where "drained" stands after it, how
#: much likelier where it stands before, and how much less likely it is of a usual tin of another size.
_LESS_LIKELY = 0.1
#: How much likelier, in logs, one reading of a tin must be than the other to need no question.
_CLEARLY = 0.05
#: What is left of a tin may differ so much, in logs, from the usual share of it.
_OF_SHARE = 0.1


def of_packages(case: Case, measure: Measure, each: Measure, stated: Estimate) -> Estimate:
    """What packages (``measure``) hold of which the line states the content (``each``).

    Behind the word for the package it may be the content of all of them: "2 tins (800 g)", "half a
    tin (200 g)"; beside "drained" that of what is left: "2 tins, drained (480 g)". What such a
    package usually holds tells, and the line is asked where each and all are likely or neither is.

    Args:
        stated: so many times the content.
    """
    n = measure.amount
    said = _said_of(case, measure, each, stated.grams / n) if n else _Said(False, False, True)
    if not said.of_all:
        return _left(case, measure, stated, said.drained)
    low, high = stated.low / n, stated.high / n
    why = f"{as_written(each)} for all {n:g}"
    found = stated._replace(grams=stated.grams / n, low=low, high=high, why=why)
    found = _left(case, measure, found, said.drained)
    if said.sure:
        return found
    why = f"{found.why}; it may be of each of them"
    low, high = found.low * min(n, 1), found.high * max(n, 1)
    return found._replace(low=low, high=high, why=why, problem="weight-each-or-total")


class _Said(NamedTuple):
    """What a weight beside packages is of."""

    of_all: bool
    drained: bool
    sure: bool


def _said_of(case: Case, measure: Measure, each: Measure, one: float) -> _Said:
    """Whether ``one``, the grams of ``each``, are of all the packages or of each, of what is left
    or of what was in them."""
    parsed, n = case.parsed, measure.amount
    net = "net_weight" in parsed.flags
    said = parsed.remarks.each_or_all(each)
    if each.of_text[0] < measure.of_text[0]:
        said = "each"  # what stands in front is of all, and was shared out among them
    known = content(case, measure.unit, measure.size)
    apart = parsed.remarks.set_apart
    kept_is_said = parsed.remarks.drained_before(each)
    if not one or not (apart(measure, each) or apart(each, measure) or kept_is_said):
        return _Said(False, net, True)
    if known is None:
        return _Said(said == "all", net, True)
    share = _share_left(case, measure.unit)
    kept = share.value if share is not None else 0.0
    later = 0.0 if net else _LESS_LIKELY * (-1 if kept_is_said else 1)
    in_tins = min(_TIN_G) <= known.grams <= max(_TIN_G)

    def far(grams: float) -> tuple[float, bool]:
        """How far the likelier of both is from the usual, and whether that is what is left."""
        as_full, as_left = _outside(grams, known.low, known.high), math.inf
        if kept:
            as_full = math.inf if net else as_full
            as_left = _outside(grams / kept, known.low, known.high) + later
            if in_tins:
                other = min(abs(math.log(grams / kept / tin)) for tin in _TIN_G)
                as_left = min(as_left, other + _LESS_LIKELY)
        return min(as_full, as_left), as_left < as_full

    of_each, of_all = far(one), far(one / n)
    if said or n == 1:
        return _Said(said == "all", (of_all if said == "all" else of_each)[1], True)
    fits_each, fits_all = of_each[0] < _STRETCH, of_all[0] < _STRETCH
    if fits_each != fits_all:
        return _Said(fits_all, (of_all if fits_all else of_each)[1], True)
    nearer = of_all[0] - of_each[0]
    return _Said(
        nearer < 0, (of_all if nearer < 0 else of_each)[1], kept > 0 and abs(nearer) > _CLEARLY
    )


def _outside(grams: float, low: float, high: float) -> float:
    """How far, in logs, a weight lies outside a span."""
    return max(math.log(low / grams), math.log(grams / high), 0.0)


def drained_beside(case: Case, counted: Measure, weight: Measure, grams: float) -> Measure | None:
    """The weight of what is left beside what packages hold: "2 x 400 g tins, drained (480 g)".

    Args:
        counted: the packages, with their content.
        weight: said beside it.
        grams: what ``weight`` comes to.

    Returns:
        The weight of all of them; None where it is none of what is left.
    """
    each, share = counted.each, _share_left(case, counted.unit)
    if each is None or share is None or not grams or not counted.amount:
        return None
    units = case.kitchen.units
    full = units.grams.get(each.unit) or units.ml(each.unit, case.kitchen.spoons) or 0.0
    full *= each.amount
    for n in (counted.amount, 1.0):
        kept = grams / n / full if full else 0.0
        if share.low * (1 - _OF_SHARE) < kept < share.high * (1 + _OF_SHARE):
            times = counted.amount / n
            return replace(weight, amount=weight.amount * times, low=weight.low * times,
                           high=weight.high * times)  # fmt: skip
    return None


def brimful(case: Case, measure: Measure, each: Measure) -> Estimate | None:
    """One unit of a volume that tins hold, weighed with the liquid that fills them; None where
    the food lies in none."""
    ml = case.kitchen.units.ml(each.unit, case.kitchen.spoons)
    if ml is None or measure.unit not in _TINS or drained_share(case, measure.unit) is None:
        return None
    return Estimate(ml, ml * 0.98, ml * 1.06, "package", f"{ml:g} g with its liquid")


def _left(case: Case, measure: Measure, stated: Estimate, drained: bool) -> Estimate:
    """What is left of packages (``measure``) of a stated content, which may be ``drained``."""
    share = None if drained else drained_share(case, measure.unit)
    return stated if share is None else stated.left(share, "drained")
