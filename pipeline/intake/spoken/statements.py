"""What several statements of numbers are to one another: of one recipe, in a row, a sum, a share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from pipeline.intake.spoken.totals import ENERGY, Total

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
