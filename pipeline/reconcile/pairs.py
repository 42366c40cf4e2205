"""Two slips at once, where a single one explains only part of what is stated."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from pipeline.reconcile.candidates import reach
from pipeline.reconcile.cases import LEAST_AMOUNT
from pipeline.reconcile.model import KCAL
from pipeline.reconcile.slips import LINE_KINDS, SCALE_KINDS, Slips

if TYPE_CHECKING:
    from pipeline.reconcile.arrays import Ints, Matrix, Vector
    from pipeline.reconcile.cases import Cases

#: Candidates a recipe that may be one of two, and pairs a recipe that are scored in full.
_SINGLES, _PAIRS = 120, 60

#: Width of the rough look at pairs, as a share of what they predict.
_ROUGH = 0.04

#: Pairs that are looked at together, those that the limits exclude included; 1 byte each.
_AT_ONCE = 100_000

#: Share by which a limit may be passed: sums of the same numbers differ in their last digits.
_SLACK = 1e-9


def pairs_of(cases: Cases, found: Slips, recipes: Ints) -> tuple[Ints, Ints]:
    """The likeliest pairs of slips of these recipes, as two rows of ``found`` each.

    The second is in a line, the first in another line or in the whole. A pair has to lie nearer to
    every stated number than the lines do; a single slip of it need not. What the second slip may
    bring at least and at most follows from the first: pairs outside of that are never built.

    Args:
        found: single slips, those that point away included.
        recipes: rows of ``cases``.
    """
    wanted = np.zeros(len(cases), dtype=np.bool_)
    wanted[recipes] = True
    may = np.flatnonzero(wanted[found.recipe] & np.isin(found.kind, (*LINE_KINDS, *SCALE_KINDS)))
    may = may[np.lexsort((-found.log_prior[may], found.recipe[may]))]
    may = may[_rank(found.recipe[may]) < _SINGLES]
    if not len(may):
        return np.empty(0, np.int64), np.empty(0, np.int64)
    mine = found.take(may)
    low, high = _limits(cases, mine)
    parts = [_within(mine, rows, low, high) for rows in _batches(mine)]
    one, two = (np.concatenate(column) for column in zip(*parts, strict=True))
    best = _best(mine.recipe[one], one, two, _rough(cases, mine, one, two))
    return may[one[best]], may[two[best]]


def _rank(ordered: Ints) -> Ints:
    """Place of each row among the rows of its value; equal values stand together."""
    start = np.flatnonzero(np.append(True, ordered[1:] != ordered[:-1])[: len(ordered)])
    size = np.diff(np.append(start, len(ordered)))
    return np.asarray(np.arange(len(ordered)) - np.repeat(start, size), dtype=np.int64)


def _limits(cases: Cases, mine: Slips) -> tuple[Matrix, Matrix]:
    """Change that a second slip has to bring beside each slip, at least and at most, (tags, slips)."""
    base, scale = cases.mean[mine.recipe], mine.scale[:, None]
    lowest, highest = (side[mine.recipe] for side in reach(cases))
    slack = _SLACK * (1 + np.abs(base) + np.abs(mine.change))
    lowest = np.maximum(lowest, 0.0)  # no sum of two slips is less
    low, high = ((side - mine.change) / scale - base for side in (lowest, highest))
    return np.ascontiguousarray((low - slack).T), np.ascontiguousarray((high + slack).T)


def _batches(mine: Slips) -> list[Ints]:
    """Rows of ``mine`` in blocks (recipes, slips), padded with -1; recipes of like size together.

    Slips in the whole stand first among those of a recipe: they are made after those in its lines,
    whichever is the likelier.
    """
    in_order = np.lexsort((~np.isin(mine.kind, SCALE_KINDS), mine.recipe))
    start = np.flatnonzero(np.append(True, np.diff(mine.recipe) > 0))
    size = np.diff(np.append(start, len(mine)))
    order = np.argsort(size, kind="stable")
    blocks = np.cumsum(size[order] ** 2) // _AT_ONCE
    out = []
    for some in np.split(order, np.flatnonzero(np.diff(blocks)) + 1):
        column = np.arange(size[some].max())
        rows = in_order[np.minimum(start[some][:, None] + column, len(mine) - 1)]
        out.append(np.where(column < size[some][:, None], rows, -1))
    return out


def _within(mine: Slips, rows: Ints, low: Matrix, high: Matrix) -> tuple[Ints, Ints]:
    """Pairs of one block whose second slip lies within the limits of the first.

    Args:
        rows: of ``_batches``.
        low, high: (tags, slips), of ``_limits``.
    """
    second = (rows >= 0) & np.isin(mine.kind[rows], LINE_KINDS)
    brings = np.where(second, mine.change[rows, KCAL], math.nan)[:, None, :]
    may = brings >= np.where(rows >= 0, low[KCAL, rows], math.nan)[:, :, None]
    may &= brings <= high[KCAL, rows][:, :, None]
    column = np.arange(rows.shape[1])
    may &= column[:, None] < column
    first, other = np.divmod(np.flatnonzero(may), rows.shape[1])
    one = rows.ravel()[first]
    two = rows.ravel()[first // rows.shape[1] * rows.shape[1] + other]
    apart = mine.line[one] != mine.line[two]
    one, two = one[apart], two[apart]
    for tag in range(KCAL + 1, len(low)):
        brought = mine.change[:, tag].take(two)
        near = (brought >= low[tag].take(one)) & (brought <= high[tag].take(one))
        kept = np.flatnonzero(near)
        one, two = one.take(kept), two.take(kept)
    return one, two


def _rough(cases: Cases, mine: Slips, one: Ints, two: Ints) -> Vector:
    """A rough look at each pair, less is likelier."""
    recipe = mine.recipe[one]
    scale, rough = mine.scale[one], np.zeros(len(one))
    for tag in np.flatnonzero(cases.given.any(axis=0)):  # one number at a time stays in the cache
        change = mine.change[:, tag]
        mean = scale * (cases.mean[:, tag].take(recipe) + change.take(two)) + change.take(one)
        off = cases.stated[:, tag].take(recipe) - mean
        off /= np.maximum(_ROUGH * np.abs(mean), 0.5 * LEAST_AMOUNT[tag])
        rough += np.where(cases.given[:, tag].take(recipe), off, 0.0) ** 2
    return np.asarray(rough - 2 * (mine.log_prior[one] + mine.log_prior[two]), dtype=np.float64)


def _best(recipe: Ints, one: Ints, two: Ints, rough: Vector) -> Ints:
    """The ``_PAIRS`` likeliest of each recipe; of equal ones those of the likelier slips."""
    key = recipe.astype(np.uint64) << 32 | rough.astype(np.float32).view(np.uint32)  # none below 0
    ordered = np.append(np.sort(key), np.uint64(2**64 - 1))
    start = np.searchsorted(ordered, np.arange(recipe.max(initial=0) + 2, dtype=np.uint64) << 32)
    last = ordered[np.minimum(start[:-1] + _PAIRS, start[1:]) - 1]
    near = np.flatnonzero(key <= last[recipe])
    likelier, other = np.minimum(one[near], two[near]), np.maximum(one[near], two[near])
    near = near[np.lexsort((other, likelier, rough[near], recipe[near]))]
    return near[_rank(recipe[near]) < _PAIRS]
