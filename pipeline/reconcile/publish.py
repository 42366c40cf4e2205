"""Corrected numbers, ready to publish: a table, a caption line, schema.org NutritionInformation."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING

from pipeline.compute.convention import TABLE, Convention, factors
from pipeline.nutrients import BY_TAG, NET_CARBS_TAG
from pipeline.reconcile.rounding import Rule, Shown, shown, to_step

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from pipeline.compute import Computation

#: g salt a g sodium on labels of the European Union (Regulation 1169/2011, Annex I).
SALT_PER_SODIUM = 2.5

#: What is shown, in order; salt stands for sodium under the EU rule.
_SHOWN = ("PROCNT", "CHOCDF", "FAT", "FIBTG", "SUGAR", "FASAT", "NA")

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


def energy(values: Mapping[str, float], rule: Rule) -> float:
    """kcal of macros by the rule's factors, before rounding as 21 CFR 101.9(c)(1)(i) asks.

    Args:
        values: amounts by tagname; carbohydrate by difference (fibre included) under ``CHOCDF``.
        rule: ``eu``: 4 for protein and available carbohydrate, 9 fat, 2 fibre, 7 alcohol
            (Regulation 1169/2011, Annex XIV); otherwise 4-4-9 on total carbohydrate and 7.
    """
    f = factors()
    fibre = _known(values.get("FIBTG"))
    carbs = values["CHOCDF"] - (fibre if rule == "eu" else 0.0)
    total = f["protein"] * values["PROCNT"] + f["carbs"] * carbs + f["fat"] * values["FAT"]
    total += f["alcohol"] * _known(values.get("ALC"))
    return total + (f["fibre"] * fibre if rule == "eu" else 0.0)


def _known(value: float | None) -> float:
    return value if value is not None and math.isfinite(value) else 0.0


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
        stated: STATED; under ``whole`` a creator's decimal is kept, where one is used.

    Returns:
        ``COLUMNS``: texts as shown ("12", "0.5", "<0.5", "" when not known), the caption
        ("Per serving: 412 kcal, P 32 g, C 45 g, F 11 g"), schema.org JSON, ``energy_from`` (table,
        eu or atwater), and a note on what is missing. ``basis`` is per_serving, or per_100g.

    Source:
        Regulation (EU) 1169/2011, Annexes XIV and XV; 21 CFR 101.9(c).
    """
    import pandas as pd

    wide = computation.computed.pivot(index="recipe_id", columns="nutrient", values="amount")
    left_out = computation.computed[computation.computed["nutrient"] == "ENERC_KCAL"]
    missing = dict(zip(left_out["recipe_id"], left_out["lines_left_out"], strict=True))
    steps = _steps(stated)
    rows: list[dict[str, object]] = []
    facts = computation.recipe
    tags = [str(tag) for tag in wide.columns]
    amounts = wide.loc[facts["recipe_id"]].to_numpy(dtype=float).tolist()
    for recipe_id, servings, weight, own in zip(
        facts["recipe_id"].tolist(), facts["servings"].tolist(), facts["weight_g"].tolist(),
        amounts, strict=True,
    ):  # fmt: skip
        values = dict(zip(tags, own, strict=True))
        if not all(math.isfinite(values[t]) for t in ("PROCNT", "CHOCDF", "FAT")):
            continue
        units = [("per_serving", servings)] if servings > 0 else []
        if weight > 0 and (rule == "eu" or not units):
            units.append(("per_100g", weight / 100))
        for basis, divide in units:
            part = {k: v / divide for k, v in values.items()}
            row = _row(
                part, basis, rule, int(missing[recipe_id]),
                computation.convention, steps.get(recipe_id, {}),
            )  # fmt: skip
            rows.append({"recipe_id": recipe_id, **row})
    return pd.DataFrame(rows, columns=COLUMNS)


def _steps(stated: pd.DataFrame | None) -> dict[str, dict[str, float]]:
    """recipe_id -> unit -> 0.1 where the recipe writes numbers of that unit with a decimal."""
    out: dict[str, dict[str, float]] = {}
    if stated is None:
        return out
    fine = stated[(stated["step"] > 0) & (stated["step"] < _DECIMAL)]
    for recipe_id, tag in zip(fine["recipe_id"], fine["nutrient"], strict=True):
        if tag in BY_TAG or tag == NET_CARBS_TAG:
            unit = BY_TAG[tag].unit if tag in BY_TAG else "g"
            out.setdefault(recipe_id, {})[unit] = 0.1
    return out


def _row(
    values: dict[str, float], basis: str, rule: Rule, left_out: int,
    convention: Convention = TABLE, steps: Mapping[str, float] | None = None,
) -> dict[str, object]:  # fmt: skip
    fibre = _known(values.get("FIBTG"))
    total = values["CHOCDF"] + (fibre if convention.available else 0.0)
    without_fibre = rule == "eu" or convention.available
    amounts = {**values, "CHOCDF": max(total - fibre, 0.0) if without_fibre else total}

    def show(tag: str, value: float) -> Shown:
        step = (steps or {}).get(BY_TAG[tag].unit, 1.0) if tag in BY_TAG else 1.0
        return shown(rule, tag, max(value, 0.0), step)

    texts: dict[str, Shown] = {
        tag: show(tag, amounts[tag])
        for tag in _SHOWN
        if math.isfinite(amounts.get(tag, math.nan)) and not (rule == "eu" and tag == "NA")
    }
    sodium = values.get("NA", math.nan)
    salt = sodium * SALT_PER_SODIUM / 1000
    if math.isfinite(salt):
        texts["NACL"] = shown("eu", "NACL", salt)
    kcal, energy_from = _energy_shown({**values, "CHOCDF": total}, rule, convention)
    texts["ENERC_KCAL"] = show("ENERC_KCAL", kcal)
    notes = []
    if left_out:
        notes.append(f"{left_out} lines are not counted: the true numbers are higher")
    if rule == "eu" and energy_from == "table":
        notes.append("energy is the food table's own: general factors miss it by more than 15 %")
    if without_fibre:
        notes.append("carbohydrate is stated without fibre")
    missing = [BY_TAG[t].label for t in _SHOWN[3:] if not math.isfinite(values.get(t, math.nan))]
    if missing:
        notes.append(f"not known: {', '.join(missing)}")

    def text(tag: str) -> str:
        return texts[tag].text if tag in texts else ""

    return {
        "basis": basis,
        "rule": rule,
        **{BY_TAG[tag].column: text(tag) for tag in ("ENERC_KCAL", *_SHOWN)},
        "salt_g": text("NACL") if rule == "eu" else "",
        "energy_from": energy_from,
        "lines_left_out": left_out,
        "caption": _caption(texts, basis, rule),
        "schema_org": _schema_org(texts, sodium, basis),
        "note": "; ".join(notes),
    }


def _energy_shown(
    values: dict[str, float], rule: Rule, convention: Convention
) -> tuple[float, str]:
    """kcal before rounding, and whose: table, eu or atwater; ``CHOCDF`` of ``values`` is total."""
    own = values.get("ENERC_KCAL", math.nan)
    by_factors = energy(values, rule)
    if rule == "eu" and not abs(by_factors - own) > _FAR * max(own, 20.0):
        return by_factors, "eu"
    if math.isfinite(own):
        return own, convention.energy
    return by_factors, "eu" if rule == "eu" else "atwater"


def _caption(texts: dict[str, Shown], basis: str, rule: Rule) -> str:
    """ "Per serving: 412 kcal, P 32 g, C 45 g, F 11 g"."""
    parts = [f"{texts['ENERC_KCAL'].text} kcal"]
    for letter, tag in (("P", "PROCNT"), ("C", "CHOCDF"), ("F", "FAT")):
        parts.append(f"{letter} {texts[tag].text} g")
    if "FIBTG" in texts:
        parts.append(f"fibre {texts['FIBTG'].text} g")
    return f"{'Per serving' if basis == 'per_serving' else 'Per 100 g'}: {', '.join(parts)}"


def _schema_org(texts: dict[str, Shown], sodium_mg: float, basis: str) -> str:
    """A schema.org NutritionInformation object, as JSON to paste into a page."""
    out = {
        "@type": "NutritionInformation",
        "servingSize": "1 serving" if basis == "per_serving" else "100 g",
        "calories": f"{texts['ENERC_KCAL'].text} kcal",
    }
    for tag in _SHOWN[:-1]:
        if tag in texts:
            out[BY_TAG[tag].schema_org] = f"{texts[tag].text} g"
    if math.isfinite(sodium_mg):
        out[BY_TAG["NA"].schema_org] = f"{to_step(sodium_mg, 1.0):.0f} mg"
    return json.dumps(out, ensure_ascii=False)
