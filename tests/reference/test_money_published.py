"""Present values against published worked examples.

Sources
-------
OMB Circular A-94, revised November 2023, appendix B, section 1, sample format for
discounting deferred costs and benefits: real flows of ten years at 3.1%, each at the end of
its year; costs 123.37, benefits 184.92, discounted net benefits 61.55 (read as quoted in the
tests of an open-source calculator).

Parliamentary Library of Australia, FlagPost, October 2018, Discount rates for Commonwealth
infrastructure projects: 100 dollars in ten years are worth 67.56 at 4% and 38.55 at 10%.

NumPy 1.17, reference of numpy.npv, after Gitman, Principles of Managerial Finance, 3rd ed.,
p. 346: five flows at 28.1% are worth -0.0084785916384548798.

HM Treasury, Green Book, annex 6: discount factors at 3.5% to four digits (from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from planner.money import benefit_cost_ratio, net_present_value, present_value

COSTS = [0, 10, 20, 30, 30, 20, 10, 5, 5, 5, 5]
BENEFITS = [0, 0, 0, 5, 10, 30, 40, 40, 40, 40, 25]
CENT = 0.005
"""Half of the last digit printed."""


def test_the_sample_of_circular_a_94():
    rate = 0.031
    assert present_value(COSTS, rate) == pytest.approx(123.37, abs=CENT)
    assert present_value(BENEFITS, rate) == pytest.approx(184.92, abs=CENT)
    assert net_present_value(BENEFITS, COSTS, rate) == pytest.approx(61.55, abs=CENT)
    assert benefit_cost_ratio(BENEFITS, COSTS, rate) == pytest.approx(184.92 / 123.37, abs=2e-4)


@pytest.mark.parametrize(("rate", "worth"), [(0.04, 67.56), (0.10, 38.55)])
def test_a_hundred_dollars_in_ten_years(rate: float, worth: float):
    assert present_value([0.0] * 10 + [100.0], rate) == pytest.approx(worth, abs=CENT)


def test_flows_of_the_numpy_reference():
    flows = [-100, 39, 59, 55, 20]
    assert present_value(flows, 0.281) == pytest.approx(-0.0084785916384548798, abs=1e-12)


@pytest.mark.parametrize(
    ("year", "factor"), [(1, 0.9662), (5, 0.8420), (10, 0.7089), (20, 0.5026), (30, 0.3563)]
)
def test_discount_factors_of_the_green_book(year: int, factor: float):
    assert present_value(np.eye(year + 1)[year], 0.035) == pytest.approx(factor, abs=5e-5)
