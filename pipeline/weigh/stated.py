"""Whole measures of a line: weights on it, contents of packages and pieces, counts of a unit."""

from __future__ import annotations

import math

from pipeline.lines.model import Measure
from pipeline.weigh.case import Case
from pipeline.weigh.estimate import Estimate, as_written, times
from pipeline.weigh.packages import of_packages, poured_off
from pipeline.weigh.pantry import by_label
from pipeline.weigh.refuse import ALL, Eaten, edible_share
from pipeline.weigh.usual import usual_amounts, usual_kind
from pipeline.weigh.ways import one_unit

_PLAIN_MASS, _HEDGED_MASS = 0.02, 0.05
#: Kinds of refuse that a weighed piece may have lost already.
_PEELED_OFF = frozenset(("peel", "paring", "trim"))
#: How much nearer, in logs, one reading of a weight must be to what such a piece weighs.
_DECISIVE = 0.08
#: The same for a weight in parentheses to need no question.
_CLEAR = 0.7


def weigh_measure(case: Case, measure: Measure, counted: Measure | None = None) -> Estimate | None:
    """Grams of one measure, all of its amount; None when it cannot be weighed.

    Args:
        case: line and food.
        measure: of the line.
        counted: a count of the thing beside a weight ("1 medium banana, 118 g").
    """
    if not (measure.amount >= 0 and math.isfinite(measure.amount)):
        return None
    if measure.kind == "mass":
        return _mass(case, measure, counted)
    if measure.each is not None:
        inside = _inside(case, measure, measure.each)
        if inside is not None:
            return _each_or_total(case, measure, measure.each, inside)
    own = by_label(case, measure)
    if own is not None:
        return own
    if measure.unit == "piece" and "unit-missing" in case.parsed.problems:
        return _without_unit(case, measure)
    one = one_unit(case, measure.unit, measure.size)
    return None if one is None else times(measure, one)


def _mass(case: Case, measure: Measure, counted: Measure | None) -> Estimate | None:
    """A weight on the line, less what is poured off or not eaten of it."""
    factor = case.kitchen.units.grams.get(measure.unit)
    if factor is None:
        return None
    wide = _HEDGED_MASS if measure.about else _PLAIN_MASS
    grams = measure.amount * factor
    low = min(measure.low * factor, grams * (1 - wide))
    high = max(measure.high * factor, grams * (1 + wide))
    if measure.low != measure.high:
        why = f"middle of {measure.low:g} to {measure.high:g} {measure.unit} on the line"
    elif measure.unit == "g":
        why = f"{measure.amount:g} g on the line"
    else:
        why = f"{measure.amount:g} {measure.unit} on the line = {grams:.4g} g"
    stated = Estimate(grams, low, high, "mass", why)
    poured = poured_off(case, measure, grams) if case.parsed.states else None
    if poured is not None:
        return stated.left(poured, "drained")
    piece = counted is not None and counted.unit == "piece"
    eaten = edible_share(case, measure, piece)
    if counted is not None and counted.kind == "count":
        eaten = _peeled_already(case, eaten, counted, grams)
    return _eaten_of(stated, eaten)


def _eaten_of(stated: Estimate, eaten: Eaten) -> Estimate:
    if eaten is ALL:
        return stated
    why = f"{stated.why}, less {eaten.why}" if eaten.why else stated.why
    return Estimate(
        stated.grams * eaten.share, stated.low * eaten.low, stated.high * eaten.high, "mass", why
    )


def _peeled_already(case: Case, eaten: Eaten, counted: Measure, grams: float) -> Eaten:
    """ "1 medium banana, 118 g": what such a banana weighs peeled, so peeled it is."""
    refuse = case.food.refuse
    if not (eaten.share < 1.0 and refuse is not None and refuse.kind in _PEELED_OFF and grams):
        return eaten
    one = one_unit(case, counted.unit, counted.size)
    if one is None:
        return eaten
    pieces = counted.amount * one.grams
    nearer = abs(math.log(grams * eaten.share / pieces)) - abs(math.log(grams / pieces))
    if nearer > _DECISIVE:
        return eaten._replace(share=1.0, high=1.0, why="")
    if nearer > -_DECISIVE:
        return eaten._replace(share=(1 + eaten.share) / 2, high=1.0, why=f"half of {eaten.why}")
    return eaten


def _inside(case: Case, measure: Measure, each: Measure) -> Estimate | None:
    """So many packages or pieces of a stated content each."""
    n = measure.amount
    spread = _HEDGED_MASS if each.about or measure.about else _PLAIN_MASS
    if each.kind == "mass":
        factor = case.kitchen.units.grams.get(each.unit)
        if factor is None:
            return None
        one = each.amount * factor
        why = f"{n:g} x {each.amount:g} {each.unit}"
    else:
        per = one_unit(case, each.unit, each.size if each.kind == "count" else "")
        if per is None or each.kind not in ("volume", "count"):
            return None
        one = each.amount * per.grams
        if each.kind == "count":
            if each.each is not None:
                return None
            return times(measure, Estimate(
                one, per.low * each.amount, per.high * each.amount, per.basis,
                f"{each.amount:g} {each.unit} each: {per.why}",
            ))  # fmt: skip
        spread = max(spread, 0.03)
        why = f"{n:g} x {each.amount:g} {each.unit}, {per.why}"
    grams = n * one
    low, high = grams, grams
    if each.amount:
        low = measure.low * each.low * one / each.amount
        high = measure.high * each.high * one / each.amount
    low = min(measure.low * one, low) * (1 - spread)
    high = max(measure.high * one, high) * (1 + spread)
    if measure.kind == "package":
        return of_packages(case, measure, each, Estimate(grams, low, high, "package", why))
    eaten = edible_share(case, each, measure.unit == "piece")
    return _eaten_of(Estimate(grams, low, high, "mass", why), eaten)


def _each_or_total(case: Case, measure: Measure, each: Measure, inside: Estimate) -> Estimate:
    """ "4 portions (120 g)": of each or of all four? What such a piece weighs tells; else ask."""
    remarks = case.parsed.remarks
    if (
        measure.kind != "count" or measure.amount < 2
        or not remarks.set_apart(measure, each) or remarks.each_or_all(each)
    ):  # fmt: skip
        return inside
    one = one_unit(case, measure.unit, measure.size)
    if one is not None:
        apiece = inside.grams / measure.amount
        as_each = abs(math.log(apiece / one.grams))
        as_total = abs(math.log(apiece / measure.amount / one.grams))
        if as_total - as_each > _CLEAR:
            return inside
        if as_each - as_total > _CLEAR:
            why = f"{as_written(each)} for all {measure.amount:g}, {one.grams:.4g} g each by the tables"
            return inside._replace(
                grams=apiece, low=inside.low / measure.amount, high=inside.high / measure.amount,
                why=why,
            )  # fmt: skip
    return inside._replace(
        low=inside.low / measure.amount,
        why=f"{inside.why}; {as_written(each)} may be for all of them",
        problem="weight-each-or-total",
    )


def _without_unit(case: Case, measure: Measure) -> Estimate | None:
    """ "17.3 puff pastry": no count of pieces; ounces where that is what such lines weigh."""
    foods = case.kitchen.foods
    grams = measure.amount * case.kitchen.units.grams["oz"]
    kcal = foods.kcal(case.food_id, grams)
    kind = usual_kind(foods.group_of(case.food_id), "")
    if usual_amounts().unusual(kind, "count", grams, kcal) is not None:
        return None
    why = f"{measure.amount:g} counts no pieces; read as ounces, {grams:.4g} g"
    return Estimate(grams, grams * 0.9, grams * 1.1, "mass", why, "unit-missing")
