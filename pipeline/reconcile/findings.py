"""The verdict on each stated number, and on the recipe. The comparison itself is SQL."""

from __future__ import annotations

import math
from contextlib import contextmanager
from typing import TYPE_CHECKING

from pipeline.nutrients import BY_TAG, NET_CARBS_TAG
from pipeline.resources import shared_rows, sql
from pipeline.tables import COMPUTED, FINDING, STATED, require

if TYPE_CHECKING:
    from collections.abc import Iterator

    import duckdb
    import pandas as pd

#: Below this share of known energy a recipe is not judged (unless the known part is already too
#: much): a quarter of the plate is a guess then. Common practice.
LEAST_COVERAGE = 0.75

#: Profiles that also hold two sums over the same lines to the 'recipe' rows of tolerances.csv.
NARROWED = ("eu",)

#: Between these an honest sum is neither likely nor unlikely enough to decide a recipe.
OPEN_BELOW, OPEN_ABOVE = 0.3, 0.85
#: The same as the first when more than a twentieth of the energy is only a rough estimate: what an
#: unknown line is made of is itself unknown, so an open recipe stays open unless nearly impossible.
OPEN_BELOW_UNKNOWN = 0.05
#: A number outside what is allowed does not come to agree, whatever the others say, when the half
#: width of its range is more than this many times what is allowed: such a sum vouches for nothing.
TOO_WIDE = 2.0

_TOLERANCES = "tolerances.csv"


def column_name(tag: str) -> str:
    """The wide column of a tagname; net carbohydrate has its own (``net_carbs_g``)."""
    return "net_carbs_g" if tag == NET_CARBS_TAG else BY_TAG[tag].column if tag in BY_TAG else tag


def profiles() -> list[str]:
    """Names that ``findings`` takes as ``profile``."""
    return ["eu", "eu_label", "us", "percent"]


def bands() -> pd.DataFrame:
    """The rows of shared/tolerances.csv, numbers as numbers; profile ``recipe`` among them."""
    import pandas as pd

    def number(text: str) -> float:
        return float(text) if text else math.nan

    rows = [
        {
            "profile": row["profile"],
            "nutrient": row["nutrient"],
            "lower": number(row["declared_lower"]),
            "upper": number(row["declared_upper"]),
            "upper_included": row["upper_included"] == "y",
            "minus": 0.0 if row["kind"] == "setting" else number(row["minus"]),
            "plus": 0.0 if row["kind"] == "setting" else number(row["plus"]),
            "kind": row["kind"],
            "floor": number(row["floor"]),
            "per_100g": row["basis"] == "per_100g",
        }
        for row in shared_rows(_TOLERANCES)
    ]
    return pd.DataFrame(rows)


def findings(
    con: duckdb.DuckDBPyConnection,
    computed: pd.DataFrame,
    stated: pd.DataFrame,
    recipe: pd.DataFrame,
    *,
    profile: str = "eu",
    percent: float = 10.0,
    available: bool = False,
) -> pd.DataFrame:
    """Compare what is stated with what the lines add up to.

    Args:
        con: any DuckDB connection; temporary views live on a cursor of it.
        computed: COMPUTED.
        stated: STATED.
        recipe: ``Computation.recipe``: recipe_id, servings, weight_g.
        profile: ``eu``: the bands of the Commission's 2012 guidance per 100 g declared, and never
            more than the rows ``recipe`` (two sums over the same lines share the food's natural
            variation and the laboratory's error, which the bands of the guidance include).
            ``eu_label``: the guidance alone. ``us``: 21 CFR 101.9(g), one-sided: protein,
            carbohydrate and fibre at least 80 % of what is stated; energy, fat, saturates, sugars
            and sodium at most 120 %. ``percent``: plus or minus ``percent`` of what is stated.
        percent: for the profile ``percent``.
        available: carbohydrate in ``computed`` is without fibre.

    Returns:
        One row a stated number: FINDING (``nutrient`` is a column name: kcal, protein_g ...), then
        ``tag``, ``basis`` and ``coverage``. All amounts per the basis stated on.

    Raises:
        ValueError: the profile is not known, or a table lacks a column.
    """
    if profile not in profiles():
        raise ValueError(f"profile '{profile}' is not known; known: {', '.join(profiles())}")
    with stated_beside(con, stated, recipe) as db:
        db.register("computed_frame", require(computed, COMPUTED, "computed"))
        db.execute(sql("reconcile_computed"), {"net": NET_CARBS_TAG, "available": available})
        db.register("band_frame", bands())
        db.execute(sql("reconcile_band"))
        found = db.execute(
            sql("reconcile_finding"),
            {
                "profile": "eu" if profile == "eu_label" else profile,
                "narrow": profile in NARROWED,
                "percent": float(percent),
                "least_coverage": LEAST_COVERAGE,
            },
        ).df()
    order = {n: i for i, n in enumerate([*BY_TAG, NET_CARBS_TAG])}
    found = found.assign(tag=found["nutrient"])
    found = found.assign(nutrient=found["tag"].map(column_name), _at=found["tag"].map(order))
    found = found.sort_values(["recipe_id", "_at"], kind="stable", ignore_index=True)
    return found[[*FINDING, "tag", "basis", "coverage"]]


@contextmanager
def stated_beside(
    con: duckdb.DuckDBPyConnection, stated: pd.DataFrame, recipe: pd.DataFrame
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A cursor of ``con`` that holds ``stated_in`` and ``recipe_in``, as the queries of this stage ask."""
    with con.cursor() as db:
        db.register("stated_frame", require(stated, STATED, "stated"))
        db.execute(
            """
            create or replace temp table stated_in as
            select recipe_id::varchar as recipe_id, nutrient::varchar as nutrient,
                   amount::double as amount, basis::varchar as basis, step::double as step
            from stated_frame where amount is not null
            """
        )
        db.register("recipe_in", recipe[["recipe_id", "servings", "weight_g"]])
        yield db


def settle(
    con: duckdb.DuckDBPyConnection,
    finding: pd.DataFrame,
    recipe: pd.DataFrame,
    honest: pd.DataFrame,
) -> pd.DataFrame:
    """Let all numbers of a recipe together decide what single ones leave open.

    Of a recipe whose numbers are at most uncertain, the one furthest outside disagrees when an
    honest sum of the lines, carbohydrate with or without its fibre, is less likely than
    ``OPEN_BELOW``, and all agree when it is likelier than ``OPEN_ABOVE``, save one whose range is
    too wide to vouch for anything (``TOO_WIDE``); numbers that are off while all together an honest
    sum is the likelier reading are uncertain.
    Sodium is uncertain at most where salt stands on a line without an amount. The recipe's verdict
    follows from these, so that table, sentence and verdict agree.

    Args:
        con: any DuckDB connection.
        finding: as ``findings`` gives it.
        recipe: has recipe_id; coverage and salt_open, when known.
        honest: recipe_id, honest, as_net, of ``explain.diagnose``; may be empty.

    Returns:
        The same rows; ``verdict`` settled, ``alone`` the verdict each number has by itself.
    """
    import numpy as np

    alone = finding["verdict"].astype(object)
    open_salt = recipe.loc[recipe["salt_open"], "recipe_id"] if "salt_open" in recipe else []
    salty = (finding["tag"] == "NA") & finding["recipe_id"].isin(open_salt)
    capped = alone.mask(salty & (alone == "disagrees"), "uncertain")
    reach = ((finding["high"] - finding["low"]) / 2).clip(lower=1e-9)
    outside = (finding["difference"].abs() - finding["allowed"].abs()) / reach
    with con.cursor() as db:
        db.register(
            "finding_frame",
            finding[["recipe_id", "tag"]].astype("object").assign(
                verdict=capped, outside=outside.fillna(0.0), row_no=np.arange(len(finding)),
                wide=reach > TOO_WIDE * finding["allowed"].abs(),
            ),
        )  # fmt: skip
        db.execute(
            "create or replace temp table finding_in as select row_no, recipe_id::varchar as recipe_id,"
            " tag::varchar as nutrient, verdict::varchar as verdict, outside, wide from finding_frame"
        )
        db.register("recipe_in", recipe[["recipe_id"]].assign(coverage=recipe.get("coverage", 1.0)))
        db.register("honest_in", honest)
        limits = {
            "open_below": OPEN_BELOW, "open_below_unknown": OPEN_BELOW_UNKNOWN,
            "open_above": OPEN_ABOVE,
        }  # fmt: skip
        settled = db.execute(sql("reconcile_settle"), limits).df()
    return finding.assign(verdict=settled["verdict"].to_numpy(dtype=object), alone=alone)


def verdicts(
    con: duckdb.DuckDBPyConnection, finding: pd.DataFrame, recipe: pd.DataFrame
) -> pd.DataFrame:
    """One verdict a recipe: recipe_id, verdict; the worst of its judged numbers.

    ``disagrees`` only where one of the numbers shown does; ``not_judged`` when nothing is stated or
    known.

    Args:
        con: any DuckDB connection.
        finding: as ``settle`` gives it.
        recipe: has recipe_id.
    """
    with con.cursor() as db:
        db.register("finding_frame", finding[["recipe_id", "tag", "verdict"]].astype("object"))
        db.execute(
            "create or replace temp table finding_in as select recipe_id::varchar as recipe_id,"
            " tag::varchar as nutrient, verdict::varchar as verdict from finding_frame"
        )
        db.register("recipe_in", recipe[["recipe_id"]])
        return db.execute(sql("reconcile_verdict")).df()
