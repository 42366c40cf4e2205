"""Two slips at once, where a single one explains only part of what is stated."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pipeline.reconcile.candidates import towards
from pipeline.reconcile.cases import LEAST_AMOUNT
from pipeline.reconcile.slips import LINE_KINDS, SCALE_KINDS, Slips

if TYPE_CHECKING:
    from pipeline.reconcile.arrays import Ints
    from pipeline.reconcile.cases import Cases

#: Candidates a recipe that may be one of two, and pairs a recipe that are scored in full.
_SINGLES, _PAIRS = 60, 150

#: Width of the rough look at pairs, as a share of what they predict.
_ROUGH = 0.04


def pairs_of(cases: Cases, found: Slips, recipes: Ints) -> tuple[Ints, Ints]:
    """The likeliest pairs of slips of these recipes, as two rows of ``found`` each.

    The second is in a line, the first in another line or in the whole. A pair has to lie nearer to
    every stated number than the lines do; a single slip of it need not.

    Args:
        found: single slips, those that point away included.
        recipes: rows of ``cases``.
    """
    wanted = np.zeros(len(cases), dtype=np.bool_)
    wanted[recipes] = True
    may = np.flatnonzero(wanted[found.recipe] & np.isin(found.kind, (*LINE_KINDS, *SCALE_KINDS)))
    may = may[np.lexsort((-found.log_prior[may], found.recipe[may]))]
    starts = [0, *(np.flatnonzero(np.diff(found.recipe[may])) + 1).tolist()] if len(may) else []
    ends = [*starts[1:], len(may)]
    firsts, seconds = [], []
    for start, end in zip(starts, ends, strict=False):
        one, two = _best(cases, found, may[start : min(end, start + 4 * _SINGLES)])
        firsts.append(one)
        seconds.append(two)
    if not firsts:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    return np.concatenate(firsts), np.concatenate(seconds)


def _best(cases: Cases, found: Slips, rows: Ints) -> tuple[Ints, Ints]:
    """Pairs of one recipe, by a rough look at all of them."""
    recipe = int(found.recipe[rows[0]])
    a, b = np.triu_indices(len(rows), k=1)
    one, two = rows[a], rows[b]
    turn = np.isin(found.kind[two], SCALE_KINDS)  # the whole is scaled after its lines
    one, two = np.where(turn, two, one), np.where(turn, one, two)
    apart = (found.line[one] != found.line[two]) & np.isin(found.kind[two], LINE_KINDS)
    one, two = one[apart], two[apart]
    scale, change = found.scale[one][:, None], found.change
    stated, given = cases.stated[recipe], cases.given[recipe]
    mean = scale * (cases.mean[recipe, given] + change[two][:, given]) + change[one][:, given]
    off = (stated[given] - mean) / np.maximum(_ROUGH * np.abs(mean), 0.5 * LEAST_AMOUNT[given])
    rough = (off**2).sum(axis=1) - 2 * (found.log_prior[one] + found.log_prior[two])
    order = np.argsort(rough, kind="stable")
    kept = np.empty(0, np.int64)
    while len(order) and len(kept) < _PAIRS:  # few are asked before enough of them fit
        some, order = order[: 8 * _PAIRS], order[8 * _PAIRS :]
        first, second = one[some], two[some]
        whole = scale[some] * (cases.mean[recipe] + change[second]) + change[first]
        fits = (whole >= 0).all(axis=1)
        fits &= towards(cases, whole, found.recipe[first], found.kind[first])
        kept = np.append(kept, some[fits])
    kept = kept[:_PAIRS]
    return one[kept], two[kept]
