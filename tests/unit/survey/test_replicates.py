"""Multipliers of the replicates."""

import numpy as np
import pytest
from scipy import stats

from planner.errors import EstimateError
from planner.survey.replicates import (
    BITS_OF_OCTAVE,
    LEAST_OCTAVE,
    OCTAVES,
    _lines_of_quantiles,
)
from tests.unit.survey.replicate_rows import gamma_multipliers


def test_three_units_follow_the_gamma_that_carries_their_variance() -> None:
    """For n = 3 the shape is 1/3; a multiplier over 3 is then Beta(1/3, 2/3) distributed."""
    uniforms = np.random.default_rng(1).random((50_000, 3))
    multipliers = gamma_multipliers(uniforms, np.zeros(3, dtype=np.int64), np.zeros(1))[1:]
    distance = stats.kstest(multipliers[:, 0] / 3.0, stats.beta(1 / 3, 2 / 3).cdf).statistic
    assert distance < 1.63 / np.sqrt(50_000)  # the 1% point of Kolmogorov's distribution


@pytest.mark.parametrize(("n", "draws_count"), [(3, 40_000), (10, 40_000), (400, 10_000)])
def test_variance_of_a_mean_is_that_of_simple_random_sampling(n: int, draws_count: int) -> None:
    """Cochran 1977, section 2.6: s² / n."""
    uniforms = np.random.default_rng(2).random((draws_count, n))
    values = np.random.default_rng(3).lognormal(size=n)
    multipliers = gamma_multipliers(uniforms, np.zeros(n, dtype=np.int64), np.zeros(1))
    means = multipliers[1:] @ values / n
    assert means.var() == pytest.approx(values.var(ddof=1) / n, rel=4 * np.sqrt(2 / draws_count))
    assert multipliers.min() >= 0.0


def test_a_unit_alone_is_too_few_and_an_empty_stratum_none() -> None:
    with pytest.raises(EstimateError, match="1 household"):
        gamma_multipliers(np.ones((4, 1)) / 2, np.zeros(1, dtype=np.int64), np.zeros(1))
    beside_an_empty_one = np.zeros(3, dtype=np.int64)
    assert gamma_multipliers(np.ones((4, 3)) / 2, beside_an_empty_one, np.zeros(2)).shape == (5, 3)


def test_two_units_are_too_few() -> None:
    with pytest.raises(EstimateError, match="2 households or clusters"):
        gamma_multipliers(np.ones((4, 2)) / 2, np.zeros(2, dtype=np.int64), np.zeros(1))


@pytest.mark.parametrize("households", [3, 5, 40])
def test_the_lines_between_gamma_quantiles_meet_them_up_to_the_last_part(households):
    """SciPy's own quantiles, at the middles of the parts, to one in 10^4 as the module says."""
    shape = (households - 2.0) / households
    begins, slopes = _lines_of_quantiles(shape)
    parts = 1 << BITS_OF_OCTAVE
    octave = np.exp2(np.arange(LEAST_OCTAVE, LEAST_OCTAVE + OCTAVES))
    drawn = np.outer(octave, 1.0 + (np.arange(parts) + 0.5) / parts).ravel()
    of_lines = begins + slopes * drawn
    exact = stats.gamma(shape).isf(np.exp(-drawn))
    usual = (drawn > 0.01) & (drawn < 700.0)
    assert of_lines[usual] == pytest.approx(exact[usual], rel=1e-3)
    assert usual[-parts:].all()
