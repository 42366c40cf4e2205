"""Recipes that use other recipes: how much of each, in which order, and what cannot be."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from pipeline.match.titles import portion_of
from pipeline.problems import Problem
from pipeline.units import kitchen_units

if TYPE_CHECKING:
    import pandas as pd

PREFIX = "recipe:"

_PORTION = {"portion", "serving", "piece"}
_WHOLE = {"whole", "batch", "share"}


def plan_uses(
    uses: pd.DataFrame, recipes: pd.DataFrame, own_weight_g: dict[str, float]
) -> tuple[list[list[dict[str, Any]]], list[Problem]]:
    """Turn lines that use a recipe into shares of that recipe, ordered so that sums can be taken.

    Args:
        uses: one row per line: recipe_id, line_no, text, food_id (``recipe:ID``), unit, amount.
        recipes: RECIPE; servings and yield_g say how large the whole is.
        own_weight_g: grams of the lines of each recipe that are foods.

    Returns:
        Levels; each a list of rows recipe_id, line_no, sub_id, share (of the whole), share_sd,
        grams. A recipe of one level only uses recipes of earlier ones. And the problems: recipes
        that are not there, that use themselves, or of which a share is not known; their lines
        stay uncounted.
    """
    facts = recipes.set_index("recipe_id")
    problems: list[Problem] = []
    rows: list[dict[str, Any]] = []
    for record in uses.to_dict("records"):
        use = {str(key): value for key, value in record.items()}
        sub_id = str(use["food_id"]).removeprefix(PREFIX)
        if sub_id not in facts.index:
            problems.append(_problem(use, "sub-recipe-missing", f"recipe '{sub_id}' is not in the "
                            "collection", "check its title or id, or add the recipe"))  # fmt: skip
            continue
        rows.append({**use, "sub_id": sub_id})
    rows, rings = _without_rings(rows)
    problems += rings
    waiting: dict[str, set[str]] = {}
    for row in rows:
        waiting.setdefault(str(row["recipe_id"]), set()).add(row["sub_id"])
    weight = dict(own_weight_g)
    levels: list[list[dict[str, Any]]] = []
    while waiting:  # no rings are left, so every pass takes at least one recipe out
        ready = sorted(r for r, subs in waiting.items() if not subs & waiting.keys())
        level: list[dict[str, Any]] = []
        for row in (r for r in rows if r["recipe_id"] in ready):
            found = _share(row, facts.loc[row["sub_id"]], weight.get(row["sub_id"], math.nan))
            if isinstance(found, Problem):
                problems.append(found)
                continue
            level.append(found)
            if not math.isnan(found["grams"]):
                own = weight.get(found["recipe_id"], 0.0)
                weight[found["recipe_id"]] = own + found["grams"]
        for recipe_id in ready:
            del waiting[recipe_id]
        if level:
            levels.append(level)
    return levels, problems


def _without_rings(rows: list[dict[str, Any]]) -> tuple[list[dict[str, Any]], list[Problem]]:
    """Take out the lines that close a ring of recipes, and say which ring it is."""
    uses: dict[str, list[str]] = {}
    for row in rows:
        uses.setdefault(str(row["recipe_id"]), []).append(row["sub_id"])
    kept: list[dict[str, Any]] = []
    problems: list[Problem] = []
    for row in rows:
        way_back = _path(row["sub_id"], str(row["recipe_id"]), uses)
        if not way_back:
            kept.append(row)
            continue
        ring = " -> ".join([str(row["recipe_id"]), *way_back])
        problems.append(_problem(row, "sub-recipe-cycle", f"recipes use each other in a ring: "
                        f"{ring}", "take one of them out of the ring"))  # fmt: skip
    return kept, problems


def _path(start: str, goal: str, uses: dict[str, list[str]]) -> list[str]:
    """Recipes from ``start`` to ``goal`` along the uses, both included; empty when none leads."""
    came_from: dict[str, str] = {start: ""}
    queue = [start]
    for here in queue:
        if here == goal:
            path = [here]
            while came_from[path[-1]]:
                path.append(came_from[path[-1]])
            return path[::-1]
        for onward in uses.get(here, []):
            if onward not in came_from:
                came_from[onward] = here
                queue.append(onward)
    return []


def _share(use: dict[str, Any], sub: pd.Series[Any], weight_g: float) -> dict[str, Any] | Problem:
    """Share of the whole sub-recipe that a line uses, with its standard deviation."""
    amount = 1.0 if _missing(use["amount"]) else float(use["amount"])
    unit = "whole" if _missing(use["unit"]) or not use["unit"] else str(use["unit"])
    servings, yield_g = float(sub["servings"]), float(sub["yield_g"])
    whole_g = yield_g if yield_g > 0 else weight_g
    spread = 0.0
    if unit in _WHOLE:
        share = amount
    elif unit == "piece" and float(sub.get("pieces", math.nan)) > 0:
        share = amount / float(sub["pieces"])
    elif unit == "piece" and (amount < 1 or not servings > 0):  # "a third of yesterday's dough"
        share = amount
    elif unit in _PORTION or unit == portion_of(sub.get("serving_word")):
        if not servings > 0:
            return _problem(use, "sub-recipe-without-servings", f"{amount:g} portions of "
                            f"'{sub['title']}' are asked for, but it does not say how many it "
                            "makes", "add servings to that recipe, or say grams")  # fmt: skip
        share = amount / servings
    elif unit_g := kitchen_units().grams.get(unit) or kitchen_units().ml(unit, "us"):
        grams = amount * unit_g  # a made-up dish: 1 g/ml, give or take a tenth (common practice)
        if not whole_g > 0:
            return _problem(use, "sub-recipe-without-weight", f"{amount:g} {unit} of "
                            f"'{sub['title']}' are asked for, but its weight is not known",
                            "add the yield in grams to that recipe")  # fmt: skip
        share = grams / whole_g
        spread = 0.1 if unit not in kitchen_units().grams else 0.0 if yield_g > 0 else 0.05
    else:
        return _problem(
            use,
            "sub-recipe-unit-unknown",
            f"unit '{unit}' says no share of '{sub['title']}'",
            "say portions, grams, or a part of the whole",
        )
    return {
        "recipe_id": str(use["recipe_id"]),
        "line_no": int(use["line_no"]),
        "sub_id": use["sub_id"],
        "share": share,
        "share_sd": share * spread,
        "grams": share * whole_g,
    }


def _missing(value: object) -> bool:
    return value is None or value != value or str(value) in ("<NA>", "NaT")


def _problem(use: dict[str, Any], code: str, what: str, fix: str) -> Problem:
    return Problem(
        code,
        what,
        "the line is left out of the sums and lowers the coverage",
        fix,
        recipe_id=str(use["recipe_id"]),
        line_no=int(use["line_no"]),
        text=str(use["text"] or ""),
    )
