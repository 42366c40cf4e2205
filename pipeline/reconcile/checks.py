"""Checks on the stated numbers alone: do they fit one another?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from pipeline.compute.convention import factors
from pipeline.reconcile.findings import column_name, stated_beside
from pipeline.resources import sql

if TYPE_CHECKING:
    import duckdb

COLUMNS = ["recipe_id", "basis", "code", "severity", "message", "stated", "expected", "convention"]

#: Energy may lie this far from the nearest convention beyond what rounding explains: 10 % of it,
#: never less than 15 kcal. Of honest restaurant and cereal labels a 10 % gate flags 1 to 8 %, most
#: of them tiny portions where rounding alone does it (shared/energy_factors.csv, tests/outside).
ENERGY_SHARE, ENERGY_FLOOR_KCAL = 0.10, 15.0


def internal_checks(
    con: duckdb.DuckDBPyConnection, stated: pd.DataFrame, recipe: pd.DataFrame
) -> pd.DataFrame:
    """What the stated numbers say against one another, ingredients apart.

    Energy is held against 4 kcal a gram of protein and carbohydrate, 9 of fat and 7 of alcohol by
    every convention in use (fibre counted as carbohydrate, at 2 kcal, or not at all; carbohydrate
    stated with or without it), and is only reported when none of them fits.

    Args:
        stated: STATED.
        recipe: ``Computation.recipe``: recipe_id, servings, weight_g (weights may be missing).

    Returns:
        One row per fault, ``COLUMNS``: code energy-off-macros, fibre-over-carbohydrate,
        sugars-over-carbohydrate, saturates-over-fat, macros-over-weight, negative-number; severity
        error (cannot be) or warning (unlikely); one plain sentence; stated and expected number;
        the convention that comes nearest, for energy.

    Source:
        Regulation (EU) 1169/2011, Annex XIV; 21 CFR 101.9(c)(1)(i)(B) and (C).
    """
    with stated_beside(con, stated, recipe) as db:
        limits = {"energy_share": ENERGY_SHARE, "energy_floor_kcal": ENERGY_FLOOR_KCAL}
        rows = db.execute(sql("reconcile_internal"), factors() | limits).df()
    found = [fault for row in rows.to_dict("records") for fault in _faults(row)]
    return pd.DataFrame(found, columns=COLUMNS)


def _faults(row: dict[Any, Any]) -> list[dict[str, object]]:
    out: list[dict[str, object]] = []

    def add(code: str, severity: str, message: str, stated: float, expected: float,
            convention: str = "") -> None:  # fmt: skip
        out.append({
            "recipe_id": row["recipe_id"], "basis": row["basis"], "code": code,
            "severity": severity, "message": message, "stated": stated, "expected": expected,
            "convention": convention,
        })  # fmt: skip

    if row["least"] < 0:
        add("negative-number", "error",
            f"{column_name(row['least_of'])} is stated as {row['least']:g}, which cannot be",
            row["least"], 0.0)  # fmt: skip
        return out
    energy = _energy(row)
    if energy is not None:
        add("energy-off-macros", "warning", *energy)
    carbs, fibre, sugar = row["carbs_g"], row["fibre_g"], row["sugar_g"]
    slack = row["slack_g"]
    if fibre > carbs + slack and not row["net"]:
        add("fibre-over-carbohydrate", "warning",
            f"{fibre:g} g fibre is more than {carbs:g} g carbohydrate; that can only be where "
            "carbohydrate is stated without fibre", fibre, carbs)  # fmt: skip
    if sugar > carbs + slack:
        add("sugars-over-carbohydrate", "error",
            f"{sugar:g} g sugars is more than the {carbs:g} g carbohydrate they are part of",
            sugar, carbs)  # fmt: skip
    if row["satfat_g"] > row["fat_g"] + slack:
        add("saturates-over-fat", "error",
            f"{row['satfat_g']:g} g saturated fat is more than the {row['fat_g']:g} g fat it is "
            "part of", row["satfat_g"], row["fat_g"])  # fmt: skip
    macros = sum(x for x in (row["protein_g"], carbs, row["fat_g"]) if x == x)
    if row["portion_g"] > 0 and macros > 1.02 * row["portion_g"] + 1.5 * slack:
        add("macros-over-weight", "error",
            f"protein, carbohydrate and fat come to {macros:g} g, and the portion weighs "
            f"{row['portion_g']:.0f} g", macros, row["portion_g"])  # fmt: skip
    return out


def _energy(row: dict[Any, Any]) -> tuple[str, float, float, str] | None:
    """Message, stated kcal, nearest kcal and its convention; None when some convention fits."""
    kcal = row["kcal"]
    options = {
        "4-4-9, fibre counted as carbohydrate (United States)": row["kcal_all_carbs"],
        "4-4-9, fibre at 2 kcal (European Union)": row["kcal_fibre_2"],
        "4-4-9, fibre left out": row["kcal_fibre_0"],
        "4-4-9, carbohydrate stated without fibre, fibre at 2 kcal (European Union)": row[
            "kcal_net_plus_fibre"
        ],
    }
    known = {name: value for name, value in options.items() if value == value}
    if kcal != kcal or not known:
        return None
    name = min(known, key=lambda n: abs(known[n] - kcal))
    low, high = min(known.values()), max(known.values())
    off = max(low - kcal, kcal - high, 0.0)
    if off <= row["slack_kcal"] + max(ENERGY_SHARE * max(kcal, known[name]), ENERGY_FLOOR_KCAL):
        return None
    each = "; ".join(f"{value:.0f} kcal ({n})" for n, value in known.items())
    return (
        f"{kcal:g} kcal is stated, and the stated macros give {each}",
        float(kcal), float(known[name]), name,
    )  # fmt: skip
