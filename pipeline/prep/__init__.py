"""The week's cooking from a checked collection: scaled lines and a shopping list by grams."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from pipeline.problems import Problem, SteelyardError
from pipeline.resources import sql

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.run import Result

__all__ = ["scaled_lines", "shopping_list", "wanted_factors"]

_COLUMNS = ["food_id", "description", "text", "grams", "lines", "unweighed", "recipes"]


def wanted_factors(result: Result, wanted: Mapping[str, float]) -> dict[str, float]:
    """Times of each whole recipe to make.

    Args:
        result: of ``pipeline.verify``.
        wanted: recipe_id or title → servings to make.

    Raises:
        SteelyardError: a name fits no recipe or more than one, or the recipe has no servings.
    """
    recipes = result.per_recipe.set_index("recipe_id")["servings"]
    titles = result.collection.recipe[["recipe_id", "title"]]
    factors: dict[str, float] = {}
    for name, servings in wanted.items():
        ids = titles.loc[
            (titles["recipe_id"] == name) | (titles["title"].str.casefold() == name.casefold()),
            "recipe_id",
        ].tolist()
        if len(ids) != 1:
            why = "no recipe has that id or title" if not ids else f"it fits {', '.join(ids)}"
            raise _refused(
                f'"{name}" names no single recipe', why, "use the recipe_id of recipes.csv"
            )
        made = float(recipes.get(ids[0], float("nan")))
        if not made > 0 or not servings > 0:
            raise _refused(
                f'"{name}" cannot be scaled to {servings:g} servings',
                "the recipe says no servings" if not made > 0 else "servings must be above zero",
                'write "Serves 4" on the recipe, or ask for a positive number',
            )
        factors[ids[0]] = factors.get(ids[0], 0.0) + servings / made
    return factors


def shopping_list(result: Result, wanted: Mapping[str, float]) -> pd.DataFrame:
    """What the chosen recipes need in all, a row a food, the heaviest first.

    Args:
        result: of ``pipeline.verify``.
        wanted: recipe_id or title → servings.

    Returns:
        food_id, description, text (the line itself where no food was found), grams of edible
        food (NaN when no line of it could be weighed), lines, unweighed, recipes (ids).
        Recipes that others use are opened into their own lines.

    Raises:
        SteelyardError: see ``wanted_factors``.
    """
    import duckdb
    import pandas as pd

    factors = wanted_factors(result, wanted)
    chosen = pd.DataFrame({"recipe_id": list(factors), "factor": list(factors.values())})
    lines = result.lines[result.lines["names_food"].astype(bool)]
    with duckdb.connect() as con:
        con.register("wanted", chosen)
        con.register(
            "line", lines[["recipe_id", "line_no", "text", "food_id", "description", "grams"]]
        )
        con.register("part", _parts(result))
        return con.execute(sql("prep_shopping")).df()[_COLUMNS]


def _parts(result: Result) -> pd.DataFrame:
    """Lines that use a share of another recipe: portions, wholes or grams of it."""
    import pandas as pd

    weights: dict[str, float] = dict(
        zip(
            result.per_recipe["recipe_id"], result.per_recipe["weight_g"].astype(float), strict=True
        )
    )
    portions: dict[str, float] = dict(
        zip(
            result.per_recipe["recipe_id"], result.per_recipe["servings"].astype(float), strict=True
        )
    )
    rows = []
    uses = result.lines[result.lines["origin"] == "recipe"]
    for row in uses.to_dict("records"):
        sub = str(row["food_id"]).removeprefix("recipe:")
        if sub not in weights:
            continue
        amount, unit = float(row["amount"]), str(row["unit"])
        holds: dict[str, float] = {
            "whole": 1.0,
            "batch": 1.0,
            "g": weights[sub],
            "kg": weights[sub] / 1000,
        }
        whole = holds[unit] if unit in holds else portions[sub]
        share = amount / whole if whole > 0 else float("nan")
        rows.append((str(row["recipe_id"]), int(row["line_no"]), sub, share))
    return pd.DataFrame(rows, columns=["recipe_id", "line_no", "sub_recipe_id", "share"]).astype(
        {"recipe_id": object, "sub_recipe_id": object, "share": float, "line_no": "int64"}
    )


def scaled_lines(result: Result, wanted: Mapping[str, float]) -> pd.DataFrame:
    """The lines of the chosen recipes at the servings asked, with grams to weigh out.

    Returns:
        recipe_id, title, servings, line_no, text (as written), grams (scaled, NaN when unknown).
    """
    import pandas as pd

    factors = wanted_factors(result, wanted)
    titles = dict(
        zip(result.collection.recipe["recipe_id"], result.collection.recipe["title"], strict=True)
    )
    made = result.per_recipe.set_index("recipe_id")["servings"]
    parts = []
    for recipe_id, factor in factors.items():
        lines = result.lines[result.lines["recipe_id"] == recipe_id]
        parts.append(
            lines.assign(
                title=titles[recipe_id], servings=float(made[recipe_id]) * factor,
                grams=lines["grams"] * factor,
            )[["recipe_id", "title", "servings", "line_no", "text", "grams"]]
        )  # fmt: skip
    return pd.concat(parts, ignore_index=True)


def _refused(what: str, why: str, fix: str) -> SteelyardError:
    return SteelyardError(Problem("plan-impossible", what, why, fix))
