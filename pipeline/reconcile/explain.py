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
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from pipeline.reconcile.candidates import candidates
from pipeline.reconcile.cases import Cases, read_cases
from pipeline.reconcile.foods import Foods, load_foods
from pipeline.reconcile.pairs import pairs_of
from pipeline.reconcile.score import Beliefs, believe, free_density, score
from pipeline.reconcile.sentences import none_found, sentence, stated_words
from pipeline.reconcile.slips import KINDS, Slips, transformed
from pipeline.tables import EXPLANATION

if TYPE_CHECKING:
    import duckdb

    from pipeline.compute import Computation
    from pipeline.reconcile.arrays import Ints, Matrix, Vector

#: Recipes whose candidates are built and scored together: some hundred candidates each, of 0.3 kB.
TOGETHER = 256

#: Pairs are tried where no single slip is believed more than this, or its misfit a number given is
#: larger than that.
_SURE, _PART_ONLY = 0.5, 2.5

_NUMBERS = ("kcal", "protein_g", "carbs_g", "fat_g", "fiber_g")


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What the search found.

    Attributes:
        explanation: EXPLANATION, then ``basis`` and ``misfit``: the likeliest slips of each recipe
            that does not agree, one row per (recipe_id, kind, line_no), best first, ``rank`` from 1;
            ``probability`` over the candidates (before the cut, they and an honest sum of these
            lines come to 1), ``detail`` one sentence
            with the numbers, then what the slip would have published, per the stated basis;
            ``line_no`` is missing for kinds without a line.
        honest: recipe_id, honest, as_net: belief that the stated numbers, all together, are an
            honest sum of these lines, with even odds before they are seen; and the same of one
            with carbohydrate given without its fibre.
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
    top: int = 5,
    least: float = 0.005,
) -> Diagnosis:
    """Search the likeliest slips of each recipe that does not agree, and how likely there is none.

    Args:
        con: a connection to the snapshot; only read when ``foods`` is not given.
        verdict: recipe_id, verdict; recipes that disagree or are uncertain are searched.
        stated: STATED.
        runner_up: RUNNER_UP; those near in profile stand among the candidates for another product.
        pantry_nutrient: FOOD_NUTRIENT rows of the creator's own foods.
        foods: of ``load_foods``, to be used again.
        top: at most so many explanations a recipe.
        least: explanations less likely than this are left out, but never the first.
    """
    chosen = verdict.loc[verdict["verdict"].isin(["disagrees", "uncertain"]), "recipe_id"].tolist()
    found: list[pd.DataFrame] = []
    honest = []
    if len(chosen):
        foods = (foods or load_foods(con, pantry_nutrient)).in_convention(computation.convention)
        every = read_cases(computation, stated, runner_up, foods, chosen)
        for start in range(0, len(every), TOGETHER):
            cases = every.part(start, min(start + TOGETHER, len(every)))
            some = _search(cases, foods)
            found.append(_rows(cases, foods, some, top, least))
            honest.append(pd.DataFrame({
                "recipe_id": cases.recipe_id, "honest": some.beliefs.honest,
                "as_net": some.beliefs.as_net,
            }))  # fmt: skip
    nothing = pd.DataFrame(columns=[*EXPLANATION, "basis", "misfit"])
    frame = pd.concat(found, ignore_index=True) if found else nothing
    types = {"line_no": "Int64", "rank": "int64", "probability": "float64", "misfit": "float64"}
    return Diagnosis(
        frame.astype(types),
        pd.concat(honest, ignore_index=True) if honest
        else pd.DataFrame(columns=["recipe_id", "honest", "as_net"]),
    )  # fmt: skip


# --- the search ---------------------------------------------------------------------------------


@dataclass(slots=True)
class _Found:
    """All candidates of a batch: single slips, then pairs of them."""

    singles: Slips
    first: Ints  # row of singles a candidate belongs to; pairs after the singles
    second: Ints  # row of singles of a second slip, -1 for none
    misfit: Vector
    beliefs: Beliefs


def _search(cases: Cases, foods: Foods) -> _Found:
    singles, right = candidates(cases, foods)
    log, misfit = np.full(len(singles), -math.inf), np.full(len(singles), math.inf)
    log[right], misfit[right] = score(cases, singles, right)
    density = free_density(cases)
    alone = believe(cases, singles.recipe, singles.kind, log, density)
    first = np.arange(len(singles))
    second = np.full(len(singles), -1, dtype=np.int64)
    open_ = _explained_in_part(cases, singles, alone, misfit)
    one, two = pairs_of(cases, singles, np.flatnonzero(open_))
    if len(one):
        pairs = score(cases, singles, one, two)
        # the slip that is likelier by itself is named first, unless the other scales the whole
        turn = (alone.belief[two] > alone.belief[one]) & (singles.line[one] >= 0)
        first = np.concatenate([first, np.where(turn, two, one)])
        second = np.concatenate([second, np.where(turn, one, two)])
        log = np.concatenate([log, pairs.log])
        misfit = np.concatenate([misfit, pairs.misfit])
    beliefs = believe(cases, singles.recipe[first], singles.kind[first], log, density)
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


def _rows(cases: Cases, foods: Foods, found: _Found, top: int, least: float) -> pd.DataFrame:
    """The explanations kept; candidates of one kind and line are one row, ``none_found`` is one."""
    belief, singles = found.beliefs.belief, found.singles
    kept = np.flatnonzero(belief > 0)
    at = found.first[kept]
    key = (singles.recipe[at] * len(KINDS) + singles.kind[at]) * (len(cases.lines.text) + 1)
    _, start, of = np.unique(key + singles.line[at] + 1, return_index=True, return_inverse=True)
    summed = np.bincount(of, weights=belief[kept], minlength=len(start))
    best = np.zeros(len(start), dtype=np.int64)
    order = np.argsort(belief[kept], kind="stable")
    best[of[order]] = kept[order]  # the last written is the likeliest
    none = np.full(len(cases), -1, dtype=np.int64)
    recipe = np.concatenate([singles.recipe[at[start]], np.arange(len(cases))])
    candidate = np.concatenate([best, none])
    probability = np.concatenate([summed, found.beliefs.free])
    probability *= 1 - found.beliefs.honest[recipe]
    order = np.lexsort((np.arange(len(recipe)), -probability, recipe))
    recipe, candidate, probability = recipe[order], candidate[order], probability[order]
    rank = np.arange(len(recipe)) - np.searchsorted(recipe, recipe) + 1
    shown = (rank <= top) & ((rank == 1) | (probability >= least))
    recipe, candidate = recipe[shown], candidate[shown]
    first = np.where(candidate >= 0, found.first[candidate], -1)
    second = np.where(candidate >= 0, found.second[candidate], -1)
    line = np.where(first >= 0, singles.line[first], -1)
    numbers = np.full((len(recipe), cases.mean.shape[1]), math.nan)
    numbers[first >= 0] = _published(cases, singles, first[first >= 0], second[first >= 0])
    stated = {n: stated_words(cases, n) for n in set(recipe.tolist())}
    slip = [*zip(recipe.tolist(), first.tolist(), second.tolist(), numbers, strict=True)]
    return pd.DataFrame({
        "recipe_id": [cases.recipe_id[n] for n in recipe.tolist()],
        "rank": rank[shown],
        "kind": ["none_found" if n < 0 else KINDS[singles.kind[n]] for n in first.tolist()],
        "line_no": pd.array([cases.lines.line_no[n] if n >= 0 else None for n in line.tolist()],
                            dtype="Int64"),
        "probability": probability[shown],
        "detail": [
            none_found(cases, n, stated[n]) if one < 0
            else sentence(cases, foods, singles, one, two, values, stated[n])
            for n, one, two, values in slip
        ],
        **{name: numbers[:, n] for n, name in enumerate(_NUMBERS)},
        "basis": [cases.basis[n] for n in recipe.tolist()],
        "misfit": np.where(candidate >= 0, found.misfit[candidate], math.nan),
    })[[*EXPLANATION, "basis", "misfit"]]  # fmt: skip


def _published(cases: Cases, singles: Slips, first: Ints, second: Ints) -> Matrix:
    """What slips, or two at once, would have put in print, (slips, tags)."""
    one, two = singles.take(first), singles.take(np.maximum(second, 0))
    both = (second >= 0)[:, None]
    scale = one.scale[:, None] * np.where(both, two.scale[:, None], 1.0)
    change = np.where(both, two.change * one.scale[:, None], 0.0) + np.where(
        both, one.change * two.scale[:, None], one.change
    )
    before = np.maximum(scale * cases.amount[one.recipe] + change, 0.0)
    shown = transformed(before, one.transform)
    stated = cases.stated[one.recipe]
    aside = np.flatnonzero(one.aside >= 0)
    shown[aside, one.aside[aside]] = stated[aside, one.aside[aside]]
    typed = np.flatnonzero(one.typed_at >= 0)
    shown[typed, one.typed_at[typed]] = stated[typed, one.typed_at[typed]]
    return shown


__all__ = ["Diagnosis", "Foods", "diagnose", "load_foods"]
