"""What a creator's recipes say about habits: stated minus computed, and the lines it comes from.

Tables are turned into arrays once for all recipes and then sliced by creator. Amounts are those of
the basis the numbers of a recipe are stated on; nutrients stand in the order of
``reconcile.model.TAGS``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.lines import parse
from pipeline.reconcile.cases import (
    ONE_SIDED,
    column_of,
    counted_lines,
    lacking,
    numbers_stated,
    totals,
    values_of,
)
from pipeline.reconcile.model import TAGS, Matrix, Vector, noise
from pipeline.reconcile.score import rounding
from pipeline.tables import RUNNER_UP, require

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pipeline.compute import Computation
    from pipeline.reconcile import Foods

#: Units that are a mass: their grams are no measure of the creator's.
_MASS = frozenset({"g", "kg", "mg", "oz", "lb"})
N = len(TAGS)

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Cube = NDArray[np.float64]


@dataclass(slots=True)
class Recipes:
    """Recipes with stated numbers, one row each.

    Attributes:
        ids, creators: recipe_id and whose it is, "" for nobody.
        stated, given, step: (n, 7): the numbers, which there are, and their rounding steps.
        mean: (n, 7) what the lines add up to.
        cov: (n, 7, 7) of stated minus computed for an honest recipe whose foods are read rightly.
        net: carbohydrate is stated without fibre.
        unit: how many of the stated basis the whole recipe is.
    """

    ids: list[str]
    creators: list[str]
    stated: Matrix
    given: Bools
    step: Matrix
    mean: Matrix
    cov: Cube
    net: Bools
    unit: Vector


@dataclass(slots=True)
class Lines:
    """Counted lines, one row each, sorted by recipe.

    Attributes:
        recipe: row of ``Recipes``.
        line_no, text: of the line; see ``name`` and ``phrase``.
        food: row of the foods, -1 for a recipe of the collection.
        food_id, measure: measure is the unit, "" for a mass.
        grams: of the line per stated unit; ``amount`` how many of ``measure`` that are.
        values: (m, 7).
        rel_var: variance of the grams over their square.
        doubt: 1 - confidence in the food.
        alcohol_g: per stated unit.
        runners: by text, row of the foods and belief of what the line may mean instead; of foods
            that stand in enough recipes.
        kinds: the same with the share of each kind that the words leave open.
    """

    recipe: Ints
    line_no: Ints
    text: list[str]
    food: Ints
    food_id: list[str]
    measure: list[str]
    grams: Vector
    amount: Vector
    values: Matrix
    rel_var: Vector
    doubt: Vector
    alcohol_g: Vector
    runners: dict[str, list[tuple[int, float]]]
    kinds: dict[str, list[tuple[int, float]]]
    _parsed: dict[str, tuple[str, str]] = field(default_factory=dict)

    def name(self, line: int) -> str:
        """The food that a line names, folded; each text is parsed once, and only when asked for."""
        return self._words(self.text[line])[0]

    def phrase(self, line: int) -> str:
        """The food as a line writes it."""
        return self._words(self.text[line])[1]

    def _words(self, text: str) -> tuple[str, str]:
        if text not in self._parsed:
            parsed = parse(text)
            self._parsed[text] = (
                " ".join(parsed.name.casefold().split()),
                parsed.rest or parsed.name,
            )
        return self._parsed[text]


def read_evidence(
    computation: Computation,
    stated: pd.DataFrame,
    recipe: pd.DataFrame,
    runner_up: pd.DataFrame | None,
    foods: Foods,
    least: int,
) -> tuple[Recipes, Lines] | None:
    """Arrays of the recipes of all creators with at least ``least`` judged recipes.

    Args:
        stated: STATED.
        recipe: RECIPE.
        runner_up: RUNNER_UP, or None.
        least: recipes a creator needs.

    Returns:
        None when no creator has enough.
    """
    recipes = _recipes(computation, stated, recipe, least)
    if recipes is None:
        return None
    lines = _lines(computation, recipes, runner_up, foods, least)
    _add_up(computation, recipes, lines)
    return recipes, lines


def by_creator(recipes: Recipes, lines: Lines) -> Iterator[tuple[str, Ints, Ints]]:
    """Creator, rows of the recipes and rows of their lines, in order of the names."""
    owners = np.array(recipes.creators, dtype=object)
    order = np.argsort(owners, kind="stable")
    starts = np.flatnonzero(np.append(True, owners[order][1:] != owners[order][:-1]))
    first_line = np.searchsorted(lines.recipe, np.arange(len(recipes.ids) + 1))
    for a, b in zip(starts, [*starts[1:], len(order)], strict=True):
        rows = np.sort(order[a:b])
        spans = [np.arange(first_line[r], first_line[r + 1]) for r in rows]
        yield owners[rows[0]], rows, np.concatenate(spans)


def _recipes(
    computation: Computation, stated: pd.DataFrame, recipe: pd.DataFrame, least: int
) -> Recipes | None:
    owner = recipe["creator"].fillna("").astype(str).str.strip().set_axis(recipe["recipe_id"])
    facts = computation.recipe.sort_values("recipe_id")
    counted = facts["lines"] > 0 if "lines" in facts else facts["coverage"] > 0
    facts = facts[counted & facts["recipe_id"].isin(owner.index)]
    numbers = numbers_stated(stated, facts, available=False)
    ids = facts.loc[numbers.known, "recipe_id"]
    creators = ids.map(owner)
    enough = (creators.groupby(creators).transform("size") >= least).to_numpy(dtype=np.bool_)
    if not enough.any():
        return None
    amount = numbers.amount[enough]
    given = np.isfinite(amount)
    return Recipes(
        ids[enough].tolist(), creators[enough].tolist(), np.where(given, amount, 0.0), given,
        numbers.step[enough], np.zeros(amount.shape), np.zeros((*amount.shape, N)), numbers.net[enough],
        numbers.unit[enough],
    )  # fmt: skip


def _lines(
    computation: Computation,
    recipes: Recipes,
    runner_up: pd.DataFrame | None,
    foods: Foods,
    least: int,
) -> Lines:
    table = counted_lines(computation.line_value, recipes.ids)
    at = table["_row"].to_numpy(dtype=np.int64)
    unit = recipes.unit[at]
    values = values_of(table, recipes.unit, recipes.net)
    values *= 1 + column_of(table, "rel_shift", 0.0)[:, None]
    food_ids = table["food_id"].fillna("").tolist()
    texts = table["text"].tolist()
    common = {texts[i] for i in np.flatnonzero(_common(food_ids, at, recipes.creators, least))}
    runner_up = None if runner_up is None else runner_up[runner_up["text"].isin(common)]
    measure = [
        "" if u in _MASS or not u or b == "decision" else u
        for u, b in zip(table["unit"].fillna("").tolist(), table["basis"].tolist(), strict=True)
    ]
    return Lines(
        at, table["line_no"].to_numpy(dtype=np.int64), texts, foods.rows_of(table["food_id"]),
        food_ids, measure, column_of(table, "grams", 0.0) / unit,
        column_of(table, "amount_of_unit", 0.0) / unit, values, column_of(table, "rel_var", 0.0),
        1 - column_of(table, "confidence", 1.0), column_of(table, "alcohol_g", 0.0) / unit,
        _foods_by_text(runner_up, "probability", foods),
        _foods_by_text(runner_up, "left_open", foods),
    )  # fmt: skip


def _common(food_ids: list[str], recipe: Ints, creators: list[str], least: int) -> Bools:
    """Lines whose food stands in enough recipes of their creator."""
    owners = [creators[r] for r in recipe.tolist()]
    lines = pd.DataFrame({"food": food_ids, "owner": owners, "recipe": recipe})
    recipes = lines.groupby(["food", "owner"])["recipe"].transform("nunique")
    return (recipes >= least).to_numpy(dtype=np.bool_)


def _foods_by_text(
    runner_up: pd.DataFrame | None, column: str, foods: Foods
) -> dict[str, list[tuple[int, float]]]:
    """Rows of the foods with the belief in ``column``, by the text of the line."""
    out: dict[str, list[tuple[int, float]]] = {}
    if runner_up is None:
        return out
    table = require(runner_up, RUNNER_UP, "runner_up").dropna(subset=["food_id"])
    table = table[table[column] > 0]
    for text, food_id, p in zip(
        *(table[c].tolist() for c in ("text", "food_id", column)), strict=True
    ):
        at = foods.variants.at.get(food_id, -1)
        if at >= 0:
            out.setdefault(text, []).append((at, float(p)))
    return out


def _add_up(computation: Computation, recipes: Recipes, lines: Lines) -> None:
    """Fill ``mean`` and ``cov`` of the recipes from their lines and the sums of compute."""
    rough, variance = totals(computation.total, recipes.ids, ("rough", "variance"))
    rough, variance = rough / recipes.unit[:, None], variance / recipes.unit[:, None] ** 2
    mean, cov = np.zeros(rough.shape), np.zeros((*rough.shape, N))
    np.add.at(mean, lines.recipe, lines.values)
    recipes.mean = np.maximum(mean, 0.0)
    outer = lines.values[:, :, None] * lines.values[:, None, :]
    np.add.at(cov, lines.recipe, lines.rel_var[:, None, None] * outer)
    cov += ONE_SIDED * rough[:, :, None] * rough[:, None, :]
    at = np.arange(N)
    own = (0.003 * recipes.mean) ** 2 + 1e-6
    cov[:, at, at] += (
        lacking(cov, variance, rough) + rounding(recipes.stated, recipes.given, recipes.step) + own
    )
    recipes.cov = cov + noise(recipes.mean)
