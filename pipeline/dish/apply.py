"""The stage's door: LINE_RESULT in, LINE_RESULT with states, open amounts and uses out."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING, Any

from pipeline.dish.model import Dish, DishLine, LineUse
from pipeline.dish.opens import Opened, open_lines
from pipeline.dish.states import LEAST_DRY, TAKES_UP, asked_states
from pipeline.dish.twice import if_added, made_of_lines
from pipeline.dish.uses import uses
from pipeline.resources import sql
from pipeline.tables import LINE_USE

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.lines.model import ParsedLine
    from pipeline.reading import Tools

NAN = math.nan
#: Optional lines are counted when the stated energy is within ``fits`` with them (as a logarithm)
#: and by ``better`` nearer than without; less than ``least`` of the dish does not matter.
ADDED = {"fits": 0.14, "better": 0.02, "least": 0.02}
_WATERY = r"\b(?:water|broth|stock)\b"


def in_the_dish(
    con: duckdb.DuckDBPyConnection,
    recipe: pd.DataFrame,
    line_result: pd.DataFrame,
    tools: Tools,
    stated: pd.DataFrame,
) -> pd.DataFrame:
    """Lines as they count in their dishes.

    Args:
        con: a connection to the snapshot.
        recipe: RECIPE.
        line_result: LINE_RESULT, one row a line.
        tools: to read a line again in another state.
        stated: STATED; whether a stated energy holds the optional lines is asked of it.

    Returns:
        LINE_RESULT with ``use`` ("" for eaten whole), ``eaten_share``, ``eaten_low`` and
        ``eaten_high`` (0 to 1); lines read in another state have the food and grams of it, open
        lines the grams people use. What was changed stands in ``reason`` and ``weigh_reason``.
    """
    lines = line_result.reset_index(drop=True)
    dishes = _dishes(recipe, lines)
    lines = _states(con, dishes, lines, tools)
    opened = [one for dish in dishes for one in open_lines(dish)]
    lines = _with_open(lines, opened)
    told = [use for dish in dishes for use in (*if_added(dish), *made_of_lines(dish), *uses(dish))]
    beside = {(u.recipe_id, u.line_no) for u in told if u.use in ("if_added", "optional")}
    told += [
        LineUse(o.recipe_id, o.line_no, "if_added", "line", 0.0, 0.0, 0.5,
                "served beside, no amount is written")
        for o in opened
        if o.beside and o.grams >= 30 and (o.recipe_id, o.line_no) not in beside
    ]  # fmt: skip
    return _with_uses(con, lines, told, recipe, stated, tools)


def _dishes(recipe: pd.DataFrame, lines: pd.DataFrame) -> list[Dish]:
    columns = ("recipe_id", "title", "method", "servings")
    facts = {
        str(r): Dish(str(r), _text(t), _text(m), float(s) if s == s and s is not None else NAN)
        for r, t, m, s in zip(*(recipe[c] for c in columns), strict=True)
    }
    wanted = ("recipe_id", "line_no", "text", "section", "description", "food_id", "grams", "basis",
              "unit", "names_food")  # fmt: skip
    for r, no, text, section, description, food_id, grams, basis, unit, is_food in zip(
        *(lines[c] for c in wanted), strict=True
    ):
        dish = facts.setdefault(str(r), Dish(str(r), "", "", NAN))
        dish.lines.append(
            DishLine(int(no), str(text), _text(section), _text(description), _text(food_id),
                     float(grams) if grams == grams and grams is not None else NAN, _text(basis),
                     _text(unit), bool(is_food))
        )  # fmt: skip
    return [d for d in facts.values() if d.lines]


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""


# --- states ------------------------------------------------------------------------------------


def _states(
    con: duckdb.DuckDBPyConnection, dishes: list[Dish], lines: pd.DataFrame, tools: Tools
) -> pd.DataFrame:
    """Read lines again in the state that their use tells."""
    from pipeline.lines import parse_many
    from pipeline.reading import with_cells

    @cache
    def parsed(text: str) -> ParsedLine:
        return parse_many([text])[0]

    energy = _energy(con, tuple(set(lines["food_id"].dropna().astype(str))))

    def takes_up(read: ParsedLine, food_id: str) -> bool:
        dry = energy.get(food_id, NAN)
        if not dry >= LEAST_DRY:
            return False
        cooked = tools.matcher.match_one(replace(read, states=read.states | {"cooked"}))
        if cooked.food_id is None or cooked.status != "accepted":
            return False
        if cooked.food_id not in energy:
            energy.update(_energy(con, (cooked.food_id,)))
        return energy.get(cooked.food_id, NAN) < TAKES_UP * dry

    place = {
        (str(r), int(n)): at
        for at, r, n in zip(lines.index, lines["recipe_id"], lines["line_no"], strict=True)
    }
    changes: dict[int, dict[str, Any]] = {}
    for dish in dishes:
        for line, read, why in asked_states(dish, parsed, takes_up):
            at = place[dish.recipe_id, line.line_no]
            if lines.at[at, "origin"] in ("decision", "pantry", "recipe"):
                continue
            match = tools.matcher.match_one(read)
            weight = tools.weigher.weigh([read], [match])[0]
            if match.food_id is None or weight.grams is None:
                continue
            line.grams, line.food_id, line.description = (
                weight.grams, match.food_id, match.description,
            )  # fmt: skip
            changes[at] = {
                "food_id": match.food_id, "description": match.description,
                "confidence": match.confidence, "status": match.status,
                "reason": f"{match.reason}; {why}", "grams": weight.grams,
                "grams_low": weight.low, "grams_high": weight.high, "basis": weight.basis,
                "weigh_reason": weight.reason, "unit": weight.unit, "amount": weight.amount,
            }  # fmt: skip
    return with_cells(lines, changes)


def _energy(con: duckdb.DuckDBPyConnection, food_ids: tuple[str, ...]) -> dict[str, float]:
    """kcal per 100 g of foods of the snapshot."""
    rows = con.execute(
        "select food_id, amount_per_100g from food_nutrient"
        " where nutrient = 'ENERC_KCAL' and list_contains($ids, food_id)",
        {"ids": list(food_ids)},
    ).fetchall()
    return {str(i): float(a) for i, a in rows if a is not None}


# --- open lines and uses -------------------------------------------------------------------------


def _with_open(lines: pd.DataFrame, opened: list[Opened]) -> pd.DataFrame:
    from pipeline.reading import with_cells

    by_line = {(o.recipe_id, o.line_no): o for o in opened}
    changes = {
        at: {"grams": o.grams, "grams_low": o.low, "grams_high": o.high, "basis": "open",
             "weigh_reason": o.reason}
        for at, r, n in zip(lines.index, lines["recipe_id"], lines["line_no"], strict=True)
        if (o := by_line.get((str(r), int(n)))) is not None
    }  # fmt: skip
    return with_cells(lines, changes)


def _with_uses(
    con: duckdb.DuckDBPyConnection,
    lines: pd.DataFrame,
    told: list[LineUse],
    recipe: pd.DataFrame,
    stated: pd.DataFrame,
    tools: Tools,
) -> pd.DataFrame:
    import pandas as pd

    lines = lines.assign(use="", eaten_share=NAN, eaten_low=NAN, eaten_high=NAN)
    if not told:
        return lines
    place = {
        (str(r), int(n)): at
        for at, r, n in zip(lines.index, lines["recipe_id"], lines["line_no"], strict=True)
    }
    rows = [(*use, at) for at, use in enumerate(told)]
    frame = pd.DataFrame(rows, columns=[*LINE_USE, "place"])
    energy = _energy(con, tuple(set(lines["food_id"].dropna().astype(str))))
    energy |= {f.food_id: f.per_100g.get("ENERC_KCAL", NAN) for f in tools.pantry.foods}
    known = lines[["recipe_id", "line_no", "grams"]].assign(
        watery=lines["description"].fillna("").str.contains(_WATERY, case=False, regex=True),
        kcal=lines["grams"].astype(float) * lines["food_id"].map(energy).astype(float) / 100,
    )
    said = stated[(stated["nutrient"] == "ENERC_KCAL") & (stated["basis"] != "per_100g")]
    db = con.cursor()
    try:
        for name, given, numbers in (
            ("use_in", frame, ()),
            ("line_in", known.astype({"grams": float, "kcal": float}), ("grams", "kcal")),
            ("stated_in", said[["recipe_id", "amount", "basis"]], ()),
            ("recipe_in", recipe[["recipe_id", "servings"]].astype({"servings": float}), ("servings",)),
        ):  # fmt: skip
            db.register(f"{name}_frame", frame_of_objects(given))
            nulls = ", ".join(f"nullif({n}::double, 'nan'::double) as {n}" for n in numbers)
            db.execute(
                f"create or replace temp table {name} as select *"
                + (f" replace ({nulls})" if nulls else "")
                + f" from {name}_frame"
            )
        found = db.execute(sql("dish_use"), ADDED).fetchall()
    finally:
        db.close()
    changes: dict[int, dict[str, Any]] = {}
    for recipe_id, line_no, use, reason, share, low, high in found:
        at = place[str(recipe_id), int(line_no)]
        if share is None:
            continue
        text = _said(use, share, low, high, reason, lines.loc[at], energy)
        before = _text(lines.at[at, "weigh_reason"])
        changes[at] = {
            "use": use, "eaten_share": share, "eaten_low": low, "eaten_high": high,
            "weigh_reason": f"{before}; {text}" if before else text,
        }  # fmt: skip
    return _filled(lines, changes)


def frame_of_objects(frame: pd.DataFrame) -> pd.DataFrame:
    """The same frame; a text column without rows keeps a type that DuckDB can compare."""
    return frame.astype({c: "str" for c in ("recipe_id",) if c in frame and frame.empty})


def _filled(lines: pd.DataFrame, changes: dict[int, dict[str, Any]]) -> pd.DataFrame:
    from pipeline.reading import with_cells

    return with_cells(lines, changes)


def _said(
    use: str, share: float, low: float, high: float, reason: str, line: Any,
    energy: dict[str, float],
) -> str:  # fmt: skip
    """What a line says of its use."""
    if use == "made":
        return reason
    if use == "optional":
        return f"{reason}: counted, because the stated energy holds it"
    if use == "if_added":
        kcal = line["grams"] * energy.get(str(line["food_id"]), NAN) / 100
        return (
            f"{reason}; if added: {kcal:.0f} kcal in the whole recipe" if kcal == kcal else reason
        )
    return f"{share:.0%} ({low:.0%} to {high:.0%}) of it is eaten: {reason}"
