"""Curves of groups: partial pooling that adds up to the town, against R and known truths."""

from __future__ import annotations

import shutil
import subprocess

import numpy as np
import pytest

from planner.diversion.groups import linearised_variances, partially_pooled
from planner.survey.interval_likelihood import Groups, Intervals, fit_log_times
from planner.survey.retention import TownCurve
from planner.survey.weibull import fit_groups
from tests.reference.breast_cosmesis import BOTH, RADIOTHERAPY

R_CALL = """
library(survival)
rows <- read.csv(file("stdin"), header = FALSE)
rows[, 2][is.infinite(rows[, 2])] <- NA
rows[, 1][rows[, 1] == 0] <- NA
fit <- survreg(Surv(rows[, 1], rows[, 2], type = "interval2") ~ rows[, 3], dist = "weibull",
               control = list(rel.tolerance = 1e-12, maxiter = 200))
cat(-coef(fit)[2] / fit$scale, 1 / fit$scale)
"""


@pytest.mark.skipif(shutil.which("Rscript") is None, reason="R is not here")
def test_hazard_ratio_of_two_treatments_is_that_of_r():
    """Breast cosmesis, see tests/reference; R's package survival, Weibull with a covariate."""
    alone = RADIOTHERAPY.lower.size
    both = Intervals(np.r_[RADIOTHERAPY.lower, BOTH.lower], np.r_[RADIOTHERAPY.upper, BOTH.upper])
    group = np.repeat([0, 1], [alone, BOTH.lower.size])
    rows = "\n".join(
        f"{low},{'Inf' if np.isinf(high) else high},{code}"
        for low, high, code in zip(both.lower, both.upper, group, strict=True)
    )
    run = subprocess.run(
        ["Rscript", "-e", R_CALL],  # noqa: S607 - the peer that stands on the path
        input=rows,
        capture_output=True,
        text=True,
        check=False,
    )
    if run.returncode:
        pytest.skip("R has no package survival")
    expected_ratio, expected_shape = map(float, run.stdout.split())
    groups = Groups(group, 2, 1e4, np.zeros((1, 2)))
    fit = fit_log_times(both, np.ones((1, group.size)), groups=groups)
    assert fit.shifts[0, 1] - fit.shifts[0, 0] == pytest.approx(expected_ratio, rel=1e-4)
    assert fit.slopes[0, 0] == pytest.approx(expected_shape, rel=1e-4)


def asked_twice(rng, count, hazard):
    """Bins that stop at a constant hazard, asked at two ages up to two years."""
    age = rng.exponential(1.0 / hazard, count)
    asked = np.sort(rng.uniform(1.0, 24.0, (count, 2)), axis=1)
    edges = np.c_[np.zeros(count), asked, np.full(count, np.inf)]
    place, row = (edges[:, 1:] < age[:, None]).sum(axis=1), np.arange(count)
    return edges[row, place], edges[row, place + 1]


def fitted(parts, draws=60, seed=1):
    rng = np.random.default_rng(seed)
    lower, upper = (np.concatenate([part[side] for part in parts]) for side in (0, 1))
    group = np.repeat(np.arange(len(parts)), [part[0].size for part in parts])
    weights = np.vstack([np.ones(group.size), rng.gamma(1.0, size=(draws, group.size))])
    found = fit_groups(Intervals(lower, upper), group, len(parts), weights, rng)
    shares = weights @ np.eye(len(parts))[group]
    return found, TownCurve(found.curves, shares / shares.sum(axis=1, keepdims=True))


def at_a_year(curve):
    return curve.in_use_share(np.array([12.0]))[:, 0]


def test_large_groups_that_differ_keep_their_difference():
    """Known truth: hazards of 2% and 6% a month; in use after a year 0.787 and 0.487."""
    rng = np.random.default_rng(3)
    found, _ = fitted([asked_twice(rng, 900, 0.02), asked_twice(rng, 900, 0.06)])
    for curve, hazard in zip(found.curves, (0.02, 0.06), strict=True):
        draws = at_a_year(curve)
        assert draws[0] == pytest.approx(np.exp(-12 * hazard), abs=3 * draws[1:].std())
    assert found.spread > 0.3


def test_a_group_of_five_leans_on_the_others_and_is_less_sure():
    rng = np.random.default_rng(4)
    few = np.r_[np.zeros(2), np.full(3, 12.0)], np.r_[np.full(2, 3.0), np.full(3, np.inf)]
    found, _ = fitted([asked_twice(rng, 600, 0.03), asked_twice(rng, 600, 0.03), few])
    large, _, small = (at_a_year(curve) for curve in found.curves)
    own = 3 / 5
    assert own < small[0] < large[0]
    assert small[1:].std() > 2 * large[1:].std()


def test_small_groups_do_not_move_the_town():
    """Known truth over 12 towns: 600 houses at 2% a month, 30 flats at 6%; the town 0.773."""
    true = (600 * np.exp(-0.24) + 30 * np.exp(-0.72)) / 630
    misses = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        parts = [asked_twice(rng, 600, 0.02), asked_twice(rng, 30, 0.06)]
        misses.append(at_a_year(fitted(parts, 2, seed)[1])[0] - true)
    assert abs(np.mean(misses)) < 3 * np.std(misses) / np.sqrt(12)


def test_a_group_without_answers_has_the_common_curve_and_the_spread_between_groups():
    rng = np.random.default_rng(5)
    nobody = np.zeros(0), np.zeros(0)
    found, _ = fitted([asked_twice(rng, 800, 0.02), asked_twice(rng, 800, 0.05), nobody], 400)
    first, second, none = (curve.level for curve in found.curves)
    assert first[0] < none[0] < second[0]
    between = (none[1:] - (first[1:] + second[1:]) / 2.0).std()
    assert between > 0.6 * found.spread


def test_feed_of_dwellings_adds_up_and_small_ones_are_shrunk():
    """By hand: variances 0.0001 and 0.04, spread 0.3 between: kept 0.999 and 0.69."""
    rng = np.random.default_rng(6)
    own = np.ones((4001, 3)) * [0.97, 1.5, np.nan]
    own[1:, :2] += rng.normal(size=(4000, 2)) * [0.01, 0.2]
    counted = np.tile([900.0, 60.0, 0.0], (4001, 1))
    relative, spread = partially_pooled(own, counted, np.array([0.0001, 0.04, np.inf]), rng)
    assert (counted * relative).sum(axis=1) == pytest.approx(counted.sum(axis=1))
    expected = np.sqrt(((0.03**2 - 0.0001) + (0.25 - 0.04)) / 2)
    assert spread == pytest.approx(expected, rel=0.02)
    kept = spread**2 / (spread**2 + 0.04)
    assert relative[0, 1] / relative[0, 0] == pytest.approx((1 + kept * 0.5) / 0.97, rel=0.01)
    assert relative[1:, 2].std() == pytest.approx(spread, rel=0.1)
    assert relative[1:, 1].std() == pytest.approx(np.sqrt(kept * 0.04), rel=0.15)


def test_linearised_variances_are_those_over_bootstrap_replicates_of_households():
    """Independent formulation: the ratio again in 20,000 bootstraps of 300 households."""
    rng = np.random.default_rng(7)
    household = np.arange(450) % 300
    group = np.stack([household % 5 < 3, household % 5 == 3, household % 5 == 4], axis=1)
    level = rng.gamma(4.0, 0.5, 300)
    values = level[household] * rng.gamma(8.0, 1 / 8, 450) * (1.0 + 0.4 * group[:, 1])
    weights = rng.uniform(1.0, 3.0, 450)
    drawn = rng.multinomial(300, np.full(300, 1 / 300), 20_000)[:, household] * weights
    own = (drawn * values) @ group / (drawn @ group)
    ratios = own / ((drawn @ values) / drawn.sum(axis=1))[:, None]
    found = linearised_variances(values, weights, group, household)
    assert found == pytest.approx(ratios.var(axis=0), rel=0.06)


def test_a_fit_does_not_depend_on_how_many_rows_are_taken_at_once(monkeypatch):
    rng = np.random.default_rng(6)
    seen = Intervals(*asked_twice(rng, 60, 0.05))
    weights = np.vstack([np.ones(60), rng.exponential(1.0, (6, 60))])
    fits = []
    for numbers in (1, 150, 10**6):
        monkeypatch.setattr("planner.survey.interval_likelihood.NUMBERS_AT_ONCE", numbers)
        fits.append(fit_log_times(seen, weights))
    assert fits[0].slopes == pytest.approx(fits[2].slopes, rel=1e-6)
    assert fits[1].slopes == pytest.approx(fits[2].slopes, rel=1e-6)
