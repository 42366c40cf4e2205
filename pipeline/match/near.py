"""When two foods are the same answer as far as the numbers go."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from pipeline.match.columns import Floats, Ints

#: How near two foods must be to count as the same answer (per 100 g): 10 % or 8 kcal of energy,
#: 15 % or 1 g of protein. Common practice in dietary coding; no published source.
ENERGY_SHARE, ENERGY_KCAL, PROTEIN_SHARE, PROTEIN_G = 0.10, 8.0, 0.15, 1.0


def near(a: int, b: int, macros: Floats) -> bool:
    """True when two foods are the same answer as far as energy and protein go."""
    if a == b:
        return True
    if a < 0 or b < 0:
        return False
    kcal_a, kcal_b = float(macros[a, 0]), float(macros[b, 0])
    protein_a, protein_b = float(macros[a, 1]), float(macros[b, 1])
    if not all(map(math.isfinite, (kcal_a, kcal_b, protein_a, protein_b))):
        return False
    return abs(kcal_a - kcal_b) <= max(ENERGY_SHARE * kcal_a, ENERGY_KCAL) and abs(
        protein_a - protein_b
    ) <= max(PROTEIN_SHARE * protein_a, PROTEIN_G)


def near_each(a: Ints, b: Ints, macros: Floats) -> npt.NDArray[np.bool_]:
    """``near`` of many pairs of different foods; -1 is near to none."""
    kcal, protein = macros[:, 0], macros[:, 1]
    with np.errstate(invalid="ignore"):
        alike = (np.abs(kcal[a] - kcal[b]) <= np.maximum(ENERGY_SHARE * kcal[a], ENERGY_KCAL)) & (
            np.abs(protein[a] - protein[b]) <= np.maximum(PROTEIN_SHARE * protein[a], PROTEIN_G)
        )
    return np.asarray((a >= 0) & (b >= 0) & ((a == b) | alike), dtype=np.bool_)
