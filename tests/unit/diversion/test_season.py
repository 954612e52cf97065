"""The season of feeding: the stated belief without data, a known season with them."""

import datetime as dt

import numpy as np
import pytest
from scipy import stats

from planner.diversion.season import (
    LEVEL_SPREAD,
    SEASONAL_VARIANCE_SHARE,
    VARIANCE_SHARES,
    RoundFeedRatios,
    WeighedWeeks,
    _deviations,
    fit_season,
    standardised,
    stated_spread,
    waves,
)

DRAWS = 4000


def triangle(seed):
    """Draw a year over a surveyed week evenly, as factors are drawn, in an order of chance."""
    rng = np.random.default_rng(seed)
    even = (rng.permutation(DRAWS) + rng.random(DRAWS)) / DRAWS
    return np.concatenate([[1.0], stats.triang.ppf(even, 0.5, loc=0.85, scale=0.3)])


BELIEVED = triangle(1)
TRIANGLE_SPREAD = 0.15 / np.sqrt(6.0)
"""Standard deviation of a triangle between -15 and +15%: its half-width over the root of 6."""

JANUARY = dt.date(2025, 1, 1).toordinal()
YEAR = JANUARY + (np.arange(12) + 0.5) * 365.25 / 12
TEMPERATURE = 20.0 + 8.0 * np.cos(2.0 * np.pi * (np.arange(12) + 0.5) / 12)
NO_WEEKS = WeighedWeeks(*(np.zeros(0, dtype=kind) for kind in (np.int64, float, float, float)))


def rounds(*days, ratios=None, error=0.05):
    """Hold rounds on days of the year, each as much of the year's level."""
    count = len(days)
    values = np.ones(count) if ratios is None else np.array(ratios)
    errors, shares = np.full(count, error), np.full(count, 1 / count)
    return RoundFeedRatios(JANUARY + np.array(days, dtype=float), values, errors, shares, YEAR)


def fitted(weeks=NO_WEEKS, surveyed=None):
    surveyed = surveyed or rounds(100)
    rng, spread = np.random.default_rng(2), stated_spread(BELIEVED)
    return fit_season(weeks, surveyed, TEMPERATURE, BELIEVED, spread, rng), surveyed


def error_of_year(season, surveyed):
    """Logarithm of the year's mean over its surveyed weeks, draw by draw."""
    at_rounds = season.log_factor(surveyed.days) + season.round_errors
    return season.log_factor(YEAR).mean(axis=1) - at_rounds @ surveyed.year_shares


def weighed(season, households=60, seed=5):
    """Weeks of households that differ twofold, each weighed six times on any days."""
    rng = np.random.default_rng(seed)
    household = np.repeat(np.arange(households), 6)
    days = JANUARY + rng.uniform(0.0, 365.0, household.size)
    level = rng.lognormal(0.0, 0.6, households)[household]
    kg = level * np.exp(season(days)) * rng.lognormal(-0.045, 0.3, household.size)
    return WeighedWeeks(household, days, kg, np.ones(household.size))


def summer(height):
    return lambda days: height * np.cos(2.0 * np.pi * (days - JANUARY) / 365.25)


def test_without_data_a_year_errs_about_one_round_as_the_stated_belief_does():
    """Draw by draw: the triangle's own draws, its spread by the temperature of the round."""
    season, surveyed = fitted()
    error = error_of_year(season, surveyed)
    assert error[0] == 0.0
    assert np.corrcoef(error[1:], BELIEVED[1:])[0, 1] == pytest.approx(1.0)
    # by hand: a quarter comes and goes; a season counts by temperature and waves that day
    warm = np.interp(100 / 365.25 * 12, np.arange(12) + 0.5, standardised(TEMPERATURE))
    seasonal = 0.5 * warm**2 + 2 * 3 / 16 + 2 / 16
    share = SEASONAL_VARIANCE_SHARE * seasonal + 1.0 - SEASONAL_VARIANCE_SHARE
    assert error[1:].std() == pytest.approx(TRIANGLE_SPREAD * np.sqrt(share), rel=0.03)
    assert season.data_share == pytest.approx(0.0, abs=1e-9)
    assert season.scale == 1.0
    assert season.households_count == 0


def test_over_all_days_of_a_round_the_spread_is_the_triangles():
    spreads = [error_of_year(*fitted(surveyed=rounds(day)))[1:].var() for day in range(0, 365, 30)]
    assert np.sqrt(np.mean(spreads)) == pytest.approx(TRIANGLE_SPREAD, rel=0.04)


def test_rounds_in_opposite_seasons_cancel_it_and_rounds_in_one_season_do_not():
    """Law: two rounds half a year apart see both sides of a yearly wave."""
    one, same, opposite = (
        error_of_year(*fitted(surveyed=rounds(*days)))[1:].std()
        for days in ((20,), (20, 20), (20, 202))
    )
    assert opposite < 0.75 * one
    assert same > 0.9 * one


@pytest.mark.parametrize("height", [0.1, 0.35])
def test_a_known_season_comes_back_from_weighed_weeks(height):
    season = fitted(weighed(summer(height)))[0]
    found = season.log_factor(YEAR)
    low, high = np.percentile(found[1:], [2.5, 97.5], axis=0)
    truth = summer(height)(YEAR)
    held = (low <= truth) & (truth <= high)
    assert held.mean() >= 0.75
    assert found[0, 0] - found[0, 6] == pytest.approx(2.0 * height, rel=0.3)
    assert season.data_share > 0.4
    assert (season.weeks_count, season.households_count) == (360, 60)


def test_a_season_far_beyond_the_belief_widens_it():
    assert fitted(weighed(summer(0.35)))[0].scale > 1.0
    assert fitted(weighed(summer(0.02)))[0].scale == 1.0


def test_who_weighs_does_not_matter_but_when_each_of_them_does():
    """Law: a household's level cancels; keen households in summer make no season."""
    plain = weighed(summer(0.0), households=200)
    summer_half = np.cos(2.0 * np.pi * (plain.days - JANUARY) / 365.25) > 0.0
    keen = np.where(np.bincount(plain.household, summer_half)[plain.household] > 3, 3.0, 1.0)
    lifted = WeighedWeeks(plain.household, plain.days, plain.weighed_kg * keen, plain.modelled_kg)
    found = [fitted(weeks)[0].coefficients[0] for weeks in (plain, lifted)]
    assert found[1] == pytest.approx(found[0], abs=0.02)


def test_a_season_that_the_model_already_has_is_not_counted_twice():
    weeks = weighed(summer(0.3))
    modelled = np.exp(summer(0.3)(weeks.days))
    found = fitted(WeighedWeeks(weeks.household, weeks.days, weeks.weighed_kg, modelled))[0]
    assert np.abs(found.log_factor(YEAR)[0]).max() < 0.08


def test_weeks_in_grams_tell_of_the_same_season_as_in_kilograms():
    """A law: the share of a household's total that falls into a week has no unit."""
    in_kg = weighed(lambda days: 0.2 * np.cos(2.0 * np.pi * (days - JANUARY) / 365.25))
    in_g = WeighedWeeks(in_kg.household, in_kg.days, 1000.0 * in_kg.weighed_kg, in_kg.modelled_kg)
    one, other = fitted(in_kg)[0], fitted(in_g)[0]
    assert other.coefficients[0] == pytest.approx(one.coefficients[0], rel=1e-9)
    assert other.data_share == pytest.approx(one.data_share, rel=1e-9)


def test_households_that_weighed_once_say_nothing():
    weeks = weighed(summer(0.35))
    single = WeighedWeeks(
        np.arange(weeks.days.size), weeks.days, weeks.weighed_kg, weeks.modelled_kg
    )
    assert fitted(single)[0].data_share == pytest.approx(0.0, abs=1e-9)


def test_rounds_in_many_months_shrink_the_belief_towards_what_they_say():
    days = (15, 75, 135, 195, 255, 315)
    ratios = np.exp(summer(0.15)(JANUARY + np.array(days)))
    season = fitted(surveyed=rounds(*days, ratios=ratios, error=0.02))[0]
    found = season.log_factor(JANUARY + np.array([0.0, 182.0]))[0]
    assert 0.1 < found[0] - found[1] < 0.3
    assert season.data_share > 0.2
    # a common level says nothing of a season
    level = fitted(surveyed=rounds(*days, ratios=np.full(6, 1.4), error=0.02))[0]
    assert level.coefficients[0] == pytest.approx(np.zeros(5), abs=1e-9)


def test_another_seed_moves_no_central_value():
    """Law: chance is in the draws alone, so a report drawn again says the same."""
    weeks, surveyed = weighed(summer(0.2)), rounds(10, 200, ratios=[1.1, 0.8])
    first, second = (
        fit_season(
            weeks, surveyed, TEMPERATURE, draws, stated_spread(draws), np.random.default_rng(seed)
        )
        for draws, seed in ((BELIEVED, 2), (triangle(9), 7))
    )
    assert np.array_equal(first.coefficients[0], second.coefficients[0])
    assert not np.allclose(first.coefficients[1:], second.coefficients[1:])


def test_what_moves_level_from_round_to_round_is_not_all_taken_for_season():
    """Law of a normal posterior: with one contrast its mean is shrunk by both variances."""
    surveyed = rounds(0, 182, ratios=np.exp([0.1, -0.1]), error=1e-6)
    season = fitted(surveyed=surveyed)[0]
    belief = TRIANGLE_SPREAD**2 * SEASONAL_VARIANCE_SHARE * VARIANCE_SHARES
    apart = np.diff(waves(surveyed.days, standardised(TEMPERATURE)), axis=0)[0]
    prior = apart**2 @ belief
    noise = 2.0 * (LEVEL_SPREAD**2 + TRIANGLE_SPREAD**2 * (1.0 - SEASONAL_VARIANCE_SHARE))
    found = np.diff(season.log_factor(surveyed.days)[0])
    assert found == pytest.approx(-0.2 * prior / (prior + noise), rel=0.05)


def test_a_belief_in_a_season_is_shared_out_whole_and_most_of_it_to_the_weather():
    assert VARIANCE_SHARES.sum() == pytest.approx(1.0)
    temperature, *waves_shares = VARIANCE_SHARES
    assert temperature == pytest.approx(sum(waves_shares))
    # sine and cosine of a wave alike, for nobody knows when it begins
    assert VARIANCE_SHARES[1] == VARIANCE_SHARES[2] > VARIANCE_SHARES[3] == VARIANCE_SHARES[4] > 0.0


def test_without_a_belief_nothing_follows_its_draws():
    rng = np.random.default_rng(2)
    contrast = np.array([1.0, 0.5, 0.0, 0.0, 0.0])
    found = _deviations(np.eye(5), 0.1, contrast, np.ones(1), np.ones(50), rng)
    assert np.isfinite(found).all()
    assert (found[0] == 0.0).all()
    along = found @ np.concatenate([contrast, [-1.0]])
    assert along == pytest.approx(np.zeros(50), abs=1e-9)


def test_where_every_month_is_as_warm_weeks_tell_of_the_waves_alone():
    weeks, surveyed = weighed(summer(0.3)), rounds(100)
    rng = np.random.default_rng(2)
    season = fit_season(weeks, surveyed, np.full(12, 15.0), BELIEVED, stated_spread(BELIEVED), rng)
    assert season.coefficients[0, 0] == 0.0
    swing = np.ptp(season.log_factor(YEAR)[0])
    assert 0.3 < swing <= 0.6
