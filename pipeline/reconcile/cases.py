"""What the search for slips needs of many recipes, as arrays: stated, computed and their doubt."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from pipeline.nutrients import BY_TAG, NET_CARBS_TAG
from pipeline.reconcile.arrays import rows_with
from pipeline.reconcile.model import (
    CARBS,
    FAT,
    FIBRE,
    KCAL,
    MACROS,
    SODIUM,
    TAGS,
    table_spread,
)
from pipeline.tables import RUNNER_UP, STATED, require

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from pipeline.compute import Computation
    from pipeline.reconcile.arrays import Bools, Ints, Matrix, Vector
    from pipeline.reconcile.foods import Foods

#: Spread of "some other food" than the runners-up, as in the compute stage.
OTHER_FOOD_CV = 0.30

#: Below this share of the sum, a change is noise and explains nothing.
LEAST_EFFECT = 0.04
LEAST_AMOUNT = np.array([6.0, 0.7, 0.7, 0.7, 0.7, 0.7, 0.4, 60.0])

#: Variance of a one-sided normal whose 95 % point is twice 1: (1 - 2/pi) (2/1.645)^2.
ONE_SIDED = 0.537

#: A weight among the words of a line.
_WEIGHT = re.compile(r"\d\s*(?:g|kg|oz|lb)\b", re.IGNORECASE)

_N = len(TAGS)


@dataclass(slots=True)
class Lines:
    """Lines that bring energy or a macro, those of one recipe together, per its stated unit.

    Attributes:
        recipe: (lines,) row of the recipe in ``Cases``.
        line_no, text, unit: as in LINE_RESULT.
        written_no: number of the line as written, which may hold several foods.
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
    written_no: list[int]
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

    Tags that no recipe states play no part: "tags" below are those up to the last one stated, the
    first five (energy to fibre) at least.

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
        sd: (recipes, tags), relative, of the sums between two tables.
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
    sd: Matrix
    lines: Lines

    def __len__(self) -> int:
        return len(self.recipe_id)

    def part(self, start: int, end: int) -> Cases:
        """The recipes of these rows with their lines; what is large is not copied."""
        lines = self.lines
        first, last = np.searchsorted(lines.recipe, [start, end]).tolist()
        low, high = np.searchsorted(lines.runner_line, [first, last]).tolist()
        mine: dict[str, Any] = {
            f.name: getattr(lines, f.name)[low:high] if f.name.startswith("runner_")
            else getattr(lines, f.name)[first:last]
            for f in fields(lines)
        }  # fmt: skip
        own: dict[str, Any] = {
            f.name: value if isinstance(value := getattr(self, f.name), bool) else value[start:end]
            for f in fields(self) if f.name != "lines"
        }  # fmt: skip
        mine["recipe"], mine["runner_line"] = mine["recipe"] - start, mine["runner_line"] - first
        return Cases(**own, lines=Lines(**mine))


def read_cases(
    computation: Computation,
    stated: pd.DataFrame,
    runner_up: pd.DataFrame | None,
    foods: Foods,
    recipe_ids: Sequence[str],
) -> Cases:
    """Gather what the search needs; recipes without core numbers or without lines are left out.

    Args:
        stated: STATED.
        runner_up: RUNNER_UP, or None.
        foods: in the computation's convention.
    """
    facts = computation.recipe[computation.recipe["recipe_id"].isin(recipe_ids)]
    every = facts["recipe_id"].tolist()
    table = counted_lines(computation.line_value, every)
    facts = facts[facts["recipe_id"].isin(table["recipe_id"])]
    numbers = numbers_stated(stated, facts, computation.convention.available)
    facts, net = facts[numbers.known], numbers.net
    ids = facts["recipe_id"].tolist()
    given = np.isfinite(numbers.amount)
    if "salt_open" in facts:
        given[:, SODIUM] &= ~facts["salt_open"].to_numpy(dtype=np.bool_)
    tags = _N if given[:, FIBRE + 1 :].any() else FIBRE + 1  # fibre may be part of carbohydrate
    given = given[:, :tags]
    if ids != every:
        table = counted_lines(table, ids)
    lines = _lines(table, numbers.unit, net, runner_up, foods, tags)
    amount, mean, cov = _sums(computation.total, ids, numbers.unit, net, lines)
    return Cases(
        recipe_id=ids,
        stated=np.where(given, numbers.amount[:, :tags], 0.0),
        given=given,
        step=numbers.step[:, :tags],
        least=np.where(given, np.maximum(LEAST_EFFECT * mean, LEAST_AMOUNT[:tags]), math.inf),
        basis=[_BASES[n] for n in numbers.basis.tolist()],
        servings=facts["servings"].to_numpy(dtype=np.float64),
        weight_g=facts["weight_g"].to_numpy(dtype=np.float64) / numbers.unit,
        yield_known=(facts["weight_basis"] == "yield").to_numpy(dtype=np.bool_),
        net=net,
        available=computation.convention.available,
        amount=amount,
        mean=mean,
        cov=cov,
        sd=table_spread(lines.values, lines.recipe, len(ids)),
        lines=lines,
    )


_BASES = ("per_serving", "per_recipe", "per_100g")


class Stated(NamedTuple):
    """The numbers of each recipe on the basis on which it states most.

    Attributes:
        known: (all recipes,) which state any; the arrays below have a row for each of these.
        basis: index into per_serving, per_recipe and per_100g; ``unit`` how many of it the recipe is.
        amount, step: (recipes, tags), NaN and 1 where not stated.
        net: carbohydrate is stated without fibre, by its own name.
    """

    known: Bools
    basis: Ints
    unit: Vector
    amount: Matrix
    step: Matrix
    net: Bools


def numbers_stated(stated: pd.DataFrame, facts: pd.DataFrame, available: bool) -> Stated:
    """What recipes state; net carbohydrate keeps its tag unless it is the collection's rule.

    Args:
        stated: STATED.
        facts: recipe_id, servings and weight_g of the recipes.
        available: carbohydrate means that without fibre in the whole collection.
    """
    table = require(stated, STATED, "stated")
    servings, weight = (facts[c].to_numpy(dtype=np.float64) for c in ("servings", "weight_g"))
    units = np.stack([servings, np.ones(len(facts)), weight / 100], axis=1)
    recipe = pd.Index(facts["recipe_id"]).get_indexer(pd.Index(table["recipe_id"]))
    basis = pd.Index(_BASES).get_indexer(pd.Index(table["basis"]))
    tag = pd.Index([*TAGS, NET_CARBS_TAG]).get_indexer(pd.Index(table["nutrient"]))
    if available:
        tag = np.where(tag == _N, CARBS, tag)
    value = table["amount"].to_numpy(dtype=np.float64, na_value=math.nan)
    step = table["step"].to_numpy(dtype=np.float64, na_value=math.nan)
    seen = np.flatnonzero((recipe >= 0) & (basis >= 0) & ~np.isnan(value))
    first = np.full(units.shape, len(table))  # a recipe's bases in the order of its numbers
    np.minimum.at(first, (recipe[seen], basis[seen]), seen)
    seen = seen[tag[seen] >= 0]
    at = recipe[seen], basis[seen], tag[seen]
    amount = np.full((*units.shape, _N + 1), math.nan)
    steps = np.ones(amount.shape)
    amount[at], steps[at] = value[seen], np.where(np.isnan(step[seen]), 1.0, step[seen])
    net = ~np.isnan(amount[:, :, _N]) & np.isnan(amount[:, :, CARBS])
    for values in (amount, steps):
        values[:, :, CARBS] = np.where(net, values[:, :, _N], values[:, :, CARBS])
    given = np.isfinite(amount[:, :, :_N])
    usable = (np.nan_to_num(units) > 0) & given[:, :, [KCAL, *MACROS]].any(axis=2)
    most = np.where(usable, given.sum(axis=2), 0)
    tied = np.where(most == most.max(axis=1, keepdims=True), first, len(table) + 1)
    best = tied.argmin(axis=1)
    known = np.asarray(usable.any(axis=1), dtype=np.bool_)
    one = np.flatnonzero(known), best[known]
    return Stated(known, one[1], units[one], amount[one][:, :_N], steps[one][:, :_N], net[one])


def counted_lines(line_value: pd.DataFrame, recipe_ids: Sequence[str]) -> pd.DataFrame:
    """Lines that bring energy, in the order of these recipes, whose place is in ``_row``."""
    row = {recipe_id: n for n, recipe_id in enumerate(recipe_ids)}
    table = line_value[
        line_value["recipe_id"].isin(row.keys())
        & line_value["role"].isin(["counted", "recipe"])
        & line_value["kcal"].notna()
    ]
    place = table["recipe_id"].map(row).astype("int64")
    return table.assign(_row=place).sort_values(["_row", "line_no"], kind="stable")


def column_of(table: pd.DataFrame, name: str, missing: float = math.nan) -> Vector:
    """A column as numbers, ``missing`` where there is none."""
    found = table[name].to_numpy(dtype=np.float64, na_value=math.nan)
    return np.asarray(np.where(np.isnan(found), missing, found), dtype=np.float64)


def values_of(table: pd.DataFrame, unit: Vector, net: Bools) -> Matrix:
    """(lines, tags): what lines bring to one of the stated units of their recipes, missing as 0."""
    recipe = table["_row"].to_numpy(dtype=np.int64)
    columns = [BY_TAG[tag].column for tag in TAGS]
    values = np.nan_to_num(table[columns].to_numpy(dtype=np.float64)) / unit[recipe][:, None]
    _take_fibre(values, net[recipe])
    return np.asarray(values, dtype=np.float64)


def _written(table: pd.DataFrame) -> pd.Series[Any]:
    if "part_of" not in table:
        return table["line_no"]
    return table["part_of"].fillna(table["line_no"].astype(float))


def _lines(
    table: pd.DataFrame, unit: Vector, net: Bools, runner_up: pd.DataFrame | None, foods: Foods,
    tags: int,
) -> Lines:  # fmt: skip
    recipe = table["_row"].to_numpy(dtype=np.int64)
    per = unit[recipe]
    values = values_of(table, unit, net)[:, :tags]
    grams_var, grams = column_of(table, "rel_var", 0.0), column_of(table, "grams") / per
    food = foods.rows_of(table["food_id"])
    text = table["text"].tolist()
    doubt = 1 - column_of(table, "confidence", 1.0)
    runner_line, runner_food, runner_p = _runners(runner_up, text, doubt, food, foods)
    cov = grams_var[:, None, None] * values[:, :, None] * values[:, None, :]
    cov += _match_cov(values, grams, doubt, food, runner_line, runner_food, runner_p, foods)
    cov += _spread(values, grams, *_open_kinds(runner_up, text, food, foods), foods)
    return Lines(
        recipe=recipe,
        line_no=table["line_no"].astype(int).tolist(),
        written_no=_written(table).astype(int).tolist(),
        text=text,
        unit=table["unit"].fillna("").tolist(),
        unit_amount=column_of(table, "amount_of_unit") / per,
        food=food,
        grams=grams,
        values=values,
        mean=values * (1 + column_of(table, "rel_shift", 0.0))[:, None],
        cov=cov,
        grams_var=grams_var,
        by_mass=_says_weight(table),
        runner_line=runner_line,
        runner_food=runner_food,
        runner_p=runner_p,
    )


def _says_weight(table: pd.DataFrame) -> Bools:
    """Lines that are weighed, and packages whose weight stands on the line."""
    basis, text = table["basis"].to_numpy(dtype=object), table["text"].to_numpy(dtype=object)
    out = np.asarray(basis == "mass", dtype=np.bool_)
    packages = np.flatnonzero(basis == "package")
    out[packages] = [_WEIGHT.search(line) is not None for line in text[packages]]
    return out


def _take_fibre(values: Matrix, net: Bools) -> None:
    """Carbohydrate without fibre in the rows of recipes that state it so."""
    values[net, CARBS] -= values[net, FIBRE]


def _runners(
    runner_up: pd.DataFrame | None, text: list[str], doubt: Vector, food: Ints, foods: Foods
) -> tuple[Ints, Ints, Vector]:
    """Line, food and belief of each runner-up that is a food of the table."""
    if runner_up is None or not len(text):
        return np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0)
    line, other, p = _named(
        require(runner_up, RUNNER_UP, "runner_up"), "probability", text, food, foods
    )
    every = np.bincount(line, weights=p, minlength=len(text))[line]
    scale = np.minimum(1.0, np.maximum(doubt[line], 0.0) / every)
    return line, other, p * scale


def _named(
    runner_up: pd.DataFrame, column: str, text: list[str], food: Ints, foods: Foods
) -> tuple[Ints, Ints, Vector]:
    """Line, food and share of the runners-up of each line that are other foods of the table."""
    table = runner_up[runner_up[column] > 0]
    other = foods.rows_of(table["food_id"])
    share = table[column].to_numpy(dtype=np.float64)
    line, row = rows_with(table["text"], text)
    real = (other[row] >= 0) & (other[row] != food[line])
    line, row = line[real], row[real]
    return line, other[row], share[row]


def _match_cov(
    values: Matrix, grams: Vector, doubt: Vector, food: Ints,
    runner_line: Ints, runner_food: Ints, runner_p: Vector, foods: Foods,
) -> NDArray[np.float64]:  # fmt: skip
    cov = np.zeros((*values.shape, values.shape[1]))
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
    cov = np.zeros((*values.shape, values.shape[1]))
    off = (
        foods.values[other, : values.shape[1]] * np.nan_to_num(grams)[line][:, None] / 100
        - values[line]
    )
    off = np.where(np.isfinite(off), off, 0.0)
    np.add.at(cov, line, p[:, None, None] * off[:, :, None] * off[:, None, :])
    return cov


def _open_kinds(
    runner_up: pd.DataFrame | None, text: list[str], food: Ints, foods: Foods
) -> tuple[Ints, Ints, Vector]:
    """Line, food and share of each kind that a line's words leave open, however sure the match."""
    if runner_up is None or not len(text):
        return np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0)
    line, other, share = _named(runner_up, "left_open", text, food, foods)
    mine = food[line] >= 0
    return line[mine], other[mine], share[mine]


def totals(total: pd.DataFrame, recipe_ids: Sequence[str], columns: Sequence[str]) -> list[Matrix]:
    """Columns of the sums, whole recipes, (recipes, tags) each; missing as 0."""
    at = pd.Index(recipe_ids).get_indexer(pd.Index(total["recipe_id"]))
    tag = pd.Index(TAGS).get_indexer(pd.Index(total["nutrient"]))
    mine = np.flatnonzero((at >= 0) & (tag >= 0))
    values = np.zeros((len(columns), len(recipe_ids), _N))
    for out, column in zip(values, columns, strict=True):
        out[at[mine], tag[mine]] = np.nan_to_num(total[column].to_numpy(dtype=np.float64)[mine])
    return list(values)


def _sums(
    total: pd.DataFrame, recipe_ids: Sequence[str], unit: Vector, net: Bools, lines: Lines
) -> tuple[Matrix, Matrix, NDArray[np.float64]]:
    """Amount, mean and covariance of the sums of each recipe."""
    amount, shift, rough, variance = (
        table[:, : lines.values.shape[1]] / unit[:, None]
        for table in totals(total, recipe_ids, ("amount", "shift", "rough", "variance"))
    )
    for values in (amount, shift, rough):
        _take_fibre(values, net)
    cov = np.zeros((*amount.shape, amount.shape[1]))
    np.add.at(cov, lines.recipe, lines.cov)
    # lines that could not be counted are made like the rest of the recipe
    cov += ONE_SIDED * rough[:, :, None] * rough[:, None, :]
    at = np.arange(amount.shape[1])
    cov[:, at, at] += lacking(cov, variance / unit[:, None], rough)
    return amount, np.maximum(amount + shift, 0.0), cov


def lacking(cov: NDArray[np.float64], variance: Matrix, rough: Matrix) -> Matrix:
    """Variance of the sums that the lines do not hold; of the macros the noise between tables has it."""
    out: Matrix = np.maximum(variance - np.einsum("nii->ni", cov), 0.0)
    out[~rough.any(axis=1), : FAT + 1] = 0.0
    return out
