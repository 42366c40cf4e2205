"""The verdict on each stated number, and on the recipe. The comparison itself is SQL."""

from __future__ import annotations

import math
from contextlib import contextmanager
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from pipeline.nutrients import BY_TAG, NET_CARBS_TAG
from pipeline.resources import shared_rows, sql
from pipeline.tables import COMPUTED, FINDING, STATED, Table, require

if TYPE_CHECKING:
    from collections.abc import Iterator

    import duckdb

#: Below this share of known energy a recipe is not judged (unless the known part is already too
#: much): a quarter of the plate is a guess then. Common practice.
LEAST_COVERAGE = 0.75

#: Profiles that also hold two sums over the same lines to the 'recipe' rows of tolerances.csv.
NARROWED = ("eu",)

#: A number this many times beyond its range is off, however honest the sum of all may be.
FAR_OUTSIDE = 1.25
#: Between these an honest sum is neither likely nor unlikely enough to decide a recipe.
OPEN_BELOW, OPEN_ABOVE = 0.3, 0.85
#: The same as the first when more than a twentieth of the energy is only a rough estimate: what an
#: unknown line is made of is itself unknown, so an open recipe stays open unless nearly impossible.
OPEN_BELOW_UNKNOWN = 0.05
#: A number outside what is allowed does not come to agree, whatever the others say, when the half
#: width of its range is more than this many times what is allowed: such a sum vouches for nothing.
TOO_WIDE = 2.0

_RECIPE = Table(recipe_id="varchar", servings="double", weight_g="double")

#: What a recipe is judged by.
CORE = ("ENERC_KCAL", "PROCNT", "CHOCDF", NET_CARBS_TAG, "FAT")

_TOLERANCES = "tolerances.csv"


def column_name(tag: str) -> str:
    """The wide column of a tagname; net carbohydrate has its own (``net_carbs_g``)."""
    return "net_carbs_g" if tag == NET_CARBS_TAG else BY_TAG[tag].column if tag in BY_TAG else tag


def profiles() -> list[str]:
    """Names that ``findings`` takes as ``profile``."""
    return ["eu", "eu_label", "us", "percent"]


@cache
def bands() -> pd.DataFrame:
    """The rows of shared/tolerances.csv, numbers as numbers; profile ``recipe`` among them."""

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
        available: carbohydrate in ``computed`` is without fibre.

    Returns:
        One row per stated number: FINDING (``nutrient`` is a column name: kcal, protein_g ...), then
        ``tag``, ``basis`` and ``coverage``. All amounts per the basis stated on.

    Raises:
        ValueError: the profile is not known, or a table lacks a column.
    """
    if profile not in profiles():
        raise ValueError(f"profile '{profile}' is not known; known: {', '.join(profiles())}")
    limits = {
        "profile": "eu" if profile == "eu_label" else profile,
        "narrow": profile in NARROWED,
        "percent": float(percent),
        "least_coverage": LEAST_COVERAGE,
        "net": NET_CARBS_TAG,
        "available": available,
    }
    with stated_beside(con, stated, recipe) as db:
        found = _compared(db, require(computed, COMPUTED, "computed"), bands(), limits)
    order = {n: i for i, n in enumerate([*BY_TAG, NET_CARBS_TAG])}
    found = found.assign(tag=found["nutrient"])
    found = found.assign(nutrient=found["tag"].map(column_name), _at=found["tag"].map(order))
    found = found.sort_values(["recipe_id", "_at"], kind="stable", ignore_index=True)
    return found[[*FINDING, "tag", "basis", "coverage"]]


def _compared(
    db: duckdb.DuckDBPyConnection, computed_frame: pd.DataFrame, band_frame: pd.DataFrame,
    limits: dict[str, object],
) -> pd.DataFrame:  # fmt: skip
    """The query, which finds both frames by their names here."""
    return db.execute(sql("reconcile_finding"), limits).df()


@contextmanager
def stated_beside(
    con: duckdb.DuckDBPyConnection, stated: pd.DataFrame, recipe: pd.DataFrame
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A cursor of ``con`` that holds ``stated_in`` and ``recipe_in``, as the queries of this stage ask."""
    with con.cursor() as db:
        STATED.only("recipe_id", "nutrient", "amount", "basis", "step").register(
            db, "stated_in", stated[stated["amount"].notna()]
        )
        _RECIPE.register(db, "recipe_in", recipe)
        yield db


def settle(finding: pd.DataFrame, recipe: pd.DataFrame, honest: pd.DataFrame) -> pd.DataFrame:
    """Let all numbers of a recipe together decide what single ones leave open.

    Of a recipe whose numbers are at most uncertain, the one furthest outside disagrees when an
    honest sum of the lines, carbohydrate with or without its fibre, is less likely than
    ``OPEN_BELOW`` (never one that lies within its range), and all agree when it is likelier than
    ``OPEN_ABOVE``, save one whose range is too wide to vouch for anything (``TOO_WIDE``); numbers
    that are off while all together an honest sum is the likelier reading are uncertain, unless one
    lies far beyond its range (``FAR_OUTSIDE``).
    Sodium is uncertain at most where salt stands on a line without an amount. The recipe's verdict
    follows from these, so that table, sentence and verdict agree.

    Args:
        finding: as ``findings`` gives it.
        recipe: has recipe_id; coverage and salt_open, when known.
        honest: recipe_id, honest, as_net, of ``explain.diagnose``; may be empty.

    Returns:
        The same rows; ``verdict`` settled, ``alone`` the verdict each number has by itself.
    """
    alone = finding["verdict"].to_numpy(dtype=object)
    off, open_ = alone == "disagrees", alone == "uncertain"
    ids, tag = finding["recipe_id"], finding["tag"]
    if "salt_open" in recipe:
        salty = off & (tag == "NA") & ids.isin(recipe.loc[recipe["salt_open"], "recipe_id"])
        off, open_ = off & ~salty, open_ | salty
    core = tag.isin(CORE).to_numpy()
    at = ids.factorize()[0]
    many = at.max(initial=-1) + 1

    def any_of(rows: np.ndarray) -> np.ndarray:
        return np.asarray(np.bincount(at[rows], minlength=many)[at] > 0)

    reach = ((finding["high"] - finding["low"]) / 2).clip(lower=1e-9).to_numpy()
    allowed = finding["allowed"].abs().to_numpy()
    outside = np.nan_to_num((finding["difference"].abs().to_numpy() - allowed) / reach)
    furthest = np.zeros(len(finding), dtype=bool)
    by_distance = np.lexsort((-outside, at))
    asked = by_distance[(core & open_)[by_distance]]
    furthest[asked[np.unique(at[asked], return_index=True)[1]]] = True
    stated, low, high = (finding[c].to_numpy(dtype=float) for c in ("stated", "low", "high"))
    furthest &= ~((low < stated) & (stated < high))
    known = recipe.set_index("recipe_id")
    beliefs = honest.set_index("recipe_id")
    belief = ids.map(beliefs["honest"]).to_numpy(dtype=float)
    either = np.fmax(belief, ids.map(beliefs["as_net"]).to_numpy(dtype=float))
    coverage = ids.map(known["coverage"]).to_numpy(dtype=float) if "coverage" in known else 1.0
    below = np.where(coverage < 0.95, OPEN_BELOW_UNKNOWN, OPEN_BELOW)
    far = core & (outside > 0) & ((stated < low / FAR_OUTSIDE) | (stated > high * FAR_OUTSIDE))
    far &= finding["difference"].abs().to_numpy() > 2 * allowed
    whole = core & np.isfinite(belief) & ~any_of(far)
    none_off = whole & open_ & ~any_of(off)
    verdict = np.select(
        [whole & off & ~any_of(off & ~core) & (belief > 0.5), none_off & furthest & (either < below),
         none_off & ~(reach > TOO_WIDE * allowed) & (either > OPEN_ABOVE), open_],
        ["uncertain", "disagrees", "agrees", "uncertain"], alone,
    )  # fmt: skip
    return finding.assign(verdict=verdict.astype(object), alone=alone)


def verdicts(finding: pd.DataFrame, recipe: pd.DataFrame) -> pd.DataFrame:
    """One verdict a recipe: recipe_id, verdict, by recipe_id; the worst of its judged numbers.

    ``disagrees`` only where one of the numbers shown does; ``not_judged`` when nothing is stated or
    known. Energy, protein, carbohydrate and fat count in full; what else is stated counts when it
    disagrees (salt to taste leaves sodium open almost always).

    Args:
        finding: as ``settle`` gives it.
        recipe: has recipe_id.
    """
    ids = pd.Index(np.sort(recipe["recipe_id"].to_numpy(dtype=object)), name="recipe_id")
    rank = (
        finding["verdict"].map({"agrees": 1, "uncertain": 2, "disagrees": 3}).to_numpy(dtype=float)
    )
    rank = np.nan_to_num(np.where((rank == 2) & ~finding["tag"].isin(CORE), 1, rank)).astype(int)
    worst = np.zeros(len(ids), dtype=int)
    at = ids.get_indexer(finding["recipe_id"])
    np.maximum.at(worst, at[at >= 0], rank[at >= 0])
    names = np.array(["not_judged", "agrees", "uncertain", "disagrees"], dtype=object)
    return pd.DataFrame({"recipe_id": ids, "verdict": names[worst]})
