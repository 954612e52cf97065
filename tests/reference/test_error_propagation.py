"""Approach 1 of the IPCC 2006 Guidelines, volume 1, chapter 3, equations 3.1 and 3.2.

Factors of 20, 20, 5 and 10% (DOC, DOCf, F and MCF as the Guidelines' volume 5, Table 3.5, has
them in part from memory) give 30.41%. Other values are worked out by hand.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner import paths
from planner.emissions.account import emissions_avoided
from planner.emissions.choice import choose_emission_factors
from planner.emissions.drawn import draw_emission_factors
from planner.emissions.propagation import (
    approach_1_percent,
    product_uncertainty_percent,
    range_uncertainty_percent,
    sum_uncertainty_percent,
)
from planner.factors import read_factors
from planner.program import read_program
from tests.scraps_alone import scraps_alone

TABLE = read_factors()
PROGRAM = read_program(paths.TEMPLATES / "program.toml")


def test_four_factors_of_the_guidelines():
    assert product_uncertainty_percent([20, 20, 5, 10]) == pytest.approx(30.41, abs=0.005)


def test_a_sum_and_a_difference():
    # sqrt((3 x 40)² + (4 x 40)²)/80 and the same over 0.
    assert sum_uncertainty_percent([40, 40], [3, 4]) == pytest.approx(2.5)
    assert math.isinf(sum_uncertainty_percent([40, -40], [3, 4]))


def test_the_larger_side_of_an_uneven_range():
    assert range_uncertainty_percent(10.0, 9.0, 14.0) == pytest.approx(40.0)
    assert range_uncertainty_percent(-10.0, -12.0, -9.0) == pytest.approx(20.0)
    assert range_uncertainty_percent(0.0, 0.0, 0.0) == 0.0
    assert math.isinf(range_uncertainty_percent(0.0, -1.0, 1.0))


def _triangle_percentiles(low, mode, high):
    """Percentiles 2.5 and 97.5 of a triangular distribution (closed form)."""
    width = high - low
    lower = low + math.sqrt(0.025 * width * (mode - low)) if mode > low else math.nan
    upper = high - math.sqrt(0.025 * width * (high - mode)) if high > mode else math.nan
    return lower, upper


def test_the_bins_methane_is_its_factor_and_the_survey():
    rng = np.random.default_rng(2)
    fed_kg = np.concatenate([[[1000.0]], rng.normal(1000.0, 50.0, (20_000, 1))])
    activity = scraps_alone(0.5 * fed_kg, fed_kg, slice(0, 1))
    rows = choose_emission_factors(PROGRAM, TABLE)
    found = approach_1_percent(activity, rows, PROGRAM.emissions, "100_years")
    low, high = _triangle_percentiles(0.03, 4.0, 8.0)
    factor = 100 * max(4.0 - low, high - 4.0) / 4.0
    survey = 100 * 1.959964 * 50 / 1000
    assert found["bin_methane"] == pytest.approx(math.hypot(factor, survey), rel=0.01)


def test_beside_the_draws_it_is_of_the_same_size():
    # Wide and uneven ranges: the Guidelines ask for care above some 30%, so only the size.
    kg = np.full((4001, 12), 100.0)
    activity = scraps_alone(kg, kg, slice(0, 12))
    factors = draw_emission_factors(PROGRAM, TABLE, 4000, seed=3)
    line = emissions_avoided(activity, factors, PROGRAM.emissions).over_100_years
    methane = line.methane_avoided_t_co2e
    low, high = np.percentile(methane[1:], [2.5, 97.5])
    by_draws = 100 * (high - low) / 2 / methane[0]
    rows = choose_emission_factors(PROGRAM, TABLE)
    found = approach_1_percent(activity, rows, PROGRAM.emissions, "100_years")
    assert by_draws < found["landfill_methane"] < 1.5 * by_draws
