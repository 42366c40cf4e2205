"""A mention of a script as a line of a recipe."""

from __future__ import annotations

from dataclasses import replace

from pipeline.intake.spoken.lexicon import Unit
from pipeline.intake.spoken.mentions import Amount, Mention
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.words import shown_number


def quantity(amount: Amount) -> str:
    """A quantity as recipes write it: "120 g", "2 x 400 g tins"."""
    unit = amount.unit.said if amount.unit is not None else ""
    number = shown_number(amount.value)
    if amount.each is not None and amount.unit is not None and amount.unit.kind == "package":
        if amount.unit.name in word_class("loose_package"):
            return f"{shown_number(amount.value * amount.each[0])} {amount.each[1]}"
        return f"{number} x {shown_number(amount.each[0])} {amount.each[1]} {unit}"
    if amount.high > amount.value:
        number = f"{number}-{shown_number(amount.high)}"
    return " ".join(part for part in (number, amount.size, unit) if part)


def written(mention: Mention, servings: float) -> str:
    """A mention as a recipe line."""
    name = " ".join(mention.food.name).replace(" %", "%")
    shown = [way for way in (mention.amount, *mention.also) if way is not None]
    if mention.per_person and servings > 1:
        shown = [_scaled(way, servings) for way in shown]
    if mention.share != 1.0:
        shown = [_scaled(way, mention.share) for way in shown]
    weights = [way for way in shown if _by_weight(way)]
    if weights and shown[0].unit is not None and shown[0].unit.name in word_class("loose_package"):
        shown = weights  # "two packs of mince, 750 grams altogether"
    lead, behind = "", ""
    if shown:
        lead, behind = _first(shown[0])
        if len(shown) > 1:
            behind = f" ({quantity(shown[1])})"
    elif not mention.vague.startswith("what"):
        lead = mention.vague
    text = f"{lead} {name}".strip()
    if mention.part:
        text = f"{mention.part} {text}" if mention.part.endswith("of") else text
    notes = ", ".join(dict.fromkeys([*mention.food.notes, *mention.notes]))
    return f"{text}{behind}" + (f", {notes}" if notes else "")


def _first(amount: Amount) -> tuple[str, str]:
    """What stands before the name, and what each of several weighs, behind it."""
    unit = amount.unit
    if amount.each is None or (unit is not None and unit.kind == "package"):
        return quantity(amount), ""
    each = f" ({shown_number(amount.each[0])} {amount.each[1]} each)"
    return quantity(replace(amount, each=None)), each


def _scaled(amount: Amount, factor: float) -> Amount:
    """An amount times a factor."""
    if amount.each is not None and factor < 1 and amount.value == 1:
        unit = Unit(amount.each[1], "mass", amount.each[1])
        value = amount.each[0] * factor
        return replace(amount, each=None, value=value, high=value, unit=unit)
    return replace(amount, value=amount.value * factor, high=amount.high * factor)


def _by_weight(amount: Amount) -> bool:
    """Weighed or in millilitres, not in spoons or cups."""
    unit = amount.unit
    return unit is not None and unit.weighs and unit.name not in ("tsp", "tbsp", "cup")
