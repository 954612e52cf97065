"""Clocks of a season of giving up, and whether answers bear one: planted seasons come out."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate

from planner.survey.interval_likelihood import Intervals
from planner.survey.retention import active_months
from planner.survey.stopping_season import NO_SEASON, SeasonBelief, StoppingSeason
from planner.survey.weibull import fit_groups
from tests.unit.survey.alone import weibull_curve

JULY = StoppingSeason(2.0, 6.5)
CURVE = replace(
    weibull_curve(np.array([20.0, 20.0]), np.array([0.8, 0.8])),
    seasons=(NO_SEASON, JULY),
    season_of_row=np.array([1, 0]),
    entry_shares=(0.25, 0.0, 0.0, 0.75, *[0.0] * 8),
)


def test_pace_at_the_peak_is_that_of_the_von_mises_density():
    """Abramowitz and Stegun (1964), table 9.8 (from memory): I0(1) = 1.26607, I0(2) = 2.27959."""
    for swing, mean in ((1.0, 1.26607), (2.0, 2.27959)):
        season = StoppingSeason(swing, 3.0)
        assert np.exp(season.log_pace(np.array([3.0]))) == pytest.approx(np.exp(swing) / mean, 1e-5)


def test_a_year_is_a_year_on_every_clock_and_half_a_year_is_not():
    entry = np.linspace(0.0, 11.9, 24)
    for years in (1, 2, 3):
        age = JULY.clock_age(entry, np.full(24, 12.0 * years))
        assert age == pytest.approx(np.full(24, 12.0 * years), abs=1e-9)
    # over the months about the peak, and the months opposite
    halves = JULY.clock_age(np.array([3.5, 9.5]), np.array([6.0, 6.0]))
    assert halves.sum() == pytest.approx(12.0)
    assert halves[0] > 5 * halves[1]
    pace = integrate.quad(lambda m: np.exp(JULY.log_pace(m)), 3.5, 9.5)[0]
    assert halves[0] == pytest.approx(pace, abs=1e-3)


def test_a_curve_by_age_is_the_mean_over_the_months_of_hand_over():
    ages = np.array([0.0, 3.0, 7.0, 12.0])
    in_month = [CURVE.in_use_share(ages, np.array(month)) for month in (0.5, 3.5)]
    mean = 0.25 * in_month[0] + 0.75 * in_month[1]
    assert CURVE.in_use_share(ages) == pytest.approx(mean)
    plain = np.exp(-((ages / 20.0) ** 0.8))
    assert CURVE.in_use_share(ages)[1] == pytest.approx(plain)
    # twelve months are twelve on any clock, three are not
    assert CURVE.in_use_share(ages)[0, 3] == pytest.approx(plain[3])
    assert abs(CURVE.in_use_share(ages)[0, 1] - plain[1]) > 0.02


def test_months_in_use_of_a_cohort_are_the_area_under_its_own_curve():
    found = active_months(CURVE, np.array([9.0, 14.0]), np.array([2.5, 8.5]))
    for place, (horizon, entry) in enumerate(((9.0, 2.5), (14.0, 8.5))):
        ages = np.linspace(0.0, horizon, 4001)
        share = CURVE.in_use_share(ages, np.array(entry))
        assert found[:, place] == pytest.approx(np.trapezoid(share, ages, axis=1), rel=2e-3)


def asked_by_half_years(rng, count, planted):
    """Bins given through two years that stop at 4% a month of a clock, asked each half-year."""
    entry = rng.uniform(0.0, 24.0, count)
    run = rng.exponential(25.0, count)
    grid = np.linspace(0.0, 80.0, 1601)
    clock = planted.clock_age(np.mod(entry, 12.0)[:, None], grid[None, :])
    age = np.array([np.interp(one, row, grid) for one, row in zip(run, clock, strict=True)])
    asked = np.maximum(np.arange(1.3, 43.0, 5.9)[None, :] - entry[:, None], 0.0)
    edges = np.c_[np.zeros(count), asked, np.full(count, np.inf)]
    place, row = (edges[:, 1:] < age[:, None]).sum(axis=1), np.arange(count)
    return Intervals(edges[row, place], edges[row, place + 1]), np.mod(entry, 12.0)


def fitted(planted, seed):
    seen, entry = asked_by_half_years(np.random.default_rng(seed), 500, planted)
    weights = np.random.default_rng(1).gamma(1.0, size=(21, 500))
    weights[0] = 1.0
    rng = np.random.default_rng(2)
    return fit_groups(seen, np.zeros(500, dtype=int), 1, weights, rng, entry)


@pytest.mark.parametrize("seed", [1, 2])
def test_a_planted_season_is_found_in_its_month_and_the_year_stays_true(seed):
    """Known truth: July at 3.4 times the mean pace; exp(-12 / 25) = 0.619 in use after a year."""
    found = fitted(StoppingSeason(1.5, 6.5), seed)
    season = found.season.seasons[found.season.central]
    assert found.season.of_any > 0.95
    assert min(found.season.probability) >= 0.0
    assert sum(found.season.probability) == pytest.approx(1.0)
    assert abs(season.peak_month - 6.5) <= 1.0
    shares = found.curves[0].in_use_share(np.array([12.0]))[:, 0]
    assert shares[0] == pytest.approx(np.exp(-12 / 25), abs=3 * shares[1:].std())


def test_where_none_was_planted_none_is_in_the_curve():
    beliefs = [fitted(NO_SEASON, seed).season for seed in range(3, 6)]
    assert [belief.seasons[belief.central] for belief in beliefs] == [NO_SEASON] * 3


def test_a_season_in_doubt_is_drawn_by_replicates_and_not_by_the_central_row():
    doubt = SeasonBelief((NO_SEASON, JULY), (0.5, 0.5))
    places = doubt.draw(401, np.random.default_rng(1))
    assert places[0] == 0
    assert places[1:].mean() == pytest.approx(0.5, abs=0.1)
    assert replace(doubt, probability=(0.2, 0.8)).central == 1
