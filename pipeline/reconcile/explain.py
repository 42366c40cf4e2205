"""Which slips best explain all stated numbers at once.

Every candidate slip says what would have been published; the stated numbers are then more or less
likely under the doubt about grams and foods, the noise between two food tables and the rounding.
Belief in a slip is its prior (shared/slip_priors.csv) times that likelihood, over all candidates of
the recipe and "none of them". Candidates of one kind and line are one explanation. Where a single
slip explains only part, two at once are tried. The steps: ``cases`` (the numbers as arrays),
``line_slips`` and ``number_slips``
(one table of candidates), ``score`` (belief), ``pairs``, ``sentences``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from pipeline.nutrients import BY_TAG
from pipeline.reconcile.candidates import candidates
from pipeline.reconcile.cases import Cases, read_cases
from pipeline.reconcile.foods import Foods, load_foods
from pipeline.reconcile.model import KCAL
from pipeline.reconcile.pairs import pairs_of
from pipeline.reconcile.score import Beliefs, believe, score, score_pairs
from pipeline.reconcile.sentences import none_found, sentence
from pipeline.reconcile.slips import KINDS, Slips, transformed
from pipeline.tables import EXPLANATION

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.compute import Computation
    from pipeline.reconcile.cases import Ints
    from pipeline.reconcile.model import Vector

#: Recipes whose candidates are built and scored together: some hundred candidates each, of 1 kB.
TOGETHER = 64

#: Pairs are tried where no single slip is believed more than this, or its misfit a number given is
#: larger than that.
_SURE, _PART_ONLY = 0.5, 4.0

_NUMBERS = ("kcal", "protein_g", "carbs_g", "fat_g", "fiber_g")


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What the search found.

    Attributes:
        explanation: see ``explanations``.
        honest: recipe_id, honest: belief that the stated numbers, all together, are an honest sum
            of these lines, with even odds before they are seen.
    """

    explanation: pd.DataFrame
    honest: pd.DataFrame


def diagnose(
    con: duckdb.DuckDBPyConnection,
    computation: Computation,
    verdict: pd.DataFrame,
    stated: pd.DataFrame,
    runner_up: pd.DataFrame | None = None,
    *,
    pantry_nutrient: pd.DataFrame | None = None,
    foods: Foods | None = None,
    adjusted: pd.DataFrame | None = None,
    top: int = 5,
    least: float = 0.005,
) -> Diagnosis:
    """Search the likeliest slips of each recipe that does not agree, and how likely there is none.

    Args:
        con: a connection to the snapshot; only read when ``foods`` is not given.
        computation: of the compute stage.
        verdict: recipe_id, verdict; recipes that disagree or are uncertain are searched.
        stated: STATED.
        runner_up: RUNNER_UP; those near in profile stand among the candidates for another product.
        pantry_nutrient: FOOD_NUTRIENT rows of the creator's own foods.
        foods: of ``load_foods``, to be used again.
        adjusted: what some lines bring in truth, see ``with_lines``: slips are searched given it.
        top: at most so many explanations a recipe.
        least: explanations less likely than this are left out, but never the first.
    """
    import pandas as pd

    chosen = verdict.loc[verdict["verdict"].isin(["disagrees", "uncertain"]), "recipe_id"].tolist()
    rows: list[dict[str, object]] = []
    honest: list[tuple[str, float]] = []
    if chosen:
        foods = (foods or load_foods(con, pantry_nutrient)).in_convention(computation.convention)
        if adjusted is not None and len(adjusted):
            computation = with_lines(computation, adjusted)
        for start in range(0, len(chosen), TOGETHER):
            part = chosen[start : start + TOGETHER]
            cases = read_cases(computation, stated, runner_up, foods, part)
            if len(cases):
                found = _search(cases, foods)
                rows += _rows(cases, foods, found, top, least)
                honest += zip(cases.recipe_id, found.beliefs.honest.tolist(), strict=True)
    frame = pd.DataFrame(rows, columns=[*EXPLANATION, "basis", "misfit"])
    types = {"line_no": "Int64", "rank": "int64", "probability": "float64", "misfit": "float64"}
    return Diagnosis(frame.astype(types), pd.DataFrame(honest, columns=["recipe_id", "honest"]))


def explanations(
    con: duckdb.DuckDBPyConnection,
    computation: Computation,
    verdict: pd.DataFrame,
    stated: pd.DataFrame,
    runner_up: pd.DataFrame | None = None,
    *,
    pantry_nutrient: pd.DataFrame | None = None,
    foods: Foods | None = None,
    adjusted: pd.DataFrame | None = None,
    top: int = 5,
) -> pd.DataFrame:
    """The likeliest slips of each recipe that does not agree, best first.

    Arguments as ``diagnose``.

    Returns:
        EXPLANATION, then ``basis`` and ``misfit``: one row a (recipe_id, kind, line_no), ``rank``
        from 1, ``probability`` over the candidates (sums to 1 before the cut), ``detail`` one
        sentence with the numbers, then what the slip would have published, per the stated basis.
        ``line_no`` is missing for kinds without a line.
    """
    return diagnose(
        con, computation, verdict, stated, runner_up,
        pantry_nutrient=pantry_nutrient, foods=foods, adjusted=adjusted, top=top,
    ).explanation  # fmt: skip


def with_lines(computation: Computation, adjusted: pd.DataFrame) -> Computation:
    """The same sums with other values for some lines.

    Args:
        computation: of the compute stage.
        adjusted: recipe_id, line_no and columns of ``nutrients.NUTRIENTS`` (kcal, protein_g ...):
            what each line brings to the whole recipe instead; NaN leaves a value as it was.

    Returns:
        Lines, totals and computed amounts moved by the differences; the spreads stay.

    Raises:
        KeyError: a line is not among those of the computation.
    """
    key = ["recipe_id", "line_no"]
    line = computation.line_value.set_index(key)
    other = adjusted.set_index(key)
    missing = other.index.difference(line.index)
    if len(missing):
        raise KeyError(f"lines that are not in the computation: {list(missing)[:5]}")
    columns = [n.column for n in BY_TAG.values() if n.column in other.columns]
    before = line.loc[other.index, columns]
    after = other[columns].where(other[columns].notna(), before)
    line.loc[other.index, columns] = after
    moved = (after.fillna(0.0) - before.fillna(0.0)).groupby(level="recipe_id").sum()
    tag_of = {n.column: n.tag for n in BY_TAG.values()}
    change = moved.rename(columns=tag_of).stack()
    frames = []
    for table in (computation.total, computation.computed):
        at = list(zip(table["recipe_id"], table["nutrient"], strict=True))
        by = change.reindex(at).fillna(0.0).to_numpy(dtype=float)
        frames.append(
            table.assign(**{c: (table[c] + by).clip(lower=0) for c in ("amount", "low", "high")})
        )
    return replace(computation, line_value=line.reset_index(), total=frames[0], computed=frames[1])


# --- the search ---------------------------------------------------------------------------------


@dataclass(slots=True)
class _Found:
    """All candidates of a batch: single slips, then pairs of them."""

    singles: Slips
    first: Ints  # row of singles a candidate belongs to; pairs behind the singles
    second: Ints  # row of singles of a second slip, -1 for none
    misfit: Vector
    beliefs: Beliefs


def _search(cases: Cases, foods: Foods) -> _Found:
    singles, right = candidates(cases, foods)
    log, misfit = np.full(len(singles), -math.inf), np.full(len(singles), math.inf)
    log[right], misfit[right] = score(cases, singles.take(right))
    alone = believe(cases, singles.recipe, singles.kind, log)
    first = np.arange(len(singles))
    second = np.full(len(singles), -1, dtype=np.int64)
    open_ = _explained_in_part(cases, singles, alone, misfit)
    one, two = pairs_of(cases, singles, np.flatnonzero(open_))
    if len(one):
        pairs = score_pairs(cases, singles, one, two)
        # the slip that is likelier by itself is named first, unless the other scales the whole
        turn = (alone.belief[two] > alone.belief[one]) & (singles.line[one] >= 0)
        first = np.concatenate([first, np.where(turn, two, one)])
        second = np.concatenate([second, np.where(turn, one, two)])
        log = np.concatenate([log, pairs.log])
        misfit = np.concatenate([misfit, pairs.misfit])
    beliefs = believe(cases, singles.recipe[first], singles.kind[first], log)
    return _Found(singles, first, second, misfit, beliefs)


def _explained_in_part(
    cases: Cases, singles: Slips, alone: Beliefs, misfit: Vector
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Recipes whose best single slip is not believed or leaves much of the numbers open."""
    best = np.zeros(len(cases))
    np.maximum.at(best, singles.recipe, alone.belief)
    is_best = alone.belief >= best[singles.recipe] - 1e-12
    left = np.full(len(cases), math.inf)
    np.minimum.at(left, singles.recipe[is_best], misfit[is_best])
    numbers = np.maximum(cases.given.sum(axis=1), 1)
    return np.asarray((alone.free > _SURE) | (left > _PART_ONLY * numbers), dtype=np.bool_)


# --- the rows -----------------------------------------------------------------------------------


def _rows(
    cases: Cases, foods: Foods, found: _Found, top: int, least: float
) -> list[dict[str, object]]:
    """Rows of the explanation table; candidates of one kind and line are one row."""
    belief = found.beliefs.belief
    kept = np.flatnonzero(belief > 0)
    singles = found.singles
    recipe, at = singles.recipe[found.first[kept]], found.first[kept]
    key = np.stack([recipe, singles.kind[at], singles.line[at]])
    groups, of = np.unique(key, axis=1, return_inverse=True)
    of = of.ravel()
    summed = np.bincount(of, weights=belief[kept], minlength=groups.shape[1])
    best = np.zeros(groups.shape[1], dtype=np.int64)
    order = np.argsort(belief[kept], kind="stable")
    best[of[order]] = kept[order]  # the last written is the likeliest
    out: list[dict[str, object]] = []
    for n in range(len(cases)):
        mine = np.flatnonzero(groups[0] == n)
        every = np.append(summed[mine], found.beliefs.free[n])
        ranked = np.argsort(-every, kind="stable")[:top]
        for rank, choice in enumerate(ranked.tolist(), start=1):
            if rank > 1 and every[choice] < least:
                break
            candidate = int(best[mine[choice]]) if choice < len(mine) else -1
            row = _row(cases, foods, found, n, candidate)
            out.append({"recipe_id": cases.recipe_id[n], "rank": rank,
                        "probability": float(every[choice]), **row})  # fmt: skip
    return out


def _row(
    cases: Cases, foods: Foods, found: _Found, recipe: int, candidate: int
) -> dict[str, object]:
    nothing = math.nan
    if candidate < 0:
        return {
            "kind": "none_found", "line_no": None, "detail": none_found(cases, recipe),
            **dict.fromkeys(_NUMBERS, nothing), "basis": cases.basis[recipe], "misfit": nothing,
        }  # fmt: skip
    row, second = int(found.first[candidate]), int(found.second[candidate])
    singles = found.singles
    shown = _published(cases, singles, row, second)
    line = int(singles.line[row])
    return {
        "kind": KINDS[singles.kind[row]],
        "line_no": cases.lines.line_no[line] if line >= 0 else None,
        "detail": sentence(cases, foods, singles, row, second, shown),
        **{name: float(shown[n]) for n, name in enumerate(_NUMBERS)},
        "basis": cases.basis[recipe],
        "misfit": float(found.misfit[candidate]),
    }


def _published(cases: Cases, singles: Slips, row: int, second: int) -> Vector:
    """What the slip, or both, would have put in print, (tags,)."""
    one = singles.take(np.array([row]))
    recipe = int(one.recipe[0])
    if second >= 0:
        two = singles.take(np.array([second]))
        scale = one.scale[0] * two.scale[0]
        change = two.change[0] * one.scale[0] + one.change[0] * two.scale[0]
    else:
        scale, change = one.scale[0], one.change[0]
    before = np.maximum(scale * cases.amount[recipe] + change, 0.0)
    shown = transformed(before[None], one.transform)[0]
    if one.no_energy[0]:
        shown[KCAL] = cases.stated[recipe, KCAL]
    if one.typed_at[0] >= 0:
        shown[one.typed_at[0]] = cases.stated[recipe, one.typed_at[0]]
    return np.asarray(shown, dtype=np.float64)


__all__ = ["Diagnosis", "Foods", "diagnose", "explanations", "load_foods", "with_lines"]
