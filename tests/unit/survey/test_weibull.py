"""The Weibull curve of interval-censored ages: its maximum, its laws, its integral."""

import numpy as np
import pytest
from scipy import integrate, optimize

from planner.errors import EstimateError
from planner.survey.interval_likelihood import Intervals
from planner.survey.retention import Retention
from planner.survey.weibull import active_months, fit_weibull
from tests.unit.survey.test_turnbull import visited


def mixed(n, seed):
    """Intervals, every tenth age known exactly."""
    seen = visited(n, seed)
    exact = (np.arange(n) % 10 == 0) & np.isfinite(seen.upper)
    age = np.where(exact, (seen.lower + seen.upper) / 2.0, 0.0)
    return Intervals(np.where(exact, age, seen.lower), np.where(exact, age, seen.upper))


def test_each_row_is_the_maximum_of_the_stated_likelihood():
    """Independent formulation: the likelihood in shape and scale, by Nelder and Mead."""
    seen = mixed(200, 1)
    weights = np.random.default_rng(2).gamma(1.0, size=(3, 200))
    found = fit_weibull(seen, weights)

    def loss(parameters, row):
        k, scale = np.exp(parameters)
        with np.errstate(divide="ignore"):
            start, end = (np.exp(-((side / scale) ** k)) for side in (seen.lower, seen.upper))
            age = np.where(seen.is_exact, seen.lower, 1.0)
            density = k / scale * (age / scale) ** (k - 1) * np.exp(-((age / scale) ** k))
            return -row @ np.log(np.where(seen.is_exact, density, start - end))

    for place, row in enumerate(weights):
        best = optimize.minimize(
            loss, [0.0, 3.0], (row,), "Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-11}
        )
        ours = np.log([found.shape[place], found.scale_months[place]])
        assert ours == pytest.approx(best.x, abs=1e-5)


def test_known_curve_is_recovered():
    """Simulated truth: shape 0.8 and scale 30 months; three standard errors."""
    found = fit_weibull(visited(20_000, 3), np.ones((1, 20_000)))
    assert found.shape[0] == pytest.approx(0.8, abs=0.03)
    assert found.scale_months[0] == pytest.approx(30.0, abs=1.0)


def test_exact_ages_of_an_exponential_with_known_hazard():
    """Closed form at shape 1: total time over events, when the shape comes out as 1."""
    chance = (np.arange(4000) + 0.5) / 4000
    age = -20.0 * np.log(1.0 - chance)
    found = fit_weibull(Intervals(age, age), np.ones((1, 4000)))
    assert found.shape[0] == pytest.approx(1.0, abs=2e-3)
    assert found.scale_months[0] == pytest.approx(age.mean(), rel=2e-3)


def test_another_unit_of_time_scales_the_curve():
    seen, weights = mixed(150, 4), np.ones((1, 150))
    months = fit_weibull(seen, weights)
    days = fit_weibull(Intervals(30.0 * seen.lower, 30.0 * seen.upper), weights)
    assert days.shape == pytest.approx(months.shape, rel=1e-8)
    assert days.scale_months == pytest.approx(30.0 * months.scale_months, rel=1e-8)


@pytest.mark.parametrize("all_in_use", [True, False])
def test_answers_that_all_agree_need_the_belief(all_in_use):
    age = np.linspace(1.0, 12.0, 60)
    limits = (age, np.full(60, np.inf)) if all_in_use else (np.zeros(60), age)
    seen, weights = Intervals(*limits), np.ones((50, 60))
    with pytest.raises(EstimateError, match="fix no curve"):
        fit_weibull(seen, weights)
    share = fit_weibull(seen, weights, np.random.default_rng(1)).in_use_share(np.array([6.0]))
    assert (share[0, 0] > 0.97) if all_in_use else (share[0, 0] < 0.06)
    assert share[1:].std() > 0.0


def test_belief_weighs_little_against_many_answers():
    seen, weights = mixed(2000, 5), np.ones((1, 2000))
    free = fit_weibull(seen, weights).in_use_share(np.array([12.0]))
    held = fit_weibull(seen, weights, np.random.default_rng(1)).in_use_share(np.array([12.0]))
    assert held == pytest.approx(free, abs=0.002)


def test_active_months_are_the_area_under_the_curve():
    """Published formula; R's integrate gives 18.7130318572 for shape 1.35, scale 34, 24."""
    curve = Retention(np.array([34.0, 12.0]), np.array([1.35, 0.4]), 1, 1, 24.0)
    found = active_months(curve, np.array([0.0, 24.0, 300.0]))
    assert found[:, 0].tolist() == [0.0, 0.0]
    assert found[0, 1] == pytest.approx(18.7130318572, abs=1e-10)
    for place, horizon in ((1, 24.0), (2, 300.0)):
        area, _ = integrate.quad(
            lambda a: float(curve.in_use_share(np.array([a]))[1, 0]), 0.0, horizon, limit=200
        )
        assert found[1, place] == pytest.approx(area, rel=1e-6)


def test_a_time_of_zero_known_exactly_is_an_error():
    with pytest.raises(EstimateError, match="must lie above 0"):
        fit_weibull(Intervals(np.array([0.0, 2.0]), np.array([0.0, 3.0])), np.ones((1, 2)))
