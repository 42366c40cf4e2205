"""What a creator's recipes say about habits: stated minus computed, and the lines behind it.

Tables are turned into arrays once for all recipes and then sliced by creator. Amounts are those of
the basis the numbers of a recipe are stated on; nutrients stand in the order of
``reconcile.model.TAGS``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pipeline.lines import parse
from pipeline.nutrients import BY_TAG, NET_CARBS_TAG
from pipeline.reconcile.model import CARBS, FAT, FIBRE, KCAL, TAGS, Matrix, Vector, noise
from pipeline.tables import RUNNER_UP, STATED, require

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from pipeline.compute import Computation
    from pipeline.reconcile import Foods

#: Variance of a one-sided normal whose 95 % point is twice 1, as in the search for slips.
_ONE_SIDED = 0.537
_BASES = ("per_serving", "per_recipe", "per_100g")
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
        servings: NaN when not said.
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
    servings: Vector


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
    _said: dict[str, tuple[str, str]] = field(default_factory=dict)

    def name(self, line: int) -> str:
        """The food that a line names, folded; each text is parsed once, and only when asked for."""
        return self._words(self.text[line])[0]

    def phrase(self, line: int) -> str:
        """The food as a line writes it."""
        return self._words(self.text[line])[1]

    def _words(self, text: str) -> tuple[str, str]:
        if text not in self._said:
            parsed = parse(text)
            self._said[text] = (
                " ".join(parsed.name.casefold().split()),
                parsed.rest or parsed.name,
            )
        return self._said[text]


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
        computation: of the compute stage.
        stated: STATED.
        recipe: RECIPE.
        runner_up: RUNNER_UP, or None.
        foods: of ``reconcile.load_foods``.
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
    said = require(stated, STATED, "stated").dropna(subset=["amount"])
    facts = computation.recipe.set_index("recipe_id")
    said = said[said["recipe_id"].isin(facts.index) & said["recipe_id"].isin(recipe["recipe_id"])]
    per = facts.reindex(said["recipe_id"])
    basis = said["basis"].to_numpy(dtype=object)
    unit = np.select(
        [basis == b for b in _BASES],
        [per["servings"].to_numpy(dtype=float), np.ones(len(said)),
         per["weight_g"].to_numpy(dtype=float) / 100],
        math.nan,
    )  # fmt: skip
    said = said.assign(unit=unit)[unit > 0]
    # the basis with most numbers, the serving first among equals
    count = said.groupby(["recipe_id", "basis"], sort=False)["nutrient"].transform("nunique")
    order = said["basis"].map({b: i for i, b in enumerate(_BASES)})
    said = said.assign(_n=-count, _o=order).sort_values(["recipe_id", "_n", "_o"], kind="stable")
    best = said.drop_duplicates("recipe_id")[["recipe_id", "basis", "unit"]]
    known = facts["lines"] > 0 if "lines" in facts else facts["coverage"] > 0
    best = best[best["recipe_id"].map(known).fillna(False).astype(bool)]
    owner = dict(
        zip(recipe["recipe_id"], recipe["creator"].fillna("").astype(str).str.strip(), strict=True)
    )
    best = best.assign(creator=best["recipe_id"].map(owner).fillna(""))
    best = best[best.groupby("creator")["recipe_id"].transform("size") >= least]
    if best.empty:
        return None
    best = best.sort_values("recipe_id").reset_index(drop=True)
    said = said.merge(best[["recipe_id", "basis"]], on=["recipe_id", "basis"])
    row = {r: i for i, r in enumerate(best["recipe_id"])}
    shape = (len(best), N)
    amount, step = np.full(shape, math.nan), np.ones(shape)
    tags = said["nutrient"].to_numpy(dtype=object)
    has_total = set(said.loc[said["nutrient"] == "CHOCDF", "recipe_id"])
    net = np.zeros(len(best), dtype=bool)
    for recipe_id, tag, value, by in zip(
        said["recipe_id"].tolist(), tags.tolist(), said["amount"].astype(float).tolist(),
        said["step"].astype(float).tolist(), strict=True,
    ):  # fmt: skip
        at = row[recipe_id]
        if tag == NET_CARBS_TAG and recipe_id not in has_total:
            net[at], tag = True, "CHOCDF"
        if tag in TAGS and math.isnan(amount[at, TAGS.index(tag)]):
            amount[at, TAGS.index(tag)] = value
            step[at, TAGS.index(tag)] = by if by == by else 1.0
    given = np.isfinite(amount)
    servings = best["recipe_id"].map(facts["servings"]).to_numpy(dtype=float)
    return Recipes(
        best["recipe_id"].tolist(), best["creator"].tolist(), np.where(given, amount, 0.0), given,
        step, np.zeros(shape), np.zeros((*shape, N)), net, best["unit"].to_numpy(dtype=float),
        servings,
    )  # fmt: skip


def _lines(
    computation: Computation,
    recipes: Recipes,
    runner_up: pd.DataFrame | None,
    foods: Foods,
    least: int,
) -> Lines:
    row = {r: i for i, r in enumerate(recipes.ids)}
    table = computation.line_value
    table = table[table["role"].isin(["counted", "recipe"]) & table["kcal"].notna()]
    table = table[table["recipe_id"].isin(row.keys())]
    at = np.array([row[r] for r in table["recipe_id"].tolist()], dtype=np.int64)
    order = np.lexsort((table["line_no"].to_numpy(dtype=np.int64), at))
    table, at = table.iloc[order], at[order]
    unit = recipes.unit[at]

    def numbers(column: str, missing: float) -> Vector:
        known: Vector = table[column].to_numpy(dtype=np.float64, na_value=math.nan)
        return np.where(np.isnan(known), missing, known)

    columns = [BY_TAG[tag].column for tag in TAGS]
    values = np.nan_to_num(table[columns].to_numpy(dtype=np.float64)) / unit[:, None]
    values *= 1 + numbers("rel_shift", 0.0)[:, None]
    net = recipes.net[at]
    values[net, CARBS] -= values[net, FIBRE]
    food_ids = table["food_id"].fillna("").tolist()
    texts = table["text"].tolist()
    food = np.array([foods.variants.at.get(f, -1) for f in food_ids], dtype=np.int64)
    common = {texts[i] for i in np.flatnonzero(_common(food_ids, at, recipes.creators, least))}
    runner_up = None if runner_up is None else runner_up[runner_up["text"].isin(common)]
    doubt = 1 - numbers("confidence", 1.0)
    mass = {"g", "kg", "mg", "oz", "lb"}
    measure = [
        "" if u in mass or not u or b == "decision" else u
        for u, b in zip(table["unit"].fillna("").tolist(), table["basis"].tolist(), strict=True)
    ]
    return Lines(
        at, table["line_no"].to_numpy(dtype=np.int64), texts, food, food_ids,
        measure, numbers("grams", 0.0) / unit,
        numbers("amount_of_unit", 0.0) / unit, values, numbers("rel_var", 0.0),
        doubt,
        numbers("alcohol_g", 0.0) / unit, _foods_by_text(runner_up, "probability", foods),
        _foods_by_text(runner_up, "left_open", foods),
    )  # fmt: skip


def _common(food_ids: list[str], recipe: Ints, creators: list[str], least: int) -> Bools:
    """Lines whose food stands in enough recipes of their creator."""
    code: dict[tuple[str, str], int] = {}
    of = np.array(
        [
            code.setdefault((f, creators[r]), len(code))
            for f, r in zip(food_ids, recipe.tolist(), strict=True)
        ],
        dtype=np.int64,
    )
    pairs = np.unique(np.column_stack([of, recipe]), axis=0)[:, 0]
    return np.bincount(pairs, minlength=len(code))[of] >= least


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
    n = len(recipes.ids)
    rough = _total(computation, recipes, "rough") / recipes.unit[:, None]
    variance = _total(computation, recipes, "variance") / recipes.unit[:, None] ** 2
    mean = np.zeros((n, N))
    np.add.at(mean, lines.recipe, lines.values)
    recipes.mean = np.maximum(mean, 0.0)
    outer = lines.values[:, :, None] * lines.values[:, None, :]
    line_cov = lines.rel_var[:, None, None] * outer
    cov = np.zeros((n, N, N))
    np.add.at(cov, lines.recipe, line_cov)
    cov += _ONE_SIDED * rough[:, :, None] * rough[:, None, :]
    at = np.arange(N)
    lacking = np.maximum(variance - cov[:, at, at], 0.0)
    lacking[~(rough > 0).any(axis=1), : FAT + 1] = 0.0
    step = np.where(recipes.step > 0, recipes.step, 0.0)
    fives = recipes.given[:, KCAL] & (recipes.stated[:, KCAL] % 5 == 0)
    step[fives, KCAL] = np.maximum(step[fives, KCAL], 5.0)
    cov[:, at, at] += lacking + step**2 / 12 + (0.003 * recipes.mean) ** 2 + 1e-6
    recipes.cov = cov + noise(recipes.mean)


def _total(computation: Computation, recipes: Recipes, column: str) -> Matrix:
    """One column of the sums as (recipes, 7)."""
    row = {r: i for i, r in enumerate(recipes.ids)}
    table = computation.total
    table = table[table["nutrient"].isin(TAGS) & table["recipe_id"].isin(row.keys())]
    out = np.zeros((len(recipes.ids), N))
    tag = {t: i for i, t in enumerate(TAGS)}
    out[
        [row[r] for r in table["recipe_id"].tolist()], [tag[t] for t in table["nutrient"].tolist()]
    ] = np.nan_to_num(table[column].to_numpy(dtype=np.float64))
    return out
