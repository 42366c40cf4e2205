"""Corrected numbers, ready to publish: a table, a caption line, schema.org NutritionInformation."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pipeline.compute.convention import TABLE, Convention, factors
from pipeline.nutrients import BY_TAG, NET_CARBS_TAG
from pipeline.reconcile.rounding import Rule, Texts, Vector, shown, to_step, written

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pipeline.compute import Computation

#: g salt a g sodium on labels of the European Union (Regulation 1169/2011, Annex I).
SALT_PER_SODIUM = 2.5

#: What is shown, in order; salt stands for sodium under the EU rule.
_SHOWN = ("PROCNT", "CHOCDF", "FAT", "FIBTG", "SUGAR", "FASAT", "NA")

_MACROS = _SHOWN[:3]
_READ = ("ENERC_KCAL", *_SHOWN, "ALC")
#: Bases, in words of a caption and of schema.org.
_BASES = {
    "per_serving": ("Per serving", "1 serving"), "per_recipe": ("Whole recipe", "whole recipe"),
    "per_100g": ("Per 100 g", "100 g"),
}  # fmt: skip

#: Under the EU rule the sum of the lines is shown in place of the label's factors when these miss
#: it by more than this: a food whose energy does not follow general factors.
_FAR = 0.15

#: Stated steps below this are a creator's own decimal.
_DECIMAL = 0.5

COLUMNS = [
    "recipe_id", "basis", "rule", "kcal", "protein_g", "carbs_g", "fat_g", "fiber_g", "sugar_g",
    "satfat_g", "sodium_mg", "salt_g", "energy_from", "lines_left_out", "caption", "schema_org",
    "note",
]  # fmt: skip


def energy(values: Mapping[str, Any], rule: Rule) -> Any:
    """kcal of macros by the rule's factors, before rounding as 21 CFR 101.9(c)(1)(i) asks.

    Args:
        values: amounts by tagname, numbers or arrays of them; carbohydrate by difference (fibre
            included) under ``CHOCDF``.
        rule: ``eu``: 4 for protein and available carbohydrate, 9 fat, 2 fibre, 7 alcohol
            (Regulation 1169/2011, Annex XIV); otherwise 4-4-9 on total carbohydrate and 7.
    """
    f = factors()
    fibre = _known(values.get("FIBTG", 0.0))
    carbs = values["CHOCDF"] - (fibre if rule == "eu" else 0.0)
    total = f["protein"] * values["PROCNT"] + f["carbs"] * carbs + f["fat"] * values["FAT"]
    total = total + f["alcohol"] * _known(values.get("ALC", 0.0))
    return total + (f["fibre"] * fibre if rule == "eu" else 0.0)


def _known(value: Any) -> Any:
    return np.where(np.isfinite(value), value, 0.0)


def publish(
    computation: Computation, *, rule: Rule = "whole", stated: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Numbers to publish for every recipe that has any.

    The energy is the sum of the lines, rounded: never worked out again from macros that were
    rounded before. Under ``eu`` it follows the label's factors, from the unrounded macros, as the
    Regulation asks, and carbohydrate is without fibre whatever the collection's convention.

    Args:
        computation: of the compute stage; its convention says what energy and carbohydrate are.
        rule: how to round: ``whole``, ``us`` (21 CFR 101.9(c), per serving) or ``eu`` (Commission
            guidance 2012; also one row per 100 g).
        stated: STATED; who states numbers per 100 g gets a row of them, who states those of the
            whole and no servings one of the whole, and under ``whole`` a
            creator's decimal is kept, where one is used.

    Returns:
        ``COLUMNS``: texts as shown ("12", "0.5", "<0.5", "" when not known), the caption
        ("Per serving: 412 kcal, P 32 g, C 45 g, F 11 g"), schema.org JSON, ``energy_from`` (table,
        eu or atwater), and a note on what is missing. ``basis`` is per_serving,
        per_recipe or per_100g.

    Source:
        Regulation (EU) 1169/2011, Annexes XIV and XV; 21 CFR 101.9(c).
    """
    facts, computed = computation.recipe, computation.computed
    ids = facts["recipe_id"]
    wide = computed.pivot(index="recipe_id", columns="nutrient", values="amount").reindex(ids)
    amounts = {tag: wide[tag].to_numpy(dtype=float) for tag in _READ if tag in wide}
    left_out = computed[computed["nutrient"] == "ENERC_KCAL"].set_index("recipe_id")[
        "lines_left_out"
    ]
    servings, weight = (facts[c].to_numpy(dtype=float) for c in ("servings", "weight_g"))
    known = np.isfinite([amounts.get(t, np.full(len(ids), np.nan)) for t in _MACROS]).all(axis=0)
    by_serving = known & (servings > 0)
    of_whole, of_100g = (
        ids.isin(() if stated is None else stated.loc[stated["basis"] == said, "recipe_id"])
        for said in ("per_recipe", "per_100g")
    )
    by_whole = known & ~by_serving & of_whole.to_numpy()
    others = ~(by_serving | by_whole)
    by_weight = known & (weight > 0) & ((rule == "eu") | others | of_100g.to_numpy())
    at, basis = np.nonzero(np.column_stack([by_serving, by_whole, by_weight]))
    divide = np.choose(basis, [servings[at], 1.0, weight[at] / 100])
    made = numbers(
        {tag: amount[at] / divide for tag, amount in amounts.items()}, rule,
        np.array([*_BASES], dtype=object)[basis],
        ids.map(left_out).to_numpy(dtype=float)[at].astype(int), computation.convention,
        {unit: step[at] for unit, step in _steps(ids, stated).items()},
    )  # fmt: skip
    return pd.DataFrame({"recipe_id": ids.to_numpy()[at], **made}, columns=COLUMNS)


def _steps(ids: pd.Series, stated: pd.DataFrame | None) -> dict[str, Vector]:
    """Unit to steps of the recipes: 0.1 where one writes numbers of the unit with a decimal."""
    if stated is None:
        return {}
    fine = stated[(stated["step"] > 0) & (stated["step"] < _DECIMAL)]
    unit = fine["nutrient"].map({t: n.unit for t, n in BY_TAG.items()} | {NET_CARBS_TAG: "g"})
    return {
        str(name): np.where(ids.isin(some), 0.1, 1.0)
        for name, some in fine["recipe_id"].groupby(unit)
    }


def numbers(
    values: Mapping[str, Vector], rule: Rule, basis: Texts, left_out: Vector,
    convention: Convention = TABLE, steps: Mapping[str, Vector] | None = None,
) -> dict[str, Any]:  # fmt: skip
    """The columns of ``publish`` but for the recipe, of amounts per serving or per 100 g.

    Args:
        values: tagname to amounts, macros known in every row; NaN what else is not known.
        basis: per_serving or per_100g, a row.
        left_out: how many lines are not counted.
        convention: of energy and carbohydrate.
        steps: unit to the steps of the creators' own numbers, where they are not 1.
    """
    unknown = np.full(len(basis), np.nan)
    values = {tag: values.get(tag, unknown) for tag in _READ}
    fibre = _known(values["FIBTG"])
    total = values["CHOCDF"] + (fibre if convention.available else 0.0)
    without_fibre = rule == "eu" or convention.available
    kcal, energy_from = _energy_shown({**values, "CHOCDF": total}, rule, convention)
    salt = values["NA"] * SALT_PER_SODIUM / 1000
    amounts = {
        **values, "ENERC_KCAL": kcal, "CHOCDF": np.maximum(total - fibre, 0.0) if without_fibre else total,
    }  # fmt: skip

    def texts(rule: Rule, tag: str, amount: Vector) -> Texts:
        out = np.full(len(basis), "", dtype=object)
        known = np.isfinite(amount)
        step = (steps or {}).get(BY_TAG[tag].unit) if tag in BY_TAG else None
        steps_known = np.ones(known.sum()) if step is None else step[known]
        out[known] = shown(rule, tag, np.maximum(amount[known], 0.0), steps_known)[0]
        return out

    none = np.full(len(basis), "", dtype=object)
    made = {
        tag: none if rule == "eu" and tag == "NA" else texts(rule, tag, amounts[tag])
        for tag in ("ENERC_KCAL", *_SHOWN)
    }
    return {
        "basis": basis,
        "rule": rule,
        **{BY_TAG[tag].column: text for tag, text in made.items()},
        "salt_g": texts("eu", "NACL", salt) if rule == "eu" else none,
        "energy_from": energy_from,
        "lines_left_out": left_out,
        "caption": _captions(made, basis),
        "schema_org": _schema_org(made, values["NA"], basis),
        "note": _notes(values, rule, left_out, energy_from, without_fibre),
    }


def _energy_shown(
    values: Mapping[str, Vector], rule: Rule, convention: Convention
) -> tuple[Vector, Texts]:
    """kcal before rounding, and whose: table, eu or atwater; ``CHOCDF`` of ``values`` is total."""
    own, by_factors = values["ENERC_KCAL"], energy(values, rule)
    factors_win = ~np.isfinite(own)
    if rule == "eu":
        factors_win = ~(np.abs(by_factors - own) > _FAR * np.maximum(own, 20.0))
    name = "eu" if rule == "eu" else "atwater"
    return (
        np.where(factors_win, by_factors, own),
        np.where(factors_win, name, convention.energy).astype(object),
    )


def _notes(
    values: Mapping[str, Vector], rule: Rule, left_out: Vector, energy_from: Texts,
    without_fibre: bool,
) -> list[str]:  # fmt: skip
    """What is missing or counted in another way, written once for all rows alike."""
    missing = np.column_stack([~np.isfinite(values[tag]) for tag in _SHOWN[len(_MACROS) :]])
    rows = list(zip(left_out.tolist(), energy_from, map(bytes, missing), strict=True))

    def note(lines: int, source: str, gaps: bytes) -> str:
        said = []
        if lines:
            counted = "1 line is" if lines == 1 else f"{int(lines)} lines are"
            said.append(f"{counted} not counted: the true numbers are higher")
        if rule == "eu" and source == "table":
            said.append("energy is the food table's own: general factors miss it by more than 15 %")
        if without_fibre:
            said.append("carbohydrate is stated without fibre")
        labels = [
            BY_TAG[t].label for t, gap in zip(_SHOWN[len(_MACROS) :], gaps, strict=True) if gap
        ]
        if labels:
            said.append(f"not known: {', '.join(labels)}")
        return "; ".join(said)

    made = {row: note(*row) for row in set(rows)}
    return [made[row] for row in rows]


def _captions(texts: Mapping[str, Texts], basis: Texts) -> list[str]:
    """ "Per serving: 412 kcal, P 32 g, C 45 g, F 11 g"."""
    cells = (texts[tag] for tag in ("ENERC_KCAL", *_MACROS, "FIBTG"))
    return [
        f"{_BASES[b][0]}: {kcal} kcal, P {protein} g, C {carbs} g, F {fat} g"
        + (f", fibre {fibre} g" if fibre else "")
        for b, kcal, protein, carbs, fat, fibre in zip(basis, *cells, strict=True)
    ]


def _schema_org(texts: Mapping[str, Texts], sodium_mg: Vector, basis: Texts) -> list[str]:
    """schema.org NutritionInformation objects, as JSON to paste into a page; no text needs escaping."""
    cells = [
        [f', "{BY_TAG[tag].schema_org}": "{text} g"' if text else "" for text in texts[tag]]
        for tag in _SHOWN[:-1]
    ]
    sodium = written(to_step(np.nan_to_num(sodium_mg), 1.0), 0)
    cells.append(
        [f', "{BY_TAG["NA"].schema_org}": "{text} mg"' if known else ""
         for text, known in zip(sodium, np.isfinite(sodium_mg), strict=True)]
    )  # fmt: skip
    return [
        f'{{"@type": "NutritionInformation", "servingSize": "{_BASES[b][1]}", "calories": "{kcal} kcal"'
        f"{''.join(row)}}}"
        for b, kcal, *row in zip(basis, texts["ENERC_KCAL"], *cells, strict=True)
    ]
