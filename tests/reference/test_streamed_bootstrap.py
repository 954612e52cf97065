"""The streamed bootstrap and the jackknife against the design variance of a stratified total.

The strata of tests/reference/test_rescaled_bootstrap.py: {1, 4, 6} with weight 5 and
{2, 3, 7, 8} with weight 3, whose total of 115 has the variance 787 without and 588 with finite
population correction (Cochran 1977, Sampling Techniques, section 5.4; worked by hand there).
"""

from __future__ import annotations

import numpy as np
import pytest

from planner.errors import EstimateError
from planner.survey.jackknife import jackknife_multipliers, jackknife_variance
from planner.survey.linearisation import Design, covariance
from planner.survey.streamed_bootstrap import bootstrap_totals

Y = np.array([1.0, 4.0, 6.0, 2.0, 3.0, 7.0, 8.0])
WEIGHTS = np.repeat([5.0, 3.0], [3, 4])
Z = (WEIGHTS * Y)[:, None]
STRATUM = np.repeat([0, 1], [3, 4])
SHARES = {787.0: np.zeros(2), 588.0: np.array([1 / 5, 1 / 3])}
CASES = pytest.mark.parametrize("variance", SHARES)


@CASES
def test_linearisation_and_jackknife_are_exact(variance):
    design = Design(STRATUM, SHARES[variance])
    assert covariance(Z, design).item() == pytest.approx(variance, rel=1e-12)
    totals = jackknife_multipliers(design) @ Z[:, 0]
    assert totals[0] == pytest.approx(115.0, rel=1e-12)
    assert jackknife_variance(totals, design) == pytest.approx(variance, rel=1e-12)


@CASES
def test_replicates_have_the_design_variance(variance):
    design = Design(STRATUM, SHARES[variance])
    totals = bootstrap_totals(Z, design, 200_000, np.random.SeedSequence(2))[:, 0]
    assert totals[0] == pytest.approx(115.0, rel=1e-12)
    # over R replicates a variance has a relative standard error near sqrt(2 / R) = 0.32%
    assert np.mean((totals[1:] - 115.0) ** 2) == pytest.approx(variance, rel=0.015)
    assert totals[1:].mean() == pytest.approx(115.0, abs=5 * np.sqrt(variance / 200_000))


def test_replicates_are_those_that_resampling_can_give():
    # a stratum of three units, two drawn: six sums of two; times n / (n - 1) = 1.5
    values = np.array([1.0, 10.0, 100.0])[:, None]
    design = Design(np.zeros(3, dtype=int), np.zeros(1))
    totals = bootstrap_totals(values, design, 3000, np.random.SeedSequence(3))[1:, 0]
    found, times = np.unique(totals.round(6), return_counts=True)
    assert found.tolist() == [3.0, 16.5, 30.0, 151.5, 165.0, 300.0]
    expected = np.array([1, 2, 1, 2, 2, 1]) / 9
    # five standard errors of a share over 3000 draws
    assert times / 3000 == pytest.approx(expected, abs=5 * np.sqrt(0.25 / 3000))


def test_clusters_are_drawn_whole():
    unit = np.array([0, 0, 1, 2, 2, 3, 3])
    design = Design(np.repeat([0, 1], [3, 4]), np.zeros(2), unit)
    totals = bootstrap_totals(Z, design, 100_000, np.random.SeedSequence(4))[1:, 0]
    assert totals.var() == pytest.approx(covariance(Z, design).item(), rel=0.03)


def test_threads_and_blocks_do_not_change_the_draws():
    rng = np.random.default_rng(5)
    design = Design(rng.integers(0, 7, 4000), np.full(7, 0.3))
    z = rng.random((4000, 2))
    one, two = (
        bootstrap_totals(z, design, 300, np.random.SeedSequence(6), workers) for workers in (1, 2)
    )
    assert np.array_equal(one, two)


def test_a_census_has_no_error():
    design = Design(STRATUM, np.ones(2))
    totals = bootstrap_totals(Z, design, 10, np.random.SeedSequence(7))
    assert np.all(totals == 115.0)


def test_a_single_unit_is_refused():
    with pytest.raises(EstimateError, match="one unit"):
        bootstrap_totals(
            np.ones((1, 1)),
            Design(np.array([0]), np.zeros(1), single_unit="certainty"),
            10,
            np.random.SeedSequence(1),
        )
