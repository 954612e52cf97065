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

Exercise on a power plant with its solution (tutorsglobe.com, question 51108753, read): capital of
500,000 dollars, five years, 4,500 MWh a year, 60 dollars of other cost a MWh; the levelised cost
is 89.31 dollars a MWh at 10% and 85.66 at 5%, and 135,000 dollars a year leave a net present
value of 11,756.21 at 10%.

HM Treasury, Green Book, annex 6: discount factors at 3.5% to four digits (from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from planner.money.appraisal import Appraisal, benefit_cost_ratio, net_present_value, present_value

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


@pytest.mark.parametrize(("rate", "per_mwh"), [(0.10, 89.31), (0.05, 85.66)])
def test_the_levelised_cost_of_a_power_plant(rate: float, per_mwh: float):
    # what a tonne is to the program, a MWh is to the plant
    output = np.array([[0.0, *[4500.0] * 5]])
    cost = np.array([500_000.0, *[60.0 * 4500.0] * 5])
    none = np.zeros(6)
    plant = Appraisal(tuple(range(6)), output, none, none, cost)
    assert plant.levelised_cost_per_t(rate)[0] == pytest.approx(per_mwh, abs=CENT)


def test_the_net_present_value_of_the_same_plant():
    flows = [0.0, *[135_000.0] * 5]
    costs = [500_000.0, *[0.0] * 5]
    assert net_present_value(flows, costs, 0.10) == pytest.approx(11_756.21, abs=CENT)
