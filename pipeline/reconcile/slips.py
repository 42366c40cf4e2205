"""The table of slips: one row per candidate, and the numbers each would have published."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from pipeline.reconcile.model import (
    ATWATER,
    CARBS,
    FAT,
    FIBRE,
    KCAL,
    KJ_PER_KCAL,
    PROTEIN,
    SODIUM,
    TAGS,
    Matrix,
    Vector,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from pipeline.reconcile.arrays import Ints
    from pipeline.reconcile.cases import Cases

#: Kinds by their code in the table of candidates; ``honest`` is no slip.
KINDS = (
    "honest", "line_left_out", "line_doubled", "unit_slip", "amount_slip", "raw_cooked_slip",
    "product_variant",
    "servings_slip", "per_100g_stated_as_serving", "macros_swapped", "kilojoules_as_kcal",
    "energy_not_following_macros", "macro_not_following", "net_carbs_stated", "fibre_in_carbs", "digits_transposed",
    "sodium_unit_slip",
)  # fmt: skip
CODE = {kind: n for n, kind in enumerate(KINDS)}
HONEST = CODE["honest"]
#: Slips in the sums: a second one may have been made beside them.
LINE_KINDS = tuple(CODE[k] for k in (
    "line_left_out", "line_doubled", "unit_slip", "amount_slip", "raw_cooked_slip",
    "product_variant",
))  # fmt: skip
SCALE_KINDS = tuple(CODE[k] for k in ("servings_slip", "per_100g_stated_as_serving"))

#: What happens to the finished numbers, by code; each is a matrix on (tags,) in ``transforms``.
(
    PLAIN, SWAP_PC, SWAP_CF, SWAP_PF, KILOJOULES, LESS_FIBRE, LESS_FIBRE_2, LESS_FIBRE_4, MORE_FIBRE,
    SODIUM_GRAMS, SALT_GRAMS, SALT, GENERAL_FACTORS,
) = range(13)  # fmt: skip
#: Sodium in another unit or as salt: what stands there of 1 mg sodium, and belief in each. Salt is
#: sodium times 2.5 (Regulation (EU) No 1169/2011, Annex I).
SODIUM_WAYS = ((SODIUM_GRAMS, 0.001, 0.45), (SALT_GRAMS, 0.0025, 0.35), (SALT, 2.5, 0.2))
SWAPS = ((SWAP_PC, PROTEIN, CARBS), (SWAP_CF, CARBS, FAT), (SWAP_PF, PROTEIN, FAT))
#: kcal a gram of fibre taken out of the energy with it, and belief in each.
LESS_FIBRE_WAYS: tuple[tuple[int, float, float], ...] = (
    (LESS_FIBRE, 0.0, 0.7),
    (LESS_FIBRE_4, 4.0, 0.15),
    (LESS_FIBRE_2, 2.0, 0.15),
)


@dataclass(slots=True)
class Slips:
    """Candidates, column by column; every array has one row per candidate.

    Attributes:
        recipe: row of ``Cases``.
        line: row of its lines, -1 for none.
        kind: index into ``KINDS``.
        log_prior: log belief before the numbers are seen.
        scale: factor on the whole recipe.
        change: (n, tags) added to the scaled mean.
        line_cov: how often the covariance of the line is added (-1: the line is not there).
        value: (n, tags) what stands in place of the line ...
        value_var: ... and its relative variance.
        transform: what happens to the finished numbers, see ``transforms``.
        typed_at, typed: index of the number that was mistyped, and what was meant; -1 for none.
        aside: index of the number that follows nothing and is not compared; -1 for none.
        parameter, other: what the sentence names: factor, count or share; a row of foods, a unit
            slip or a way of typing.
    """

    recipe: Ints
    line: Ints
    kind: Ints
    log_prior: Vector
    scale: Vector
    change: Matrix
    line_cov: Vector
    value: Matrix
    value_var: Vector
    transform: Ints
    typed_at: Ints
    typed: Vector
    aside: Ints
    parameter: Vector
    other: Ints

    def __len__(self) -> int:
        return len(self.recipe)

    def take(self, rows: Ints) -> Slips:
        """The candidates of these rows."""
        return Slips(*(getattr(self, f.name).take(rows, axis=0) for f in fields(self)))

    @staticmethod
    def together(parts: Sequence[Slips]) -> Slips:
        """One table of several."""
        return Slips(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Slips)))


def slips(
    cases: Cases, recipe: Ints, kind: str | Ints, prior: Vector, **columns: NDArray[np.generic]
) -> Slips:
    """A table of candidates; columns that are not given are those of no slip."""
    n = len(recipe)
    code = np.full(n, CODE[kind], dtype=np.int64) if isinstance(kind, str) else kind
    nothing = np.zeros((n, cases.mean.shape[1]))
    filled: dict[str, NDArray[np.generic]] = {
        "line": np.full(n, -1, dtype=np.int64), "scale": np.ones(n), "change": nothing,
        "line_cov": np.zeros(n), "value": nothing, "value_var": np.zeros(n),
        "transform": np.full(n, PLAIN, dtype=np.int64), "typed_at": np.full(n, -1, dtype=np.int64),
        "typed": np.zeros(n), "aside": np.full(n, -1, dtype=np.int64), "parameter": np.zeros(n),
        "other": np.full(n, -1, dtype=np.int64), **columns,
    }  # fmt: skip
    log_prior = np.log(np.maximum(prior, 1e-300))
    return Slips(recipe=recipe, kind=code, log_prior=log_prior, **filled)  # type: ignore[arg-type]


@cache
def transforms() -> NDArray[np.float64]:
    """(13, tags, tags): what each transform does to the numbers."""
    out = np.tile(np.eye(len(TAGS)), (13, 1, 1))
    out[GENERAL_FACTORS, KCAL] = ATWATER
    for code, factor, _ in SODIUM_WAYS:
        out[code, SODIUM, SODIUM] = factor
    for code, a, b in SWAPS:
        out[code][[a, b]] = out[code][[b, a]]
    out[KILOJOULES, KCAL, KCAL] = KJ_PER_KCAL
    for code, kcal_per_g, _ in LESS_FIBRE_WAYS:
        out[code, CARBS, FIBRE] = -1.0
        out[code, KCAL, FIBRE] = -kcal_per_g
    out[MORE_FIBRE, CARBS, FIBRE] = 1.0
    return out


def _transforms(transform: Ints, mean: Matrix) -> NDArray[np.float64]:
    """(n, tags, tags): the transforms of these codes on as many tags as ``mean`` has."""
    tags = mean.shape[1]
    return transforms()[transform, :tags, :tags]


def predicted(cases: Cases, found: Slips) -> Matrix:
    """(n, tags): the numbers each slip would have published, typing slips apart."""
    return transformed(
        found.scale[:, None] * cases.mean[found.recipe] + found.change, found.transform
    )


def predicted_sums(cases: Cases, found: Slips, first: Ints, second: Ints | None = None) -> Matrix:
    """(n, tags): the sums with these slips, or with two at once; the second is made first."""
    before = cases.mean.take(found.recipe[first], axis=0)
    if second is not None:
        before += found.change.take(second, axis=0)
    out = found.scale[first, None] * before + found.change.take(first, axis=0)
    return out if second is None else np.maximum(out, 0.0)


def transformed(mean: Matrix, transform: Ints) -> Matrix:
    """Means after what happens to the finished numbers."""
    out = mean.copy()
    rows = np.flatnonzero(transform != PLAIN)
    out[rows] = np.einsum("nij,nj->ni", _transforms(transform[rows], mean), mean[rows])
    return out


def spread(
    cases: Cases, found: Slips, first: Ints, second: Ints | None, *, whole: bool
) -> NDArray[np.float64]:
    """Covariance of the sums with slips of ``found``, (n, tags, tags), or its diagonal, (n, tags).

    Args:
        first, second: as in ``predicted_sums``.
        whole: not the diagonal alone.
    """
    used, place = first, np.arange(len(first))
    if second is not None:  # a slip is one of many pairs
        used, place = np.unique(np.concatenate([first, second]), return_inverse=True)
    value = found.value.take(used, axis=0)
    change = found.value_var[used, None] * value
    change = change[:, :, None] * value[:, None, :] if whole else change * value
    of_lines, of_recipes = (
        cov if whole else np.ascontiguousarray(np.einsum("nii->ni", cov))
        for cov in (cases.lines.cov, cases.cov)
    )
    change += _rows(found.line_cov[used], change) * of_lines[found.line[used]]
    out = of_recipes.take(found.recipe[first], axis=0)
    if second is not None:
        out += change.take(place[len(first) :], axis=0)
    rows = np.flatnonzero(found.scale[first] != 1)
    out[rows] *= _rows(found.scale[first[rows]], out) ** 2
    out += change if second is None else change.take(place[: len(first)], axis=0)
    return np.asarray(out, dtype=np.float64)


def _rows(factors: Vector, like: NDArray[np.float64]) -> NDArray[np.float64]:
    """One factor a row, to be multiplied with an array like this."""
    return factors.reshape(-1, *(1,) * (like.ndim - 1))


def finish(cov: NDArray[np.float64], mean: Matrix, transform: Ints) -> None:
    """Let ``cov`` undergo what happens to the finished numbers.

    Args:
        cov: (n, tags, tags) of the sums; changed.
        mean: (n, tags) of the sums, before the transform.
        transform: (n,).
    """
    rows = np.flatnonzero(transform != PLAIN)
    take = _transforms(transform[rows], mean)
    cov[rows] = take @ cov[rows] @ take.transpose(0, 2, 1)
    kilojoules = np.flatnonzero(transform == KILOJOULES)
    own_factors = 0.01 * mean[kilojoules, KCAL] * KJ_PER_KCAL  # kJ has its own macro factors
    cov[kilojoules, KCAL, KCAL] += own_factors**2
