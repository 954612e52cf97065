"""Laws of weights, estimates and draws that hold for any numbers."""

from __future__ import annotations

import numpy as np
import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.survey.allocation import share_out, share_out_whole
from planner.survey.calibration import calibrate_bounded, rake
from planner.survey.drawing import draw_households
from planner.survey.estimators import Sample, means, quantiles, ratios, totals
from planner.survey.known_counts import meet_counts
from planner.survey.linearisation import Design
from planner.survey.margins import Margin

SEEDS = st.integers(0, 2**32 - 1)
FEW = settings(max_examples=40, deadline=None)
ESTIMATORS = (totals, means, lambda y, sample: ratios(y, y**2 + 1.0, sample))


def survey(seed, *, clusters=False):
    """Three strata of at least 4 units, four domains, weights and two variables."""
    rng = np.random.default_rng(seed)
    units = np.repeat([0, 1, 2], rng.integers(4, 9, 3))
    unit = np.repeat(np.arange(units.size), rng.integers(1, 4, units.size)) if clusters else None
    stratum = units[unit] if clusters else units
    design = Design(stratum, rng.uniform(0.0, 0.9, 3), unit)
    weights = rng.uniform(1.0, 20.0, stratum.size)
    domain = rng.integers(-1, 4, stratum.size)
    return Sample(weights, design, domain, 4), rng.normal(5.0, 2.0, (stratum.size, 2)), rng


def same(one, other, rel=1e-9):
    for name in ("value", "standard_error", "low", "high", "degrees_of_freedom"):
        a, b = getattr(one, name), getattr(other, name)
        np.testing.assert_allclose(a, b, rtol=rel, atol=1e-8, err_msg=name)


@FEW
@given(SEEDS, st.booleans())
def test_the_order_of_the_rows_does_not_matter(seed, clusters):
    sample, y, rng = survey(seed, clusters=clusters)
    order = rng.permutation(y.shape[0])
    design = sample.design
    unit = None if design.unit is None else design.unit[order]
    mixed = Sample(
        sample.weights[order],
        Design(design.stratum[order], design.sampling_share, unit),
        sample.domain[order],
        4,
    )
    for estimate in ESTIMATORS:
        same(estimate(y, sample), estimate(y[order], mixed))
    same(quantiles(y[:, 0], 0.5, sample), quantiles(y[order, 0], 0.5, mixed))


@FEW
@given(SEEDS, st.floats(0.01, 1000.0))
def test_weights_twice_as_large_double_totals_and_nothing_else(seed, factor):
    sample, y, _ = survey(seed)
    scaled = Sample(sample.weights * factor, sample.design, sample.domain, 4)
    one, other = totals(y, sample), totals(y, scaled)
    np.testing.assert_allclose(other.value, one.value * factor, rtol=1e-9)
    np.testing.assert_allclose(other.standard_error, one.standard_error * factor, rtol=1e-9)
    for estimate in ESTIMATORS[1:]:
        same(estimate(y, sample), estimate(y, scaled))
    same(quantiles(y[:, 0], 0.5, sample), quantiles(y[:, 0], 0.5, scaled))


@FEW
@given(SEEDS, st.floats(0.01, 1000.0), st.floats(-50.0, 50.0))
def test_a_change_of_unit_or_origin_changes_the_mean_alike(seed, factor, shift):
    sample, y, _ = survey(seed)
    one, other = means(y, sample), means(y * factor + shift, sample)
    np.testing.assert_allclose(other.value, one.value * factor + shift, rtol=1e-7, atol=1e-7)
    np.testing.assert_allclose(
        other.standard_error, one.standard_error * factor, rtol=1e-6, atol=1e-7
    )


@FEW
@given(SEEDS)
def test_domains_add_up_to_the_whole(seed):
    sample, y, _ = survey(seed)
    inside = (sample.domain >= 0) * 1.0
    whole = totals(y * inside[:, None], Sample.whole(sample.weights, sample.design))
    parts = totals(y, sample)
    np.testing.assert_allclose(np.nansum(parts.value, axis=0), whole.value[0], rtol=1e-9)


@FEW
@given(SEEDS)
def test_a_stratum_split_by_a_copy_of_itself_halves_the_variance(seed):
    """A second stratum that is the mirror of the first adds its variance to that of the whole."""
    sample, y, _ = survey(seed)
    one = Sample.whole(sample.weights, sample.design)
    design = Design(
        np.concatenate([sample.design.stratum, sample.design.stratum + 3]),
        np.tile(sample.design.sampling_share, 2),
    )
    both = Sample.whole(np.tile(sample.weights, 2), design)
    single, double = totals(y, one), totals(np.concatenate([y, y]), both)
    np.testing.assert_allclose(double.value, 2.0 * single.value, rtol=1e-9)
    np.testing.assert_allclose(double.standard_error**2, 2.0 * single.standard_error**2, rtol=1e-9)


@FEW
@given(SEEDS)
def test_rows_split_in_two_halves_change_nothing(seed):
    """A row of weight w is as good as two rows of weight w / 2 in the same unit."""
    sample, y, _ = survey(seed, clusters=True)
    design = sample.design
    twice = Sample(
        np.repeat(sample.weights / 2.0, 2),
        Design(np.repeat(design.stratum, 2), design.sampling_share, np.repeat(design.unit, 2)),
        np.repeat(sample.domain, 2),
        4,
    )
    for estimate in ESTIMATORS:
        same(estimate(y, sample), estimate(np.repeat(y, 2, axis=0), twice))


@FEW
@given(SEEDS)
def test_raking_meets_every_margin_in_any_order(seed):
    rng = np.random.default_rng(seed)
    n = 60
    truth = rng.uniform(1.0, 5.0, n)
    margins = []
    for name, cells in (("area", 3), ("dwelling", 2), ("people", 4)):
        cell = np.concatenate([np.arange(cells), rng.integers(0, cells, n - cells)])
        counts = np.bincount(cell, truth)
        margins.append(Margin(name, cell, tuple("abcd"[:cells]), counts))
    base = np.ones(n)
    weights = rake(base, margins)
    for margin in margins:
        np.testing.assert_allclose(np.bincount(margin.cell, weights), margin.counts, rtol=1e-9)
    np.testing.assert_allclose(rake(base, margins[::-1]), weights, rtol=1e-6)
    np.testing.assert_allclose(rake(base * 7.0, margins), weights, rtol=1e-6)


@FEW
@given(SEEDS)
def test_bounded_calibration_meets_totals_within_its_bounds(seed):
    rng = np.random.default_rng(seed)
    base, known = rng.uniform(1.0, 3.0, 50), np.column_stack([np.ones(50), rng.random(50)])
    wanted = known.T @ (base * rng.uniform(0.8, 1.25, 50))
    weights = calibrate_bounded(base, known, wanted, ("households", "people"), (0.5, 2.0))
    np.testing.assert_allclose(known.T @ weights, wanted, rtol=1e-9)
    assert np.all((weights / base > 0.5) & (weights / base < 2.0))


@FEW
@given(SEEDS)
def test_cut_weights_keep_sum_bound_and_counts(seed):
    rng = np.random.default_rng(seed)
    weights, cell = rng.lognormal(0.0, 1.5, (3, 80)), np.tile([0, 1], 40)
    margin = Margin("area", cell, ("N", "S"), np.array([100.0, 60.0]))
    final, _ = meet_counts(weights, np.ones_like(weights), [margin])
    sums = np.stack([final[:, cell == code].sum(axis=1) for code in (0, 1)], axis=1)
    np.testing.assert_allclose(sums, np.tile(margin.counts, (3, 1)), rtol=1e-9)
    # five times the mean is above twice either area's mean here
    assert final.max() <= 5.0 * 2.0 * (1.0 + 2e-3)
    assert final.min() >= 0.0


@FEW
@given(SEEDS, st.integers(20, 200))
def test_no_answer_moved_lowers_the_variance(seed, answers):
    rng = np.random.default_rng(seed)
    worth, most = rng.uniform(0.1, 9.0, 5), rng.integers(40, 90, 5)
    least = rng.integers(1, 4, 5)
    n = share_out_whole(answers, worth, least, most)
    assert n.sum() == answers
    assert np.all((n >= least) & (n <= most))
    gain = np.where(n < most, worth**2 / (n * (n + 1.0)), -np.inf)
    loss = np.where(n > least, worth**2 / (n * np.maximum(n - 1.0, 0.5)), np.inf)
    off_diagonal = ~np.eye(5, dtype=bool)
    assert np.all((gain[None, :] - loss[:, None] <= 1e-12)[off_diagonal])
    real = share_out(float(answers), worth, least.astype(float), most.astype(float))
    assert abs(real.sum() - answers) < 1e-9 * answers
    assert (worth**2 / real).sum() <= (worth**2 / n).sum() * (1.0 + 1e-12)


@FEW
@given(SEEDS)
def test_a_larger_draw_holds_the_smaller_and_row_order_does_not_matter(seed):
    rng = np.random.default_rng(seed)
    register = pl.DataFrame(
        {
            "household_id": [f"H{i:03d}" for i in range(90)],
            "stratum": rng.choice(["a", "b"], 90),
            "random_number": rng.random(90),
            "is_resting": rng.random(90) < 0.2,
        }
    )
    small = draw_households(register, {"a": 4, "b": 7})
    large = draw_households(register, {"a": 9, "b": 7})
    assert set(small["household_id"]) <= set(large["household_id"])
    shuffled = register.sample(fraction=1.0, shuffle=True, seed=seed)
    assert draw_households(shuffled, {"a": 4, "b": 7}).equals(small)
    # the weights add up to the register of the strata drawn from, those resting included
    assert abs((1.0 / small["inclusion_probability"]).sum() - 90.0) < 1e-9
