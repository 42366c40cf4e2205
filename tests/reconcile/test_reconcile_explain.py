"""Each kind of slip, made on purpose, is named first, with its line and in one sentence."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from reconcile_cases import STEW, case, lines, recipes, stated

from pipeline.compute import compute
from pipeline.reconcile import diagnose, judge
from pipeline.reconcile.model import TAIL_SCALE, TAIL_SHARE, log_likelihood, noise, priors
from pipeline.reconcile.slips import KINDS
from pipeline.tables import EXPLANATION, RUNNER_UP


def changed(con, **swap):
    """True numbers of the stew with lines changed: line number -> (code, grams) or None."""
    items = [
        (t, *swap.get(f"line{n}", (c, g)), u) for n, (t, c, g, u) in enumerate(STEW, 1)
        if swap.get(f"line{n}", ()) is not None
    ]  # fmt: skip
    return case(con, items).true


def explain(con, foods, stew, numbers, **more):
    said = stated(numbers, **more)
    return judge(con, stew.computation, said, foods=foods)


def first(con, foods, stew, numbers, **more):
    judged = explain(con, foods, stew, numbers, **more)
    assert judged.verdict["verdict"].item() == "disagrees"
    top = judged.explanation.iloc[0]
    return top["kind"], None if pd.isna(top["line_no"]) else int(top["line_no"]), top


def test_a_line_left_out(con, foods, stew):
    kind, line, top = first(con, foods, stew, changed(con, line3=None))
    assert (kind, line) == ("line_left_out", 3)
    assert top["detail"].startswith(
        'If line 3 ("3 tbsp olive oil") had been left out, a serving would'
    )
    assert top["probability"] > 0.5
    assert top["kcal"] == pytest.approx(changed(con, line3=None)["kcal"], rel=0.01)


def test_a_line_counted_twice(con, foods, stew):
    assert first(con, foods, stew, changed(con, line1=("20031", 500.0)))[:2] == ("line_doubled", 1)


def test_a_tablespoon_read_as_a_teaspoon(con, foods):
    # without the mince there is less fat for the oil to hide behind
    plain = case(con, STEW[:-1])
    numbers = case(con, [(t, c, g / 3 if c == "04053" else g, u) for t, c, g, u in STEW[:-1]]).true
    kind, line, top = first(con, foods, plain, numbers)
    assert (kind, line) == ("unit_slip", 3)
    assert "tbsp counted as tsp" in top["detail"]


def test_dry_grain_looked_up_cooked(con, foods, stew):
    kind, line, top = first(con, foods, stew, changed(con, line1=("20032", 250.0)))
    assert (kind, line) == ("raw_cooked_slip", 1)
    assert "Millet, cooked" in top["detail"]


def test_another_product_of_the_same_food(con, foods, stew):
    kind, line, _ = first(con, foods, stew, changed(con, line7=("23557", 400.0)))
    assert (kind, line) == ("product_variant", 7)


@pytest.mark.parametrize("count", [1, 2, 8])
def test_another_count_of_servings(con, foods, stew, count):
    numbers = {c: v * 4 / count for c, v in stew.true.items()}
    kind, line, top = first(con, foods, stew, numbers)
    assert (kind, line) == ("servings_slip", None)
    assert f"divided by {count} instead of 4" in top["detail"]


def test_numbers_of_100_g(con, foods, stew):
    weight = stew.computation.recipe["weight_g"].item() / 4
    numbers = {c: v * 100 / weight for c, v in stew.true.items()}
    assert first(con, foods, stew, numbers)[:2] == ("per_100g_stated_as_serving", None)


def test_two_macros_exchanged(con, foods, stew):
    numbers = {**stew.true, "carbs_g": stew.true["fat_g"], "fat_g": stew.true["carbs_g"]}
    assert first(con, foods, stew, numbers)[0] == "macros_swapped"


def test_kilojoules(con, foods, stew):
    kind, _, top = first(con, foods, stew, {**stew.true, "kcal": stew.true["kcal"] * 4.184})
    assert kind == "kilojoules_as_kcal"
    assert "kJ" in top["detail"]


@pytest.mark.parametrize(
    ("factor", "said"), [(0.001, "grams"), (0.0025, "salt in grams"), (2.5, "salt")]
)
def test_sodium_in_another_unit_or_as_salt(con, foods, factor, said):
    salted = case(con, [*STEW, ("2 tbsp salt", "02047", 36.0, "tbsp")])
    sums = salted.computation.computed.set_index("nutrient")["amount"]
    numbers = {**salted.true, "NA": sums["NA"] / salted.servings * factor}
    kind, _, top = first(con, foods, salted, numbers, step=0.01)
    assert kind == "sodium_unit_slip"
    assert said in top["detail"]


def test_energy_that_does_not_follow_the_macros(con, foods, stew):
    numbers = {**stew.true, "kcal": stew.true["kcal"] * 1.31}
    assert first(con, foods, stew, numbers)[0] == "energy_not_following_macros"


def test_carbohydrate_without_fibre(con, foods, stew):
    numbers = {**stew.true, "carbs_g": stew.true["carbs_g"] - stew.true["fiber_g"]}
    assert first(con, foods, stew, numbers)[0] == "net_carbs_stated"


def test_digits_exchanged(con, foods, stew):
    kcal = round(stew.true["kcal"])
    wrong = int(str(kcal)[0] + str(kcal)[2] + str(kcal)[1])
    if abs(wrong - kcal) < 0.15 * kcal:
        wrong = int(str(kcal)[1] + str(kcal)[0] + str(kcal)[2])
    kind, _, top = first(con, foods, stew, {**stew.true, "kcal": float(wrong)})
    assert kind == "digits_transposed"
    assert f"became {wrong}" in top["detail"]


def test_numbers_from_nowhere_have_no_single_slip(con, foods, stew):
    numbers = {"kcal": 111.0, "protein_g": 61.0, "carbs_g": 140.0, "fat_g": 1.0}
    judged = explain(con, foods, stew, numbers)
    assert judged.verdict["verdict"].item() == "disagrees"
    assert judged.explanation.iloc[0]["kind"] == "none_found"


def test_two_slips_at_once_are_said_together(con, foods, stew):
    numbers = changed(con, line1=("20032", 250.0), line3=None)
    judged = explain(con, foods, stew, numbers)
    top = judged.explanation.iloc[0]
    assert {"raw_cooked_slip", "line_left_out"} >= {top["kind"]}
    assert "line 1" in top["detail"]
    assert "line 3" in top["detail"]


def test_a_runner_up_that_makes_the_numbers_honest_speaks_against_a_fault(con, foods):
    """Our own match may be wrong: the creator has lean mince, we have fat."""
    ours = lines()
    ours.loc[ours["line_no"] == 7, "confidence"] = 0.55
    runner = pd.DataFrame(
        [(STEW[6][0], 1, "sr28:23557", "5 % mince", 0.45, 0.0)], columns=RUNNER_UP
    )
    said = stated(changed(con, line7=("23557", 400.0)))
    sure = judge(con, compute(con, lines(), None, recipes()), said, foods=foods)
    doubtful = compute(con, ours, runner, recipes())
    unsure = judge(con, doubtful, said, runner, foods=foods)
    assert sure.verdict["verdict"].item() == "disagrees"
    assert unsure.verdict["verdict"].item() in ("agrees", "uncertain")


def test_the_table_is_as_agreed(con, foods, stew):
    verdict = pd.DataFrame({"recipe_id": ["stew"], "verdict": ["disagrees"]})
    said = stated({**stew.true, "kcal": stew.true["kcal"] * 1.31})
    table = diagnose(con, stew.computation, verdict, said, foods=foods).explanation
    assert list(table.columns[: len(EXPLANATION)]) == EXPLANATION
    assert table["rank"].tolist() == list(range(1, len(table) + 1))
    assert table["probability"].is_monotonic_decreasing
    assert 0 < table["probability"].sum() <= 1 + 1e-9
    assert not table.duplicated(["kind", "line_no"]).any()
    assert set(table["kind"]) <= set(priors())


def test_recipes_that_agree_are_not_explained(con, foods, stew):
    verdict = pd.DataFrame({"recipe_id": ["stew"], "verdict": ["agrees"]})
    assert diagnose(
        con, stew.computation, verdict, stated(stew.true), foods=foods
    ).explanation.empty


def test_numbers_for_the_whole_recipe_and_one_basis_only(con, foods, stew):
    left_out = {c: v * 4 for c, v in changed(con, line3=None).items()}
    kind, line, top = first(con, foods, stew, left_out, basis="per_recipe")
    assert (kind, line) == ("line_left_out", 3)
    assert "the whole recipe would have" in top["detail"]


def test_priors_are_beliefs():
    assert sum(priors().values()) == pytest.approx(1.0)
    assert set(priors()) == {*KINDS, "none_found"} - {"honest"}


def test_the_likelihood_is_the_normal_density_where_no_tail_matters():
    """Against numpy's own determinant and inverse, for two given numbers."""
    mean = np.array([[400.0, 30, 45, 12, 5, 8, 3, 500]])
    cov = noise(mean) + np.eye(8)
    given = np.array([[True, True, False, False, False, False, False, False]])
    said = mean.copy()
    said[0, 0] += 10
    got, misfit = log_likelihood(said, mean, cov, given)
    part = cov[0][:2, :2]
    off = np.array([10.0, 0.0])
    square = off @ np.linalg.inv(part) @ off
    assert misfit[0] == pytest.approx(square)
    base = -0.5 * np.log(np.linalg.det(2 * np.pi * part))
    narrow = (1 - TAIL_SHARE) * np.exp(-square / 2)
    wide = TAIL_SHARE * np.exp(-square / 2 / TAIL_SCALE**2) / TAIL_SCALE**2
    assert got[0] == pytest.approx(base + np.log(narrow + wide))


def test_energy_moves_with_the_macros_in_the_noise():
    cov = noise(np.array([[400.0, 30, 45, 12, 5, 8, 3, 500]]))[0]
    assert cov[0, 3] == pytest.approx(9 * cov[3, 3])
    assert np.linalg.eigvalsh(cov).min() > 0
