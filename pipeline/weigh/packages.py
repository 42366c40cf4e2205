"""Tins, packets and jars: what they usually hold, and what is left without the liquid."""

from __future__ import annotations

import math
from dataclasses import replace

from pipeline.lines.model import Measure
from pipeline.lines.vocabulary import UNITS
from pipeline.units import stem_of
from pipeline.weigh.case import Case
from pipeline.weigh.estimate import Estimate, as_written, figure
from pipeline.weigh.pieces import own_piece, sized_row
from pipeline.weigh.tables import MeasureRow
from pipeline.weigh.volume import density
from pipeline.weigh.words import size_factor

#: Packages whose food lies in liquid.
_TINS = ("tin", "jar")
_POURED = frozenset(("drained", "rinsed"))
#: States of what water may be squeezed out of.
_WET = frozenset(("thawed", "frozen", "drained"))
#: Grams of the usual tins with their liquid, and how near to one a weight has to be to be a tin's.
_TIN_G, _NEAR_TIN_G = (400, 410, 425, 439, 800), 6


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
    boiled_pulse = food.category.startswith("Legume") and "boiled" in food.state
    if "drained" in food.state or boiled_pulse:
        share = case.kitchen.tables.drained.best(case.bag)
        return None if share is None else replace(share, high=1.0)
    return None


def poured_off(case: Case, measure: Measure, grams: float) -> MeasureRow | None:
    """Share left of a weight without a tin that can only be a tin's: "400 g canned beans, drained"."""
    parsed, states = case.parsed, case.parsed.states
    if "net_weight" in parsed.flags:
        return None
    if not _WET.isdisjoint(states) and parsed.remarks.says("squeezed"):
        return case.kitchen.tables.squeezed.best(case.bag)
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
_STRETCH = 1.25


def of_packages(case: Case, measure: Measure, each: Measure, stated: Estimate) -> Estimate:
    """What packages (``measure``) hold of which the line states the content (``each``).

    Behind the word for the package it may be the content of all of them: "2 tins (800 g)", "half a
    tin (200 g)". What such a package usually holds tells, and the line is asked where both are
    likely or neither is.

    Args:
        stated: so many times the content.
    """
    n = measure.amount
    of_all, sure = False, True
    if n not in (0, 1) and case.parsed.remarks.set_apart(measure, each):
        of_all, sure = _of_all(case, measure, each, stated.grams / n)
    if not of_all:
        return left_of_tins(case, measure, each, stated, n)
    why = f"{as_written(each)} for all {n:g}"
    low, high = stated.low / n, stated.high / n
    found = stated._replace(grams=stated.grams / n, low=low, high=high, why=why)
    found = left_of_tins(case, measure, each, found, n)
    if sure:
        return found
    why = f"{found.why}; it may be of each of them"
    low, high = found.low * min(n, 1), found.high * max(n, 1)
    return found._replace(low=low, high=high, why=why, problem="weight-each-or-total")


def _of_all(case: Case, measure: Measure, each: Measure, grams: float) -> tuple[bool, bool]:
    """Whether the content behind several packages is that of all of them, and if that is sure."""
    parsed, known = case.parsed, content(case, measure.unit, measure.size)
    said = parsed.remarks.each_or_all(each)
    if known is None or not grams or said:
        return said == "all", True
    usual, net = [known], "net_weight" in parsed.flags
    if net or parsed.remarks.drained_before(each):
        share = _drained(case)
        usual = usual[net and share is not None :] + ([known.left(share, "")] if share else [])

    def fit(one: float) -> tuple[bool, float]:
        within = any(u.low / _STRETCH <= one <= u.high * _STRETCH for u in usual)
        return within, min(abs(math.log(one / u.grams)) for u in usual)

    fits_each, far_each = fit(grams)
    fits_all, far_all = fit(grams / measure.amount)
    if fits_each != fits_all:
        return fits_all, True
    return far_all < far_each, False


def _drained_already(case: Case, measure: Measure, each: Measure, one: float, share: float) -> bool:
    """ "1 tin beans, drained (240 g)": whether a weight behind "drained" is of what is left.

    It is where it is nearer to a drained tin of the food than to a full one; "1 tin tuna, drained
    (145 g)" names the tin.
    """
    usual = content(case, measure.unit, measure.size)
    if usual is None or not case.parsed.remarks.drained_before(each):
        return False
    return abs(one - usual.grams * share) < abs(one - usual.grams)


def left_of_tins(
    case: Case, measure: Measure, each: Measure, stated: Estimate, count: float
) -> Estimate:
    """What is left of ``count`` packages (``measure``) whose content (``each``) the line states."""
    share = drained_share(case, measure.unit)
    if share is not None:
        one = stated.grams / count if count else stated.grams
        if _drained_already(case, measure, each, one, share.value):
            return stated
        return stated.left(share, "drained")
    if case.parsed.remarks.says("squeezed"):
        pressed = case.kitchen.tables.squeezed.best(case.bag)
        if pressed is not None:
            return stated.left(pressed, "squeezed")
    return stated
