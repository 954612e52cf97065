"""Double sampling: laws of the two estimates and what they refuse."""

import numpy as np
import pytest

from planner.errors import EstimateError
from planner.survey.double_sampling import (
    choose_estimator,
    ratio_estimate,
    regression_estimate,
    regression_rows,
)

BOTH = pytest.mark.parametrize("estimate", [ratio_estimate, regression_estimate])


def pairs(n, seed, intercept=0.0):
    rng = np.random.default_rng(seed)
    reported = rng.gamma(4.0, 0.5, n)
    return reported, intercept + 1.2 * reported + 0.2 * np.sqrt(reported) * rng.normal(size=n)


@BOTH
def test_pairs_that_are_the_whole_first_phase_give_their_own_mean(estimate):
    """Law: with n2 = n1 nothing is gained, the variance is s_y² / n."""
    reported, weighed = pairs(40, 1)
    found = estimate(reported, reported, weighed)
    assert found.mean == pytest.approx(weighed.mean())
    assert found.standard_error == pytest.approx(weighed.std(ddof=1) / np.sqrt(40))


@BOTH
def test_units_scale_the_estimate(estimate):
    reported, weighed = pairs(40, 2)
    whole = np.random.default_rng(3).gamma(4.0, 0.5, 200)
    one, other = estimate(whole, reported, weighed), estimate(whole * 5, reported * 5, weighed * 7)
    assert other.mean == pytest.approx(7 * one.mean)
    assert other.standard_error == pytest.approx(7 * one.standard_error)


@BOTH
def test_intervals_hold_the_truth_about_as_often_as_they_say(estimate):
    """Truth 2.4; 600 surveys of 200 reports, 40 weighed; 95% by two standard errors."""
    held = []
    for seed in range(600):
        reported, weighed = pairs(200, seed + 10)
        found = estimate(reported, reported[:40], weighed[:40])
        held.append(abs(found.mean - 2.4) < 2.0 * found.standard_error)
    assert 0.92 < np.mean(held) < 0.98


def test_the_rule_takes_the_ratio_through_the_origin_and_the_regression_off_it():
    """The rule errs once in twenty where the line does go through the origin."""
    through = [choose_estimator(*pairs(60, seed)) for seed in range(200)]
    off = [choose_estimator(*pairs(60, seed, intercept=0.8)) for seed in range(200)]
    assert through.count("regression") < 25
    assert off.count("regression") > 180
    assert choose_estimator(*pairs(29, 1, intercept=0.8)) == "ratio"


def test_a_weighted_line_is_that_of_repeated_pairs():
    reported, weighed = pairs(15, 4)
    times = np.random.default_rng(5).integers(1, 4, 15)
    one = regression_rows(reported, weighed, times[None, :].astype(float))
    twice = np.repeat(reported, times), np.repeat(weighed, times)
    other = regression_rows(*twice, np.ones((1, times.sum())))
    assert np.array(one) == pytest.approx(np.array(other))


def test_pairs_that_carry_no_line_are_refused():
    with pytest.raises(EstimateError, match="calibration needs 3"):
        ratio_estimate(np.ones(9), np.array([1.0, 2.0]), np.array([1.0, 2.0]))
    with pytest.raises(EstimateError, match="one and the same"):
        regression_rows(np.arange(3.0), np.arange(3.0), np.array([[1.0, 0.0, 0.0]]))
