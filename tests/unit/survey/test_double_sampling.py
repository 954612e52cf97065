"""Double sampling: which estimate, the weighted line, and what is refused."""

import numpy as np
import pytest

from planner.errors import EstimateError
from planner.survey.double_sampling import (
    LEAST_PAIRS_FOR_REGRESSION,
    choose_estimator,
    regression_rows,
)


def pairs(n, seed, intercept=0.0):
    rng = np.random.default_rng(seed)
    reported = rng.gamma(4.0, 0.5, n)
    return reported, intercept + 1.2 * reported + 0.2 * np.sqrt(reported) * rng.normal(size=n)


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
        regression_rows(np.array([1.0, 2.0]), np.array([1.0, 2.0]), np.ones((1, 2)))
    with pytest.raises(EstimateError, match="one and the same"):
        regression_rows(np.arange(3.0), np.arange(3.0), np.array([[1.0, 0.0, 0.0]]))


def test_pairs_that_all_report_the_same_have_no_line_and_take_the_ratio():
    weighed = np.linspace(1.0, 2.0, LEAST_PAIRS_FOR_REGRESSION)
    assert choose_estimator(np.full(weighed.size, 1.5), weighed) == "ratio"
