"""The verdict on each stated number, and on the recipe. The comparison itself is SQL."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from pipeline.nutrients import BY_TAG, NET_CARBS_TAG
from pipeline.resources import shared_rows, sql
from pipeline.tables import COMPUTED, FINDING, STATED, require

if TYPE_CHECKING:
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

    Returns:
        One row a stated number: FINDING (``nutrient`` is a column name: kcal, protein_g ...), then
        ``tag``, ``basis`` and ``coverage``. All amounts per the basis stated on.

    Raises:
        ValueError: the profile is not known, or a table lacks a column.
    """
    import pandas as pd

    if profile not in profiles():
        raise ValueError(f"profile '{profile}' is not known; known: {', '.join(profiles())}")
    db = con.cursor()
    try:
        db.register("stated_frame", require(stated, STATED, "stated"))
        db.execute(
            """
            create or replace temp table stated_in as
            select recipe_id::varchar as recipe_id, nutrient::varchar as nutrient,
                   amount::double as amount, basis::varchar as basis, step::double as step
            from stated_frame where amount is not null
            """
        )
        db.register("computed_frame", require(computed, COMPUTED, "computed"))
        db.execute(sql("reconcile_computed"), {"net": NET_CARBS_TAG})
        db.register("recipe_in", recipe[["recipe_id", "servings", "weight_g"]])
        db.register("band_frame", bands())
        db.execute(
            "create or replace temp table band as select * replace ("
            + ", ".join(
                f"case when isnan({c}) then null else {c} end as {c}"
                for c in ("lower", "upper", "minus", "plus", "floor")
            )
            + ") from band_frame"
        )
        found = db.execute(
            sql("reconcile_finding"),
            {
                "profile": "eu" if profile == "eu_label" else profile,
                "narrow": profile in NARROWED,
                "percent": float(percent),
                "least_coverage": LEAST_COVERAGE,
            },
        ).df()
    finally:
        db.close()
    order = {n: i for i, n in enumerate([*BY_TAG, NET_CARBS_TAG])}
    found = found.assign(tag=found["nutrient"])
    found = found.assign(nutrient=found["tag"].map(column_name), _at=found["tag"].map(order))
    found = found.sort_values(["recipe_id", "_at"], kind="stable", ignore_index=True)
    columns = [*FINDING, "tag", "basis", "coverage"]
    return pd.DataFrame(found.loc[:, columns])


def verdicts(
    con: duckdb.DuckDBPyConnection,
    finding: pd.DataFrame,
    recipe: pd.DataFrame,
    honest: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """One verdict a recipe: recipe_id, verdict; ``not_judged`` when nothing is stated or known.

    The worst of the judged nutrients. Where single numbers leave it open, all of them together
    decide: an uncertain recipe disagrees when an honest sum of its lines is less likely than
    ``OPEN_BELOW``, and agrees when it is more likely than ``OPEN_ABOVE``; a recipe of which one
    number is off while all together an honest sum is the likelier reading is uncertain.

    Args:
        con: any DuckDB connection.
        finding: as ``findings`` gives it.
        recipe: has recipe_id; coverage, when known.
        honest: of ``explain.diagnose``, when it has been searched.
    """
    import pandas as pd

    if honest is None or honest.empty:
        honest = pd.DataFrame(
            {"recipe_id": pd.Series(dtype="str"), "honest": pd.Series(dtype="float64")}
        )
    db = con.cursor()
    try:
        db.register("finding_frame", finding[["recipe_id", "tag", "verdict"]].astype("object"))
        db.execute(
            "create or replace temp table finding_in as select recipe_id::varchar as recipe_id,"
            " tag::varchar as nutrient, verdict::varchar as verdict from finding_frame"
        )
        coverage = recipe.get("coverage", 1.0)
        db.register("recipe_in", recipe[["recipe_id"]].assign(coverage=coverage))
        db.register("honest_in", honest)
        return db.execute(
            sql("reconcile_verdict"),
            {
                "open_below": OPEN_BELOW,
                "open_below_unknown": OPEN_BELOW_UNKNOWN,
                "open_above": OPEN_ABOVE,
            },
        ).df()
    finally:
        db.close()
