"""Whole measures of a line: weights on it, contents of packages and pieces, counts of a unit."""

from __future__ import annotations

import math
import re

from pipeline.foods import singular
from pipeline.lines.model import Measure
from pipeline.weigh.case import Case
from pipeline.weigh.estimate import Estimate, as_written, times
from pipeline.weigh.packages import brimful, of_packages, poured_off
from pipeline.weigh.pantry import by_label
from pipeline.weigh.refuse import ALL, Eaten, edible_share
from pipeline.weigh.usual import usual_amounts, usual_kind
from pipeline.weigh.ways import one_unit

_PLAIN_MASS, _HEDGED_MASS = 0.02, 0.05
#: Kinds of refuse that a weighed piece may have lost already.
_PEELED_OFF = frozenset(("peel", "paring", "trim"))
#: Below this share of a light one, what is weighed is a part of it.
_PART_OF_ONE = 0.75
#: How much nearer, in logs, one reading of a weight must be to what such a piece weighs.
_DECISIVE = 0.08
#: The same for a weight in parentheses to need no question.
_CLEAR = 0.7
#: The same for one before what is counted, "2 (30 g) spring onions", which is of each as a rule.
_CLEAR_BEFORE = 0.5
#: From here on a number without a unit may be grams; pieces lighter than this are not counted one
#: by one (lumps of sugar, pats of butter). Common practice.
_MANY, _BIT_G = 20, 6.0
_WORD = re.compile(r"[^\W\d_]+")
#: A number that is rather a weight than a count: so much at least, and a multiple of this.
_ROUND, _STEP = 50, 5


def weigh_measure(case: Case, measure: Measure, counted: Measure | None = None) -> Estimate | None:
    """Grams of one measure, all of its amount; None when it cannot be weighed.

    Args:
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
        return _without_unit(case, measure, "oz", "ounces")
    many = measure.kind == "count" and measure.amount >= _MANY and not measure.size
    if many and (read := _many(case, measure)) is not None:
        return read
    one = one_unit(case, measure.unit, measure.size)
    return None if one is None else times(measure, one)


def _mass(case: Case, measure: Measure, counted: Measure | None) -> Estimate | None:
    """A weight on the line, less what is poured off or not eaten of it."""
    factor = case.kitchen.units.grams[measure.unit]
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
    if counted is not None and counted.of_text[0] > measure.of_text[0]:
        piece = piece and "piece_written" not in case.parsed.flags  # "500 g pork (8 pieces)"
    eaten = edible_share(case, measure, piece=piece, of_one=lambda: _of_one(case, high))
    if counted is not None and counted.kind == "count":
        eaten = _peeled_already(case, eaten, counted, grams)
    return _eaten_of(stated, eaten)


def _of_one(case: Case, grams: float) -> bool:
    """Whether a weight is a part of one: "60 g avocado" was cut, and weighed as it is eaten."""
    one = one_unit(case, "piece", "")
    return one is not None and grams < _PART_OF_ONE * one.low


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
    peeled = eaten.share < 1.0 and refuse is not None and refuse.kind in _PEELED_OFF and grams
    one = one_unit(case, counted.unit, counted.size) if peeled else None
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
        one = each.amount * case.kitchen.units.grams[each.unit]
        why = f"{n:g} x {each.amount:g} {each.unit}"
    else:
        per = brimful(case, measure, each) or one_unit(case, each.unit, "")
        if per is None:
            return None
        one = each.amount * per.grams
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
    eaten = edible_share(case, each, piece=measure.unit == "piece", of_one=lambda: False)
    return _eaten_of(Estimate(grams, low, high, "mass", why), eaten)


def _each_or_total(case: Case, measure: Measure, each: Measure, inside: Estimate) -> Estimate:
    """ "4 portions (120 g)": of each or of all four? What such a piece weighs tells; else ask."""
    remarks = case.parsed.remarks
    apart = remarks.set_apart(measure, each)
    if (
        measure.kind != "count" or measure.amount < 2 or remarks.each_or_all(each)
        or not (apart or remarks.bracketed(measure, each))
    ):  # fmt: skip
        return inside
    one = one_unit(case, measure.unit, measure.size)
    if one is not None:
        apiece = inside.grams / measure.amount
        as_each = abs(math.log(apiece / one.grams))
        as_total = abs(math.log(apiece / measure.amount / one.grams))
        if as_total - as_each > _CLEAR:
            return inside
        if as_each - as_total > (_CLEAR if apart else _CLEAR_BEFORE):
            why = f"{as_written(each)} for all {measure.amount:g}, {one.grams:.4g} g each by the tables"
            high = inside.high / measure.amount if apart else inside.high
            low = inside.low / measure.amount
            return inside._replace(grams=apiece, low=low, high=high, why=why)
    if not apart:
        return inside
    return inside._replace(
        low=inside.low / measure.amount,
        why=f"{inside.why}; {as_written(each)} may be for all of them",
        problem="weight-each-or-total",
    )


def _without_unit(case: Case, measure: Measure, unit: str, named: str) -> Estimate | None:
    """ "17.3 puff pastry": no count of pieces; so many of a unit where such lines weigh that."""
    grams = measure.amount * case.kitchen.units.grams[unit]
    if _is_unusual(case, grams):
        return None
    why = f"{measure.amount:g} counts no pieces; read as {named}, {grams:.4g} g"
    return Estimate(grams, grams * 0.9, grams * 1.1, "mass", why, "unit-missing")


def _many(case: Case, measure: Measure) -> Estimate | None:
    """ "40 butter", "egg noodles 450", "500 chicken breast": grams, where the food is named as what
    is not counted, or is not known by the piece, or so many pieces are more than any recipe holds;
    else None."""
    one = one_unit(case, measure.unit, "")
    piece = measure.unit == "piece"
    named = [case.parsed.name.rpartition(" ")[2]] if piece else _WORD.findall(case.parsed.text)
    plural = any(singular(word) != word for word in map(str.lower, named))
    if not piece and (plural or one is None):
        return None  # "20 basil leaves"
    if one is not None and (plural or one.grams >= _BIT_G):
        pieces = measure.amount * one.grams
        rather = not plural and _weighs_so(case, measure, pieces)
        if not rather and not _is_unusual(case, pieces):
            return None
    return _without_unit(case, measure, "g", "grams")


def _weighs_so(case: Case, measure: Measure, pieces: float) -> bool:
    """Whether a round number before a food in the singular is nearer to the grams of such lines than
    so many pieces: "100 bacon"."""
    kind = usual_kind(case.kitchen.foods.group_of(case.food_id), "")
    return (
        measure.amount >= _ROUND and measure.amount % _STEP == 0
        and usual_amounts().nearer(kind, "count", measure.amount, pieces)
    )  # fmt: skip


def _is_unusual(case: Case, grams: float) -> bool:
    """Whether counted lines of the food never come to such a weight."""
    foods = case.kitchen.foods
    kind = usual_kind(foods.group_of(case.food_id), "")
    return (
        usual_amounts().unusual(kind, "count", grams, foods.kcal(case.food_id, grams)) is not None
    )
