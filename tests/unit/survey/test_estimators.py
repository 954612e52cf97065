"""Estimates at the edges: empty domains, censuses, single answers, ties."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from planner.survey.estimators import Calibrated, Sample, means, quantiles, ratios, shares, totals
from planner.survey.intervals import korn_graubard_interval
from planner.survey.linearisation import Design

ONE_STRATUM = np.zeros(4, dtype=int)
ENDLESS = Design(ONE_STRATUM, np.zeros(1))
Y = np.array([1.0, 2.0, 3.0, 6.0])[:, None]


def test_an_empty_domain_is_null_and_never_nought():
    sample = Sample(np.ones(4), ENDLESS, np.array([0, 0, 0, 0]), 2)
    for found in (totals(Y, sample), means(Y, sample), shares(Y > 2, sample)):
        assert np.isfinite(found.value[0]).all()
        for name in ("value", "standard_error", "low", "high"):
            assert np.isnan(getattr(found, name)[1]).all(), name
        assert found.degrees_of_freedom.tolist() == [3.0, 0.0]
    median = quantiles(Y[:, 0], 0.5, sample)
    assert np.isnan(median.value[1]).all()


def test_rows_of_no_domain_are_left_out_of_values_and_kept_in_the_sample():
    # by hand: z = 1, 2, 0, 0 of four; mean 0.75, squares 2.75, times 4 / 3
    sample = Sample(np.ones(4), ENDLESS, np.array([0, 0, -1, -1]), 1)
    found = totals(Y, sample)
    assert found.value.item() == 3.0
    assert found.standard_error.item() == pytest.approx(np.sqrt(4 / 3 * 2.75), rel=1e-12)


def test_no_domain_at_all_is_null():
    sample = Sample(np.ones(4), ENDLESS, np.full(4, -1), 1)
    assert np.isnan(totals(Y, sample).value).all()
    assert np.isnan(quantiles(Y[:, 0], 0.5, sample).value).all()


def test_a_census_has_no_error():
    census = Sample.whole(np.ones(4), Design(ONE_STRATUM, np.ones(1)))
    for found in (totals(Y, census), means(Y, census), ratios(Y, Y + 1.0, census)):
        assert found.standard_error.item() == 0.0
        assert found.low.item() == found.value.item() == found.high.item()


def test_a_ratio_to_nothing_is_null():
    found = ratios(Y, np.zeros_like(Y), Sample.whole(np.ones(4), ENDLESS))
    assert np.isnan(found.value).all()


def test_a_share_of_everyone_or_nobody_has_the_exact_interval():
    # Clopper and Pearson: 0 of 4 reaches to 1 - 0.025 ** (1 / 4)
    nobody = shares(np.zeros((4, 1)), Sample.whole(np.ones(4), ENDLESS))
    assert (nobody.low.item(), nobody.high.item()) == pytest.approx((0.0, 1 - 0.025**0.25))
    everyone = shares(np.ones((4, 1)), Sample.whole(np.ones(4), ENDLESS))
    assert (everyone.low.item(), everyone.high.item()) == pytest.approx((0.025**0.25, 1.0))


def test_korn_graubard_of_a_simple_sample_is_clopper_and_pearson():
    # a simple sample's own error makes the effective size that of the sample; each end then
    # leaves 2.5% of the binomial distribution beyond what was found
    share, n = 437 / 980, 980.0
    error = np.sqrt(share * (1.0 - share) / n)
    low, high = korn_graubard_interval(
        np.array(share), np.array(error), np.array(n - 1.0), np.array(n)
    )
    assert stats.binom.sf(436, 980, low) == pytest.approx(0.025, rel=1e-6)
    assert stats.binom.cdf(437, 980, high) == pytest.approx(0.025, rel=1e-6)


def test_a_weighted_median_is_the_first_value_to_reach_the_half():
    design = Design(np.zeros(3, dtype=int), np.zeros(1))
    sample = Sample.whole(np.array([1.0, 1.0, 2.0]), design)
    assert quantiles(np.array([1.0, 2.0, 3.0]), 0.5, sample).value.item() == 2.0
    assert quantiles(np.array([1.0, 2.0, 3.0]), 0.51, sample).value.item() == 3.0


def test_interval_of_a_median_by_hand():
    # 101 values 0 to 100: share at or below the median 51 / 101; its error is
    # sqrt(0.504950 x 0.495050 / 100) = 0.0499975; t of 100 degrees is 1.983972, so 0.0991937 to
    # each side; the 41st and the 61st value are the first to reach 0.4008063 and 0.5991937
    design = Design(np.zeros(101, dtype=int), np.zeros(1))
    found = quantiles(np.arange(101.0)[::-1], 0.5, Sample.whole(np.full(101, 3.0), design))
    assert found.value.item() == 50.0
    assert (found.low.item(), found.high.item()) == (40.0, 60.0)


def test_calibrated_domains_add_up_to_the_calibrated_whole():
    rng = np.random.default_rng(4)
    n = 40
    design = Design(np.repeat([0, 1], 20), np.array([0.1, 0.2]))
    known, base = np.column_stack([np.ones(n), rng.random(n)]), rng.uniform(1.0, 3.0, n)
    y, domain = rng.normal(3.0, 1.0, (n, 1)), np.tile([0, 1], 20)
    calibrated = Calibrated(known, base)
    # a variable that is itself calibrated has no error in the whole, and some in a domain
    whole = totals(known, Sample.whole(base, design, calibrated))
    assert whole.standard_error[0] == pytest.approx([0.0, 0.0], abs=1e-9)
    parts = totals(known, Sample(base, design, domain, 2, calibrated))
    assert (parts.standard_error > 0.01).all()
    # what one domain gains the other loses
    assert parts.standard_error[0] == pytest.approx(parts.standard_error[1], rel=1e-9)
    assert totals(y, Sample(base, design, domain, 2, calibrated)).value.sum() == pytest.approx(
        base @ y[:, 0], rel=1e-12
    )


def test_intervals_hold_the_truth_as_often_as_they_say():
    """2000 stratified samples of a skewed population: 95% t intervals of the total."""
    rng = np.random.default_rng(11)
    population = [rng.gamma(2.0, scale, size) for scale, size in ((1.0, 400), (3.0, 200))]
    truth = sum(values.sum() for values in population)
    drawn_counts = (40, 40)
    stratum = np.repeat([0, 1], drawn_counts)
    design = Design(stratum, np.array([40 / 400, 40 / 200]))
    weights = np.repeat([10.0, 5.0], drawn_counts)
    held, studies = 0, 2000
    for _ in range(studies):
        y = np.concatenate(
            [rng.choice(v, n, replace=False) for v, n in zip(population, drawn_counts, strict=True)]
        )
        found = totals(y[:, None], Sample.whole(weights, design))
        held += found.low.item() <= truth <= found.high.item()
    # four standard errors of a share of 0.95, and half a point for the skew
    assert held / studies == pytest.approx(0.95, abs=0.005 + 4 * np.sqrt(0.95 * 0.05 / studies))
