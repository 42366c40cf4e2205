"""Totals per recipe and nutrient, with their 90 % range, in SQL; Python only orders the steps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING

from pipeline.compute.convention import TABLE, Convention, factors
from pipeline.compute.subrecipes import plan_uses
from pipeline.nutrients import NUTRIENTS
from pipeline.problems import Problem, input_problem
from pipeline.resources import sql
from pipeline.tables import (
    COMPUTED,
    FOOD_NUTRIENT,
    LINE_RESULT,
    RECIPE,
    RUNNER_UP,
    Table,
    require,
)  # fmt: skip
from pipeline.units import kitchen_units

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

#: Standard deviations from the middle to an end of a 90 % range of a normal.
Z90 = 1.6448536269514722

#: The same for the range of a line's grams. Of 582 labelled lines with the right food given, the
#: expert's grams lie within the range of 97.6 % (97.3 % of those never looked at; bench-weigh), so
#: its ends are the points of a 97.6 % range.
Z_GRAMS = 2.2

#: Foods as far from the chosen one, or farther, that a line means less often than the first do not
#: widen its range; those meant as often as the second do in full. Without this the one far food in a
#: hundred made up most of the range of everyday recipes. Chosen so that ranges hold as many true
#: totals as when all foods of a doubtful match counted (bench-recipes).
RARE, COMMON = 0.02, 0.07

#: Relative spread of a food when the match leaves it open and names no other candidate: about
#: the spread of energy among foods of one group and head word in SR28. Common practice.
OTHER_FOOD_CV = 0.30

#: Energy of a gram of unknown food: SR28's median over all foods is 2.1 kcal; lines that find no
#: food are as a rule no staple. Common practice.
KCAL_PER_GRAM = 2.0

#: Energy of a line of which nothing is known, in a recipe of which nothing is known.
KCAL_PER_LINE = 100.0

#: Spread of a macro's share in the energy of a line of unknown food. Common practice: over SR28's
#: foods the shares of protein, carbohydrate and fat spread by 0.23, 0.37 and 0.25.
MADE_OF_SD = 0.3

#: A value missing in the table lies, at the 95 % point, at this share of what could be there.
MISSING_SHARE = 0.5

#: Sodium per 100 g from which a food is taken for a salt: salts, stock cubes, soy and fish sauce
#: (SR28: 5,493 mg and more), and no food that is eaten as such. Common practice.
SALTY_MG = 5_000.0

#: tagname: what bounds a missing value (another nutrient, or an amount per 100 g).
CAPS: dict[str, tuple[str | None, float | None]] = {
    "FIBTG": ("CHOCDF", None),
    "SUGAR": ("CHOCDF", None),
    "FASAT": ("FAT", None),
    "NA": (None, 400.0),  # mg: the upper limit of "medium" salt in front-of-pack schemes, halved
    "ALC": (None, 0.0),
    "WATER": (None, 90.0),
    "PROCNT": (None, 10.0),
    "FAT": (None, 10.0),
    "CHOCDF": (None, 20.0),
    "ENERC_KCAL": (None, 200.0),
}

#: kcal per g, general Atwater (shared/energy_factors.csv): how an error of a macro moves energy.
ENERGY_FACTORS = {"PROCNT": 4.0, "CHOCDF": 4.0, "FAT": 9.0, "ALC": 7.0}

#: Rough grams of a unit, for estimates only; the weigh stage does the real work. Volumes as water,
#: but a cup of most foods is lighter.
ROUGH_GRAMS = {
    **kitchen_units().grams, **kitchen_units().sizes("us"), "cup": 200.0,
    "pinch": 0.4, "dash": 0.6, "smidgen": 0.2, "drop": 0.05, "sprig": 1.0, "leaf": 1.0,
}  # fmt: skip


@dataclass(frozen=True)
class Computation:
    """What the compute stage found.

    Attributes:
        computed: COMPUTED, one row a (recipe_id, nutrient), whole recipe.
        total: the same with ``shift`` (mean minus amount) and ``variance``, for the explanations.
        recipe: one row a recipe: recipe_id, servings, weight_g, weight_basis (``yield`` given,
            ``summed`` raw weight, ``none``), coverage (energy), lines, lines_unknown, salt_open
            (salt stands on a line without an amount).
        line_value: one row a line that brings something: recipe_id, line_no, food_id, grams, unit,
            amount_of_unit, basis, confidence, role, rel_var and rel_shift (variance of the grams over
            their square, mean of the grams over them less one), then a column a nutrient (nutrients.NUTRIENTS)
            for the whole recipe, NaN where not known.
        doubt: one row a (recipe_id, line_no): share of the energy's variance, cause, advice.
        problems: cycles, recipes that are not there, portions of a recipe without servings.
        convention: what energy and carbohydrate (``CHOCDF``, ``carbs_g``) stand for throughout.
    """

    computed: pd.DataFrame
    total: pd.DataFrame
    recipe: pd.DataFrame
    line_value: pd.DataFrame
    doubt: pd.DataFrame
    problems: list[Problem] = field(default_factory=list)
    convention: Convention = TABLE


def compute(
    con: duckdb.DuckDBPyConnection,
    line_result: pd.DataFrame,
    runner_up: pd.DataFrame | None,
    recipe: pd.DataFrame,
    *,
    pantry_nutrient: pd.DataFrame | None = None,
    convention: Convention = TABLE,
) -> Computation:
    """Add up every recipe of the collection.

    Lines are taken as independent; each line's grams follow a two-piece normal with ``grams_low``
    and ``grams_high`` at ``Z_GRAMS`` standard deviations, the food is the chosen one or, where the
    match is in doubt, a runner-up, and the composition has the standard error the source gives.
    Means and variances add; no simulation is run. The range is about what these lines say by this
    food table; that another table holds other values is allowed for where numbers are compared,
    once.

    Args:
        con: a connection to the snapshot: ``food`` and ``food_nutrient``. Read-only is enough;
            temporary tables live on a cursor of it and are gone afterwards.
        line_result: LINE_RESULT; optional columns ``eaten_share``, ``eaten_low`` and ``eaten_high``
            (0 to 1) say how much of the line is eaten, with its 90 % range (a marinade poured off,
            oil left in the pan), and ``use`` why.
        runner_up: RUNNER_UP, or None when the match names none.
        recipe: RECIPE.
        pantry_nutrient: further FOOD_NUTRIENT rows (the creator's own labels).
        convention: of energy and carbohydrate; foods of ``pantry_nutrient`` keep their label's.

    Returns:
        The tables of a ``Computation``; every recipe of ``recipe`` has its rows.

    Raises:
        ValueError: a table lacks a column.
        duckdb.CatalogException: the connection holds no snapshot.

    Source:
        Sum of raw ingredients per 100 g of edible portion, as USDA SR28 defines its amounts.
        Sub-recipes level by level (INFOODS guidelines on recipes).
    """
    recipes = require(recipe, RECIPE, "recipe").drop_duplicates("recipe_id")
    lines = require(line_result, LINE_RESULT, "line_result")
    lines = lines.assign(food_id=lines["food_id"].where(lines["food_id"] != ""))
    with con.cursor() as db, _as_written(db):
        _register(db, lines, line_result, recipes)
        _register_foods(db, runner_up, pantry_nutrient, convention)
        _make(db, "counted_line", "compute_line", z_grams=Z_GRAMS)
        _make(db, "doubted", "compute_doubted")
        _make(
            db, "match_doubt", "compute_match_doubt",
            other_food_cv=OTHER_FOOD_CV, rare=RARE, common=COMMON,
        )  # fmt: skip
        _make(db, "line_value", "compute_value", missing_share=MISSING_SHARE, z=Z90)
        problems = _add_sub_recipes(db, recipes)
        problems += _not_in_table(db)
        _total(db)
        return _collect(db, lines, problems, convention)


@contextmanager
def _as_written(db: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """Join in the order of the SQL files, so that sums add up in one order at any number of rows.

    The optimizer's order depends on the sizes of the tables, and the last digit of a sum on the
    order: a recipe would differ by the recipes beside it.
    """
    db.execute("set disabled_optimizers = 'join_order,build_side_probe_side'")
    try:
        yield
    finally:
        db.execute("reset disabled_optimizers")


_ROUGH = {"kcal_per_g": KCAL_PER_GRAM, "line_kcal": KCAL_PER_LINE}

#: Columns of the lines that the SQL files use.
_LINES_IN = LINE_RESULT.only(
    "recipe_id", "line_no", "text", "food_id", "description", "confidence", "names_food",
    "grams", "grams_low", "grams_high", "basis", "unit", "amount",
).plus(
    line="bigint", eaten_share="double", eaten_low="double", eaten_high="double", use="varchar",
)  # fmt: skip
_WANTED = Table(
    n="integer", nutrient="varchar", cap_nutrient="varchar", cap_per_100g="double",
    energy_factor="double", is_energy="boolean", cap_n="integer",
)  # fmt: skip
_UNIT_GRAMS = Table(unit="varchar", grams="double")


@cache
def _wanted() -> pd.DataFrame:
    """The nutrients with their numbers, what bounds a missing value, and what moves energy."""
    tags = [n.tag for n in NUTRIENTS]
    return _WANTED.frame(
        (n, tag, cap, most, ENERGY_FACTORS.get(tag, 0.0), tag == "ENERC_KCAL",
         tags.index(cap) if cap else None)
        for n, tag in enumerate(tags)
        for cap, most in [CAPS[tag]]
    )  # fmt: skip


def _register(
    db: duckdb.DuckDBPyConnection, lines: pd.DataFrame, given: pd.DataFrame, recipes: pd.DataFrame
) -> None:
    """Put lines and recipes under the names the SQL files use."""
    nothing = dict.fromkeys(("eaten_share", "eaten_low", "eaten_high"), float("nan")) | {"use": ""}
    more = {column: given.get(column, value) for column, value in nothing.items()}
    _LINES_IN.register(db, "line_result", lines.assign(line=range(len(lines)), **more))
    RECIPE.only("recipe_id", "servings", "yield_g").register(db, "recipe_in", recipes)
    _WANTED.register(db, "wanted", _wanted())
    _UNIT_GRAMS.register(db, "unit_grams", _UNIT_GRAMS.frame(ROUGH_GRAMS.items()))


def _register_foods(
    db: duckdb.DuckDBPyConnection, runner_up: pd.DataFrame | None,
    pantry_nutrient: pd.DataFrame | None, convention: Convention,
) -> None:  # fmt: skip
    """The foods that lines and runners-up name, numbered, with their values."""
    others = RUNNER_UP.only("text", "rank", "food_id", "probability", "left_open")
    others.register(db, "runner_up", RUNNER_UP.frame(()) if runner_up is None else runner_up)
    own = FOOD_NUTRIENT.only("food_id", "nutrient", "amount_per_100g")
    own.register(db, "pantry", own.frame(()) if pantry_nutrient is None else pantry_nutrient)
    db.execute(sql("compute_nutrient_value"))
    if not convention.plain:
        db.execute(
            sql("compute_convention"),
            {"energy": convention.energy, "available": convention.available, **factors()},
        )
    db.execute(sql("compute_food_number"))


def _make(db: duckdb.DuckDBPyConnection, table: str, query: str, **params: float) -> None:
    db.execute(f"create or replace temp table {table} as {sql(query)}", params or None)


def _total(db: duckdb.DuckDBPyConnection) -> None:
    _make(db, "total", "compute_total", z=Z90, made_of_sd=MADE_OF_SD, **_ROUGH)


def _add_sub_recipes(db: duckdb.DuckDBPyConnection, recipes: pd.DataFrame) -> list[Problem]:
    """Fill ``line_value`` for lines that use another recipe, those without such lines first."""
    import pandas as pd

    uses = db.execute(
        "select recipe_id, line_no, text, food_id, unit, amount, basis from counted_line"
        " where role = 'recipe' order by recipe_id, line_no"
    ).df()
    if uses.empty:
        return []
    own = db.execute(
        "select recipe_id, fsum(grams) from counted_line where role = 'counted' group by recipe_id"
    ).fetchall()
    levels, problems = plan_uses(uses, recipes, dict(own))
    for level in levels:
        _total(db)
        db.register("recipe_use", pd.DataFrame(level))
        db.execute(f"insert into line_value {sql('compute_sub_recipe')}")
        db.execute(
            "update counted_line set grams = u.grams from recipe_use as u"
            " where counted_line.recipe_id = u.recipe_id and counted_line.line_no = u.line_no"
        )
        db.unregister("recipe_use")
    return problems


def _not_in_table(db: duckdb.DuckDBPyConnection) -> list[Problem]:
    rows = db.execute(
        "select recipe_id, line_no, text, food_id from counted_line where role = 'not_in_table'"
        " order by all"
    ).fetchall()
    return [
        input_problem(
            "food-without-values", recipe_id=recipe_id, line_no=line_no, text=text or "",
            food=food_id,
        )
        for recipe_id, line_no, text, food_id in rows
    ]  # fmt: skip


def _collect(
    db: duckdb.DuckDBPyConnection, given: pd.DataFrame, problems: list[Problem],
    convention: Convention,
) -> Computation:  # fmt: skip
    total = db.execute(sql("compute_every_total")).df()
    values = ", ".join(
        f"any_value(amount) filter (where n = {n}) as {nutrient.column}"
        for n, nutrient in enumerate(NUTRIENTS)
    )
    lines = db.execute(sql("compute_line_wide").replace("$values", values)).df()
    doubt = db.execute(sql("compute_doubt"), {"z": Z90, **_ROUGH}).df()
    names = given["description"].where(given["description"].notna(), given["text"])
    said = [names.iloc[doubt["line"]].tolist(), doubt["share"].tolist(), doubt["cause"].tolist()]
    doubt = _with_words(doubt, given, _DOUBT)
    return Computation(
        computed=require(total, COMPUTED, "computed"),
        total=total,
        recipe=db.execute(sql("compute_recipe"), {"salty_mg": SALTY_MG}).df(),
        line_value=_with_words(lines, given, _LINE_VALUE),
        doubt=doubt.assign(advice=list(map(_advice, *said))).astype({"share": "float64"}),
        problems=problems,
        convention=convention,
    )


#: The first columns of ``line_value`` and ``doubt``; words come from the lines as they are.
_LINE_VALUE = ("recipe_id", "line_no", "text", "food_id", "description", "grams", "unit",
               "amount_of_unit", "basis", "confidence", "role")  # fmt: skip
_DOUBT = ("recipe_id", "line_no", "share", "cause")


def _with_words(found: pd.DataFrame, given: pd.DataFrame, first: Sequence[str]) -> pd.DataFrame:
    """What SQL says of lines, with the words that stand on them.

    Args:
        found: ``line``, the place of each among those given, and numbers.
        given: LINE_RESULT.
        first: columns in their order; those that ``found`` lacks are taken from the lines.
    """
    import pandas as pd

    at = found.pop("line").to_numpy()
    words = {c: given[c].to_numpy(dtype=object)[at] for c in first if c not in found}
    out = found.assign(**{c: pd.Series(w, dtype="str") for c, w in words.items()})
    return out[[*first, *(c for c in found if c not in first)]]


def _advice(name: str, share: float, cause: str) -> str:
    """What a creator can do about this line's share of the doubt, in one short phrase."""
    verb = {
        "grams": "weigh",
        "food": "say which food is meant by",
        "not_counted": "say what and how much is meant by",
        "composition": "the food table itself is unsure of",
    }.get(cause)
    if verb is None or not share >= 0.005:
        return ""
    return f"{verb} {name}: {share:.0%} of the doubt"
