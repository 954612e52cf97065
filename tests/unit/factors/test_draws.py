"""Draws follow their shapes: means and percentiles against closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.errors import FactorError
from planner.factors import read_factors
from planner.factors.draws import draw_factors

TABLE = read_factors()
DRAWS_COUNT = 4096


def _factor(shape: str, value: float, low: float, high: float, factor_id: str = "trial"):
    plain = TABLE.find("methane_share_of_gas")
    return replace(plain, factor_id=factor_id, shape=shape, value=value, low=low, high=high)


def _drawn(shape: str, value: float, low: float, high: float, seed: int = 1):
    return draw_factors([_factor(shape, value, low, high)], DRAWS_COUNT, seed)["trial"]


@pytest.mark.parametrize("shape", ["fixed", "uniform", "triangular", "normal", "lognormal"])
def test_index_zero_is_the_central_value(shape):
    values = _drawn(shape, 2.0, 1.0, 4.0)
    assert values.shape == (1 + DRAWS_COUNT,)
    assert values[0] == 2.0


def test_fixed_factors_do_not_move_within_a_printed_range():
    assert set(_drawn("fixed", 2.0, 1.0, 4.0)) == {2.0}


def test_uniform_mean_and_variance():
    values = _drawn("uniform", 2.0, 1.0, 4.0)[1:]
    assert values.mean() == pytest.approx((1 + 4) / 2, abs=1e-3)
    assert values.var() == pytest.approx((4 - 1) ** 2 / 12, rel=1e-3)


@pytest.mark.parametrize(("low", "mode", "high"), [(1, 2, 4), (0.9, 1, 1), (0, 6, 6), (1, 1, 3)])
def test_triangular_mean_and_variance(low, mode, high):
    values = _drawn("triangular", mode, low, high)[1:]
    squares = low**2 + mode**2 + high**2 - low * mode - low * high - mode * high
    assert values.mean() == pytest.approx((low + mode + high) / 3, rel=1e-3)
    assert values.var() == pytest.approx(squares / 18, rel=2e-3)
    assert low <= values.min() <= values.max() <= high


@pytest.mark.parametrize(("shape", "middle"), [("normal", 2.5), ("lognormal", 2.0)])
def test_low_and_high_of_a_bell_are_its_percentiles(shape, middle):
    values = _drawn(shape, middle, 1.0, 4.0)[1:]
    found = np.percentile(values, [2.5, 50.0, 97.5])
    assert found == pytest.approx([1.0, middle, 4.0], rel=5e-3)


def test_lognormal_mean():
    sigma = np.log(4.0 / 1.0) / (2 * 1.959964)
    values = _drawn("lognormal", 2.0, 1.0, 4.0)[1:]
    assert values.mean() == pytest.approx(2.0 * np.exp(sigma**2 / 2), rel=2e-3)


def test_same_seed_same_draws_other_seed_other_draws():
    first, again, other = (_drawn("uniform", 0.5, 0, 1, seed) for seed in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first[1:], other[1:])


def test_one_more_factor_leaves_the_others_as_they_are():
    first, second = _factor("uniform", 0.5, 0, 1, "a"), _factor("uniform", 0.5, 0, 1, "b")
    alone = draw_factors([second], 100, 7)
    together = draw_factors([first, second], 100, 7)
    assert np.array_equal(alone["b"], together["b"])


def test_editions_of_a_factor_share_their_percentiles():
    older, newer = (
        draw_factors([TABLE.find("food_decomposing_carbon_share", edition=edition)], 500, 3)
        for edition in ("ipcc_2006", "ipcc_2019")
    )
    ranks = [np.argsort(drawn["food_decomposing_carbon_share"][1:]) for drawn in (older, newer)]
    assert np.array_equal(*ranks)


def test_factors_are_independent_in_pairs():
    factors = [_factor("uniform", 0.5, 0, 1, name) for name in "abcdef"]
    drawn = np.array([values[1:] for values in draw_factors(factors, DRAWS_COUNT, 5).values()])
    between = np.corrcoef(drawn)[np.triu_indices(6, 1)]
    # four standard errors of a correlation of independent draws
    assert np.abs(between).max() < 4 / np.sqrt(DRAWS_COUNT)
    quarters = np.histogram2d(drawn[0], drawn[1], bins=2, range=[[0, 1], [0, 1]])[0]
    assert quarters.min() > DRAWS_COUNT / 4 * 0.9


@pytest.mark.parametrize("draws_count", [0, 1, 100, 1000])
def test_any_number_of_draws(draws_count):
    drawn = draw_factors([_factor("normal", 0.5, 0, 1)], draws_count, 0)["trial"]
    assert drawn.shape == (1 + draws_count,)
    assert np.isfinite(drawn).all()


def test_each_hundredth_of_the_range_is_drawn_about_equally_often():
    counts = np.histogram(_drawn("uniform", 0.5, 0, 1)[1:], bins=128, range=(0, 1))[0]
    assert set(counts) == {DRAWS_COUNT // 128}


def test_two_rows_of_one_id_are_refused():
    with pytest.raises(ValueError, match="different ids"):
        draw_factors([_factor("fixed", 1, 1, 1), _factor("fixed", 2, 2, 2)], 10, 0)


@pytest.mark.parametrize(("shape", "value"), [("beta", 1.5), ("uniform", 9.0)])
def test_a_shape_that_does_not_fit_is_named(shape, value):
    with pytest.raises(FactorError, match=rf"trial: found shape '{shape}'"):
        _drawn(shape, value, 1.0, 2.0)
