"""Claim conditions row by row, and worked checks on SR28 foods.

Sources: Regulation (EC) No 1924/2006, Annex; 21 CFR 101.54 to 101.62 with the Daily Values of 2016;
the worked checks were computed from SR28 apart from this code (``data/claim_checks.csv``).
"""

from __future__ import annotations

import csv
import math
import re
from pathlib import Path

import pandas as pd
import pytest

from pipeline.compute import Computation
from pipeline.reconcile import claims
from pipeline.reconcile.claims import conditions, read_claims
from pipeline.tables import COMPUTED, RECIPE

CHECKS = list(csv.DictReader((Path(__file__).parent / "data" / "claim_checks.csv").open()))
CLAIM_WORDS = {
    "low_energy": "low calorie", "energy_free": "calorie-free", "low_fat": "low fat",
    "fat_free": "fat-free", "low_saturates": "low saturated fat",
    "saturates_free": "saturated fat free", "low_sugars": "low sugar", "sugars_free": "sugar free",
    "low_salt": "low salt", "very_low_salt": "very low sodium", "salt_free": "salt-free",
    "source_of_fibre": "source of fibre", "high_fibre": "high fibre",
    "source_of_protein": "source of protein", "high_protein": "high protein",
}  # fmt: skip


def judged(text, amounts, title="Bowl", weight=100.0, servings=1.0):
    """Status by jurisdiction of a dish of known values (whole dish, cooked weight given)."""
    full = {"ENERC_KCAL": 100.0, "PROCNT": 0.0, "CHOCDF": 0.0, "FAT": 0.0, "FIBTG": 0.0, "SUGAR": 0.0,
            "FASAT": 0.0, "NA": 0.0, **amounts}  # fmt: skip
    computed = pd.DataFrame([("r", t, v, v, v, 1.0, 0) for t, v in full.items()], columns=COMPUTED)
    recipe = pd.DataFrame([{"recipe_id": "r", "servings": servings, "weight_g": weight,
                            "weight_basis": "yield", "coverage": 1.0}])  # fmt: skip
    lines = pd.DataFrame(columns=["recipe_id", "text", "description"])
    computation = Computation(computed, computed, recipe, lines, computed, computed)
    about = pd.DataFrame([{"recipe_id": "r", "title": title, "description": text}]).reindex(
        columns=RECIPE
    )
    found = claims(computation, about)
    return found.set_index(["claim", "jurisdiction"])["status"].to_dict()


def amount_for(condition, value):
    """Sums of a 100 g dish of one serving with this value, other rows of the claim no hindrance."""
    per_gram = {"PROCNT": 4.0, "FAT": 9.0, "FASAT": 9.0}
    if condition.measure == "energy_share":
        return {condition.tag: value / per_gram[condition.tag] / 100, "ENERC_KCAL": 1.0}
    if condition.measure == "per_100g" and condition.tag in per_gram:
        return {condition.tag: value, "ENERC_KCAL": 10_000.0}
    if condition.measure == "per_serving" and condition.tag in per_gram:
        return {condition.tag: value, "ENERC_KCAL": 10_000.0}
    if condition.claim in ("source_of_fibre", "high_fibre") and condition.measure == "per_100g":
        return {condition.tag: value, "ENERC_KCAL": 10_000.0}
    if condition.measure == "per_100kcal":
        return {condition.tag: value / 100, "ENERC_KCAL": 1.0}
    return {condition.tag: value}


ROWS = [c for c in conditions() if c.measure != "none"]


@pytest.mark.parametrize(
    "row", ROWS, ids=lambda c: f"{c.jurisdiction}-{c.claim}-{c.measure}-{c.form}"
)
def test_each_row_is_met_on_one_side_of_its_limit_and_not_on_the_other(row):
    words = CLAIM_WORDS[row.claim]
    title = "Mango smoothie" if row.form == "liquid" else "Bowl"
    key = (row.claim, row.jurisdiction)
    lower, upper = (judged(words, amount_for(row, row.limit * f), title)[key] for f in (0.99, 1.01))
    at = judged(words, amount_for(row, row.limit), title)[key]
    wanted = ("met", "not met") if row.operator.startswith("<") else ("not met", "met")
    assert (lower, upper) == wanted
    assert at == ("not met" if row.operator == "<" else "met")


def test_all_conditions_of_a_claim_must_hold_where_the_rule_says_and():
    """EU low saturates: at most 1.5 g per 100 g and at most 10 % of the energy."""
    assert (
        judged("low saturated fat", {"FASAT": 1.0, "ENERC_KCAL": 50.0})[("low_saturates", "EU")]
        == "not met"
    )
    assert (
        judged("low saturated fat", {"FASAT": 1.0, "ENERC_KCAL": 100.0})[("low_saturates", "EU")]
        == "met"
    )


@pytest.mark.parametrize(
    "row", CHECKS, ids=lambda r: f"{r['nutrient'][:12]}-{r['claim_or_reference'][14:21]}"
)
def test_worked_checks_on_sr28(snapshot, row):
    code = re.search(r"NDB (\d+)", row["nutrient"])[1]
    with snapshot.connect() as con:
        kcal, protein, fibre = con.execute(
            "select kcal, protein_g, coalesce(fiber_g, 0) from food_macros where food_id = ?",
            [f"sr28:{code}"],
        ).fetchone()
    word = "protein" if "protein" in row["claim_or_reference"] else "fibre"
    wanted = {
        m[0]: m[1]
        for m in re.findall(r"(source of \w+|high \w+): (yes|no)", row["extra_condition"])
    }
    if word == "protein":
        assert 400 * protein / kcal == pytest.approx(float(row["value"]), abs=0.006)
    else:
        per_100g, per_100kcal = map(float, row["value"].split(" / "))
        assert (fibre, 100 * fibre / kcal) == (
            pytest.approx(per_100g),
            pytest.approx(per_100kcal, abs=0.006),
        )
    for claim, answer in wanted.items():
        status = judged(claim, {"ENERC_KCAL": kcal, "PROCNT": protein, "FIBTG": fibre})
        assert status[(claim.replace(" ", "_"), "EU")] == ("met" if answer == "yes" else "not met")


def test_words_the_law_does_not_define_are_not_decided():
    status = judged("low sugar, keto, reduced fat", {"SUGAR": 1.0})
    assert status[("low_sugars", "US")] == "not decidable"
    assert status[("low_sugars", "EU")] == "met"
    assert (
        status[("low_carbohydrate", "EU")] == status[("low_carbohydrate", "US")] == "not decidable"
    )
    assert status[("reduced", "EU")] == "not decidable"


def test_a_range_across_the_limit_is_not_decided():
    sums = {"ENERC_KCAL": (100.0, 95.0, 105.0), "FAT": (3.0, 2.5, 3.5)}
    computed = pd.DataFrame(
        [("r", t, v, a, b, 1.0, 0) for t, (v, a, b) in sums.items()], columns=COMPUTED
    )
    recipe = pd.DataFrame([{"recipe_id": "r", "servings": math.nan, "weight_g": 100.0,
                            "weight_basis": "yield", "coverage": 1.0}])  # fmt: skip
    lines = pd.DataFrame(columns=["recipe_id", "text", "description"])
    about = pd.DataFrame([{"recipe_id": "r", "title": "Low-fat and fat-free soup"}]).reindex(
        columns=RECIPE
    )
    found = claims(Computation(computed, computed, recipe, lines, computed, computed), about)
    status = found.set_index(["claim", "jurisdiction"])
    assert status.loc[("low_fat", "EU"), "status"] == "not decidable"
    assert "range" in status.loc[("low_fat", "EU"), "reason"]
    assert status.loc[("fat_free", "US"), "status"] == "not decidable"  # no servings are given
    assert status["reason"].str.contains("Information only").all()


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("High-Protein Breakfast Bowl", {"high_protein"}),
        ("A protein-packed, low fat lunch", {"high_protein", "low_fat"}),
        ("Rich in fibre and high in protein", {"high_fibre", "high_protein"}),
        ("Very low sodium broth", {"very_low_salt"}),
        ("Low saturated fat curry", {"low_saturates"}),
        ("Slow-cooked fat rascals", set()),
        ("Low effort dinner, high praise", set()),
    ],
)
def test_words_that_make_a_claim(text, wanted):
    assert set(read_claims(text)) == wanted
