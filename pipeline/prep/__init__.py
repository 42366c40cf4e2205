"""The week's cooking from a checked collection: scaled lines, and a list to shop by."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from pipeline.foods import singular
from pipeline.near_names import near_names, offered
from pipeline.problems import failure
from pipeline.resources import sql

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.run import Result

__all__ = ["bases", "scaled_lines", "shopping_list", "wanted_factors"]

_COLUMNS = [
    "food", "buy", "grams", "lines", "unweighed", "recipes", "food_id", "description", "text",
]  # fmt: skip
#: Units that are measured and not bought: halves of them are fine.
_SPOONED = frozenset(
    {"tsp", "dessertspoon", "tbsp", "cup", "stick", "ml", "cl", "dl", "l", "fl_oz", "pint"}
)
#: A half that is exceeded by so much of a unit is not rounded up: lines round as well.
_HARDLY = 0.1


def wanted_factors(result: Result, wanted: Mapping[str, float]) -> dict[str, float]:
    """Times of each whole recipe to make.

    Args:
        wanted: recipe_id, title, or words that one title alone holds → servings to make.

    Raises:
        SteelyardError: a name fits no recipe or more than one (with the titles that come near), or
            the recipe has no servings.
    """
    recipes = result.per_recipe.set_index("recipe_id")["servings"]
    factors: dict[str, float] = {}
    for name, servings in wanted.items():
        recipe_id = _named(result, name)
        made = float(recipes.get(recipe_id, float("nan")))
        if not made > 0 or not servings > 0:
            why, fix = "servings must be above zero", "ask for a positive number"
            if not made > 0:
                why, fix = "the recipe gives no servings", 'write "Serves 4" on the recipe'
            what = f'"{name}" cannot be scaled to {servings:g} servings'
            raise failure("plan-impossible", what=what, why=why, fix=fix)
        factors[recipe_id] = factors.get(recipe_id, 0.0) + servings / made
    return factors


def _named(result: Result, name: str) -> str:
    """The recipe of an id, a title, or words that one title alone holds."""
    rows = result.collection.recipe[["recipe_id", "title"]].fillna("")
    titles = {str(r): str(t) for r, t in zip(rows["recipe_id"], rows["title"], strict=True)}
    plain = " ".join(name.casefold().split())
    exact = [r for r, t in titles.items() if r == name or " ".join(t.casefold().split()) == plain]
    words = plain.split()
    holding = [r for r, t in titles.items() if all(w in t.casefold() for w in words)]
    found = exact or holding
    if len(found) == 1:
        return found[0]
    if found:
        shown = "; ".join(f'"{titles[r]}" ({r})' for r in found[:5])
        raise failure(
            "plan-impossible", what=f'"{name}" names {len(found)} recipes', why=f"it fits {shown}",
            fix="use the id in brackets",
        )  # fmt: skip
    raise failure(
        "plan-impossible", what=f'"{name}" names no recipe', why="no title holds these words",
        fix=offered(near_names(name, titles.values())) or "steelyard verify lists the titles",
    )  # fmt: skip


def shopping_list(result: Result, wanted: Mapping[str, float]) -> pd.DataFrame:
    """What the chosen recipes need in all, one row per food, the heaviest first.

    Args:
        wanted: recipe → servings, see ``wanted_factors``.

    Returns:
        food (the cook's word), buy ("12 eggs", "2 tins", "6 tbsp"; "" where it is only weighed),
        grams of edible food (NaN when no line of it could be weighed), lines, unweighed, recipes
        (ids), food_id, description (the table's name), text (the line itself where no food was
        found). Recipes that others use are opened into their own lines; water is left out.

    Raises:
        SteelyardError: see ``wanted_factors``.
    """
    import duckdb
    import pandas as pd

    make = _make(result, wanted)
    with duckdb.connect() as con:
        con.register("make", make)
        con.register("line", _lines(result))
        found = con.execute(sql("prep_shopping")).df()
    rows = [
        {**row, "food": name, "buy": _buy(name, row)}
        for row in ({str(k): v for k, v in r.items()} for r in found.to_dict("records"))
        if not _water(result, row, name := _food(row))
    ]
    return pd.DataFrame(rows, columns=_COLUMNS)


def bases(result: Result, wanted: Mapping[str, float]) -> pd.DataFrame:
    """Recipes that the chosen ones use, what goes into others first.

    Returns:
        recipe_id, title, portions (of the recipe's own), batches (times of the whole recipe).
    """
    import pandas as pd

    make = _make(result, wanted)
    titles, servings = _titles(result), result.per_recipe.set_index("recipe_id")["servings"]
    rows = [
        (r, titles.get(r) or r, factor * float(servings.get(r, math.nan)), factor)
        for r, factor, depth in zip(make["recipe_id"], make["factor"], make["depth"], strict=True)
        if depth > 0
    ]
    return pd.DataFrame(rows, columns=["recipe_id", "title", "portions", "batches"])


def scaled_lines(result: Result, wanted: Mapping[str, float]) -> pd.DataFrame:
    """The lines of the chosen recipes, and of those they use, at the servings asked.

    Returns:
        recipe_id, title, servings, line_no, text (as written), grams (scaled, NaN when unknown),
        needs ("4 portions of Base dressing" where the line is another recipe, else "").
        What goes into others comes first.
    """
    import pandas as pd

    make = _make(result, wanted)
    titles = _titles(result)
    servings = result.per_recipe.set_index("recipe_id")["servings"]
    share = {(r, n): (sub, s) for r, n, sub, s in _parts(result).itertuples(index=False)}
    parts = []
    for recipe_id, factor in zip(make["recipe_id"], make["factor"], strict=True):
        lines = result.lines[result.lines["recipe_id"] == recipe_id]
        needs = [
            _needs(share.get((recipe_id, int(no))), factor, titles, servings)
            for no in lines["line_no"]
        ]
        parts.append(
            lines.assign(
                title=titles[recipe_id], servings=float(servings[recipe_id]) * factor,
                grams=lines["grams"] * factor, needs=needs,
            )[["recipe_id", "title", "servings", "line_no", "text", "grams", "needs"]]
        )  # fmt: skip
    joined: pd.DataFrame = pd.concat(parts, ignore_index=True)
    return joined


def _needs(
    part: tuple[str, float] | None, factor: float, titles: dict[str, str], servings: pd.Series[Any]
) -> str:
    if part is None or part[1] != part[1]:
        return ""
    sub, share = part
    portions = share * factor * float(servings.get(sub, math.nan))
    if portions != portions:
        return f"{share * factor:.2g} of {titles.get(sub, sub)}"
    number = f"{portions:.3g}"
    return f"{number} portion{'' if number == '1' else 's'} of {titles.get(sub, sub)}"


def _make(result: Result, wanted: Mapping[str, float]) -> pd.DataFrame:
    """Rows of ``sql/prep_make.sql``: recipes to make, those they use included."""
    import duckdb
    import pandas as pd

    factors = wanted_factors(result, wanted)
    with duckdb.connect() as con:
        con.register("wanted", pd.DataFrame(factors.items(), columns=["recipe_id", "factor"]))
        con.register("part", _parts(result))
        made: pd.DataFrame = con.execute(sql("prep_make")).df()
    return made


def _lines(result: Result) -> pd.DataFrame:
    """The food lines of all recipes with the name the cook gave the food."""
    from pipeline.lines import parse_many

    lines = result.lines[result.lines["names_food"].astype(bool)]
    texts = list(dict.fromkeys(lines["text"]))
    names = {p.text: p.name for p in parse_many(texts)}
    columns = [
        "recipe_id", "line_no", "text", "food_id", "description", "grams", "unit", "amount", "basis",
    ]  # fmt: skip
    return lines[columns].assign(name=lines["text"].map(names).fillna(""))


def _titles(result: Result) -> dict[str, str]:
    recipe = result.collection.recipe
    return {str(r): str(t) for r, t in zip(recipe["recipe_id"], recipe["title"], strict=True)}


def _food(row: Mapping[str, Any]) -> str:
    """The cook's word for a food; the line itself where none was found."""
    if isinstance(row["text"], str) and row["text"]:
        return row["text"]
    return str(row["name"] or row["description"])


def _water(result: Result, row: Mapping[str, Any], name: str) -> bool:
    """Whether it comes from the tap: called water by the cook, and without energy."""
    words = name.casefold().split()
    if not words or words[-1] != "water" or not isinstance(row["food_id"], str):
        return False
    lines = result.lines[result.lines["food_id"] == row["food_id"]]
    return bool((lines["kcal"].fillna(0) == 0).all())


def _buy(name: str, row: Mapping[str, Any]) -> str:
    """How many of the unit it is bought or measured in; whole ones where it is bought whole."""
    unit, each, grams = row["unit"], row["each_g"], row["grams"]
    if not isinstance(unit, str) or each != each or grams != grams or not each > 0:
        return ""
    count = grams / each
    if unit in _SPOONED:
        count = max(math.ceil(2 * (count - _HARDLY)), 1) / 2
        text = f"{count:g} {unit.replace('_', ' ')}"
        return (
            text if unit in ("tsp", "tbsp", "ml", "cl", "dl", "l", "fl_oz") else _many(count, text)
        )
    whole = max(math.ceil(count - 0.05), 1)
    if unit in ("piece", "whole"):
        return _many(whole, f"{whole} {name}")
    return _many(whole, f"{whole} {unit.replace('_', ' ')}")


def _many(count: float, text: str) -> str:
    """The last word in the singular or, where there are several, in the plural."""
    if count <= 1:
        lead, _, last = text.rpartition(" ")
        return f"{lead} {singular(last)}".lstrip()
    if text.endswith("s"):
        return text
    if text.endswith("y") and text[-2:-1] not in "aeiou":
        return f"{text[:-1]}ies"
    return f"{text}es" if text.endswith(("x", "ch", "sh", "o")) else f"{text}s"


def _parts(result: Result) -> pd.DataFrame:
    """Lines that use a share of another recipe: portions, wholes or grams of it."""
    import pandas as pd

    whole = result.per_recipe.set_index("recipe_id").astype({"weight_g": float, "servings": float})
    weights, portions = whole["weight_g"].to_dict(), whole["servings"].to_dict()
    rows = []
    uses = result.lines[result.lines["origin"] == "recipe"]
    for row in uses.to_dict("records"):
        sub = str(row["food_id"]).removeprefix("recipe:")
        if sub not in weights:
            continue
        amount, unit = float(row["amount"]), str(row["unit"])
        holds = {"whole": 1.0, "batch": 1.0, "g": weights[sub], "kg": weights[sub] / 1000}
        size = holds.get(unit, portions[sub])
        share = amount / size if size > 0 else float("nan")
        rows.append((str(row["recipe_id"]), int(row["line_no"]), sub, share))
    return pd.DataFrame(rows, columns=["recipe_id", "line_no", "sub_recipe_id", "share"]).astype(
        {"recipe_id": object, "sub_recipe_id": object, "share": float, "line_no": "int64"}
    )
