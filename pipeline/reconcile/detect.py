"""Which convention of energy and carbohydrate a collection states its numbers in.

Every recipe whose fibre is worth telling is asked twice: does its stated carbohydrate lie nearer to
the lines' sum with fibre or without, and from which factors does its stated energy follow? The
answers are added up as log likelihoods with heavy tails, so that a recipe that is wrong altogether
says little, and a collection that says nothing keeps the food table's own.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal, TypeVar, get_args

import numpy as np
import pandas as pd

from pipeline.compute.convention import Carbohydrate, Convention, Energy, factors
from pipeline.nutrients import NET_CARBS_TAG
from pipeline.reconcile.arrays import placed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from pipeline.compute import Computation

    Vector = NDArray[np.float64]

_Name = TypeVar("_Name", Energy, Carbohydrate)

#: Tags of a row of stated and computed numbers.
_TAGS = ("ENERC_KCAL", "PROCNT", "CHOCDF", "FAT", "FIBTG", "ALC")
_KCAL, _PROTEIN, _CARBS, _FAT, _FIBRE, _ALCOHOL = range(6)

#: Relative spread of carbohydrate between two honest sums of the same lines, and of the table's own
#: energy about the macros: as in ``model.DATABASE_SD``. Energy by fixed factors follows exactly.
_CARBS_SD, _TABLE_SD, _FACTORS_SD = 0.04, 0.02, 0.004

#: Degrees of freedom of the t distributions: some recipes are wrong altogether.
_TAILS = 2.0

#: Log belief before a collection is read. Common practice: most recipe calculators count with the
#: American table, by difference; labels of the European Union state both the other way.
_BEFORE: dict[tuple[Energy, Carbohydrate], float] = {
    ("table", "total"): math.log(0.55),
    ("atwater", "total"): math.log(0.15),
    ("eu", "available"): math.log(0.15),
    ("table", "available"): math.log(0.06),
    ("atwater", "available"): math.log(0.06),
    ("eu", "total"): math.log(0.03),
}

#: Belief from which a convention other than the table's is taken.
_SURE = 0.9

#: Recipes tell of fibre when it is at least this share of the carbohydrate and so many grams.
_FIBRE_SHARE, _FIBRE_G = 0.05, 1.0

#: Recipes that are known less, or whose energy is off by more, are not asked.
_COVERAGE, _ENERGY_OFF = 0.9, 0.2

#: Words for each choice.
ENERGY_WORDS: dict[Energy, str] = {
    "table": "the food table's own",
    "eu": "by the factors of Regulation (EU) 1169/2011",
    "atwater": "4-4-9 of the macros",
}
CARBOHYDRATE_WORDS: dict[Carbohydrate, str] = {
    "total": "with fibre (by difference)",
    "available": "without fibre",
}


def convention_of(
    computation: Computation,
    stated: pd.DataFrame,
    *,
    energy: Literal["detect"] | Energy = "detect",
    carbohydrate: Literal["detect"] | Carbohydrate = "detect",
) -> Convention:
    """The convention of a collection: what is set rules, the rest is read from its numbers.

    Args:
        computation: of the compute stage, in the table's own convention.
        stated: STATED.
        energy, carbohydrate: the settings.

    Returns:
        The convention with the reason in one sentence.

    Raises:
        ValueError: ``computation`` is in another convention already.
    """
    if not computation.convention.plain:
        raise ValueError("the convention is detected from sums in the table's own convention")
    kept_energy = get_args(Energy) if energy == "detect" else (energy,)
    kept_carbs = get_args(Carbohydrate) if carbohydrate == "detect" else (carbohydrate,)
    if len(kept_energy) == len(kept_carbs) == 1:
        reason = (
            f"carbohydrate {CARBOHYDRATE_WORDS[kept_carbs[0]]}, energy {ENERGY_WORDS[kept_energy[0]]}"
            " (both set)"
        )
        return Convention(kept_energy[0], kept_carbs[0], reason)
    options = [o for o in _BEFORE if o[0] in kept_energy and o[1] in kept_carbs]
    declared, lines, step = _numbers(computation, stated)
    score = np.array([_BEFORE[o] for o in options])
    if len(declared):
        score += [_log_t(*_carbs_off(declared, lines, step, o[1])).sum() for o in options]
        score += [_energy_fit(declared, lines, step, *o).sum() for o in options]
    belief = np.exp(score - np.logaddexp.reduce(score))
    chosen_carbs = _chosen({c: _mass(belief, options, c) for c in kept_carbs}, "total")
    of_them = {e: _mass(belief, options, e, chosen_carbs) for e in kept_energy}
    chosen_energy = _chosen(of_them, "table")
    return Convention(
        chosen_energy, chosen_carbs,
        _reason(chosen_energy, chosen_carbs, energy, carbohydrate, declared, lines, step),
        _mass(belief, options, chosen_carbs),
    )  # fmt: skip


def _mass(belief: Vector, options: list[tuple[Energy, Carbohydrate]], value: str,
          carbs: str = "") -> float:  # fmt: skip
    """Belief in an energy or a carbohydrate, of all options or of those of one carbohydrate."""
    among = [(b, o) for b, o in zip(belief.tolist(), options, strict=True) if carbs in ("", o[1])]
    every = sum(b for b, _ in among)
    return sum(b for b, o in among if value in o) / every if every > 0 else 0.0


def _chosen(belief: dict[_Name, float], usual: _Name) -> _Name:
    """The likeliest, when it is sure enough; else the usual one (or the only one)."""
    best = max(belief, key=lambda name: belief[name])
    return best if belief[best] >= _SURE or usual not in belief else usual


def _numbers(computation: Computation, stated: pd.DataFrame) -> tuple[Vector, Vector, Vector]:
    """Stated, computed and steps of the recipes that can be asked; (recipes, 6) each.

    Per the basis stated on; NaN where not stated. Recipes that state net carbohydrate by that name
    say nothing of the other.
    """
    facts = computation.recipe[computation.recipe["coverage"] >= _COVERAGE]
    known = stated[stated["recipe_id"].isin(facts["recipe_id"]) & stated["amount"].notna()]
    named = known.loc[known["nutrient"] == NET_CARBS_TAG, "recipe_id"]
    known = known[known["nutrient"].isin(_TAGS) & ~known["recipe_id"].isin(named)]
    if known.empty:
        return np.empty((0, 6)), np.empty((0, 6)), np.empty((0, 6))
    # a row a recipe and basis, in the order of both
    recipe, ids = pd.factorize(known["recipe_id"], sort=True)
    basis, bases = pd.factorize(known["basis"], sort=True)
    pairs, row = np.unique(recipe * len(bases) + basis, return_inverse=True)
    of, on = pairs // len(bases), bases[pairs % len(bases)]
    tags = pd.Index(_TAGS)
    tag = tags.get_indexer(pd.Index(known["nutrient"]))
    numbers, step = (
        placed(row, tag, known[column].to_numpy(dtype=float), (len(pairs), len(_TAGS)))
        for column in ("amount", "step")
    )
    at = pd.Index(facts["recipe_id"]).get_indexer(ids)[of]
    servings, weight = (facts[c].to_numpy(dtype=float)[at] for c in ("servings", "weight_g"))
    per = np.select([on == "per_serving", on == "per_100g"], [servings, weight / 100], 1.0)
    sums = computation.computed
    summed = placed(
        ids.get_indexer(pd.Index(sums["recipe_id"])), tags.get_indexer(pd.Index(sums["nutrient"])),
        sums["amount"].to_numpy(dtype=float), (len(ids), len(_TAGS)),
    )  # fmt: skip
    lines = summed[of] / per[:, None]
    lines[:, [_FIBRE, _ALCOHOL]] = np.nan_to_num(lines[:, [_FIBRE, _ALCOHOL]])
    with np.errstate(invalid="ignore", divide="ignore"):
        fits = np.abs(np.log(numbers[:, _KCAL] / lines[:, _KCAL])) <= _ENERGY_OFF
        matters = lines[:, _FIBRE] >= np.maximum(_FIBRE_SHARE * lines[:, _CARBS], _FIBRE_G)
    asked = fits & matters & np.isfinite(numbers[:, _CARBS])
    return numbers[asked], lines[asked], np.nan_to_num(step[asked], nan=1.0)


def _log_t(off: Vector, sd: Vector) -> Vector:
    """Log density of a t distribution, up to a constant; 0 where ``off`` is missing."""
    out = -np.log(sd) - (_TAILS + 1) / 2 * np.log1p((off / sd) ** 2 / _TAILS)
    return np.nan_to_num(out, nan=0.0)


def _carbs_off(declared: Vector, lines: Vector, step: Vector, carbs: str) -> tuple[Vector, Vector]:
    expected = lines[:, _CARBS] - (lines[:, _FIBRE] if carbs == "available" else 0.0)
    sd = np.sqrt((_CARBS_SD * lines[:, _CARBS]) ** 2 + step[:, _CARBS] ** 2 / 12)
    return declared[:, _CARBS] - expected, np.maximum(sd, 0.2)


def _energy_fit(declared: Vector, lines: Vector, step: Vector, energy: str, carbs: str) -> Vector:
    """How well the stated energy follows from the stated macros by the factors of ``energy``."""
    f = factors()
    fibre = np.where(np.isfinite(declared[:, _FIBRE]), declared[:, _FIBRE], lines[:, _FIBRE])
    stated_carbs = declared[:, _CARBS]
    available = stated_carbs - (0.0 if carbs == "available" else fibre)
    rest = f["protein"] * declared[:, _PROTEIN] + f["fat"] * declared[:, _FAT]
    rest = rest + f["alcohol"] * lines[:, _ALCOHOL]
    rounding = (f["protein"] * step[:, _PROTEIN]) ** 2 + (f["carbs"] * step[:, _CARBS]) ** 2
    rounding = rounding + (f["fat"] * step[:, _FAT]) ** 2 + step[:, _KCAL] ** 2
    if energy == "eu":
        expected = rest + f["carbs"] * available + f["fibre"] * fibre
    elif energy == "atwater":
        expected = rest + f["carbs"] * stated_carbs
    else:  # the lines' own energy, moved with the macros
        total = available + fibre
        expected = lines[:, _KCAL] + f["protein"] * (declared[:, _PROTEIN] - lines[:, _PROTEIN])
        expected = expected + f["carbs"] * (total - lines[:, _CARBS])
        expected = expected + f["fat"] * (declared[:, _FAT] - lines[:, _FAT])
    share = _TABLE_SD if energy == "table" else _FACTORS_SD
    sd = np.sqrt(rounding / 12 + (share * declared[:, _KCAL]) ** 2)
    return _log_t(declared[:, _KCAL] - expected, np.maximum(sd, 1.0))


def _reason(
    energy: Energy, carbs: Carbohydrate, set_energy: str, set_carbs: str,
    declared: Vector, lines: Vector, step: Vector,
) -> str:  # fmt: skip
    """What was decided, by whom, and how many recipes say so."""
    nearer = 0
    if len(declared):
        offs = [np.abs(_carbs_off(declared, lines, step, c)[0]) for c in ("total", "available")]
        nearer = int((offs[1] < offs[0]).sum())
    count = nearer if carbs == "available" else len(declared) - nearer
    how = "set" if set_carbs != "detect" else f"{count} of the {len(declared)} recipes that show it"
    if set_carbs == "detect" and not len(declared):
        how = "no recipe shows it, so the default"
    energy_how = (
        "set" if set_energy != "detect" else "as their energies follow" if len(declared) else ""
    )
    if energy == "table" and set_energy == "detect":
        energy_how = "the default"
    return f"carbohydrate {CARBOHYDRATE_WORDS[carbs]} ({how}); energy {ENERGY_WORDS[energy]} ({energy_how})"
