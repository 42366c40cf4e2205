"""Energy factors and the energy of a label.

Sources: Regulation (EU) No 1169/2011, Annex XIV; 21 CFR 101.9(c)(1)(i)(B). Figures by hand.
"""

from __future__ import annotations

import pytest

from pipeline.reconcile.checks import factors
from pipeline.reconcile.publish import energy
from pipeline.resources import shared_rows

ANNEX_XIV = {"carbs": 4, "protein": 4, "fat": 9, "alcohol": 7, "fibre": 2}
ANNEX_XIV_ROWS = {  # kcal and kJ per g
    "carbohydrate except polyols": (4, 17), "polyols": (2.4, 10), "protein": (4, 17), "fat": (9, 37),
    "salatrims": (6, 25), "alcohol (ethanol)": (7, 29), "organic acids": (3, 13), "fibre": (2, 8),
    "erythritol": (0, 0),
}  # fmt: skip


def test_the_factors_in_use():
    assert factors() == ANNEX_XIV


@pytest.mark.parametrize(("component", "wanted"), ANNEX_XIV_ROWS.items())
def test_annex_xiv_row_by_row(component, wanted):
    rows = {r["unit"]: float(r["value"]) for r in shared_rows("energy_factors.csv")
            if r["system"] == "EU label" and r["component"] == component}  # fmt: skip
    assert (rows["kcal/g"], rows["kJ/g"]) == wanted


def test_a_label_by_hand():
    values = {"PROCNT": 10.0, "CHOCDF": 30.0, "FAT": 5.0, "FIBTG": 6.0, "ALC": 2.0}
    assert energy(values, "us") == pytest.approx(40 + 120 + 45 + 14)
    assert energy(values, "eu") == pytest.approx(40 + 96 + 45 + 12 + 14)
    assert energy({"PROCNT": 1.0, "CHOCDF": 1.0, "FAT": 1.0}, "eu") == pytest.approx(17.0)
