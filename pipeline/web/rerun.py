"""Part of a run again: the recipes that an answer touches, by the functions of the run itself."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from pipeline.compute.convention import TABLE, Convention
from pipeline.habits.apply import reached, uses_of, with_used
from pipeline.reading import read_all
from pipeline.report.frames import Row, records
from pipeline.report.words import PER
from pipeline.run import judge_read

if TYPE_CHECKING:
    from pipeline.intake import Collection
    from pipeline.reading import Tools
    from pipeline.run import Result
    from pipeline.settings import Settings


@dataclass(slots=True)
class RecipeNow:
    """One recipe as it stands with the answers given so far.

    Attributes:
        about: its row of ``Result.recipes``.
        findings, lines, explanations, doubt: its rows of those frames, in their order.
        asks: line_no → its row of ``Result.to_review``.
        uses: recipe_ids its lines mean.
        convention: of the collection's energy and carbohydrate; it stays while answers are given.
        half_kcal: half of the range of its energy, kcal of the whole recipe; NaN when unknown.
    """

    about: Row
    findings: list[Row] = field(default_factory=list)
    lines: list[Row] = field(default_factory=list)
    explanations: list[Row] = field(default_factory=list)
    doubt: list[Row] = field(default_factory=list)
    asks: dict[int, Row] = field(default_factory=dict)
    uses: set[str] = field(default_factory=set)
    convention: Convention = TABLE
    half_kcal: float = math.nan

    @property
    def verdict(self) -> str:
        return str(self.about["verdict"])

    @property
    def title(self) -> str:
        return str(self.about["title"] or self.about["recipe_id"])

    @property
    def standing(self) -> str:
        """Its verdict, ``accepted`` where its difference is."""
        return "accepted" if self.about.get("accepted") else self.verdict

    @property
    def kcal(self) -> float | None:
        """Energy on the basis of its numbers, None when it is not known."""
        value = self.about.get("kcal_computed")
        return None if value is None else float(value)

    @property
    def per(self) -> str:
        """ "per serving", "per 100 g": what its numbers are for."""
        return PER[str(self.about["basis"])]

    def line(self, line_no: int) -> Row | None:
        """One of its lines, as it is counted now."""
        return next((row for row in self.lines if int(row["line_no"]) == line_no), None)


def run_all(
    collection: Collection, tools: Tools, settings: Settings, *, habits: bool
) -> tuple[dict[str, RecipeNow], list[Row]]:
    """Every recipe of a collection, by recipe_id, and the habits of its creators if wanted."""
    read, runners, _ = read_all(collection, tools)
    result = judge_read(collection, read, runners, tools, settings, [], brief=True, habits=habits)
    return _by_recipe(result), records(result.habits, None)


def run_again(
    collection: Collection,
    tools: Tools,
    settings: Settings,
    known: dict[str, RecipeNow],
    touched: Iterable[str],
) -> dict[str, RecipeNow]:
    """The recipes whose numbers a change of some recipes' lines may move.

    Args:
        collection: the whole collection; titles of all of it are lines' possible foods.
        tools: with the memory in force now.
        known: every recipe as it stood before.
        touched: recipe_ids with a line that is read again.

    Returns:
        The touched recipes and those that use them, read and judged again; habits, which need the
        whole collection, are not looked for.
    """
    uses = [(recipe_id, used) for recipe_id, now in known.items() for used in now.uses]
    moved = reached(set(touched), [(used, user) for user, used in uses])
    if not moved:
        return {}
    needed = reached(moved, uses)
    while True:
        read, runners, _ = read_all(_lines_of(collection, needed), tools)
        more = with_used(needed, read)
        if more == needed:
            break
        needed = more
    recipe, stated = collection.recipe, collection.stated
    part = replace(
        _lines_of(collection, needed),
        recipe=recipe[recipe["recipe_id"].isin(needed)],
        stated=stated[stated["recipe_id"].isin(needed)],
    )
    convention = next(iter(known.values())).convention
    judged = judge_read(
        part, read, runners, tools, settings, [], convention=convention, brief=True, habits=False
    )
    result = _by_recipe(judged)
    return {recipe_id: now for recipe_id, now in result.items() if recipe_id in moved}


def _lines_of(collection: Collection, recipe_ids: set[str]) -> Collection:
    line = collection.line
    return replace(collection, line=line[line["recipe_id"].isin(recipe_ids)])


def _by_recipe(result: Result) -> dict[str, RecipeNow]:
    recipes = {
        str(row["recipe_id"]): RecipeNow(row, convention=result.convention)
        for row in records(result.recipes, None)
    }
    for recipe_id, used in uses_of(result.lines):
        recipes[recipe_id].uses.add(used)
    for name in ("findings", "lines", "explanations", "doubt"):
        for row in records(getattr(result, name), None):
            getattr(recipes[row["recipe_id"]], name).append(row)
    energy = result.computed[result.computed["nutrient"] == "ENERC_KCAL"]
    for row in records(energy):
        recipes[row["recipe_id"]].half_kcal = float(row["high"] - row["low"]) / 2
    for row in records(result.to_review, None):
        recipes[row["recipe_id"]].asks[int(row["line_no"])] = row
    return recipes
