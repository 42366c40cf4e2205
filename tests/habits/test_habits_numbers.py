"""The arithmetic of the search, and the settings file, by their laws."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.habits.numbers import Fit, fit_shared, medians, noise_of
from pipeline.habits.weighing import _possible
from pipeline.memory.conventions import with_convention
from pipeline.problems import SteelyardError
from pipeline.reconcile.model import MACROS

N = 8


def plain_noise(recipes: int, slips: float = 0.1):
    """Noise of recipes of 500 kcal with two lines each."""
    mean = np.tile([500.0, 30.0, 60.0, 15.0, 5.0, 5.0, 5.0, 400.0], (recipes, 1))
    cov = np.zeros((recipes, N, N))
    cov[:, np.arange(N), np.arange(N)] = (0.02 * mean) ** 2 + 0.1
    given_ = np.ones((recipes, N), dtype=bool)
    lines = np.repeat(np.arange(recipes), 2)
    values = np.repeat(mean / 2, 2, axis=0)
    return noise_of(cov, given_, mean, mean, lines, values, np.zeros(2 * recipes), slips)


@given(
    st.lists(st.floats(-8, 8), min_size=N, max_size=N),
    st.lists(st.floats(0.4, 1.5), min_size=4, max_size=9),
    st.integers(0, 3),
)
def test_a_shared_cause_is_recovered_though_one_recipe_has_a_slip(
    theta: list[float], grams: list[float], spoiled: int
) -> None:
    x, true = np.array(grams), np.array(theta)
    off = x[:, None] * true
    off[spoiled] += np.array(
        [450.0, 27.0, 54.0, 13.5, 4.5, 4.5, 4.5, 360.0]
    )  # numbers of two servings
    group = np.zeros(len(x), dtype=np.int64)
    by = x[:, None, None] * np.eye(N)
    prior = np.eye(N)[None] / 100.0
    zero = np.zeros((1, N))
    middle = np.median(off / x[:, None], axis=0)[None]
    fit = fit_shared(off, by, group, 1, plain_noise(len(x)), zero, prior, [zero, middle])
    noise_sd = np.sqrt(
        (0.02 * np.array([500.0, 30.0, 60.0, 15.0, 5.0, 5.0, 5.0, 400.0])) ** 2 + 0.1
    )
    assert (np.abs(fit.theta[0] - true) < 0.6 * noise_sd).all()


@given(st.integers(3, 9), st.integers(0, 10**6))
def test_a_free_cause_does_not_pay_for_noise(recipes: int, seed: int) -> None:
    """Honest residuals: a tight prior around nothing has more evidence than a wide one."""
    rng = np.random.default_rng(seed)
    noise = plain_noise(recipes)
    sd = 0.02 * np.array([500.0, 30.0, 60.0, 15.0, 5.0, 5.0, 5.0, 400.0])
    off = rng.normal(size=(recipes, N)) * sd
    group = np.zeros(recipes, dtype=np.int64)
    by = np.ones((recipes, 1, 1)) * np.eye(N)
    zero = np.zeros((1, N))
    tight = fit_shared(off, by, group, 1, noise, zero, np.eye(N)[None] * 1e4, [zero])
    wide = fit_shared(off, by, group, 1, noise, zero, np.eye(N)[None] / 400.0, [zero])
    assert tight.evidence[0] > wide.evidence[0]


@given(st.integers(2, 8))
def test_weights_are_shares(recipes: int) -> None:
    noise = plain_noise(recipes)
    off = np.zeros((recipes, N))
    off[0] = 300.0
    total, weight = noise(off)
    assert np.isfinite(total).all()
    assert ((weight >= 0) & (weight <= 1)).all()
    assert weight[0] < 0.01 < 0.8 < weight[1]


names = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=20)


@given(names, st.sampled_from(["available", "total"]), st.booleans())
def test_a_convention_is_read_back_and_nothing_else_changes(
    name: str, value: str, before: bool
) -> None:
    text = '# mine\nprofile = "eu"\n\n[creators."Someone"]\nenergy = "table"\n' if before else ""
    made = with_convention(text, "carbohydrate", value, name)
    table = tomllib.loads(made)
    assert table["creators"][name]["carbohydrate"] == value
    twice = with_convention(made, "carbohydrate", "available", name)
    assert tomllib.loads(twice)["creators"][name]["carbohydrate"] == "available"
    if before:
        assert table["profile"] == "eu"
        assert "# mine" in twice
        assert table["creators"]["Someone"]["energy"] == "table"


@given(st.sampled_from(["", 'profile = "eu"\n', '[creators."A"]\nenergy = "atwater"\n']))
def test_a_convention_of_all_stands_above_the_tables(text: str) -> None:
    made = with_convention(text, "energy", "atwater")
    assert tomllib.loads(made)["energy"] == "atwater"
    assert tomllib.loads(with_convention(made, "energy", "table"))["energy"] == "table"


def test_a_broken_file_is_left_alone() -> None:
    with pytest.raises(SteelyardError) as fault:
        with_convention("profile = eu", "energy", "atwater")
    assert "steelyard.toml" in fault.value.problem.what
    assert "by hand" in fault.value.problem.fix


@given(
    st.lists(
        st.lists(st.floats(-50, 50) | st.just(float("nan")), min_size=1, max_size=6),
        min_size=1, max_size=5,
    )
)  # fmt: skip
def test_medians_are_those_of_the_numbers_there_are(groups: list[list[float]]) -> None:
    values = np.array([v for g in groups for v in g])[:, None]
    group = np.repeat(np.arange(len(groups)), [len(g) for g in groups])
    seen = [[v for v in g if v == v] for g in groups]
    expected = [float(np.median(g)) if g else 0.0 for g in seen]
    assert medians(values, group, len(groups))[:, 0] == pytest.approx(expected)


def test_no_food_holds_more_than_its_own_weight() -> None:
    """A composition of more than 100 g of macros costs its evidence; a possible one costs none."""
    value = np.zeros((3, N))
    value[:, list(MACROS)] = (10.0, 70.0, 5.0)
    theta = np.zeros((3, N))
    theta[:, MACROS[1]] = (0.0, 10.0, 40.0)
    sharp = np.tile(np.eye(N), (3, 1, 1))
    wide = sharp / 100.0
    cost = _possible(value, Fit(theta, np.zeros(3), sharp), wide)
    assert cost[0] == pytest.approx(0.0, abs=1e-9)
    assert cost[0] >= cost[1] > cost[2]
    assert cost[2] < -20
