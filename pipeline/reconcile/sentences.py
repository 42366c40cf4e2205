"""What a slip is called in a sentence, with the numbers it would have published."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from pipeline.reconcile.digits import WAYS
from pipeline.reconcile.line_slips import unit_readings
from pipeline.reconcile.model import CARBS, KCAL, KJ_PER_KCAL, WORDS, Vector
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

#: ``other`` of a slip in words, for the kinds that use it.
_WHICH: dict[str, Mapping[int, str] | Sequence[str]] = {
    "macros_swapped": _SWAPPED, "digits_transposed": WAYS, "sodium_unit_slip": _SODIUM,
}  # fmt: skip

#: The sentence of each kind of slip in the numbers; the fields are those of :func:`sentence`.
_OF_NUMBERS = {
    "per_100g_stated_as_serving": (
        "If the numbers were those of 100 g (at {parameter:.0f} g a serving){both}, "
        "they would be {would_be}; {stated}."
    ),
    "macros_swapped": "With {which} exchanged, the lines give {would_be}; {stated}.",
    "digits_transposed": (
        "A typing slip: {typed:g} {typed_word} became {became:g}: {which}; the lines give {lines}."
    ),
    "kilojoules_as_kcal": (
        "The energy is in kilojoules: the lines give {sums[kcal]:.0f} kcal, which are {kj:.0f} kJ; "
        "stated are {was[kcal]:.0f} kcal."
    ),
    "sodium_unit_slip": (
        "The sodium is {which}: the lines give {sums[mg sodium]:.0f} mg sodium, which would be "
        "{would[mg sodium]:.3g} so; stated are {was[mg sodium]:g} mg."
    ),
    "energy_not_following_macros": (
        "The macros fit the lines and the energy does not: the lines give {sums[kcal]:.0f} kcal, "
        "stated are {was[kcal]:.0f} kcal."
    ),
    "macro_not_following": (
        "The other numbers fit the lines and the {aside} does not: the lines give {aside_sum} "
        "{aside_unit}, stated are {aside_was:g} {aside_unit}."
    ),
    "net_carbs_stated": (
        "The carbohydrate is stated without its {parameter:.1f} g fibre: the lines give "
        "{sums[g carbohydrate]:.0f} g with it and {would[g carbohydrate]:.0f} g without; "
        "stated are {was[g carbohydrate]:g} g."
    ),
    "fibre_in_carbs": (
        "The carbohydrate is stated with its {parameter:.1f} g fibre: the lines give "
        "{sums[g carbohydrate]:.0f} g without it and {would[g carbohydrate]:.0f} g with it; "
        "stated are {was[g carbohydrate]:g} g."
    ),
}

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
    given, mean, at = cases.stated[recipe], cases.amount[recipe], int(found.typed_at[row])
    both = f", and {_clause(cases, foods, found, second)}" if second >= 0 else ""
    would_be = _numbers(cases, recipe, shown)
    if found.kind[row] in LINE_KINDS or kind == "servings_slip":
        per = PER[cases.basis[recipe]]
        return (
            f"If {_clause(cases, foods, found, row)}{both}, {per} would have {would_be}; {stated}."
        )
    which = _WHICH[kind][int(found.other[row])] if kind in _WHICH else ""
    aside = int(found.aside[row])
    unit, _, name = WORDS[aside].partition(" ")
    sums, would, was = (dict(zip(WORDS, v.tolist(), strict=False)) for v in (mean, shown, given))
    return _OF_NUMBERS[kind].format(
        both=both, stated=stated, would_be=would_be, lines=_numbers(cases, recipe, mean),
        which=which, parameter=found.parameter[row], typed=found.typed[row], typed_word=WORDS[at],
        became=given[at], sums=sums, would=would, was=was, kj=mean[KCAL] * KJ_PER_KCAL,
        aside=name, aside_unit=unit, aside_was=given[aside],
        aside_sum=f"{mean[aside]:.{0 if mean[aside] >= 10 else 1}f}",
    )  # fmt: skip


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
        quoted = f'line {cases.lines.written_no[line]} ("{cases.lines.text[line]}")'
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
