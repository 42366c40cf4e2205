"""The creator's own label: what a serving, a scoop, a bar of it weighs."""

from __future__ import annotations

import re

from pipeline.lines.model import Measure
from pipeline.lines.vocabulary import LEXICON
from pipeline.units import stem_of
from pipeline.weigh.case import Case
from pipeline.weigh.estimate import Estimate, times

_SERVING = re.compile(r"\W*(\d+(?:[.,]\d+)?)?\s*(?:heaped\s+(?=\w))?([^\s(.,)]*)")


def by_label(case: Case, measure: Measure) -> Estimate | None:
    """Grams by the label, where the line counts what the label counts."""
    kitchen = case.kitchen
    entry = kitchen.pantry.get(case.food_id or "")
    grams = getattr(entry, "serving_g", None)
    if not grams or not grams > 0:
        return None
    name = str(getattr(entry, "serving_name", "") or "")
    held, unit = _serving(name)
    wanted = stem_of(measure.unit)
    holds = kitchen.units.ml(unit, kitchen.spoons)
    if wanted in (unit, "portion", "serving") or (wanted == "piece" and not holds):
        one = grams / held
    else:
        ml = kitchen.units.ml(measure.unit, kitchen.spoons)
        if not ml or not holds:
            return None
        one = grams / held * ml / holds
    label = f"{name or 'serving'} = {grams:g} g on the creator's own label"
    return times(measure, Estimate(one, one * 0.95, one * 1.05, "pantry", label))


def _serving(name: str) -> tuple[float, str]:
    """Amount and unit of a serving's name: "2 tbsp" → (2, tbsp); "scoop (30 g)" → (1, scoop)."""
    (held, unit), *_ = _SERVING.findall(name.lower())
    entry = LEXICON.get(unit)
    if entry is not None and entry.units:
        unit = entry.units[-1][1].unit
    return float(held.replace(",", ".") or 1) or 1.0, unit or "portion"
