"""Retention from answers that tell only whether a bin of known age is in use."""

import numpy as np
import pytest
from scipy import optimize, stats

from planner.errors import EstimateError
from planner.survey.retention import Retention, fit_retention


def answers(shape: float, scale: float, n: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    age = np.round(rng.uniform(1, 30, n))
    return age, rng.weibull(shape, n) * scale > age


def test_known_curve_is_recovered() -> None:
    """Simulated truth: Weibull with shape 0.7 and scale 40 months; tolerance three SE."""
    age, in_use = answers(0.7, 40.0, 20_000, 1)
    fitted = fit_retention(age, in_use, np.ones((1, age.size)), np.random.default_rng(0))
    at = np.array([6.0, 12.0, 24.0])
    assert fitted.in_use_share(at)[0] == pytest.approx(np.exp(-((at / 40.0) ** 0.7)), abs=0.012)


def test_fit_is_the_maximum_of_the_stated_likelihood() -> None:
    """Independent formulation: the same penalised likelihood maximised by Nelder and Mead."""
    age, in_use = answers(0.8, 30.0, 300, 2)
    weights = np.random.default_rng(3).uniform(0.5, 2.0, 300)
    fitted = fit_retention(age, in_use, weights[None, :], np.random.default_rng(0))
    scaled = weights * 300 / weights.sum()
    middle = age[np.argmin(np.abs(age - np.average(age, weights=weights)))]

    def loss(parameters: np.ndarray) -> float:
        log_shape, log_scale = parameters
        shape = np.exp(log_shape)
        survive = np.exp(-((age / np.exp(log_scale)) ** shape))
        belief = np.exp(-((middle / np.exp(log_scale)) ** shape))
        data = scaled @ np.where(in_use, np.log(survive), np.log1p(-survive))
        return -(data + 0.5 * np.log(belief) + 0.5 * np.log1p(-belief) - log_shape**2 / 2)

    best = optimize.minimize(
        loss, [0.0, 3.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-11}
    )
    assert np.log(fitted.shape[0]) == pytest.approx(best.x[0], abs=1e-4)
    assert np.log(fitted.scale_months[0]) == pytest.approx(best.x[1], rel=1e-4)


@pytest.mark.parametrize("all_in_use", [True, False])
def test_fit_stays_finite_when_all_answers_agree(all_in_use: bool) -> None:
    age = np.linspace(1, 12, 60)
    fitted = fit_retention(age, np.full(60, all_in_use), np.ones((1, 60)), np.random.default_rng(0))
    share = fitted.in_use_share(np.array([6.0]))[0, 0]
    assert (share > 0.97) if all_in_use else (share < 0.03)


def test_share_never_rises_with_age_and_begins_at_one() -> None:
    curve = Retention(np.array([20.0, 5.0]), np.array([0.4, 2.0]), 1, 1, 1.0)
    share = curve.in_use_share(np.linspace(0, 60, 121))
    assert np.all(share[:, 0] == 1.0)
    assert np.all(np.diff(share, axis=1) <= 0.0)


def test_weights_count_as_repeated_answers() -> None:
    """Law: doubling an answer is the same as giving it twice the weight."""
    age, in_use = answers(0.9, 25.0, 80, 4)
    times = np.random.default_rng(5).integers(1, 4, 80)
    weighted = fit_retention(age, in_use, times[None, :].astype(float), np.random.default_rng(0))
    repeated = fit_retention(
        np.repeat(age, times),
        np.repeat(in_use, times),
        np.ones((1, times.sum())),
        np.random.default_rng(0),
    )
    # the two differ only in what the belief of one answer weighs against 80 or all of them
    assert weighted.in_use_share(np.array([12.0])) == pytest.approx(
        repeated.in_use_share(np.array([12.0])), abs=0.01
    )


def test_scale_of_weights_does_not_matter() -> None:
    age, in_use = answers(0.9, 25.0, 80, 4)
    one = fit_retention(age, in_use, np.ones((1, 80)), np.random.default_rng(0))
    thousand = fit_retention(age, in_use, np.full((1, 80), 1000.0), np.random.default_rng(0))
    assert one.shape == pytest.approx(thousand.shape, rel=1e-9)


def test_no_answer_is_an_error() -> None:
    with pytest.raises(EstimateError, match="follow-up"):
        fit_retention(
            np.array([]), np.array([], dtype=bool), np.ones((1, 0)), np.random.default_rng(0)
        )


def test_use_that_seems_to_rise_with_age_still_settles() -> None:
    """A law kept at its edge: the curve goes nearly flat, it never rises."""
    age = np.repeat([2.0, 20.0], 50)
    in_use = np.concatenate([np.arange(50) < 30, np.arange(50) < 45])
    fitted = fit_retention(age, in_use, np.ones((1, 100)), np.random.default_rng(0))
    share = fitted.in_use_share(np.array([2.0, 20.0]))[0]
    assert share[0] >= share[1]
    assert share.mean() == pytest.approx(0.75, abs=0.05)


def test_answers_that_all_agree_leave_an_interval() -> None:
    """Jeffreys' 95% interval for 20 of 20 is 0.883 to 1.000 (Beta(20.5, 0.5) quantiles)."""
    fitted = fit_retention(
        np.full(20, 6.0), np.ones(20, dtype=bool), np.ones((4001, 20)), np.random.default_rng(3)
    )
    low, high = np.percentile(fitted.in_use_share(np.array(6.0))[1:], [2.5, 97.5])
    assert low == pytest.approx(stats.beta.ppf(0.025, 20.5, 0.5), abs=0.02)
    assert high == pytest.approx(stats.beta.ppf(0.975, 20.5, 0.5), abs=0.01)
