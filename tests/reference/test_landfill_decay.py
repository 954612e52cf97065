"""First-order decay of one tonne of wet food against values worked out apart.

Defaults of the IPCC 2006 Guidelines, volume 5, chapter 3 (DOC 0.15, F 0.5, MCF 1). Expected
values come from equations 3.1 to 3.6 worked step by step in a separate calculation:

    stock = deposited carbon; each year: methane = stock (1 - exp(-k)) F 16/12 (1 - OX);
    stock = stock exp(-k)

The rows with DOCf 0.7 were also given by an independent open implementation of the
Guidelines (MIT licence) for k 0.185: 11.822700, 9.825897, sum of fifty years 69.993272.
"""

from __future__ import annotations

import numpy as np
import pytest

from planner.emissions.landfill import Decay, methane_between_kg, methane_potential_kg
from tests.landfill_forms import monthly_methane_kg, yearly_methane_kg

ROWS = [
    # DOCf, k, OX, year 1, year 2, year 10, ten years, fifty years, limit
    (0.5, 0.185, 0.0, 8.444786, 7.018498, 1.597675, 42.138142, 49.995194, 50.0),
    (0.5, 0.185, 0.1, 7.600307, 6.316648, 1.437907, 37.924328, 44.995675, 45.0),
    (0.7, 0.185, 0.0, 11.822700, 9.825897, 2.236744, 58.993398, 69.993272, 70.0),
    (0.7, 0.185, 0.1, 10.640430, 8.843307, 2.013070, 53.094059, 62.993945, 63.0),
    (0.5, 0.06, 0.1, 2.620596, 2.467984, 1.527148, 20.303476, 42.759582, 45.0),
    (0.5, 0.40, 0.1, 14.835598, 9.944599, 0.405364, 44.175796, 45.000000, 45.0),
]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"DOCf {row[0]} k {row[1]} OX {row[2]}")
def test_methane_of_a_tonne_of_food_by_year(row):
    decomposing, rate, oxidised, *expected = row
    potential = methane_potential_kg(1000.0, 0.15, decomposing, 1.0, 0.5)
    decay = Decay(rate, oxidised_share=oxidised)
    by_year = yearly_methane_kg([potential], decay, years_count=51)
    assert by_year[0] == 0.0  # start month 13: nothing in the deposit year
    found = [by_year[1], by_year[2], by_year[10], by_year[1:11].sum(), by_year[1:].sum()]
    assert found == pytest.approx(expected[:-1], abs=5e-7)
    assert float(potential * decay.emitted_share(1e6)) == pytest.approx(expected[-1])


@pytest.mark.parametrize(
    ("start_month", "kg"), [(13, 0.0), (10, 2.25984), (7, 4.41754), (1, 8.44479)]
)
def test_methane_in_the_deposit_year_by_start_month(start_month, kg):
    # Annex 3A1: 1 - exp(-k (13 - M)/12) of 75 kg of decomposing carbon, k 0.185.
    found = yearly_methane_kg([75.0 * 0.5 * 16 / 12], Decay(0.185), start_month=start_month)
    assert found[0] == pytest.approx(kg, abs=5e-6)


def test_a_year_of_equal_months_decays_by_less_than_a_january_deposit():
    # k/12 for k, months for years (CDM TOOL04 version 8.1): 9.41% against 16.89%.
    by_month = monthly_methane_kg(np.full(12, 1 / 12), Decay(0.185))
    assert 100 * by_month.sum() == pytest.approx(9.41, abs=0.005)
    january = yearly_methane_kg([1.0], Decay(0.185), start_month=1)
    assert 100 * january[0] == pytest.approx(16.89, abs=0.005)


def test_six_months_from_mid_month_meet_the_yearly_form_of_start_month_13():
    # Deposits spread over a year begin to decay, on average, with the next year. What is
    # left is the curvature of exp over a year: k squared / 24 of the stock, under 0.15%.
    decay = Decay(0.185, delay_months=6.5)
    yearly = yearly_methane_kg([1.0, 0.0, 0.0], Decay(0.185), start_month=13)
    by_month = methane_between_kg(np.full(12, 1 / 12), decay, (0, 24))
    assert float(by_month[0]) == pytest.approx(yearly[:2].sum(), abs=0.0015)


def test_recovery_comes_off_before_oxidation():
    # Equation 3.1: (generated - recovered) (1 - OX); 40% caught, 10% of the rest oxidised.
    decay = Decay(0.185, oxidised_share=0.1, captured_share=(0.4,))
    assert float(decay.emitted_share(1e6)) == pytest.approx((1 - 0.4) * (1 - 0.1))
