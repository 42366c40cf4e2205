"""What several statements of numbers are to one another: of one recipe, in a row, a sum, a share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from pipeline.intake.spoken.stated import ENERGY, MACROS, Stated, Total, off

_ROW = 60  # words between two totals that stand in a row
_ROWS = 20  # totals of a row
_SHARED = 0.15  # by which a nutrient of a whole may miss those of its shares, beside rounding


def in_a_row(totals: Sequence[Total], weighs: Callable[[int, int], float]) -> list[Total]:
    """Totals of different recipes with no ingredients between them.

    Args:
        totals: of a script, in order.
        weighs: how much the foods of a stretch speak for a recipe.
    """
    out: list[Total] = []
    for before, after in pairwise(totals):
        near = after.start - before.end < _ROW and weighs(before.end, after.start) < 0.7
        if near and contradict(before, after):
            out += [before, after] if not out or out[-1] is not before else [after]
    return out[:_ROWS]


def contradict(a: Total, b: Total) -> bool:
    """Two full statements that differ in energy and more: of two recipes, unless one corrects."""
    if a.corrects or b.corrects or min(len(a.tags), len(b.tags)) < 3 or batch_and_share(a, b):
        return False
    one, two = a.values, b.values
    return sum(one[tag] != two[tag] for tag in one.keys() & two.keys()) >= 2


def is_sum(total: Total, of: Sequence[Total]) -> bool:
    """Every number of a total is the sum of those of others: "if you eat all three, 608 calories"."""
    whole, parts = total.values, [one.values for one in of]
    return ENERGY in whole and all(
        whole.keys() <= part.keys() for part in parts
    ) and all(
        abs(value - sum(part[tag] for part in parts)) <= len(parts) / 2 for tag, value in whole.items()
    )  # fmt: skip


def batch_and_share(a: Total, b: Total) -> bool:
    """Two energies of which one is a whole number of times the other."""
    one, two = a.values, b.values
    if ENERGY not in one or ENERGY not in two:
        return True
    whole, share = (one, two) if one[ENERGY] >= two[ENERGY] else (two, one)
    ratio = whole[ENERGY] / share[ENERGY] if share[ENERGY] else 0.0
    if any(
        abs(whole[tag] - ratio * share[tag]) > _SHARED * whole[tag] + ratio
        for tag in (whole.keys() & share.keys()) - {ENERGY}
    ):  # fmt: skip
        return False  # their other numbers are not in that ratio
    return ratio >= 1.8 and abs(ratio - round(ratio)) < 0.06


def said_last(totals: Sequence[Total]) -> list[Stated]:
    """The final figures of several statements of one recipe: a later number takes an earlier back.

    One number a (nutrient, basis). Where two energies of one basis are said, the later one stands.
    """
    kept: dict[tuple[str, str], Stated] = {}
    energies: dict[tuple[str, str], list[Stated]] = {}
    for total in totals:
        full = any(p.tag != ENERGY and p.basis == total.parts[0].basis for p in kept.values())
        energy: tuple[str, str] = (ENERGY, total.parts[0].basis or "per_serving")
        if full and total.tags == {ENERGY} and not total.corrects and energy in kept:
            continue  # "I ate five of them, that's 475"
        for part in sorted(total.parts, key=lambda p: p.start):
            key: tuple[str, str] = (part.tag, part.basis or "per_serving")
            kept[key] = part
            if part.tag == ENERGY:
                energies.setdefault(key, []).append(part)
    for key, said in energies.items():
        if len(said) > 1 and not any(t.corrects for t in totals):
            beside = {k.tag: k.value for k in kept.values() if (k.basis or "per_serving") == key[1]}
            kept[key] = _fitting(said, beside)
    return list(kept.values())


def plausible(totals: Sequence[Total]) -> dict[str, float]:
    """Nutrient → the final figure by which lines are judged: of a serving where one is stated,
    else of all that is made."""
    said = said_last(totals)
    of_all = {p.tag: p.value for p in said if p.basis == "per_recipe"}
    of_one = {p.tag: p.value for p in said if p.basis != "per_recipe"}
    return of_one if ENERGY in of_one or ENERGY not in of_all else of_all


def _fitting(energies: list[Stated], grams: dict[str, float]) -> Stated:
    """The last energy said, unless only an earlier one fits protein, carbohydrate and fat."""
    if not grams.keys() >= MACROS:
        return energies[-1]
    best = min(energies, key=lambda e: off(e.value, grams))
    fits = off(best.value, grams) < 0.12 and off(energies[-1].value, grams) > 0.3
    return best if fits else energies[-1]
