"""What a slip is called in a sentence, with the numbers it would have published."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.reconcile.digits import WAYS
from pipeline.reconcile.line_slips import unit_readings
from pipeline.reconcile.model import CARBS, KCAL, KJ_PER_KCAL, SODIUM, WORDS, Vector
from pipeline.reconcile.slips import (
    KINDS,
    LINE_KINDS,
    SALT,
    SALT_GRAMS,
    SODIUM_GRAMS,
    SWAP_CF,
    SWAP_PC,
    SWAP_PF,
)

if TYPE_CHECKING:
    from pipeline.reconcile.cases import Cases
    from pipeline.reconcile.foods import Foods
    from pipeline.reconcile.slips import Slips

PER = {"per_serving": "a serving", "per_recipe": "the whole recipe", "per_100g": "100 g"}
_SWAPPED = {
    SWAP_PC: "protein and carbohydrate", SWAP_CF: "carbohydrate and fat",
    SWAP_PF: "protein and fat",
}  # fmt: skip
_SODIUM = {
    SODIUM_GRAMS: "in grams and not in milligrams", SALT_GRAMS: "salt in grams", SALT: "salt",
}  # fmt: skip

#: Words of the numbers where carbohydrate is stated without fibre.
_NET_WORDS = (*WORDS[:CARBS], "g net carbohydrate", *WORDS[CARBS + 1 :])


def stated_words(cases: Cases, recipe: int) -> str:
    """What a recipe states, as the sentences about it end."""
    return f"stated are {_numbers(cases, recipe, cases.stated[recipe])}"


def sentence(
    cases: Cases, foods: Foods, found: Slips, row: int, second: int, shown: Vector, stated: str
) -> str:
    """One explanation in one sentence.

    Args:
        row: row of ``found``.
        second: row of a slip made beside it, -1 for none.
        shown: (tags,), what would have been published.
        stated: of ``stated_words``.
    """
    recipe, kind = int(found.recipe[row]), KINDS[found.kind[row]]
    would = f"{PER[cases.basis[recipe]]} would have {_numbers(cases, recipe, shown)}"
    mean = cases.amount[recipe]
    both = f", and {_clause(cases, foods, found, second)}" if second >= 0 else ""
    if found.kind[row] in LINE_KINDS or kind == "servings_slip":
        return f"If {_clause(cases, foods, found, row)}{both}, {would}; {stated}."
    if kind == "per_100g_stated_as_serving":
        return (
            f"If the numbers were those of 100 g (at {found.parameter[row]:.0f} g a serving){both}, "
            f"they would be {_numbers(cases, recipe, shown)}; {stated}."
        )
    if kind == "macros_swapped":
        swapped = _SWAPPED[int(found.other[row])]
        return (
            f"With {swapped} exchanged, the lines give {_numbers(cases, recipe, shown)}; {stated}."
        )
    if kind == "digits_transposed":
        at = int(found.typed_at[row])
        how = WAYS[int(found.other[row])]
        return (
            f"A typing slip: {found.typed[row]:g} {WORDS[at]} became "
            f"{cases.stated[recipe, at]:g}: {how}; the lines give {_numbers(cases, recipe, mean)}."
        )
    if kind == "kilojoules_as_kcal":
        return (
            f"The energy is in kilojoules: the lines give {mean[KCAL]:.0f} kcal, which are "
            f"{mean[KCAL] * KJ_PER_KCAL:.0f} kJ; stated are {cases.stated[recipe, KCAL]:.0f} kcal."
        )
    if kind == "sodium_unit_slip":
        unit = _SODIUM[int(found.other[row])]
        return (
            f"The sodium is {unit}: the lines give {mean[SODIUM]:.0f} mg sodium, which would be "
            f"{shown[SODIUM]:.3g} so; stated are {cases.stated[recipe, SODIUM]:g} mg."
        )
    if kind == "energy_not_following_macros":
        return (
            f"The macros fit the lines and the energy does not: the lines give "
            f"{mean[KCAL]:.0f} kcal, stated are {cases.stated[recipe, KCAL]:.0f} kcal."
        )
    if kind == "macro_not_following":
        at = int(found.aside[row])
        unit, _, name = WORDS[at].partition(" ")
        return (
            f"The other numbers fit the lines and the {name} does not: the lines give "
            f"{mean[at]:.{0 if mean[at] >= 10 else 1}f} {unit}, stated are "
            f"{cases.stated[recipe, at]:g} {unit}."
        )
    net = kind == "net_carbs_stated"
    without, with_, other = (
        ("without", "with it", "without") if net else ("with", "without it", "with it")
    )
    return (
        f"The carbohydrate is stated {without} its {found.parameter[row]:.1f} g fibre: the lines "
        f"give {mean[CARBS]:.0f} g {with_} and {shown[CARBS]:.0f} g {other}; stated are "
        f"{cases.stated[recipe, CARBS]:g} g."
    )


def none_found(cases: Cases, recipe: int, stated: str) -> str:
    """That no slip fits, with both sides."""
    lines = _numbers(cases, recipe, cases.amount[recipe])
    return f"No single slip fits: the lines give {lines}; {stated}."


def _numbers(cases: Cases, recipe: int, values: Vector) -> str:
    """ "409 kcal, 31 g protein ...": the numbers that are stated, and only those."""
    words = _NET_WORDS if cases.net[recipe] else WORDS
    return ", ".join(
        [
            f"{value:.{0 if j == KCAL or value >= 10 else 1}f} {words[j]}"
            for j, (given, value) in enumerate(
                zip(cases.given[recipe].tolist(), values.tolist(), strict=True)
            )
            if given
        ]
    )


def _grams(value: float) -> str:
    """ "about" in two figures: 163 is "160 g", 4.23 is "4.2 g"."""
    return f"{float(f'{value:.2g}'):.{0 if value >= 9.95 else 1}f} g"


def _clause(cases: Cases, foods: Foods, found: Slips, row: int) -> str:
    """A slip in the sums, as a clause behind "if"."""
    kind, line = KINDS[found.kind[row]], int(found.line[row])
    quoted = ""
    if line >= 0:
        quoted = f'line {cases.lines.line_no[line]} ("{cases.lines.text[line]}")'
    if kind == "unit_slip":
        unit, slip = unit_readings()[int(found.other[row])]
        return f"{quoted} had been read with {unit} counted as {slip.counted_as}"
    if kind == "amount_slip":
        recipe = int(found.recipe[row])
        per = cases.servings[recipe] if cases.basis[recipe] == "per_serving" else 1.0
        whole = cases.lines.grams[line] * per
        return f"{quoted} had been taken as {_grams(found.parameter[row] * whole)}, not {_grams(whole)}"
    if kind in ("raw_cooked_slip", "product_variant"):
        food = foods.variants.descriptions[int(found.other[row])]
        if kind == "raw_cooked_slip":
            return f'the grams of {quoted} had been looked up in "{food}"'
        return f'{quoted} had been looked up as "{food}"'
    if kind == "servings_slip":
        if cases.basis[int(found.recipe[row])] == "per_recipe":
            return "the totals had been the numbers of one serving stated for the whole recipe"
        servings = cases.servings[int(found.recipe[row])]
        return f"the totals had been divided by {found.parameter[row]:g} instead of {servings:g}"
    done = {"line_left_out": "left out", "line_doubled": "counted twice"}[kind]
    return f"{quoted} had been {done}"
