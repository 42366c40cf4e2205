"""Totals per recipe and nutrient, with their 90 % range, in SQL; Python only orders the steps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

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
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]
    Vector = NDArray[np.float64]
    Texts = NDArray[Any]

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
#: but a cup of most foods is lighter. ``whole`` is all of something made before ("1 batch flatbreads").
ROUGH_GRAMS = {
    **kitchen_units().grams, **kitchen_units().sizes("us"), "cup": 200.0,
    "pinch": 0.4, "dash": 0.6, "smidgen": 0.2, "drop": 0.05, "sprig": 1.0, "leaf": 1.0,
    "whole": 500.0,
}  # fmt: skip


@dataclass(frozen=True)
class Computation:
    """What the compute stage found.

    Attributes:
        computed: COMPUTED, one row per (recipe_id, nutrient), whole recipe.
        total: the same with ``shift`` (mean minus amount) and ``variance``, for the explanations.
        recipe: one row per recipe: recipe_id, servings, weight_g, weight_basis (``yield`` given,
            ``summed`` raw weight, ``none``), coverage (energy), lines, lines_unknown, salt_open
            (salt stands on a line without an amount).
        line_value: one row per line that brings something: recipe_id, line_no, food_id, grams, unit,
            amount_of_unit, basis, confidence, role, rel_var and rel_shift (variance of the grams over
            their square, mean of the grams over them less one), then one column per nutrient (nutrients.NUTRIENTS)
            for the whole recipe, NaN where not known.
        doubt: one row per (recipe_id, line_no): share of the energy's variance, cause, advice.
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
    lines = lines.reset_index(drop=True)
    with con.cursor() as db, _as_written(db):
        runners = RUNNER_UP.frame(()) if runner_up is None else runner_up
        ids = _register(db, lines, line_result, recipes, runners)
        if "part_of" in line_result:  # for people, who count the lines that are written
            lines["part_of"] = line_result["part_of"].to_numpy(dtype=np.float64, na_value=np.nan)
        _nutrient_values(db, pantry_nutrient, convention)
        _make(db, "counted_line", "compute_line", z_grams=Z_GRAMS)
        _make(db, "doubted", "compute_doubted", rare=RARE)
        _make(
            db, "match_doubt", "compute_match_doubt",
            other_food_cv=OTHER_FOOD_CV, rare=RARE, common=COMMON,
        )  # fmt: skip
        _make(db, "line_value", "compute_value", missing_share=MISSING_SHARE, z=Z90)
        problems = _add_sub_recipes(db, lines, recipes, ids)
        problems += _not_in_table(db, lines)
        _total(db)
        return _collect(db, lines, ids, problems, convention)


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

#: Columns that the SQL files use; recipes, texts and foods by numbers.
_LINES_IN = LINE_RESULT.only(
    "line_no", "confidence", "names_food", "grams", "grams_low", "grams_high", "basis", "unit",
    "amount",
).plus(
    line="bigint", recipe="integer", text="integer", food="integer", eaten_share="double",
    eaten_low="double", eaten_high="double", use="varchar",
)  # fmt: skip
_RECIPE_IN = RECIPE.only("servings", "yield_g").plus(recipe="integer")
_RUNNER_IN = Table(text="integer", food="integer", probability="double", left_open="double")
_FOOD_IN = Table(food="integer", food_id="varchar")
_WANTED = Table(
    n="integer", nutrient="varchar", cap_n="integer", cap_per_100g="double",
    energy_factor="double", is_energy="boolean",
)  # fmt: skip
_UNIT_GRAMS = Table(unit="varchar", grams="double")
_USE_IN = Table(
    line="bigint", recipe="integer", sub="integer", share="double", share_sd="double",
    grams="double",
)  # fmt: skip
#: The nutrients by their number in SQL.
_TAGS = sorted(n.tag for n in NUTRIENTS)


@cache
def _wanted() -> pd.DataFrame:
    """The nutrients with their numbers, what bounds a missing value, and what moves energy."""
    return _WANTED.frame(
        (n, tag, _TAGS.index(cap) if cap else None, most, ENERGY_FACTORS.get(tag, 0.0),
         tag == "ENERC_KCAL")
        for n, tag in enumerate(_TAGS)
        for cap, most in [CAPS[tag]]
    )  # fmt: skip


def _register(
    db: duckdb.DuckDBPyConnection, lines: pd.DataFrame, given: pd.DataFrame, recipes: pd.DataFrame,
    runners: pd.DataFrame,
) -> Texts:  # fmt: skip
    """Put lines, recipes and runners-up, by numbers, under the names the SQL files use.

    Returns:
        recipe_id of each number: those of ``recipes`` in order first.
    """
    own = recipes["recipe_id"].sort_values()
    codes, ids = _numbered(own, lines["recipe_id"])
    text, _ = _numbered(lines["text"], runners["text"])
    food, food_ids = _numbered(lines["food_id"], runners["food_id"])
    nothing = dict.fromkeys(("eaten_share", "eaten_low", "eaten_high"), float("nan")) | {"use": ""}
    more: dict[str, Any] = {c: given.get(c, value) for c, value in nothing.items()}
    more |= {"recipe": codes[len(own) :], "text": text[: len(lines)]}
    mine = pd.array(food[: len(lines)], dtype="Int32")
    mine[food[: len(lines)] < 0] = pd.NA
    _LINES_IN.register(db, "line_result", lines.assign(line=range(len(lines)), food=mine, **more))
    others = runners.assign(text=text[len(lines) :], food=food[len(lines) :])
    _RUNNER_IN.register(db, "runner_up", others[others["food"] >= 0])
    _FOOD_IN.register(db, "food_in", _FOOD_IN.frame(enumerate(food_ids)))
    place = pd.Index(own).get_indexer(recipes["recipe_id"])
    _RECIPE_IN.register(db, "recipe_in", recipes.assign(recipe=place))
    _WANTED.register(db, "wanted", _wanted())
    _UNIT_GRAMS.register(db, "unit_grams", _UNIT_GRAMS.frame(ROUGH_GRAMS.items()))
    return ids


def _numbered(*columns: pd.Series[Any]) -> tuple[Ints, Texts]:
    """Numbers of the texts of some columns below one another, -1 for none, and the texts."""
    codes, texts = pd.factorize(np.concatenate([c.to_numpy(dtype=object) for c in columns]))
    return codes, np.asarray(texts, dtype=object)


def _nutrient_values(
    db: duckdb.DuckDBPyConnection, pantry_nutrient: pd.DataFrame | None, convention: Convention
) -> None:
    """The values of the foods that lines and runners-up name."""
    own = FOOD_NUTRIENT.only("food_id", "nutrient", "amount_per_100g")
    own.register(db, "pantry", own.frame(()) if pantry_nutrient is None else pantry_nutrient)
    db.execute(sql("compute_nutrient_value"))
    if not convention.plain:
        db.execute(
            sql("compute_convention"),
            {"energy": convention.energy, "available": convention.available, **factors()},
        )


def _make(db: duckdb.DuckDBPyConnection, table: str, query: str, **params: float) -> None:
    db.execute(f"create or replace temp table {table} as {sql(query)}", params or None)


def _total(db: duckdb.DuckDBPyConnection) -> None:
    _make(db, "total", "compute_total", z=Z90, made_of_sd=MADE_OF_SD, **_ROUGH)


def _add_sub_recipes(
    db: duckdb.DuckDBPyConnection, lines: pd.DataFrame, recipes: pd.DataFrame, ids: Texts
) -> list[Problem]:
    """Fill ``line_value`` for lines that use another recipe, those without such lines first."""
    at = _lines_of_role(db, "recipe")
    if not len(at):
        return []
    own = db.execute(
        "select recipe, fsum(grams) from counted_line where role = 'counted' group by recipe"
    ).fetchall()
    uses = lines.iloc[at][["recipe_id", "line_no", "text", "food_id", "unit", "amount"]]
    uses = uses.sort_values(["recipe_id", "line_no"], kind="stable")
    place = {(line.recipe_id, line.line_no): line.Index for line in uses.itertuples()}
    levels, problems = plan_uses(uses, recipes, {ids[recipe]: grams for recipe, grams in own})
    number = {recipe_id: n for n, recipe_id in enumerate(ids)}
    for level in levels:
        _total(db)
        rows = [
            (place[use["recipe_id"], use["line_no"]], number[use["recipe_id"]],
             number[use["sub_id"]], use["share"], use["share_sd"], use["grams"])
            for use in level
        ]  # fmt: skip
        _USE_IN.register(db, "recipe_use", _USE_IN.frame(rows))
        db.execute(f"insert into line_value {sql('compute_sub_recipe')}")
        db.execute(
            "update counted_line set grams = u.grams from recipe_use as u"
            " where counted_line.line = u.line"
        )
    return problems


def _lines_of_role(db: duckdb.DuckDBPyConnection, role: str) -> Ints:
    """Places of the lines that play a part in the sums."""
    found = db.execute("select line from counted_line where role = $role", {"role": role})
    return np.asarray(found.fetchnumpy()["line"])


def _not_in_table(db: duckdb.DuckDBPyConnection, lines: pd.DataFrame) -> list[Problem]:
    found = lines.iloc[_lines_of_role(db, "not_in_table")]
    rows = zip(*(found[c] for c in ("recipe_id", "line_no", "text", "food_id")), strict=True)
    return [
        input_problem(
            "food-without-values", recipe_id=recipe_id, line_no=line_no, text=text or "",
            food=food_id,
        )
        for recipe_id, line_no, text, food_id in sorted(rows)
    ]  # fmt: skip


def _collect(
    db: duckdb.DuckDBPyConnection, given: pd.DataFrame, ids: Texts, problems: list[Problem],
    convention: Convention,
) -> Computation:  # fmt: skip
    total = _named(db.execute(sql("compute_every_total")).df(), ids)
    doubt = db.execute(sql("compute_doubt"), {"z": Z90, **_ROUGH}).df()
    names = given["description"].replace("", None).fillna(given["text"])
    said = [names.iloc[doubt["line"]].tolist(), doubt["share"].tolist(), doubt["cause"].tolist()]
    values = _line_values(db, len(given))
    if "part_of" in given:
        values["part_of"] = given["part_of"].to_numpy()[values["line"]]
    doubt = _with_words(doubt, given, _DOUBT)
    return Computation(
        computed=require(total, COMPUTED, "computed"),
        total=total,
        recipe=_named(db.execute(sql("compute_recipe"), {"salty_mg": SALTY_MG}).df(), ids),
        line_value=_with_words(values, given, _LINE_VALUE),
        doubt=doubt.assign(advice=list(map(_advice, *said))).astype({"share": "float64"}),
        problems=problems,
        convention=convention,
    )


def _named(found: pd.DataFrame, ids: Texts) -> pd.DataFrame:
    """A table with recipe_id and nutrient in place of their numbers."""
    tags = np.array(_TAGS, dtype=object)
    for at, (number, name, names) in enumerate(
        [("recipe", "recipe_id", ids), ("n", "nutrient", tags)]
    ):
        if number in found:
            found.insert(at, name, pd.Series(names[found.pop(number)], dtype="str"))
    return found


def _line_values(db: duckdb.DuckDBPyConnection, count: int) -> pd.DataFrame:
    """What each line that names a food brings to its recipe, in the order of recipe and line_no.

    Args:
        count: of all lines.
    """
    lines = db.execute(
        "select line, line_no, grams, amount as amount_of_unit, confidence, role"
        " from counted_line order by recipe, line_no"
    ).df()
    found = db.execute(
        "select line, n, amount, shift, var_grams, var_match from line_value"
    ).fetchnumpy()
    line, n = found["line"], found["n"]
    amount, shift, variance, doubt = (
        _wide(line, n, found[c], count)[lines["line"]]
        for c in ("amount", "shift", "var_grams", "var_match")
    )
    variance += np.where((lines["role"] == "recipe").to_numpy()[:, None], doubt, 0.0)
    known = amount > 0
    safe = np.where(known, amount, 1.0)
    rel_var = np.where(known, variance / safe**2, -1.0).max(axis=1)
    most = np.where(known, amount, -1.0).argmax(axis=1)[:, None]
    rel_shift = np.take_along_axis(shift / safe, most, axis=1)[:, 0]
    some = known.any(axis=1)
    values = {m.column: amount[:, _TAGS.index(m.tag)] for m in NUTRIENTS}
    return lines.assign(
        rel_var=np.where(some, rel_var, np.nan), rel_shift=np.where(some, rel_shift, np.nan),
        **values,
    )  # fmt: skip


def _wide(line: Any, n: Any, value: Any, count: int) -> Vector:
    """Values of (line, nutrient) as an array of as many lines, NaN where there are none."""
    wide = np.full((count, len(_TAGS)), np.nan)
    wide[line, n] = np.ma.filled(value, np.nan)
    return wide


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
    at = found.pop("line").to_numpy()
    words = {c: given[c].to_numpy(dtype=object)[at] for c in first if c not in found}
    out = found.assign(**{c: pd.Series(w, dtype="str") for c, w in words.items()})
    return out[[*first, *(c for c in found if c not in first)]]


_VERBS = {
    "grams": "weigh",
    "food": "say which food is meant by",
    "not_counted": "say what and how much is meant by",
    "composition": "the food table itself is unsure of",
}


def _advice(name: str, share: float, cause: str) -> str:
    """What a creator can do about this line's share of the doubt, in one short phrase."""
    verb = _VERBS.get(cause) if share >= 0.005 else None
    return "" if verb is None else f"{verb} {name}: {share:.0%} of the doubt"
