"""The stage's entry point: LINE_RESULT in, LINE_RESULT with states, open amounts and uses out."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pipeline.dish.model import Dishes, LineUse
from pipeline.dish.opens import Opened, open_lines
from pipeline.dish.states import read_again
from pipeline.dish.twice import counted_twice, optional_or_other
from pipeline.dish.uses import uses
from pipeline.lines.use_words import dish_phrase
from pipeline.reading import with_cells
from pipeline.resources import sql
from pipeline.tables import LINE_USE, RECIPE, STATED, Table

if TYPE_CHECKING:
    import duckdb

    from pipeline.reading import Tools

NAN = math.nan
#: Optional lines are counted when the stated energy is within ``fits`` with them (as a logarithm)
#: and by ``better`` nearer than without; less than ``least`` of the dish does not matter.
ADDED = {"fits": 0.14, "better": 0.02, "least": 0.02}
#: An open line that is served beside is optional from so many grams on.
LEAST_BESIDE_G = 30.0


def in_the_dish(
    con: duckdb.DuckDBPyConnection,
    recipe: pd.DataFrame,
    line_result: pd.DataFrame,
    tools: Tools,
    stated: pd.DataFrame,
) -> pd.DataFrame:
    """Lines as they count in their dishes.

    Args:
        recipe: RECIPE.
        line_result: LINE_RESULT, one row per line.
        tools: to read a line again in another state.
        stated: STATED; whether a stated energy holds the optional lines is asked of it.

    Returns:
        LINE_RESULT with ``use`` ("" for eaten whole), ``eaten_share``, ``eaten_low`` and
        ``eaten_high`` (0 to 1); lines read in another state have the food and grams of it, open
        lines the grams people use. What was changed is in ``reason`` and ``weigh_reason``.
    """
    lines = line_result.reset_index(drop=True)
    dishes = Dishes(recipe, lines)
    if changes := _in_other_states(dishes, tools):
        lines = with_cells(lines, changes)
        dishes.read(lines)
    if changes := _a_person(dishes, lines):
        lines = with_cells(lines, changes)
        dishes.read(lines)
    opened = open_lines(dishes)
    if opened:
        lines = with_cells(lines, {o.at: _open_cells(o) for o in opened})
    found = [*optional_or_other(dishes), *counted_twice(dishes), *uses(dishes)]
    found += _beside(dishes, opened, found)
    lines = lines.assign(use="", eaten_share=NAN, eaten_low=NAN, eaten_high=NAN)
    if not found:
        return lines
    return with_cells(lines, _use_cells(con, lines, found, recipe, stated, tools))


def _in_other_states(dishes: Dishes, tools: Tools) -> dict[int, dict[str, Any]]:
    """Cells of lines that are read again in the state that their use tells."""
    return {
        again.at: {
            "food_id": (match := again.match).food_id, "description": match.description,
            "confidence": match.confidence, "status": match.status,
            "reason": f"{match.reason}; {again.why}", "grams": (weight := again.weight).grams,
            "grams_low": weight.low, "grams_high": weight.high, "basis": weight.basis,
            "weigh_reason": weight.reason, "unit": weight.unit, "amount": weight.amount,
        }
        for again in read_again(dishes, tools, tools.weigher.energies)
    }  # fmt: skip


def _a_person(dishes: Dishes, lines: pd.DataFrame) -> dict[int, dict[str, Any]]:
    """Cells of lines that say how much each eater gets: "75 g dry pasta per person"."""
    servings = dishes.servings[dishes.of]
    said = dishes.text.has(dish_phrase("a_person")) & (servings > 1) & (dishes.grams > 0)
    weights = ["grams", "grams_low", "grams_high"]
    return {
        at: {
            **{name: lines.at[at, name] * servings[at] for name in weights},
            "weigh_reason": f"{lines.at[at, 'weigh_reason']!s}; a person, {servings[at]:g} of them",
        }
        for at in np.flatnonzero(said).tolist()
    }


def _open_cells(opened: Opened) -> dict[str, Any]:
    return {"grams": opened.grams, "grams_low": opened.low, "grams_high": opened.high,
            "basis": "open", "weigh_reason": opened.reason}  # fmt: skip


def _beside(dishes: Dishes, opened: list[Opened], found: list[LineUse]) -> list[LineUse]:
    """Open lines that are served beside and not optional already."""
    known = {(u.recipe_id, u.line_no) for u in found if u.use in ("if_added", "optional")}
    return [
        LineUse(*key, "if_added", "line", 0.0, 0.0, 0.5, "served beside, no amount is written")
        for o in opened
        if o.beside and o.grams >= LEAST_BESIDE_G
        and (key := (dishes.recipe_id[o.at], dishes.line_no[o.at])) not in known
    ]  # fmt: skip


def _use_cells(
    con: duckdb.DuckDBPyConnection, lines: pd.DataFrame, found: list[LineUse],
    recipe: pd.DataFrame, stated: pd.DataFrame, tools: Tools,
) -> dict[int, dict[str, Any]]:  # fmt: skip
    """Cells of the lines that are not eaten whole, from what their recipes hold beside them."""
    of = lines[lines["recipe_id"].isin({use.recipe_id for use in found})]
    energy = tools.weigher.energies(of["food_id"].dropna().astype(str).unique().tolist())
    energy |= {f.food_id: f.per_100g.get("ENERC_KCAL", NAN) for f in tools.pantry.foods}
    watery = dish_phrase("watery")
    known = of[["recipe_id", "line_no"]].assign(
        grams=of["grams"].astype(float),
        kcal=of["grams"].astype(float) * of["food_id"].map(energy).astype(float) / 100,
        watery=[watery.found(text) for text in of["description"].fillna("").tolist()],
        line_index=of.index,
    )
    rows = pd.DataFrame(found, columns=LINE_USE).assign(place=range(len(found)))
    kcal = stated[(stated["nutrient"] == "ENERC_KCAL") & (stated["basis"] != "per_100g")]
    energies = dict(zip(known["line_index"].tolist(), known["kcal"].tolist(), strict=True))
    told = lines["weigh_reason"].tolist()
    changes: dict[int, dict[str, Any]] = {}
    for at, use, reason, share, low, high in _sized(con, known, rows, kcal, recipe):
        text = _in_words(use, (share, low, high), reason, energies[at])
        before = told[at]
        changes[at] = {
            "use": use, "eaten_share": share, "eaten_low": low, "eaten_high": high,
            "weigh_reason": f"{before}; {text}" if isinstance(before, str) and before else text,
        }  # fmt: skip
    return changes


_LINE_IN = Table(
    recipe_id="varchar", line_no="integer", grams="double", kcal="double", watery="boolean",
    line_index="bigint",
)  # fmt: skip


def _sized(
    con: duckdb.DuckDBPyConnection, known: pd.DataFrame, rows: pd.DataFrame, kcal: pd.DataFrame,
    recipe: pd.DataFrame,
) -> list[tuple[Any, ...]]:  # fmt: skip
    """Rows of ``sql/dish_use.sql``: the place of a line, its use, the reason and the shares."""
    given = {
        "line_in": (known, _LINE_IN),
        "use_in": (rows, LINE_USE.plus(place="bigint")),
        "stated_in": (kcal, STATED.only("recipe_id", "amount", "basis")),
        "recipe_in": (recipe, RECIPE.only("recipe_id", "servings")),
    }
    with con.cursor() as db:
        for name, (frame, table) in given.items():
            table.register(db, name, frame)
        return db.execute(sql("dish_use"), ADDED).fetchall()


def _in_words(use: str, shares: tuple[float, float, float], reason: str, kcal: float) -> str:
    """How much of a line counts, for its reason.

    Args:
        shares: best guess, lowest and highest share.
        kcal: energy of all its grams, NaN where not known.
    """
    if use == "made":
        return reason
    if use == "optional":
        return f"{reason}: counted, because the stated energy holds it"
    if use == "if_added":
        return (
            f"{reason}; if added: {kcal:.0f} kcal in the whole recipe" if kcal == kcal else reason
        )
    return "{:.0%} ({:.0%} to {:.0%}) of it is eaten: ".format(*shares) + reason
