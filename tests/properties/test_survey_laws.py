"""Laws of weights, estimates and draws that hold for any numbers."""

from __future__ import annotations

import numpy as np
import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.survey.calibration import Margin, rake
from planner.survey.drawing import draw_households, share_out_whole
from planner.survey.known_counts import weights_that_meet
from tests.unit.survey.replicate_rows import gamma_multipliers

SEEDS = st.integers(0, 2**32 - 1)
FEW = settings(max_examples=40)


def multipliers(rng, *, clusters=False):
    """Replicates of three strata of 4 to 8 units; with clusters, of one to three households."""
    units = np.repeat([0, 1, 2], rng.integers(4, 9, 3))
    size = rng.integers(1, 4, units.size) if clusters else np.ones(units.size, dtype=int)
    unit = np.repeat(np.arange(units.size), size)
    uniforms = rng.random((5, units.size))[:, unit]
    share = rng.uniform(0.0, 0.9, 3)
    return gamma_multipliers(uniforms, units[unit], share, unit), uniforms, units[unit], share, unit


@FEW
@given(SEEDS, st.booleans())
def test_the_order_of_the_rows_does_not_matter(seed, clusters):
    rng = np.random.default_rng(seed)
    found, uniforms, stratum, share, unit = multipliers(rng, clusters=clusters)
    order = rng.permutation(stratum.size)
    mixed = gamma_multipliers(uniforms[:, order], stratum[order], share, unit[order])
    np.testing.assert_allclose(mixed, found[:, order], rtol=1e-12)


@FEW
@given(SEEDS)
def test_multipliers_of_a_stratum_have_the_mean_one_and_a_cluster_has_one(seed):
    found, _, stratum, _, unit = multipliers(np.random.default_rng(seed), clusters=True)
    _, first = np.unique(unit, return_index=True)
    for code in range(3):
        own = first[stratum[first] == code]
        np.testing.assert_allclose(found[:, own].mean(axis=1), 1.0, rtol=1e-12)
    np.testing.assert_array_equal(found, found[:, first[unit]])
    assert found.min() >= 0.0


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
    base = np.ones((1, n))
    weights = rake(base, margins)
    for margin in margins:
        np.testing.assert_allclose(np.bincount(margin.cell, weights[0]), margin.counts, rtol=1e-9)
    np.testing.assert_allclose(rake(base, margins[::-1]), weights, rtol=1e-6)
    np.testing.assert_allclose(rake(base * 7.0, margins), weights, rtol=1e-6)


@FEW
@given(SEEDS)
def test_cut_weights_keep_sum_bound_and_counts(seed):
    rng = np.random.default_rng(seed)
    weights, cell = rng.lognormal(0.0, 1.5, (3, 80)), np.tile([0, 1], 40)
    margin = Margin("area", cell, ("N", "S"), np.array([100.0, 60.0]))
    final, _ = weights_that_meet(weights, np.ones_like(weights), [margin])
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
