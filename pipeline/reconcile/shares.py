"""What every builder of slips asks: is a change visible, and what share of the belief is its own?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pipeline.reconcile.model import Matrix, Vector, priors

if TYPE_CHECKING:
    from pipeline.reconcile.arrays import Bools, Ints
    from pipeline.reconcile.cases import Cases


def visible(cases: Cases, recipe: Ints, change: Matrix) -> Bools:
    """Whether each change is large enough to be seen in any stated number."""
    least = cases.least.take(recipe, axis=0)
    return np.asarray((np.abs(change) >= least).any(axis=1), dtype=np.bool_)


def shared(cases: Cases, recipe: Ints, weight: Vector, kind: str, least: float = 1.0) -> Vector:
    """A kind's prior shared out over its candidates; rare readings stay rare when alone."""
    every = np.bincount(recipe, weights=weight, minlength=len(cases))
    return np.asarray(priors()[kind] * weight / np.maximum(every[recipe], least), dtype=np.float64)
