"""Tolerance bands row by row.

Sources: European Commission guidance on tolerances, December 2012, Table 1 and its worked example;
21 CFR 101.9(g) as restated in FDA compliance guidance. ``data/tolerance_rules.csv``.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from pipeline.reconcile import findings
from pipeline.tables import COMPUTED, STATED

RULES = list(csv.DictReader((Path(__file__).parent / "data" / "tolerance_rules.csv").open()))
TAGS = {"carbohydrate": "CHOCDF", "sugars": "SUGAR", "protein": "PROCNT", "fibre": "FIBTG",
        "fat": "FAT", "saturates": "FASAT", "sodium": "NA"}  # fmt: skip
DB = duckdb.connect()


def verdicts(tag, declared, measured, profile="eu_label", step=0.0, **more):
    """Declared and measured per 100 g; the measured numbers are certain, each a recipe's."""
    ids = [f"r{n}" for n in range(len(measured))]
    computed = [(r, tag, m, m, m, 1.0, 0) for r, m in zip(ids, measured, strict=True)]
    numbers = [
        (r, one, value, "per_100g", step, "")
        for r in ids for one, value in {tag: declared, **more}.items()
    ]  # fmt: skip
    recipe = pd.DataFrame(
        [(r, 1.0, 100.0) for r in ids], columns=["recipe_id", "servings", "weight_g"]
    )
    found = findings(
        DB, pd.DataFrame(computed, columns=COMPUTED), pd.DataFrame(numbers, columns=STATED), recipe,
        profile=profile,
    )  # fmt: skip
    return list(found[found["tag"] == tag].set_index("recipe_id")["verdict"].loc[ids])


def verdict(tag, declared, measured, profile="eu_label", step=0.0, **more):
    """The same of one measured number."""
    return verdicts(tag, declared, [measured], profile, step, **more)[0]


EU = [r for r in RULES if r["jurisdiction"] == "EU" and r["nutrient_or_rule"] in TAGS]


@pytest.mark.parametrize("row", EU, ids=lambda r: f"{r['nutrient_or_rule']}-{r['declared_lower']}")
@pytest.mark.parametrize("where", ["lower end", "middle", "upper end"])
def test_eu_bands(row, where):
    """Just inside each limit agrees, just outside does not, at both ends of the band's range."""
    tag = TAGS[row["nutrient_or_rule"]]
    milli = 1000 if tag == "NA" else 1  # the guidance gives sodium in g, sums hold mg
    low, high = float(row["declared_lower"]), float(row["declared_upper"] or 80)
    # 10 g and 40 g belong to the middle band
    ends = {"lower end": low if row["declared_lower"] != "40" else 40.01,
            "middle": (low + high) / 2,
            "upper end": high if row["declared_upper"] == "40" else high - 0.001}  # fmt: skip
    declared = ends[where] * milli
    measured, expected = [], []
    for limit in (float(row["minus"]), float(row["plus"])):
        width = limit * milli if row["unit"] == "g" else limit / 100 * declared
        edge = declared + width
        inside, outside = edge - math.copysign(1e-6, width), edge + math.copysign(1e-3, width)
        for value, wanted in ((inside, "agrees"), (outside, "disagrees")):
            if value >= 0:
                measured.append(value)
                expected.append(wanted)
    assert verdicts(tag, declared, measured) == expected


def test_the_guidance_s_worked_example():
    """12 g protein covers 11.5 to 12.4; measured 15 g passes, 16 g fails."""
    assert verdict("PROCNT", 12.0, 15.0, step=1.0) == "agrees"
    assert verdict("PROCNT", 12.0, 16.0, step=1.0) == "disagrees"


def test_bands_jump_where_the_guidance_says():
    """Fat at 10 g from 1.5 to 2.0 g; sodium at 0.5 g from 0.15 down to 0.10 g."""
    assert verdict("FAT", 9.99, 11.6) == "disagrees"
    assert verdict("FAT", 10.0, 11.9) == "agrees"
    assert verdict("NA", 499.0, 640.0) == "agrees"
    assert verdict("NA", 500.0, 610.0) == "disagrees"


def test_energy_has_no_band_and_uses_those_of_its_macros():
    """10 g of each: 4 x 2 + 4 x 2 + 9 x 2 = 34 kcal."""
    macros = {"PROCNT": 10.0, "CHOCDF": 10.0, "FAT": 10.0}
    assert verdict("ENERC_KCAL", 170.0, 203.9, **macros) == "agrees"
    assert verdict("ENERC_KCAL", 170.0, 204.1, **macros) == "disagrees"


US_CLASS_2 = ["PROCNT", "CHOCDF", "FIBTG"]
US_THIRD = ["ENERC_KCAL", "SUGAR", "FAT", "FASAT", "NA"]


@pytest.mark.parametrize("tag", US_CLASS_2)
def test_us_class_2_at_least_80_percent(tag):
    assert verdict(tag, 100.0, 80.001, "us") == "agrees"
    assert verdict(tag, 100.0, 79.9, "us") == "disagrees"
    assert verdict(tag, 100.0, 500.0, "us") == "agrees"


@pytest.mark.parametrize("tag", US_THIRD)
def test_us_third_group_at_most_120_percent(tag):
    assert verdict(tag, 100.0, 119.999, "us") == "agrees"
    assert verdict(tag, 100.0, 120.1, "us") == "disagrees"
    assert verdict(tag, 100.0, 1.0, "us") == "agrees"


def test_every_row_of_the_guidance_that_names_one_of_our_nutrients_is_in_force():
    from pipeline.reconcile.findings import bands

    ours = bands()
    eu = ours[(ours["profile"] == "eu") & (ours["kind"] != "from_macros")]
    assert len(eu[eu["nutrient"] != "CHOAVLDF"]) == len(EU)
