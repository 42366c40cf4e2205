"""Sizes of kitchen units against their definitions, recomputed through pint.

Sources: NIST SP 811 (2008), Appendix B, and NIST Handbook 44 (2020), Appendix C (US customary);
Weights and Measures Act 1985 (UK), Schedule 1 (gallon of 4.54609 L, pound of 0.45359237 kg); the
Standards Association of Australia's cup of 250 ml and spoon of 20 ml as the NSW Health conversion
chart gives them; 21 CFR 101.9(b)(5)(viii) (label cup 240 ml, tablespoon 15 ml, fluid ounce 30 ml).
"""

from __future__ import annotations

import pytest

from pipeline.units import kitchen_units, stem_of

pint = pytest.importorskip("pint")

#: Written out as the sources print them, in ml and g.
PRINTED = [
    ("tsp", "us", 4.92892159375), ("tbsp", "us", 14.78676478125), ("fl_oz", "us", 29.5735295625),
    ("cup", "us", 236.5882365), ("pint", "us", 473.176473), ("quart", "us", 946.352946),
    ("gallon", "us", 3785.411784), ("gill", "us", 118.29411825),
    ("fl_oz", "imperial", 28.4130625), ("gill", "imperial", 142.0653125),
    ("pint", "imperial", 568.26125), ("quart", "imperial", 1136.5225),
    ("gallon", "imperial", 4546.09), ("cup", "au", 250), ("tbsp", "au", 20), ("tsp", "au", 5),
    ("cup", "metric", 250), ("tbsp", "metric", 15), ("tsp", "metric", 5), ("tbsp", "uk", 15),
    ("tsp", "uk", 5), ("pint", "uk", 568.26125), ("tbsp", "nz", 15), ("dessertspoon", "uk", 10),
]  # fmt: skip
#: The same through pint's own definitions.
PINT = {
    ("tsp", "us"): "teaspoon", ("tbsp", "us"): "tablespoon", ("cup", "us"): "cup",
    ("fl_oz", "us"): "fluid_ounce", ("pint", "us"): "pint", ("quart", "us"): "quart",
    ("gallon", "us"): "gallon", ("gill", "us"): "gill",
    ("fl_oz", "imperial"): "imperial_fluid_ounce", ("pint", "imperial"): "imperial_pint",
    ("quart", "imperial"): "imperial_quart", ("gallon", "imperial"): "imperial_gallon",
    ("gill", "imperial"): "imperial_gill", ("cup", "imperial"): "imperial_cup",
    ("l", "us"): "liter", ("dl", "us"): "deciliter", ("cl", "us"): "centiliter",
    ("ml", "us"): "milliliter",
}  # fmt: skip


@pytest.fixture(scope="module")
def registry() -> object:
    return pint.UnitRegistry(cache_folder=None)


@pytest.mark.parametrize(("unit", "system", "ml"), PRINTED)
def test_volumes_as_printed(unit: str, system: str, ml: float) -> None:
    assert kitchen_units().ml(unit, system) == pytest.approx(ml, rel=1e-9)
    assert kitchen_units().ml(f"{unit}_{system}", "metric") == pytest.approx(ml, rel=1e-9)


@pytest.mark.parametrize(("unit", "system"), PINT)
def test_volumes_through_pint(unit: str, system: str, registry: object) -> None:
    exact = registry.Quantity(1, PINT[unit, system]).to("milliliter").magnitude  # type: ignore[attr-defined]
    assert kitchen_units().ml(unit, system) == pytest.approx(exact, rel=1e-9)


@pytest.mark.parametrize(
    ("unit", "name"),
    [("g", "gram"), ("kg", "kilogram"), ("mg", "milligram"), ("oz", "ounce"), ("lb", "pound")],
)
def test_masses_through_pint(unit: str, name: str, registry: object) -> None:
    exact = registry.Quantity(1, name).to("gram").magnitude  # type: ignore[attr-defined]
    assert kitchen_units().grams[unit] == pytest.approx(exact, rel=1e-9)


@pytest.mark.parametrize(
    ("unit", "label_ml"), [("cup", 240), ("tbsp", 15), ("tsp", 5), ("fl_oz", 30)]
)
def test_label_measures_of_21_cfr_are_near(unit: str, label_ml: float) -> None:
    assert kitchen_units().ml(unit, "us") == pytest.approx(label_ml, rel=0.015)


def test_a_system_at_the_end_of_a_unit() -> None:
    assert stem_of("fl_oz") == "fl_oz"
    assert stem_of("fl_oz_imperial") == "fl_oz"
    assert stem_of("cup_metric") == "cup"
    assert kitchen_units().ml("cup_moon", "us") is None
    assert kitchen_units().ml("furlong", "us") is None
