"""Spoons, cups and metric volumes: a volume times the density of the food as it fills it."""

from __future__ import annotations

from typing import NamedTuple

from pipeline.units import stem_of
from pipeline.weigh.case import Case
from pipeline.weigh.estimate import Estimate
from pipeline.weigh.kinds import NAME_WORD
from pipeline.weigh.own import MISFIT, form_factor, line_forms, pick_volume
from pipeline.weigh.tables import MeasureRow
from pipeline.weigh.weight import Basis
from pipeline.weigh.words import FORM_OF, SPOON_FACTOR

METRIC_VOLUMES = frozenset(("ml", "cl", "dl", "l"))
_SPOONS_AND_CUP = frozenset(("tsp", "tbsp", "dessertspoon", "cup"))
_HEAPED_CUP = 1.2
#: A pint is 473 ml in the United States and 568 ml elsewhere.
_PINTS = frozenset(("pint", "quart", "gallon", "gill"))
_PINT_RATIO = 1.201
#: How a cup was filled: where the food's own row says the same, it goes before any other row.
_FILLED = frozenset(("packed", "loose"))
#: Rows of the table of kinds that fit nearly as well as the best one.
_NEAR_BEST = 0.75


class Density(NamedTuple):
    """g/ml with its range, and the millilitres of the food's own row that gave it, 0 for none."""

    per_ml: Estimate
    row_ml: float


def volume(case: Case, unit: str, size: str) -> Estimate | None:
    """Grams of one spoon, cup, millilitre of the food; None when its density is not known."""
    kitchen = case.kitchen
    elsewhere = unit in _PINTS and case.parsed.remarks.market == "uk"
    ml = kitchen.units.ml(unit, "uk" if elsewhere else kitchen.spoons)
    found = density(case, unit, size)
    if found is None or ml is None:
        return None
    stem = stem_of(unit)
    per_ml = found.per_ml
    heap = SPOON_FACTOR.get(size, 1.0) if stem in _SPOONS_AND_CUP else 1.0
    if stem == "cup" and size == "heaped":
        heap = _HEAPED_CUP
    grams = per_ml.grams * ml * heap
    low, high = per_ml.low * ml * heap, per_ml.high * ml * heap
    if heap != 1.0:
        low, high = low * 0.85, high * 1.2
    # no system said, and people of all of them share one kitchen
    if unit in _PINTS and not elsewhere:
        low, high = (
            (low, high * _PINT_RATIO) if kitchen.spoons == "us" else (low / _PINT_RATIO, high)
        )
    why = per_ml.why
    metric = stem in METRIC_VOLUMES
    basis: Basis = "density" if metric else per_ml.basis
    if abs(found.row_ml - ml) > 1e-6 or metric or heap != 1.0:
        why = f"{ml * heap:.4g} ml a {stem}{' ' + size if heap != 1.0 else ''}, {why}"
    return Estimate(grams, low, high, basis, why)


def density(case: Case, unit: str, size: str) -> Density | None:
    """g/ml of the food in the form that the line says.

    The food's own cup goes first, unless the table of kinds has a row that overrides it or that is
    about the form of the line where the own row speaks of another.
    """
    forms = line_forms(case.line, size)
    volumes = case.kitchen.tables.volumes
    ranked = volumes.ranked(case.line)
    generic = _override(case, ranked, forms)
    if generic is None:
        picked = pick_volume(case.food, stem_of(unit), case.line, forms)
        if picked is not None:
            row, least, most, fit = picked
            generic = _better_form(ranked, forms) if fit < MISFIT else None
            if "packed" in forms and "loose" in row.words:
                pressed = volumes.best({**case.line, "packed": NAME_WORD})
                generic = pressed if pressed is not None and "packed" in pressed.food else generic
            if generic is None:
                turned = form_factor(case.food.own, row, forms)
                per_ml = row.grams / row.ml * turned
                low, high = _spread(per_ml)
                label = row.label
                if turned != 1.0:
                    label = f"{label}, x {turned:.2g} for {' and '.join(sorted(forms))}"
                return Density(
                    Estimate(per_ml, min(per_ml * low, least), max(per_ml * high, most),
                             "household_measure", label),
                    row.ml if turned == 1.0 else 0.0,
                )  # fmt: skip
    generic = generic or volumes.best(case.bag)
    if generic is None:
        return None
    why = f"{generic.value:.2g} g/ml for {generic.kind} [{generic.cited}]"
    return Density(Estimate(generic.value, generic.low, generic.high, "density", why), 0.0)


def _override(
    case: Case, ranked: list[tuple[float, MeasureRow]], forms: set[str]
) -> MeasureRow | None:
    """A row of the table of kinds that goes before the food's own cup."""
    filled = forms & _FILLED
    if filled and any(filled & row.words for row in case.food.own.volumes):
        return None
    return next((row for row in _near_best(ranked) if row.override), None)


def _near_best(ranked: list[tuple[float, MeasureRow]]) -> list[MeasureRow]:
    return [row for score, row in ranked if score >= _NEAR_BEST * ranked[0][0]]


def _better_form(ranked: list[tuple[float, MeasureRow]], forms: set[str]) -> MeasureRow | None:
    """A row of the table of kinds that is about the form or shape the line says."""
    for row in _near_best(ranked):
        asked = {FORM_OF.get(word, word) for word in row.food.replace("|", " ").split()}
        if (forms & asked) or not forms:
            return row
    return None


def _spread(g_per_ml: float) -> tuple[float, float]:
    """Factors of a 90 % range by how loosely a food lies in the cup; a 250 ml cup is inside."""
    if g_per_ml >= 0.9:
        return 0.95, 1.07
    if g_per_ml >= 0.42:
        return 0.9, 1.12
    return 0.8, 1.25
