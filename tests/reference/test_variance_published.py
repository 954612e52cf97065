"""Shares of variance against functions whose indices are known in closed form.

- Ishigami function sin x1 + 7 sin² x2 + 0.1 x3⁴ sin x1, each x even on -π to π: first-order
  indices 0.3139, 0.4424 and 0 (Ishigami & Homma 1990, First International Symposium on
  Uncertainty Modeling and Analysis; Saltelli et al. 2008, Global Sensitivity Analysis: The
  Primer; from memory, and worked out below).
- Sobol's g-function, product of (|4u - 2| + a)/(1 + a): partial variances 1/(3 (1 + a)²)
  (Saltelli & Sobol 1995, Reliability Engineering & System Safety 50:225-239, from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from planner.factors.draws import share_of_one_number, variance_shares
from planner.report.figures.emissions import BY_CHANCE

DRAWS = 4096
NOISE = 0.02
"""Four standard errors of a share at so many draws (a covariance has some 1/√draws / 4)."""


def _ishigami_shares():
    mean_of_fourth, of_eighth = np.pi**4 / 5, np.pi**8 / 9
    first = (1 + 0.1 * mean_of_fourth) ** 2 / 2
    second = 49 / 8
    together = 0.01 * (of_eighth - mean_of_fourth**2) / 2
    total = first + second + together
    return first / total, second / total, 0.0


def test_closed_form_of_ishigami_is_what_is_published():
    assert _ishigami_shares() == pytest.approx([0.3139, 0.4424, 0.0], abs=5e-5)


def test_ishigami_from_given_draws_of_each_source():
    # The report gives rows of draws that exist already; a percentile chooses the row.
    x = np.pi * (2 * (np.random.default_rng(5).permutation(DRAWS) + 0.5) / DRAWS - 1)

    def result_of(percentiles):
        a, b, c = x[(percentiles.T * DRAWS).astype(int)]
        return (np.sin(a) + 7 * np.sin(b) ** 2 + 0.1 * c**4 * np.sin(a))[:, None]

    found = variance_shares(result_of, {"a": [0], "b": [1], "c": [2]}, DRAWS, 6)
    assert found.first_order[:, 0] == pytest.approx(_ishigami_shares(), abs=NOISE)


def test_sobol_s_product_with_a_source_of_several_numbers():
    importance = np.array([0.0, 1.0, 4.5, 9.0])
    partial = 1 / (3 * (1 + importance) ** 2)
    total = np.prod(1 + partial) - 1
    rest = np.prod(1 + partial[1:]) - 1

    def result_of(u):
        return np.prod((np.abs(4 * u - 2) + importance) / (1 + importance), axis=1)[:, None]

    found = variance_shares(result_of, {"first": [0], "rest": [1, 2, 3]}, DRAWS, 8)
    expected = [partial[0] / total, rest / total]
    assert found.first_order[:, 0] == pytest.approx(expected, abs=NOISE)
    assert found.total[:, 0] == pytest.approx(1 - np.array(expected[::-1]), abs=NOISE)


def test_a_product_of_even_factors_from_given_draws():
    # Var(E[Y|x_i]) = Var(x_i) times the other mean squared; x1 on 1 to 3, x2 on 0 to 1.
    rng = np.random.default_rng(9)
    first, second = rng.uniform(1, 3, DRAWS), rng.uniform(0, 1, DRAWS)
    result = first * second
    total = (1 / 3 + 4) * (1 / 12 + 1 / 4) - (2 * 0.5) ** 2
    expected = [(1 / 3) * 0.25 / total, (1 / 12) * 4 / total]
    found = [share_of_one_number(result, first), share_of_one_number(result, second)]
    assert found == pytest.approx(expected, abs=NOISE)


def test_a_factor_that_a_result_follows_bent_but_not_straight():
    # A parabola has no straight trend; its share must still be found. u even, (u - 1/2)².
    u = np.random.default_rng(10).random(DRAWS)
    other = np.random.default_rng(11).normal(0.0, np.sqrt(1 / 180), DRAWS)
    assert share_of_one_number((u - 0.5) ** 2 + other, u) == pytest.approx(0.5, abs=NOISE)


def test_nothing_varies_nothing_is_shared():
    same = np.ones(50)
    assert share_of_one_number(same, np.arange(50.0)) == 0.0
    assert share_of_one_number(np.arange(50.0), same) == 0.0
    found = variance_shares(lambda u: np.ones((len(u), 1)), {"a": [0], "b": [1]}, 64, 1)
    assert not found.first_order.any()
    assert not found.total.any()


def test_an_unrelated_factor_is_hardly_ever_given_more_than_chance():
    # The number of draws times the adjusted share is near a chi-square of three degrees of
    # freedom, one for each power of the fit, less three: above 8 once in 85 times.
    rng = np.random.default_rng(12)
    shares = [share_of_one_number(rng.normal(size=500), rng.random(500)) for _ in range(400)]
    found = np.mean(np.array(shares) * 500 > BY_CHANCE)
    expected = stats.chi2.sf(BY_CHANCE + 3, 3)
    assert found == pytest.approx(expected, abs=4 * np.sqrt(expected / 400))
