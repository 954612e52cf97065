"""The rescaled bootstrap against the design variance that it must reproduce.

Two strata, {1, 4, 6} with weight 5 and {2, 3, 7, 8} with weight 3: small enough that every
resample can be listed (9 x 64 = 576). The variance over all of them must equal the textbook
variance of a stratified total (Cochran 1977, Sampling Techniques, section 5.4), which for
these numbers is 787 without and 588 with finite population correction; the first two lines
of the test recompute it by that formula.
"""

from itertools import product

import numpy as np
import pytest

from planner.survey.replicates import rao_wu_multipliers, rescaled

VALUES = (np.array([1.0, 4.0, 6.0]), np.array([2.0, 3.0, 7.0, 8.0]))
WEIGHTS = (5.0, 3.0)


def textbook_variance(with_correction: bool) -> float:
    total = 0.0
    for values, weight in zip(VALUES, WEIGHTS, strict=True):
        n = values.size
        correction = 1.0 - 1.0 / weight if with_correction else 1.0
        total += (n * weight) ** 2 * correction * values.var(ddof=1) / n
    return total


def every_resample(n: int) -> np.ndarray:
    """List the times drawn in each of the n^(n-1) ordered resamples of size n - 1."""
    return np.array([np.bincount(drawn, minlength=n) for drawn in product(range(n), repeat=n - 1)])


@pytest.mark.parametrize(("with_correction", "expected"), [(False, 787.0), (True, 588.0)])
def test_all_resamples_together_give_the_textbook_variance(
    with_correction: bool, expected: float
) -> None:
    assert textbook_variance(with_correction) == pytest.approx(expected, abs=1e-9)
    variance = 0.0
    for values, weight in zip(VALUES, WEIGHTS, strict=True):
        share = 1.0 / weight if with_correction else 0.0
        totals = rescaled(every_resample(values.size), share) @ values * weight
        assert totals.mean() == pytest.approx(values.sum() * weight, rel=1e-12)
        variance += np.mean((totals - values.sum() * weight) ** 2)
    assert variance == pytest.approx(expected, rel=1e-12)


def test_drawn_replicates_come_near_the_textbook_variance() -> None:
    stratum = np.repeat([0, 1], [3, 4])
    weight = np.repeat(WEIGHTS, [3, 4])
    replicates = 40_000
    multipliers = rao_wu_multipliers(
        stratum, 1.0 / np.array(WEIGHTS), replicates, np.random.default_rng(5)
    )
    totals = multipliers[1:] @ (weight * np.concatenate(VALUES))
    # relative standard error of a variance over R replicates is about sqrt(2 / R) = 0.7%
    assert totals.var() == pytest.approx(588.0, rel=0.04)
