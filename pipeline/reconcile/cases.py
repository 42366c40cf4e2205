"""What the search for slips needs of many recipes, as arrays: stated, computed and their doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pipeline.nutrients import BY_TAG, NET_CARBS_TAG
from pipeline.reconcile.model import (
    CARBS,
    FAT,
    FIBRE,
    KCAL,
    MACROS,
    SODIUM,
    TAGS,
    Matrix,
    Vector,
)
from pipeline.tables import RUNNER_UP, STATED, require

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from pipeline.compute import Computation
    from pipeline.reconcile.foods import Foods

    Ints = NDArray[np.int64]
    Bools = NDArray[np.bool_]

#: Spread of "some other food" than the runners-up, as in the compute stage.
OTHER_FOOD_CV = 0.30

#: Below this share of the sum, a change cannot be told from noise and explains nothing.
LEAST_EFFECT = 0.04
LEAST_AMOUNT = np.array([6.0, 0.7, 0.7, 0.7, 0.7, 0.7, 0.4, 60.0])

#: Variance of a one-sided normal whose 95 % point is twice 1: (1 - 2/pi) (2/1.645)^2.
_ONE_SIDED = 0.537

_N = len(TAGS)
_DIAGONAL = np.arange(_N)


@dataclass(slots=True)
class Lines:
    """Lines that bring energy or a macro, those of one recipe together, per its stated unit.

    Attributes:
        recipe: (lines,) row of the recipe in ``Cases``.
        line_no, text, unit: as in LINE_RESULT.
        unit_amount: how many of the unit.
        food: row of ``Foods``, -1 when none.
        grams: NaN when not known.
        values: (lines, tags), missing as 0.
        mean: (lines, tags), with the lopsidedness of the grams.
        cov: (lines, tags, tags), of grams and food together.
        grams_var: relative variance of the grams.
        by_mass: (lines,) the line says grams or ounces itself.
        runner_line, runner_food, runner_p: runners-up of the matches, one row each; those of a line
            hold no more belief than its match leaves open.
    """

    recipe: Ints
    line_no: list[int]
    text: list[str]
    unit: list[str]
    unit_amount: Vector
    food: Ints
    grams: Vector
    values: Matrix
    mean: Matrix
    cov: NDArray[np.float64]
    grams_var: Vector
    by_mass: Bools
    runner_line: Ints
    runner_food: Ints
    runner_p: Vector


@dataclass(slots=True)
class Cases:
    """Recipes with stated numbers, everything per the basis these are stated on.

    Attributes:
        recipe_id: of each recipe; the rows of all arrays below follow it.
        stated: (recipes, tags), 0 where not given.
        given: (recipes, tags), what is stated.
        step: (recipes, tags), of the writing.
        least: (recipes, tags), the smallest change that can be seen; infinite where not stated.
        basis: per_serving, per_recipe or per_100g.
        servings: NaN when not known.
        weight_g: per stated unit, NaN when not known.
        yield_known: the weight is that of the cooked dish.
        net: carbohydrate is stated and counted without fibre by its own name.
        available: so it is in the whole collection.
        amount: (recipes, tags), the sums as they are shown.
        mean: (recipes, tags), the same with the lopsidedness of the grams and what is not counted.
        cov: (recipes, tags, tags).
        lines: of all recipes.
    """

    recipe_id: list[str]
    stated: Matrix
    given: Bools
    step: Matrix
    least: Matrix
    basis: list[str]
    servings: Vector
    weight_g: Vector
    yield_known: Bools
    net: Bools
    available: bool
    amount: Matrix
    mean: Matrix
    cov: NDArray[np.float64]
    lines: Lines

    def __len__(self) -> int:
        return len(self.recipe_id)


@dataclass(slots=True)
class _Said:
    """The numbers of one recipe on the basis on which it states most."""

    basis: str
    unit: float
    amount: Vector
    step: Vector
    net: bool


def read_cases(
    computation: Computation,
    stated: pd.DataFrame,
    runner_up: pd.DataFrame | None,
    foods: Foods,
    recipe_ids: Sequence[str],
) -> Cases:
    """Gather what the search needs; recipes without core numbers or without lines are left out.

    Args:
        computation: of the compute stage.
        stated: STATED.
        runner_up: RUNNER_UP, or None.
        foods: in the computation's convention.
        recipe_ids: which recipes.
    """
    chosen = set(recipe_ids)
    facts = computation.recipe[computation.recipe["recipe_id"].isin(chosen)]
    table = computation.line_value
    table = table[
        table["recipe_id"].isin(chosen)
        & table["role"].isin(["counted", "recipe"])
        & table["kcal"].notna()
    ]
    with_lines = set(table["recipe_id"].tolist())
    numbers = _said(stated, chosen & with_lines, computation.convention.available)
    salt_open = facts.get("salt_open", False)
    kept: list[tuple[str, float, float, bool, bool, _Said]] = []
    for recipe_id, servings, weight, weighed, salty in zip(
        facts["recipe_id"].tolist(), facts["servings"].astype(float).tolist(),
        facts["weight_g"].astype(float).tolist(), (facts["weight_basis"] == "yield").tolist(),
        np.broadcast_to(salt_open, len(facts)).tolist(), strict=True,
    ):  # fmt: skip
        said = _on_best_basis(numbers.get(recipe_id, {}), servings, weight)
        if said is not None:
            kept.append((recipe_id, servings, weight, weighed, salty, said))
    row = {recipe_id: n for n, (recipe_id, *_) in enumerate(kept)}
    unit = np.array([k[5].unit for k in kept])
    net = np.array([k[5].net for k in kept], dtype=np.bool_)
    lines = _lines(table[table["recipe_id"].isin(row.keys())], row, unit, net, runner_up, foods)
    amount, mean, cov = _sums(computation.total, row, unit, net, lines)
    numbers_said = np.array([k[5].amount for k in kept]).reshape(len(kept), _N)
    given = np.isfinite(numbers_said)
    given[:, SODIUM] &= ~np.array([k[4] for k in kept], dtype=np.bool_)
    return Cases(
        recipe_id=[k[0] for k in kept],
        stated=np.where(given, numbers_said, 0.0),
        given=given,
        step=np.array([k[5].step for k in kept]).reshape(len(kept), _N),
        least=np.where(given, np.maximum(LEAST_EFFECT * mean, LEAST_AMOUNT), math.inf),
        basis=[k[5].basis for k in kept],
        servings=np.array([k[1] for k in kept]),
        weight_g=np.array([k[2] for k in kept]) / unit,
        yield_known=np.array([k[3] for k in kept], dtype=np.bool_),
        net=net,
        available=computation.convention.available,
        amount=amount,
        mean=mean,
        cov=cov,
        lines=lines,
    )


def _said(
    stated: pd.DataFrame, chosen: set[str], available: bool
) -> dict[str, dict[str, dict[str, tuple[float, float]]]]:
    """recipe_id, basis, tag -> amount, step. Net carbohydrate keeps its tag unless it is the rule."""
    table = require(stated, STATED, "stated")
    table = table[table["recipe_id"].isin(chosen) & table["amount"].notna()]
    found: dict[str, dict[str, dict[str, tuple[float, float]]]] = {}
    for recipe_id, tag, amount, basis, step in zip(
        *(table[c].tolist() for c in ("recipe_id", "nutrient", "amount", "basis", "step")),
        strict=True,
    ):
        step = float(step) if step is not None and step == step else 1.0
        tag = "CHOCDF" if available and tag == NET_CARBS_TAG else tag
        found.setdefault(recipe_id, {}).setdefault(basis, {}).setdefault(tag, (float(amount), step))
    return found


def _on_best_basis(
    bases: dict[str, dict[str, tuple[float, float]]], servings: float, weight: float
) -> _Said | None:
    units = {"per_serving": servings, "per_recipe": 1.0, "per_100g": weight / 100}
    best: _Said | None = None
    for basis, said in bases.items():
        if not units.get(basis, 0.0) > 0:
            continue
        net = NET_CARBS_TAG in said and "CHOCDF" not in said
        tags = [NET_CARBS_TAG if net and t == "CHOCDF" else t for t in TAGS]
        pairs = np.array([said.get(t, (math.nan, 1.0)) for t in tags])
        if not np.isfinite(pairs[[KCAL, *MACROS], 0]).any():
            continue
        if best is None or np.isfinite(pairs[:, 0]).sum() > np.isfinite(best.amount).sum():
            best = _Said(basis, units[basis], pairs[:, 0], pairs[:, 1], net)
    return best


def _lines(
    table: pd.DataFrame, row: dict[str, int], unit: Vector, net: Bools,
    runner_up: pd.DataFrame | None, foods: Foods,
) -> Lines:  # fmt: skip
    table = table.assign(_row=table["recipe_id"].map(row).astype("int64")).sort_values(
        ["_row", "line_no"], kind="stable"
    )

    def column(name: str, missing: float = math.nan) -> Vector:
        found = table[name].to_numpy(dtype=np.float64, na_value=math.nan)
        return np.asarray(np.where(np.isnan(found), missing, found), dtype=np.float64)

    recipe = table["_row"].to_numpy(dtype=np.int64)
    per = unit[recipe] if len(recipe) else np.empty(0)
    columns = [BY_TAG[tag].column for tag in TAGS]
    values = np.nan_to_num(table[columns].to_numpy(dtype=np.float64)) / per[:, None]
    _take_fibre(values, net[recipe])
    grams_var, grams = column("rel_var", 0.0), column("grams") / per
    food = np.array(
        [foods.variants.at.get(f, -1) for f in table["food_id"].fillna("").tolist()], dtype=np.int64
    )
    text = table["text"].tolist()
    doubt = 1 - column("confidence", 1.0)
    runner_line, runner_food, runner_p = _runners(runner_up, text, doubt, food, foods)
    cov = grams_var[:, None, None] * values[:, :, None] * values[:, None, :]
    cov += _match_cov(values, grams, doubt, food, runner_line, runner_food, runner_p, foods)
    cov += _spread(values, grams, *_open_kinds(runner_up, text, food, foods), foods)
    return Lines(
        recipe=recipe,
        line_no=table["line_no"].astype(int).tolist(),
        text=text,
        unit=table["unit"].fillna("").tolist(),
        unit_amount=column("amount_of_unit") / per,
        food=food,
        grams=grams,
        values=values,
        mean=values * (1 + column("rel_shift", 0.0))[:, None],
        cov=cov,
        grams_var=grams_var,
        by_mass=(table["basis"] == "mass").to_numpy(dtype=np.bool_),
        runner_line=runner_line,
        runner_food=runner_food,
        runner_p=runner_p,
    )


def _take_fibre(values: Matrix, net: Bools) -> None:
    """Carbohydrate without fibre in the rows of recipes that state it so."""
    values[net, CARBS] -= values[net, FIBRE]


def _runners(
    runner_up: pd.DataFrame | None, text: list[str], doubt: Vector, food: Ints, foods: Foods
) -> tuple[Ints, Ints, Vector]:
    """Line, food and belief of each runner-up that is a food of the table."""
    if runner_up is None or not len(text):
        return np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0)
    table = require(runner_up, RUNNER_UP, "runner_up").dropna(subset=["food_id"])
    named: dict[str, list[tuple[int, float]]] = {}
    wanted = set(text)
    for words, food_id, p in zip(
        table["text"].tolist(),
        table["food_id"].tolist(),
        table["probability"].tolist(),
        strict=True,
    ):
        at = foods.variants.at.get(food_id, -1)
        if words in wanted and at >= 0 and p > 0:
            named.setdefault(words, []).append((at, float(p)))
    rows = [
        (n, at, p)
        for n, words in enumerate(text)
        for at, p in named.get(words, [])
        if at != food[n]
    ]
    if not rows:
        return np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0)
    line = np.array([r[0] for r in rows], dtype=np.int64)
    p = np.array([r[2] for r in rows])
    every = np.bincount(line, weights=p, minlength=len(text))[line]
    scale = np.minimum(1.0, np.maximum(doubt[line], 0.0) / every)
    return line, np.array([r[1] for r in rows], dtype=np.int64), p * scale


def _match_cov(
    values: Matrix, grams: Vector, doubt: Vector, food: Ints,
    runner_line: Ints, runner_food: Ints, runner_p: Vector, foods: Foods,
) -> NDArray[np.float64]:  # fmt: skip
    cov = np.zeros((len(values), _N, _N))
    open_ = (food >= 0) & (doubt > 0) & (np.nan_to_num(grams) > 0)
    mine = open_[runner_line] if len(runner_line) else np.empty(0, np.bool_)
    line, other, p = runner_line[mine], runner_food[mine], runner_p[mine]
    cov += _spread(values, grams, line, other, p, foods)
    rest = np.maximum(doubt - np.bincount(line, weights=p, minlength=len(values)), 0.0) * open_
    cov += (rest * OTHER_FOOD_CV**2)[:, None, None] * values[:, :, None] * values[:, None, :]
    return cov


def _spread(
    values: Matrix, grams: Vector, line: Ints, other: Ints, p: Vector, foods: Foods
) -> NDArray[np.float64]:
    """Covariance of each line when with chance ``p`` it is another food of the same weight."""
    cov = np.zeros((len(values), _N, _N))
    off = foods.values[other] * np.nan_to_num(grams)[line][:, None] / 100 - values[line]
    off = np.where(np.isfinite(off), off, 0.0)
    np.add.at(cov, line, p[:, None, None] * off[:, :, None] * off[:, None, :])
    return cov


def _open_kinds(
    runner_up: pd.DataFrame | None, text: list[str], food: Ints, foods: Foods
) -> tuple[Ints, Ints, Vector]:
    """Line, food and share of each kind that a line's words leave open, however sure the match."""
    named: dict[str, list[tuple[int, float]]] = {}
    if runner_up is not None and len(text):
        table = runner_up[runner_up["left_open"] > 0].dropna(subset=["food_id"])
        for words, food_id, share in zip(
            table["text"].tolist(), table["food_id"].tolist(), table["left_open"].tolist(),
            strict=True,
        ):  # fmt: skip
            if (at := foods.variants.at.get(food_id, -1)) >= 0:
                named.setdefault(words, []).append((at, float(share)))
    rows = [
        (n, at, share)
        for n, words in enumerate(text)
        for at, share in named.get(words, [])
        if food[n] >= 0 and at != food[n]
    ]
    line = np.array([r[0] for r in rows], dtype=np.int64)
    other = np.array([r[1] for r in rows], dtype=np.int64)
    return line, other, np.array([r[2] for r in rows], dtype=np.float64)


def _sums(
    total: pd.DataFrame, row: dict[str, int], unit: Vector, net: Bools, lines: Lines
) -> tuple[Matrix, Matrix, NDArray[np.float64]]:
    """Amount, mean and covariance of the sums of each recipe."""
    table = total[total["recipe_id"].isin(row.keys()) & total["nutrient"].isin(TAGS)]
    at = table["recipe_id"].map(row).to_numpy(dtype=np.int64)
    tag = table["nutrient"].map({t: n for n, t in enumerate(TAGS)}).to_numpy(dtype=np.int64)
    filled: dict[str, Matrix] = {}
    for column in ("amount", "shift", "variance", "rough"):
        matrix = np.zeros((len(row), _N))
        matrix[at, tag] = np.nan_to_num(table[column].to_numpy(dtype=np.float64))
        filled[column] = matrix / (unit**2 if column == "variance" else unit)[:, None]
    for column in ("amount", "shift", "rough"):
        _take_fibre(filled[column], net)
    rough = filled["rough"]
    cov = np.zeros((len(row), _N, _N))
    np.add.at(cov, lines.recipe, lines.cov)
    # lines that could not be counted are made like the rest of the recipe
    cov += _ONE_SIDED * rough[:, :, None] * rough[:, None, :]
    lacking = np.maximum(filled["variance"] - cov[:, _DIAGONAL, _DIAGONAL], 0.0)
    # composition of the macros is part of the noise between tables
    lacking[~rough.any(axis=1), : FAT + 1] = 0.0
    cov[:, _DIAGONAL, _DIAGONAL] += lacking
    amount = filled["amount"]
    return amount, np.maximum(amount + filled["shift"], 0.0), cov
