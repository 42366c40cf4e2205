"""Which single slip best explains all stated numbers at once.

Each candidate slip says what would have been published; the stated numbers are then more or less
likely under the doubt about grams and foods, the noise between two food tables and the rounding.
Belief in a slip is its prior (shared/slip_priors.csv) times that likelihood, over all candidates.
Candidates of one kind and line are one explanation. When no single slip fits, pairs are tried.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from pipeline.compute.convention import factors
from pipeline.nutrients import BY_TAG, NET_CARBS_TAG
from pipeline.reconcile.digits import meant_by
from pipeline.reconcile.model import (
    ATWATER,
    CARBS,
    FAT,
    FIBRE,
    KCAL,
    KJ_PER_KCAL,
    MACROS,
    PROTEIN,
    TAGS,
    WORDS,
    Matrix,
    Vector,
    log_likelihood,
    noise,
    priors,
    unit_slips,
)
from pipeline.reconcile.variants import Neighbour, Variants
from pipeline.resources import sql
from pipeline.tables import EXPLANATION, RUNNER_UP, STATED, require

if TYPE_CHECKING:
    from collections.abc import Iterator

    import duckdb
    import pandas as pd
    from numpy.typing import NDArray

    from pipeline.compute import Computation, Convention

#: Spread of "some other food" than the runners-up, as in the compute stage.
_OTHER_FOOD_CV = 0.30

#: Below this share of the sum, a change cannot be told from noise and explains nothing.
_LEAST_EFFECT = 0.04
_LEAST_AMOUNT = np.array([6.0, 0.7, 0.7, 0.7, 0.7, 0.7, 0.4])

#: Spread of numbers that follow from nothing we know: scale of a Laplace on the log ratio.
_FREE_SCALE = 0.35
_ENERGY_SCALE = 0.30
_ENERGY_LEAST = 0.06

#: Counts of servings one may divide by, and belief in them relative to the right count.
_COUNTS = (*range(1, 13), 14, 15, 16, 18, 20, 24)

#: Weight of a serving when the yield is not given: raw weight, or less after cooking.
_COOKED_SHARE = ((1.0, 0.8), (0.85, 0.12), (0.7, 0.08))

#: Variance of a one-sided normal whose 95 % point is twice 1: (1 - 2/pi) (2/1.645)^2.
_ONE_SIDED = 0.537

#: Belief that a second slip was made when one was. Common practice.
_SECOND_SLIP = 0.06

#: Kind of the candidates that are no slip.
_HONEST = "honest"

_PAIRS = ((PROTEIN, CARBS), (CARBS, FAT), (PROTEIN, FAT))
_SPOON = {
    "tbsp": re.compile(r"\b(?:tbsp|tbs|tablespoons?)\b", re.IGNORECASE),
    "tsp": re.compile(r"\b(?:tsp|teaspoons?)\b", re.IGNORECASE),
}


@dataclass(slots=True)
class Foods:
    """The foods of a snapshot and pantry, ready for the search.

    Attributes:
        variants: index by name.
        values: (foods, 7) per 100 g in the order of ``model.TAGS``; NaN where missing.
    """

    variants: Variants
    values: Matrix
    alcohol: Vector

    def in_convention(self, convention: Convention) -> Foods:
        """The same foods counted as the collection counts; the creator's own keep their label's."""
        if convention.plain:
            return self
        f, values = factors(), self.values.copy()
        table = slice(0, len(self.alcohol))
        fibre = np.nan_to_num(values[table, FIBRE])
        alcohol = np.nan_to_num(self.alcohol)
        total = values[table, CARBS].copy()
        available = np.maximum(total - fibre, 0.0)
        if convention.available:
            values[table, CARBS] = available
        kcal = f["protein"] * values[table, PROTEIN] + f["fat"] * values[table, FAT]
        kcal = kcal + f["alcohol"] * alcohol
        if convention.energy == "eu":
            kcal = kcal + f["carbs"] * available + f["fibre"] * fibre
        else:
            kcal = kcal + f["carbs"] * values[table, CARBS]
        if convention.energy != "table":
            values[table, KCAL] = np.where(np.isfinite(kcal), kcal, values[table, KCAL])
        return Foods(self.variants, values, self.alcohol)


@dataclass(slots=True)
class _Case:
    """One recipe, everything per the basis its numbers are stated on."""

    recipe_id: str
    stated: Vector  # (7,)
    given: NDArray[np.bool_]  # (7,)
    least: Vector  # (7,), the smallest change that can be seen; infinite where nothing is stated
    step: Vector  # (7,)
    basis: str
    servings: float
    weight_g: float  # per stated unit, NaN when not known
    yield_known: bool
    line_no: list[int]
    text: list[str]
    name: list[str]
    unit: list[str]
    unit_amount: Vector
    food: list[int]  # row of Foods, -1 when none
    grams: Vector  # per stated unit
    values: Matrix  # (lines, 7), missing as 0
    mean: Vector  # (7,) of the whole
    line_mean: Matrix  # (lines, 7)
    cov: Matrix  # (7, 7) of the whole
    line_cov: Matrix  # (lines, 7, 7)
    grams_cv_sq: Vector
    net: bool
    runners: list[list[tuple[int, float]]]


@dataclass(slots=True)
class _Slips:
    """Candidate slips of one recipe, column by column."""

    kind: list[str] = field(default_factory=list)
    line: list[int] = field(default_factory=list)  # index into the case's lines, -1 for none
    log_prior: list[float] = field(default_factory=list)
    mean: list[Vector] = field(default_factory=list)
    cov: list[Matrix] = field(default_factory=list)
    stated: list[Vector] = field(default_factory=list)
    given: list[NDArray[np.bool_]] = field(default_factory=list)
    what: list[str] = field(default_factory=list)

    def add(
        self, case: _Case, kind: str, weight: float, mean: Vector, cov: Matrix, what: str, *,
        line: int = -1, stated: Vector | None = None, given: NDArray[np.bool_] | None = None,
    ) -> None:  # fmt: skip
        self.kind.append(kind)
        self.line.append(line)
        self.log_prior.append(math.log(max(weight, 1e-300)))
        self.mean.append(mean)
        self.cov.append(cov)
        self.stated.append(case.stated if stated is None else stated)
        self.given.append(case.given if given is None else given)
        self.what.append(what)

    def add_lines(
        self, case: _Case, kind: str, weights: list[float], mean: Matrix, cov: NDArray[np.float64],
        whats: list[str], lines: list[int],
    ) -> None:  # fmt: skip
        """Many candidates of one kind at once, row by row of the arrays."""
        many = len(lines)
        self.kind += [kind] * many
        self.line += lines
        self.log_prior += [math.log(max(w, 1e-300)) for w in weights]
        self.mean += list(mean)
        self.cov += list(cov)
        self.stated += [case.stated] * many
        self.given += [case.given] * many
        self.what += whats


#: Foods of the snapshots seen by this process, by snapshot_id.
_LOADED: dict[str, Foods] = {}


def load_foods(
    con: duckdb.DuckDBPyConnection, pantry_nutrient: pd.DataFrame | None = None
) -> Foods:
    """Names and values of every food; read once a snapshot and process.

    Args:
        con: a connection to the snapshot.
        pantry_nutrient: FOOD_NUTRIENT rows of the creator's own foods.
    """
    tables = {name for (name,) in con.execute("select table_name from duckdb_tables()").fetchall()}
    key = ""
    if "snapshot" in tables:
        row = con.execute("select snapshot_id from snapshot").fetchone()
        key = str(row[0]) if row else ""
    foods = _LOADED.get(key) if key else None
    if foods is None:
        foods = _read_foods(con)
        if key:
            _LOADED.clear()  # one snapshot is in force at a time
            _LOADED[key] = foods
    if pantry_nutrient is None or pantry_nutrient.empty:
        return foods
    own = pantry_nutrient.pivot_table(
        index="food_id", columns="nutrient", values="amount_per_100g", aggfunc="first"
    ).reindex(columns=list(TAGS))
    ids = [str(food_id) for food_id in own.index]
    names = [food_id.partition(":")[2].replace("-", " ") for food_id in ids]
    variants = foods.variants.and_own(ids, names, own.to_numpy(dtype=np.float64))
    return Foods(variants, variants.values, foods.alcohol)


def _read_foods(con: duckdb.DuckDBPyConnection) -> Foods:
    pivot = ", ".join(
        f"any_value(amount_per_100g) filter (where nutrient = '{tag}') as v{i}"
        for i, tag in enumerate(TAGS)
    )
    pivot += ", any_value(amount_per_100g) filter (where nutrient = 'ALC') as alcohol"
    columns = [f"v{i}" for i in range(len(TAGS))]
    wanted = ", ".join(f"'{tag}'" for tag in (*TAGS, "ALC"))
    frame = con.execute(
        f"""
        with wide as (
            select food_id, {pivot} from food_nutrient where nutrient in ({wanted}) group by food_id
        )
        select food.food_id, food.description, food.category, {", ".join(columns)}, alcohol
        from food left join wide using (food_id)
        where not food.reference
        order by food.food_id
        """
    ).df()
    values = frame[columns].to_numpy(dtype=np.float64)
    names = frame[["food_id", "description", "category"]]
    rows = con.execute(sql("reconcile_profile")).fetchall()
    neighbours = [
        Neighbour.of_row(row, d) for row, d in zip(rows, names["description"], strict=True)
    ]
    alcohol = frame["alcohol"].to_numpy(dtype=np.float64)
    return Foods(Variants(names, values, list(TAGS), neighbours), values, alcohol)


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """What the search found.

    Attributes:
        explanation: see ``explanations``.
        honest: recipe_id, honest: belief that the stated numbers, all together, are an honest sum
            of these lines, with even odds before they are seen.
    """

    explanation: pd.DataFrame
    honest: pd.DataFrame


def diagnose(
    con: duckdb.DuckDBPyConnection,
    computation: Computation,
    verdict: pd.DataFrame,
    stated: pd.DataFrame,
    runner_up: pd.DataFrame | None = None,
    *,
    pantry_nutrient: pd.DataFrame | None = None,
    foods: Foods | None = None,
    top: int = 5,
    least: float = 0.005,
) -> Diagnosis:
    """Search the likeliest slips of each recipe that does not agree, and how likely there is none.

    Args:
        con: a connection to the snapshot; only read when ``foods`` is not given.
        computation: of the compute stage.
        verdict: recipe_id, verdict; recipes that disagree or are uncertain are searched.
        stated: STATED.
        runner_up: RUNNER_UP; they stand among the candidates for another product.
        pantry_nutrient: FOOD_NUTRIENT rows of the creator's own foods.
        foods: of ``load_foods``, to be used again.
        top: at most so many explanations a recipe.
        least: explanations less likely than this are left out, but never the first.
    """
    import pandas as pd

    chosen = set(
        verdict.loc[verdict["verdict"].isin(["disagrees", "uncertain"]), "recipe_id"].tolist()
    )
    rows: list[dict[str, object]] = []
    honest: list[tuple[str, float]] = []
    if chosen:
        foods = foods or load_foods(con, pantry_nutrient)
        foods = foods.in_convention(computation.convention)
        cases = _cases(computation, stated, runner_up, foods, chosen)
        for ranked in _search(cases, foods):
            recipe_id = ranked.case.recipe_id
            honest.append((recipe_id, ranked.honest))
            for rank, found in enumerate(ranked.best(top, least), start=1):
                rows.append({"recipe_id": recipe_id, "rank": rank, **found})
    frame = pd.DataFrame(rows, columns=[*EXPLANATION, "basis", "misfit"])
    types = {"line_no": "Int64", "rank": "int64", "probability": "float64", "misfit": "float64"}
    return Diagnosis(frame.astype(types), pd.DataFrame(honest, columns=["recipe_id", "honest"]))


def explanations(
    con: duckdb.DuckDBPyConnection,
    computation: Computation,
    verdict: pd.DataFrame,
    stated: pd.DataFrame,
    runner_up: pd.DataFrame | None = None,
    *,
    pantry_nutrient: pd.DataFrame | None = None,
    foods: Foods | None = None,
    top: int = 5,
) -> pd.DataFrame:
    """The likeliest slips of each recipe that does not agree, best first.

    Arguments as ``diagnose``.

    Returns:
        EXPLANATION, then ``basis`` and ``misfit``: one row a (recipe_id, kind, line_no), ``rank``
        from 1, ``probability`` over the candidates (sums to 1 before the cut), ``detail`` one
        sentence with the numbers, then what the slip would have published, per the stated basis.
        ``line_no`` is missing for kinds without a line.
    """
    return diagnose(
        con, computation, verdict, stated, runner_up,
        pantry_nutrient=pantry_nutrient, foods=foods, top=top,
    ).explanation  # fmt: skip


# --- reading the tables -----------------------------------------------------------------------


def _cases(
    computation: Computation,
    stated: pd.DataFrame,
    runner_up: pd.DataFrame | None,
    foods: Foods,
    chosen: set[str],
) -> list[_Case]:
    """Gather what the search needs, one recipe at a time; recipes without numbers are left out.

    Frames are turned into arrays once and sliced by recipe: pandas is slow on small pieces.
    """
    numbers = _Numbers.read(stated, chosen, computation.convention.available)
    recipe = computation.recipe
    recipe = recipe[recipe["recipe_id"].isin(numbers.by_recipe.keys())]
    lines = _Lines.read(computation.line_value, chosen)
    totals = _Totals.read(computation.total, chosen)
    named: dict[str, list[tuple[str, float]]] = {}
    if runner_up is not None:
        table = require(runner_up, RUNNER_UP, "runner_up").dropna(subset=["food_id"])
        for text, food_id, p in zip(
            table["text"].tolist(), table["food_id"].tolist(), table["probability"].tolist(),
            strict=True,
        ):  # fmt: skip
            named.setdefault(text, []).append((food_id, float(p)))
    cases = []
    for recipe_id, servings, weight, basis in zip(
        recipe["recipe_id"].tolist(), recipe["servings"].tolist(), recipe["weight_g"].tolist(),
        recipe["weight_basis"].tolist(), strict=True,
    ):  # fmt: skip
        if recipe_id in lines.span:
            case = _case(
                recipe_id, float(servings), float(weight), basis == "yield",
                numbers, lines, totals, named, foods,
            )  # fmt: skip
            if case is not None:
                cases.append(case)
    return cases


@dataclass(slots=True)
class _Numbers:
    """Stated amounts and steps: recipe_id, then basis, then (7,) amount, (7,) step, net."""

    by_recipe: dict[str, dict[str, tuple[Vector, Vector, bool]]]

    @classmethod
    def read(cls, stated: pd.DataFrame, chosen: set[str], available: bool) -> _Numbers:
        table = require(stated, STATED, "stated")
        table = table[table["recipe_id"].isin(chosen) & table["amount"].notna()]
        found: dict[str, dict[str, dict[str, tuple[float, float]]]] = {}
        for recipe_id, tag, amount, basis, step in zip(
            *(table[c].tolist() for c in ("recipe_id", "nutrient", "amount", "basis", "step")),
            strict=True,
        ):
            step = float(step) if step is not None and step == step else 1.0
            found.setdefault(recipe_id, {}).setdefault(basis, {}).setdefault(
                tag, (float(amount), step)
            )
        out: dict[str, dict[str, tuple[Vector, Vector, bool]]] = {}
        for recipe_id, bases in found.items():
            for basis, said in bases.items():
                net = NET_CARBS_TAG in said and "CHOCDF" not in said
                tags = [NET_CARBS_TAG if net and t == "CHOCDF" else t for t in TAGS]
                pairs = np.array([said.get(t, (math.nan, 1.0)) for t in tags])
                out.setdefault(recipe_id, {})[basis] = (
                    pairs[:, 0],
                    pairs[:, 1],
                    net and not available,
                )
        return cls(out)


@dataclass(slots=True)
class _Lines:
    """Lines that bring energy or a macro, sorted by recipe; ``span`` says which rows are whose."""

    span: dict[str, slice]
    line_no: list[int]
    text: list[str]
    name: list[str]
    unit: list[str]
    food_id: list[str]
    unit_amount: Vector
    grams: Vector
    confidence: Vector
    rel_var: Vector
    rel_shift: Vector
    values: Matrix

    @classmethod
    def read(cls, table: pd.DataFrame, chosen: set[str]) -> _Lines:
        known = table[
            table["recipe_id"].isin(chosen)
            & table["role"].isin(["counted", "recipe"])
            & table["kcal"].notna()
        ].sort_values(["recipe_id", "line_no"], kind="stable")
        ids = known["recipe_id"].to_numpy(dtype=object)
        first = np.append(True, ids[1:] != ids[:-1])[: len(ids)]
        starts = np.flatnonzero(first).tolist()
        ends = [*starts[1:], len(ids)]
        numbers = {
            c: known[c].to_numpy(dtype=np.float64, na_value=math.nan)
            for c in ("amount_of_unit", "grams", "confidence", "rel_var", "rel_shift")
        }
        values = known[[BY_TAG[tag].column for tag in TAGS]].to_numpy(dtype=np.float64)
        return cls(
            span={ids[a]: slice(a, b) for a, b in zip(starts, ends, strict=True)},
            line_no=known["line_no"].astype(int).tolist(),
            text=known["text"].tolist(),
            name=known["description"].fillna("").tolist(),
            unit=known["unit"].fillna("").tolist(),
            food_id=known["food_id"].fillna("").tolist(),
            unit_amount=numbers["amount_of_unit"],
            grams=numbers["grams"],
            confidence=np.nan_to_num(numbers["confidence"], nan=1.0),
            rel_var=np.nan_to_num(numbers["rel_var"]),
            rel_shift=np.nan_to_num(numbers["rel_shift"]),
            values=np.nan_to_num(values),
        )


@dataclass(slots=True)
class _Totals:
    """Sums of the compute stage: (recipes, 7) each, and the row of each recipe."""

    row: dict[str, int]
    amount: Matrix
    shift: Matrix
    variance: Matrix
    rough: Matrix

    @classmethod
    def read(cls, table: pd.DataFrame, chosen: set[str]) -> _Totals:
        table = table[table["recipe_id"].isin(chosen) & table["nutrient"].isin(TAGS)]
        row = {r: i for i, r in enumerate(dict.fromkeys(table["recipe_id"].tolist()))}
        at = np.array([row[r] for r in table["recipe_id"].tolist()], dtype=np.int64)
        tag = np.array([TAGS.index(t) for t in table["nutrient"].tolist()], dtype=np.int64)
        filled = {}
        for column in ("amount", "shift", "variance", "rough"):
            matrix = np.zeros((len(row), len(TAGS)))
            matrix[at, tag] = np.nan_to_num(table[column].to_numpy(dtype=np.float64))
            filled[column] = matrix
        return cls(row, **filled)


def _case(
    recipe_id: str, servings: float, weight: float, yield_known: bool, numbers: _Numbers,
    lines: _Lines, totals: _Totals, named: dict[str, list[tuple[str, float]]], foods: Foods,
) -> _Case | None:  # fmt: skip
    units = {"per_serving": servings, "per_recipe": 1.0, "per_100g": weight / 100}
    bases = {b: n for b, n in numbers.by_recipe[recipe_id].items() if units.get(b, 0.0) > 0}
    if not bases:
        return None
    basis = max(bases, key=lambda b: int(np.isfinite(bases[b][0]).sum()))
    said, step, net = bases[basis]
    unit = units[basis]
    given = np.isfinite(said)
    if not given[[KCAL, *MACROS]].any():
        return None

    mine = lines.span[recipe_id]
    values = lines.values[mine] / unit
    if net:
        values[:, CARBS] -= values[:, FIBRE]
    rel_var = lines.rel_var[mine]
    grams = lines.grams[mine] / unit
    line_cov = rel_var[:, None, None] * values[:, :, None] * values[:, None, :]
    line_mean = values * (1 + lines.rel_shift[mine])[:, None]
    food = [foods.variants.at.get(f, -1) for f in lines.food_id[mine]]
    text, doubt = lines.text[mine], 1 - lines.confidence[mine]
    runners: list[list[tuple[int, float]]] = []
    for i, words in enumerate(text):
        found = _runners(named.get(words, []), doubt[i], food[i], foods)
        runners.append(found)
        if food[i] >= 0 and doubt[i] > 0 and grams[i] > 0:
            line_cov[i] += _match_cov(found, doubt[i], values[i], grams[i], foods)

    row = totals.row[recipe_id]
    amount, shift = totals.amount[row] / unit, totals.shift[row] / unit
    rough, variance = totals.rough[row] / unit, totals.variance[row] / unit**2
    if net:
        for vector in (amount, shift, rough):
            vector[CARBS] -= vector[FIBRE]
    cov = line_cov.sum(axis=0)
    if rough.any():  # lines that could not be counted, made like the rest of the recipe
        cov = cov + _ONE_SIDED * np.outer(rough, rough)
    at = np.arange(len(TAGS))
    lacking = np.maximum(variance - cov[at, at], 0.0)  # values that the table does not have
    if not rough.any():
        lacking[: FAT + 1] = 0.0  # composition of the macros is part of the database noise
    cov[at, at] += lacking
    mean = np.maximum(amount + shift, 0.0)
    return _Case(
        recipe_id=recipe_id,
        stated=np.where(given, said, 0.0),
        given=given,
        least=np.where(given, np.maximum(_LEAST_EFFECT * mean, _LEAST_AMOUNT), math.inf),
        step=step,
        basis=basis,
        servings=servings,
        weight_g=weight / unit,
        yield_known=yield_known,
        line_no=lines.line_no[mine],
        text=text,
        name=lines.name[mine],
        unit=lines.unit[mine],
        unit_amount=lines.unit_amount[mine] / unit,
        food=food,
        grams=grams,
        values=values,
        mean=mean,
        line_mean=line_mean,
        cov=cov,
        line_cov=line_cov,
        grams_cv_sq=rel_var,
        net=net,
        runners=runners,
    )


def _runners(
    named: list[tuple[str, float]], doubt: float, chosen: int, foods: Foods
) -> list[tuple[int, float]]:
    """Runners-up as rows of ``foods``; together they hold no more belief than the match leaves."""
    rows = [(foods.variants.at.get(f, -1), p) for f, p in named]
    rows = [(i, p) for i, p in rows if i >= 0 and i != chosen and p > 0]
    every = sum(p for _, p in rows)
    scale = min(1.0, max(doubt, 0.0) / every) if every > 0 else 0.0
    return [(i, p * scale) for i, p in rows]


def _match_cov(
    runners: list[tuple[int, float]], doubt: float, value: Vector, grams: float, foods: Foods
) -> Matrix:
    cov = np.zeros((len(TAGS), len(TAGS)))
    for index, p in runners:
        other = foods.values[index] * grams / 100
        off = np.where(np.isfinite(other), other - value, 0.0)
        cov += p * np.outer(off, off)
    rest = max(doubt - sum(p for _, p in runners), 0.0)
    cov += rest * _OTHER_FOOD_CV**2 * np.outer(value, value)
    return cov


# --- the candidates ---------------------------------------------------------------------------


def _candidates(case: _Case, foods: Foods) -> _Slips:
    """Every single slip of a recipe with the numbers it would have published."""
    slips = _Slips()
    base = case.cov + noise(case.mean[None])[0]
    _line_slips(case, slips)
    _food_slips(case, foods, slips)
    _scale_slips(case, slips)
    _number_slips(case, base, slips)
    _honest_sums(case, foods, slips)
    return slips


def _honest_sums(case: _Case, foods: Foods, slips: _Slips) -> None:
    """No slip at all: the lines as matched, or one of them meaning a runner-up.

    They stand last, and are no explanations: what they say is how likely it is that there is
    nothing to explain but our own reading of a line.
    """
    named = [(i, index, p) for i, runners in enumerate(case.runners) for index, p in runners]
    if named:
        line = np.array([i for i, _, _ in named])
        value = foods.values[[index for _, index, _ in named]] * case.grams[line][:, None] / 100
        whole = np.isfinite(value[:, : FAT + 1]).all(axis=1)
        value = np.where(np.isfinite(value), value, case.values[line])
        if case.net:
            value[:, CARBS] -= value[:, FIBRE]
        telling = np.flatnonzero(whole & _telling(case, value - case.line_mean[line]))
        line, value = line[telling], value[telling]
        slips.add_lines(
            case, _HONEST, [named[n][2] for n in telling],
            case.mean - case.line_mean[line] + value,
            case.cov - case.line_cov[line]
            + case.grams_cv_sq[line][:, None, None] * (value[:, :, None] * value[:, None, :]),
            [""] * len(telling), line.tolist(),
        )  # fmt: skip
    slips.add(case, _HONEST, 1.0, case.mean, case.cov, "")


def _tells(case: _Case, change: Vector) -> bool:
    """Whether a change is large enough to be seen in any stated number."""
    return bool((np.abs(change) >= case.least).any())


def _telling(case: _Case, changes: Matrix) -> NDArray[np.bool_]:
    """``_tells`` of each row."""
    return np.asarray((np.abs(changes) >= case.least).any(axis=1), dtype=np.bool_)


def _line_slips(case: _Case, slips: _Slips) -> None:
    """Lines left out, doubled, or measured in another unit."""
    by_kind: dict[str, list[tuple[int, float, float, str]]] = {}
    for i in range(len(case.line_no)):
        if case.values[i, KCAL] <= 0 and not case.values[i].any():
            continue
        by_kind.setdefault("line_left_out", []).append((i, 0.0, 1.0, ""))
        by_kind.setdefault("line_doubled", []).append((i, 2.0, 1.0, ""))
        units = {u for u, words in _SPOON.items() if words.search(case.text[i])}
        units.add(case.unit[i].split("_")[0] if case.unit[i] != "fl_oz" else "fl_oz")
        for unit in sorted(units):
            for slip in unit_slips().get(unit, ()):
                what = f"{unit} counted as {slip.counted_as}"
                by_kind.setdefault("unit_slip", []).append((i, slip.factor, slip.weight, what))
        if case.unit[i] == "ml" and case.grams[i] > 0 and case.unit_amount[i] > 0:
            factor = case.unit_amount[i] / case.grams[i]
            by_kind.setdefault("unit_slip", []).append((i, factor, 0.3, "ml counted as g"))
        elif case.unit[i] == "g" and case.grams[i] > 0:
            continue
    for kind, rows in by_kind.items():
        line = np.array([r[0] for r in rows])
        factor = np.array([r[1] for r in rows])
        seen = np.flatnonzero(_telling(case, (factor - 1)[:, None] * case.line_mean[line]))
        telling = [rows[n] for n in seen]
        every = max(sum(r[2] for r in telling), 1.0)  # rare readings stay rare when alone
        line, factor = line[seen], factor[seen]
        slips.add_lines(
            case, kind, [priors()[kind] * r[2] / every for r in telling],
            case.mean + (factor - 1)[:, None] * case.line_mean[line],
            case.cov + (factor**2 - 1)[:, None, None] * case.line_cov[line],
            [r[3] for r in telling], line.tolist(),
        )  # fmt: skip


def _food_slips(case: _Case, foods: Foods, slips: _Slips) -> None:
    """The grams of a line looked up in another food: raw for cooked, another product."""
    rows: dict[str, list[tuple[int, int, float]]] = {}
    for i, food in enumerate(case.food):
        if food < 0 or not case.grams[i] > 0:
            continue
        named: dict[str, dict[int, float]] = {}
        for variant in foods.variants.of(food):
            named.setdefault(variant.kind, {})[variant.index] = variant.weight
        mine = foods.variants.state[food]
        for index, p in case.runners[i]:
            state = foods.variants.state[index]
            kind = "raw_cooked_slip" if mine and state and state != mine else "product_variant"
            here = named.setdefault(kind, {})
            here[index] = max(here.get(index, 0.0), min(p * 2, 0.5))
        for kind, variants in named.items():
            rows.setdefault(kind, []).extend((i, index, w) for index, w in variants.items())
    for kind, found in rows.items():
        line = np.array([i for i, _, _ in found])
        other = np.array([index for _, index, _ in found])
        weight = np.array([w for _, _, w in found])
        value = foods.values[other] * (case.grams[line] / 100)[:, None]
        whole = np.isfinite(value[:, : FAT + 1]).all(axis=1)
        value = np.where(np.isfinite(value), value, case.values[line])
        if case.net:
            value[:, CARBS] -= value[:, FIBRE]
        change = value - case.line_mean[line]
        telling = np.flatnonzero(whole & _telling(case, change))
        line, value, other = line[telling], value[telling], other[telling]
        lines = len(set(line.tolist()))
        slips.add_lines(
            case, kind, [priors()[kind] * w / lines for w in weight[telling].tolist()],
            case.mean + change[telling],
            case.cov - case.line_cov[line]
            + (case.grams_cv_sq[line] + 1e-4)[:, None, None]
            * (value[:, :, None] * value[:, None, :]),
            [foods.variants.descriptions[n] for n in other], line.tolist(),
        )  # fmt: skip


def _scale_slips(case: _Case, slips: _Slips) -> None:
    """Divided by another count of servings; given per 100 g."""
    if case.servings > 0 and case.basis == "per_serving":
        n = case.servings
        belief = {k: _count_belief(k, n) for k in (*_COUNTS, 2 * n, n / 2) if k >= 1 and k != n}
        telling = {k: b for k, b in belief.items() if _tells(case, case.mean * (n / k - 1))}
        every = sum(telling.values())
        for k, b in telling.items():
            f = n / k
            slips.add(case, "servings_slip", priors()["servings_slip"] * b / every,
                      case.mean * f, case.cov * f**2, f"divided by {k:g} instead of {n:g}")  # fmt: skip
    elif case.servings > 1 and case.basis == "per_recipe":
        f = 1 / case.servings
        slips.add(case, "servings_slip", priors()["servings_slip"], case.mean * f, case.cov * f**2,
                  "the numbers of one serving stated for the whole recipe")  # fmt: skip
    if case.weight_g > 0 and case.basis != "per_100g":
        shares = ((1.0, 1.0),) if case.yield_known else _COOKED_SHARE
        for share, belief_share in shares:
            f = 100 / (case.weight_g * share)
            if _tells(case, case.mean * (f - 1)):
                slips.add(case, "per_100g_stated_as_serving",
                          priors()["per_100g_stated_as_serving"] * belief_share,
                          case.mean * f, case.cov * f**2,
                          f"{case.weight_g * share:.0f} g a serving")  # fmt: skip


def _count_belief(k: float, n: float) -> float:
    """Belief in dividing by ``k`` when ``n`` is right, not yet scaled. Common practice."""
    if k == 1:
        return 4.0  # the whole recipe as one serving
    if k in (2 * n, n / 2) or abs(k - n) == 1:
        return 2.0
    if abs(k - n) == 2:
        return 1.5
    return 0.25


def _number_slips(case: _Case, base: Matrix, slips: _Slips) -> None:
    """Slips made on the finished numbers: exchanged, mistyped, in another unit."""
    prior, mean, given = priors(), case.mean, case.given
    pairs = [(a, b) for a, b in _PAIRS if given[a] and given[b]]
    for a, b in pairs:
        order = np.arange(len(TAGS))
        order[[a, b]] = [b, a]
        if _tells(case, mean[order] - mean):
            slips.add(case, "macros_swapped", prior["macros_swapped"] / len(pairs), mean[order],
                      _less_noise(base[np.ix_(order, order)], mean[order]),
                      f"{WORDS[a][2:]} and {WORDS[b][2:]}")  # fmt: skip
    if given[KCAL]:
        scale = np.ones(len(TAGS))
        scale[KCAL] = KJ_PER_KCAL
        kj = base * np.outer(scale, scale)
        kj[KCAL, KCAL] += (0.01 * mean[KCAL] * KJ_PER_KCAL) ** 2  # kJ has its own macro factors
        slips.add(case, "kilojoules_as_kcal", prior["kilojoules_as_kcal"], mean * scale,
                  _less_noise(kj, mean * scale), "kJ")  # fmt: skip
        others = given.copy()
        others[KCAL] = False
        if others.any() and mean[KCAL] > 0 and case.stated[KCAL] > 0:
            off = abs(math.log(case.stated[KCAL] / mean[KCAL]))
            if off > _ENERGY_LEAST:
                density = math.exp(-(off - _ENERGY_LEAST) / _ENERGY_SCALE) / (
                    2 * _ENERGY_SCALE * case.stated[KCAL]
                )
                slips.add(case, "energy_not_following_macros",
                          prior["energy_not_following_macros"] * density, mean,
                          _less_noise(base, mean), "", given=others)  # fmt: skip
    if given[CARBS] and not case.net and mean[FIBRE] > 0:
        for kcal_per_g, belief in ((0.0, 0.7), (4.0, 0.15), (2.0, 0.15)):
            take = np.eye(len(TAGS))
            take[CARBS, FIBRE] = -1.0
            take[KCAL, FIBRE] = -kcal_per_g
            net = take @ mean
            if _tells(case, net - mean):
                slips.add(case, "net_carbs_stated", prior["net_carbs_stated"] * belief, net,
                          _less_noise(take @ base @ take.T, net),
                          f"{mean[FIBRE]:.1f} g fibre")  # fmt: skip
    _digit_slips(case, base, slips)


def _less_noise(cov: Matrix, mean: Matrix) -> Matrix:
    """Take out the noise that ``_search`` adds for every candidate, so that it is not twice in."""
    out: Matrix = cov - noise(mean[None])[0]
    return out


def _digit_slips(case: _Case, base: Matrix, slips: _Slips) -> None:
    places = [j for j in (KCAL, *MACROS) if case.given[j] and case.stated[j] > 0]
    for j in places:
        step = case.step[j] if case.step[j] > 0 else 1.0
        shown = round(case.stated[j] / step)
        room = 4 * math.sqrt(base[j, j]) + step
        least, most = (case.mean[j] - room) / step, (case.mean[j] + room) / step
        for meant in meant_by(shown, max(1, math.ceil(least)), math.floor(most)):
            value = meant.value * step
            change = np.zeros(len(TAGS))
            change[j] = case.stated[j] - value
            if not _tells(case, change):
                continue
            stated = case.stated.copy()
            stated[j] = value
            slips.add(case, "digits_transposed",
                      priors()["digits_transposed"] * meant.chance / len(places), case.mean,
                      case.cov, f"{value:g} {WORDS[j]} became {case.stated[j]:g}: {meant.how}",
                      stated=stated)  # fmt: skip


# --- the search -------------------------------------------------------------------------------


@dataclass(slots=True)
class _Ranked:
    """Beliefs of one recipe's candidates."""

    case: _Case
    slips: _Slips
    belief: Vector  # (candidates,), sums with ``free`` to 1
    misfit: Vector
    free: float  # belief in none_found
    honest: float

    def best(self, top: int, least: float) -> list[dict[str, object]]:
        """Rows of the explanation table; candidates of one kind and line are one row."""
        groups: dict[tuple[str, int], list[int]] = {}
        for at, key in enumerate(zip(self.slips.kind, self.slips.line, strict=True)):
            groups.setdefault(key, []).append(at)
        summed = [(float(self.belief[rows].sum()), key, rows) for key, rows in groups.items()]
        summed.append((self.free, ("none_found", -1), []))
        summed.sort(key=lambda s: (-s[0], s[1]))
        out: list[dict[str, object]] = []
        for p, (kind, line), rows in summed[:top]:
            if out and p < least:
                break
            at = rows[int(np.argmax(self.belief[rows]))] if rows else -1
            out.append(self._row(kind, line, at, p))
        return out

    def _row(self, kind: str, line: int, at: int, p: float) -> dict[str, object]:
        case = self.case
        shown = self._published(kind, at)
        numbers = {
            name: (float(shown[j]) if at >= 0 else math.nan)
            for j, name in enumerate(("kcal", "protein_g", "carbs_g", "fat_g", "fiber_g"))
        }
        what = self.slips.what[at] if at >= 0 else ""
        return {
            "kind": kind,
            "line_no": case.line_no[line] if line >= 0 else None,
            "probability": p,
            "detail": _sentence(case, kind, line, what, shown),
            **numbers,
            "basis": case.basis,
            "misfit": float(self.misfit[at]) if at >= 0 else math.nan,
        }

    def _published(self, kind: str, at: int) -> Vector:
        """What the slip would have put in print."""
        case = self.case
        if at < 0:
            return case.mean
        shown = self.slips.mean[at].copy()
        if kind == "energy_not_following_macros":
            shown[KCAL] = case.stated[KCAL]
        if kind == "digits_transposed":
            changed = self.slips.stated[at] != case.stated
            shown[changed] = case.stated[changed]
        return shown


#: Recipes whose candidates are weighed together: some hundred candidates each, of 0.5 kB.
_TOGETHER = 64


def _search(cases: list[_Case], foods: Foods) -> Iterator[_Ranked]:
    """Weigh the candidates of all recipes, many at a time and never all at once."""
    for start in range(0, len(cases), _TOGETHER):
        yield from _searched(cases[start : start + _TOGETHER], foods)


def _searched(cases: list[_Case], foods: Foods) -> list[_Ranked]:
    every = [_candidates(case, foods) for case in cases]
    beliefs = _weigh(cases, every)
    for n, (case, slips) in enumerate(zip(cases, every, strict=True)):
        if beliefs[n].free > 0.5:
            more = _with_pairs(case, slips, beliefs[n])
            if more is not None:
                every[n] = more
                beliefs[n] = _weigh([case], [more])[0]
    return beliefs


def _weigh(cases: list[_Case], every: list[_Slips]) -> list[_Ranked]:
    sizes = [len(s.kind) for s in every]
    if not sum(sizes):
        return []
    mean = np.array([m for s in every for m in s.mean])
    cov = np.array([c for s in every for c in s.cov])
    stated = np.array([v for s in every for v in s.stated])
    given = np.array([g for s in every for g in s.given])
    rounding = np.repeat([_rounding(case) for case in cases], sizes, axis=0)
    at = np.arange(len(TAGS))
    cov = cov + noise(mean)
    # differences of covariances may lose a little: no variance below a thousandth of the noise
    floor = (0.003 * np.abs(mean)) ** 2 + 1e-6
    cov[:, at, at] += rounding + floor
    fit, misfit = log_likelihood(stated, mean, cov, given)
    score = fit + np.array([p for s in every for p in s.log_prior])
    out = []
    start = 0
    for case, slips, size in zip(cases, every, sizes, strict=True):
        slipped = size - slips.kind.count(_HONEST)  # honest sums stand last
        mine = score[start : start + size]
        honest = float(np.logaddexp.reduce(mine[slipped:]))
        faulty = np.append(mine[:slipped], math.log(priors()["none_found"]) + _free_density(case))
        any_fault = float(np.logaddexp.reduce(faulty))
        belief = np.exp(faulty - any_fault)
        odds = max(min(any_fault - honest, 700.0), -700.0)
        out.append(
            _Ranked(
                case=case,
                slips=_Slips(*(getattr(slips, f)[:slipped] for f in _Slips.__slots__)),
                belief=belief[:-1],
                misfit=misfit[start : start + slipped],
                free=float(belief[-1]),
                honest=1 / (1 + math.exp(odds)),
            )
        )
        start += size
    return out


def _rounding(case: _Case) -> Vector:
    """Variance of rounding; energy that ends in 0 or 5 may have been rounded to 5."""
    step = np.where(case.step > 0, case.step, 0.0)
    if case.given[KCAL] and case.stated[KCAL] % 5 == 0:
        step = step.copy()
        step[KCAL] = max(step[KCAL], 5.0)
    return np.asarray(step**2 / 12, dtype=np.float64)


def _free_density(case: _Case) -> float:
    """Log density of the stated numbers when they follow from nothing we know.

    Every number by itself within a wide band around the sum; energy in line with the stated macros
    in half of such cases.
    """
    total = 0.0
    for j in np.flatnonzero(case.given):
        floor = max(case.step[j], 0.5) if j != KCAL else 5.0
        said, mean = max(case.stated[j], floor), max(case.mean[j], floor)
        wide = -abs(math.log(said / mean)) / _FREE_SCALE - math.log(2 * _FREE_SCALE * said)
        if j == KCAL and case.given[list(MACROS)].all():
            expected = case.mean[KCAL] + float(ATWATER @ (case.stated - case.mean))
            sd = 0.04 * max(mean, expected) + 4.0
            near = -0.5 * ((said - expected) / sd) ** 2 - math.log(sd * math.sqrt(2 * math.pi))
            wide = float(np.logaddexp(math.log(0.5) + near, math.log(0.5) + wide))
        total += wide
    return total


def _with_pairs(case: _Case, slips: _Slips, ranked: _Ranked) -> _Slips | None:
    """Single slips and, after them, pairs of a slip in the sums with another on another line."""
    sums = [n for n, kind in enumerate(slips.kind) if slips.line[n] >= 0 and kind != _HONEST]
    if len(sums) < 2:
        return None
    mean = np.array([slips.mean[n] for n in sums])
    line = np.array([slips.line[n] for n in sums])
    log_prior = np.array([slips.log_prior[n] for n in sums])
    a, b = np.triu_indices(len(sums), k=1)
    apart = line[a] != line[b]
    a, b = a[apart], b[apart]
    together = mean[a] + mean[b] - case.mean
    keep = (together >= 0).all(axis=1)
    a, b, together = a[keep], b[keep], together[keep]
    off = (case.stated - together)[:, case.given]
    scale = np.maximum(0.04 * np.abs(together), 0.5 * _LEAST_AMOUNT)[:, case.given]
    rough = ((off / scale) ** 2).sum(axis=1) - 2 * (log_prior[a] + log_prior[b])
    best = np.argsort(rough, kind="stable")[:200]
    slipped = len(slips.kind) - slips.kind.count(_HONEST)
    out = _Slips(*(list(getattr(slips, f)[:slipped]) for f in _Slips.__slots__))
    for n in best:
        first, second = sums[a[n]], sums[b[n]]
        if ranked.belief[second] > ranked.belief[first]:
            first, second = second, first
        weight = math.exp(slips.log_prior[first] + slips.log_prior[second]) * _SECOND_SLIP
        other = _short(case, slips.kind[second], slips.line[second], slips.what[second])
        out.add(
            case, slips.kind[first], weight, together[n],
            slips.cov[first] + slips.cov[second] - case.cov,
            f"{slips.what[first]}\t{other}", line=slips.line[first],
        )  # fmt: skip
    for name in _Slips.__slots__:
        getattr(out, name).extend(getattr(slips, name)[slipped:])
    return out


# --- words ------------------------------------------------------------------------------------

_PER = {"per_serving": "a serving", "per_recipe": "the whole recipe", "per_100g": "100 g"}


def _numbers(case: _Case, values: Vector) -> str:
    """ "409 kcal, 31 g protein ...": the numbers that are stated, and only those."""
    words = list(WORDS)
    if case.net:
        words[CARBS] = "g net carbohydrate"
    return ", ".join(
        f"{values[j]:.0f} {words[j]}"
        if j == KCAL or values[j] >= 10
        else f"{values[j]:.1f} {words[j]}"
        for j in np.flatnonzero(case.given)
    )


def _short(case: _Case, kind: str, line: int, what: str) -> str:
    """A slip on a line, as a clause."""
    quoted = f'line {case.line_no[line]} ("{case.text[line]}")' if line >= 0 else ""
    return {
        "line_left_out": f"{quoted} had been left out",
        "line_doubled": f"{quoted} had been counted twice",
        "unit_slip": f"{quoted} had been read with {what}",
        "raw_cooked_slip": f'the grams of {quoted} had been looked up in "{what}"',
        "product_variant": f'{quoted} had been looked up as "{what}"',
        "servings_slip": f"the totals had been {what}",
    }.get(kind, kind)


def _sentence(case: _Case, kind: str, line: int, what: str, shown: Vector) -> str:
    what, _, second = what.partition("\t")
    per = _PER[case.basis]
    would = f"{per} would have {_numbers(case, shown)}"
    stated = f"stated are {_numbers(case, case.stated)}"
    if kind in ("line_left_out", "line_doubled", "unit_slip", "raw_cooked_slip", "product_variant"):
        both = f", and {second}" if second else ""
        return f"If {_short(case, kind, line, what)}{both}, {would}; {stated}."
    if kind == "servings_slip":
        return f"If the totals had been {what}, {would}; {stated}."
    if kind == "per_100g_stated_as_serving":
        return (
            f"If the numbers were those of 100 g (at {what}), they would be "
            f"{_numbers(case, shown)}; {stated}."
        )
    if kind == "macros_swapped":
        return f"With {what} exchanged, the lines give {_numbers(case, shown)}; {stated}."
    if kind == "digits_transposed":
        return f"A typing slip: {what}; the lines give {_numbers(case, case.mean)}."
    if kind == "kilojoules_as_kcal":
        return (
            f"The energy is in kilojoules: the lines give {case.mean[KCAL]:.0f} kcal, which are "
            f"{case.mean[KCAL] * KJ_PER_KCAL:.0f} kJ; stated are {case.stated[KCAL]:.0f} kcal."
        )
    if kind == "energy_not_following_macros":
        return (
            f"The macros fit the lines and the energy does not: the lines give "
            f"{case.mean[KCAL]:.0f} kcal, stated are {case.stated[KCAL]:.0f} kcal."
        )
    if kind == "net_carbs_stated":
        return (
            f"The carbohydrate is stated without its {what}: the lines give "
            f"{case.mean[CARBS]:.0f} g with it and {shown[CARBS]:.0f} g without; stated are "
            f"{case.stated[CARBS]:g} g."
        )
    return f"No single slip fits: the lines give {_numbers(case, case.mean)}; {stated}."
