"""The number of servings, where a recipe's words leave it open: every reading beside the energy."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pandas as pd

from pipeline.compute.totals import Z90, Computation
from pipeline.intake.building import NOT_SAID
from pipeline.intake.facts_line import counted
from pipeline.problems import Problem, input_problem
from pipeline.resources import sql
from pipeline.tables import READING

if TYPE_CHECKING:
    import duckdb

NAN = float("nan")

#: Of recipes of public pages with undoubted servings, about two thirds have a computed energy within
#: a fifth of the stated one, the rest lies within a factor of three (``make bench-pages``).
FIT = {"close_share": 0.65, "close_sd": 0.12, "wide_sd": 0.6}

#: Words that count no servings fit any number from 4 to 30: the density of that in logarithms, less
#: what a number told would have to be preferred by.
UNCOUNTED = 0.15

#: Below this known share of the energy the words alone decide.
LEAST_COVERAGE = 0.5

#: Where nothing is said: energy and macros have to follow, all of them, from nearly known lines. One
#: number alone fits too many counts to tell any but the whole.
UNSAID = {
    "nutrients": ["ENERC_KCAL", "PROCNT", "CHOCDF", "FAT"], "most": 12, "off": 0.1, "least": 1.0,
    "enough": 3, "least_coverage": 0.9,
}  # fmt: skip
#: A larger count of a text is none of servings.
_MOST_TOLD = 60


def settle_servings(
    con: duckdb.DuckDBPyConnection,
    computation: Computation,
    recipe: pd.DataFrame,
    reading: pd.DataFrame,
    stated: pd.DataFrame,
) -> tuple[Computation, pd.DataFrame, pd.DataFrame, list[Problem]]:
    """Choose among the readings of the servings by words and stated energy.

    Args:
        con: any connection; a cursor of it is used.
        recipe: RECIPE.
        reading: READING; recipes without rows keep the servings they have.
        stated: STATED.

    Returns:
        The computation and RECIPE with the servings chosen and ``servings_how`` filled, STATED with
        what the numbers are for, and a note for each recipe whose words left either open. A recipe
        that says nothing of what it makes gets the number that makes all its energy and macros
        follow from the lines, if any.
    """
    unsaid = _unsaid(con, computation, recipe, reading, stated)
    if not unsaid.empty:
        reading = pd.concat([reading, unsaid], ignore_index=True)
    if reading.empty:
        return computation, recipe, stated, []
    chosen = _chosen(con, computation, reading, stated).set_index("recipe_id")
    whole = stated["recipe_id"].isin(chosen.index[chosen["basis"] == "per_recipe"])
    of_whole = whole & (stated["basis"] == "per_serving")
    stated = stated.assign(basis=stated["basis"].mask(of_whole, "per_recipe"))
    left_open = (chosen["readings"] > 1) | (chosen["basis"] == "per_recipe")
    derived = chosen.index.isin(unsaid["recipe_id"])
    chosen = chosen[left_open | derived | _by_weight(chosen, reading)]
    texts = {str(recipe_id): _how(row) for recipe_id, row in _rows(chosen)}
    ids = recipe["recipe_id"]
    open_ = ids.isin(chosen.index)
    settled = recipe.assign(
        servings=recipe["servings"].where(~open_, ids.map(chosen["servings"]).astype(float)),
        serving_word=recipe["serving_word"].where(
            ~open_ | ids.isin(unsaid["recipe_id"]), ids.map(chosen["serving_word"])
        ),
        servings_how=recipe["servings_how"].where(~open_, ids.map(texts)),
    )
    facts = computation.recipe
    servings = facts["recipe_id"].map(chosen["servings"]).astype(float)
    facts = facts.assign(
        servings=facts["servings"].where(~facts["recipe_id"].isin(chosen.index), servings)
    )
    source = recipe.drop_duplicates("recipe_id").set_index("recipe_id")
    problems = [
        _note(r, row, texts[r], source.loc[r]) for r, row in _rows(chosen) if r in source.index
    ]
    return replace(computation, recipe=facts), settled, stated, problems


def _by_weight(chosen: pd.DataFrame, reading: pd.DataFrame) -> pd.Series[bool]:
    """Recipes with a reading by the weight of a serving."""
    weighed = reading.loc[reading["serving_g"] > 0, "recipe_id"]
    return chosen.index.to_series().isin(weighed)


def _unsaid(
    con: duckdb.DuckDBPyConnection,
    computation: Computation,
    recipe: pd.DataFrame,
    reading: pd.DataFrame,
    stated: pd.DataFrame,
) -> pd.DataFrame:
    """READING of recipes that say nothing of what they make, where the numbers tell."""
    silent = recipe[(recipe["servings_how"] == NOT_SAID) & recipe["servings"].isna()]["recipe_id"]
    if silent.empty:
        return pd.DataFrame(columns=READING)
    db = con.cursor()
    try:
        db.register("unsaid", pd.DataFrame({"recipe_id": silent}))
        db.register("told", _told(recipe[recipe["recipe_id"].isin(silent)]))
        db.register("stated_in", stated[["recipe_id", "nutrient", "amount", "basis"]])
        db.register("total_in", computation.total[["recipe_id", "nutrient", "amount", "coverage"]])
        params = {**UNSAID, "available": computation.convention.available}
        found = db.execute(sql("compute_servings_unsaid"), params).df()
    finally:
        db.close()
    how = f"{NOT_SAID}; all stated numbers follow from its lines if it makes {{:.0f}}"
    rows = found.itertuples(index=False)
    return READING.frame((r, 1, n, "", NAN, 1.0, how.format(n), "") for r, n in rows)


def _told(recipe: pd.DataFrame) -> pd.DataFrame:
    """Every count that the texts of recipes name: recipe_id, servings."""
    rows = {
        (str(one["recipe_id"]), value)
        for one in recipe.to_dict("records")
        for text in (one["title"], one["description"], one["method"])
        for value, _, _ in counted(str(text or ""))
        if value <= _MOST_TOLD
    }
    return pd.DataFrame(sorted(rows), columns=["recipe_id", "servings"])


def _rows(frame: pd.DataFrame) -> list[tuple[str, dict[str, Any]]]:
    records = frame.to_dict("records")
    return [
        (str(i), {str(k): v for k, v in row.items()})
        for i, row in zip(frame.index, records, strict=True)
    ]


def _chosen(
    con: duckdb.DuckDBPyConnection,
    computation: Computation,
    reading: pd.DataFrame,
    stated: pd.DataFrame,
) -> pd.DataFrame:
    db = con.cursor()
    try:
        for name, frame, numbers in (
            ("reading", reading, ("servings", "serving_g", "belief")),
            ("stated_in", stated[["recipe_id", "nutrient", "amount", "basis"]], ("amount",)),
            ("total_in", computation.total, ("amount", "low", "high")),
            ("recipe_in", computation.recipe, ("weight_g",)),
        ):
            db.register(f"{name}_frame", frame.astype(dict.fromkeys(numbers, float)))
            nulls = ", ".join(f"nullif({n}, 'nan'::double) as {n}" for n in numbers)
            db.execute(
                f"create or replace temp table {name} as"
                f" select * replace ({nulls}) from {name}_frame"
            )
        db.execute(
            "create or replace temp view energy as select recipe_id, amount, low, high, coverage"
            " from total_in where nutrient = 'ENERC_KCAL'"
        )
        db.execute(
            "create or replace temp view weight as select recipe_id, weight_g from recipe_in"
        )
        params = {"z": Z90, "least_coverage": LEAST_COVERAGE, "uncounted": UNCOUNTED, **FIT}
        return db.execute(sql("compute_servings"), params).df()
    finally:
        db.close()


def _how(row: dict[str, Any]) -> str:
    """How the servings were read, in words."""
    text = str(row["how"])
    if (
        not text.startswith(NOT_SAID)
        and _known(row["stated_kcal"])
        and _known(row["per_serving_kcal"])
    ):
        text += f", which fits the stated {row['stated_kcal']:.0f} kcal best"
        if _known(row["other_kcal"]):
            text += (f" ({row['per_serving_kcal']:.0f} kcal; {row['other_servings']:.3g} servings "
                     f"would be {row['other_kcal']:.0f} kcal)")  # fmt: skip
    return text


def _known(value: Any) -> bool:
    return value is not None and not math.isnan(float(value))


def _note(recipe_id: str, row: dict[str, Any], how: str, recipe: Any) -> Problem:
    line = recipe["source_line"]
    return input_problem(
        "basis-read" if row["basis"] else "servings-read" if _known(row["servings"]) else "servings-not-counted",
        source=str(recipe["source"]),
        source_line=None if line is None or line != line else int(line),
        recipe_id=recipe_id, servings=row["servings"], how=how,
    )  # fmt: skip
