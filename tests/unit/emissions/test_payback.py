"""What giving one bin emits, and the scraps that repay it."""

from __future__ import annotations

import numpy as np
import pytest

from planner import paths
from planner.emissions.activity import (
    Supplies,
    bin_gases_kg_co2e_per_t,
    bin_making_kg_co2e,
    supply_lines,
)
from planner.emissions.drawn import draw_emission_factors
from planner.emissions.timeline import methane_avoided_kg_co2e_per_t, payback
from planner.factors import read_factors
from planner.program import read_program

TEMPLATE = read_program(paths.TEMPLATES / "program.toml")
NO_WELLS = TEMPLATE.landfill.model_copy(update={"gas_capture": TEMPLATE.landfill.gas_capture[:1]})
STATED = TEMPLATE.emissions.model_copy(
    update={
        "supplier_km": 0.0,
        "delivery_km": 0.0,
        "household_trip_km": 0.0,
    }
)
PROGRAM = TEMPLATE.model_copy(update={"landfill": NO_WELLS, "emissions": STATED})
FACTORS = draw_emission_factors(PROGRAM, read_factors(), 100, seed=1)


def test_a_recycled_bin_of_six_kilograms_is_repaid_by_about_ten_of_scraps():
    """10.6 kg CO2-e of plastic (UK Government conversion factors 2025) over 1,084 kg a tonne.

    1,260 kg of landfill methane (45 kg at 28) less 175.6 kg of composting's gases.
    """
    making = bin_making_kg_co2e(FACTORS, 6.0, 1.0, 0.0, 0.0)
    assert making[0] == pytest.approx(6 * (1.77079099 + 0.00898311))
    net = methane_avoided_kg_co2e_per_t(FACTORS) - bin_gases_kg_co2e_per_t(FACTORS)
    assert net[0] == pytest.approx(1084.4, abs=0.05)
    assert payback(making, net).fed_kg[0] == pytest.approx(9.8, abs=0.05)


def test_new_plastic_bedding_worms_freight_and_the_trip_add_to_it():
    factors = draw_emission_factors(TEMPLATE, read_factors(), 0, seed=1)
    found = bin_making_kg_co2e(factors, 4.0, 0.25, 2.0, 0.5)
    plastic = 4 * (0.75 * 3.09515524 + 0.25 * 1.77079099 + 0.00898311)
    freight = 6.5 * (500 * (0.10163 + 0.02359) + 30 * (0.6313 + 0.15095)) / 1000
    expected = plastic + 2 * 0.11208811 + 0.5 * 2.0 + freight + 4 * 0.15473
    assert found[0] == pytest.approx(expected)


def test_scraps_that_avoid_nothing_never_repay():
    never = payback(np.full(101, 10.0), np.full(101, -5.0))
    assert never.fed_kg == (np.inf, np.inf, np.inf)
    assert never.never_share == 1.0


def test_draws_that_never_repay_open_the_interval_upwards():
    net = np.concatenate([[100.0], np.full(90, 100.0), np.full(10, -1.0)])
    found = payback(np.full(101, 10.0), net)
    assert found.fed_kg == (100.0, 100.0, np.inf)
    assert found.never_share == pytest.approx(0.1)


def test_an_interval_that_touches_draws_that_never_repay_has_no_upper_end():
    # 3 of 100 never repay: the 97.5th percentile lies between the last that does and them.
    net = np.concatenate([[500.0], np.full(97, 500.0), np.zeros(3)])
    found = payback(np.full(101, 10.0), net)
    assert found.fed_kg == (20.0, 20.0, np.inf)
    assert found.never_share == pytest.approx(0.03)


def test_the_interval_of_a_payback_is_that_of_95_draws_in_a_hundred():
    """A tonne avoids 1,000 kg, so each draw repays as many kilograms as were made."""
    found = payback(np.r_[7.0, np.arange(1001.0)], np.full(1002, 1000.0))
    assert found.fed_kg == (7.0, 25.0, 975.0)
    # a third never repay: the upper end is none
    some = payback(np.ones(901), np.r_[1.0, np.repeat([1.0, 0.0, 1.0], 300)])
    assert some.fed_kg[2] == np.inf
    assert some.never_share == pytest.approx(1.0 / 3.0)


def test_one_draw_alone_is_its_own_interval():
    found = payback(np.array([10.0, 20.0]), np.array([1000.0, 1000.0]))
    assert found.fed_kg == (10.0, 20.0, 20.0)


def test_what_was_given_out_in_the_last_year_or_in_all_is_charged_by_its_mass():
    """By hand: 10 bins of 4 kg, a quarter recycled, then 2 back out again; 3 + 5 kg of bedding."""
    supplies = Supplies(
        bins_given=np.array([[10.0, 2.0]]),
        bins_made=np.array([[10.0, 0.0]]),
        plastic_kg=np.array([4.0]),
        plastic_recycled_share=np.array([0.25]),
        service_life_years=np.array([10]),
        bedding_kg=np.array([3.0, 5.0]),
        worms_kg=np.array([1.0, 0.5]),
    )
    factors = draw_emission_factors(TEMPLATE, read_factors(), 0, seed=1)
    last = {name: kg[0] for name, kg in supply_lines(supplies, factors, "in_year").items()}
    freight = (500 * (0.10163 + 0.02359) + 30 * (0.6313 + 0.15095)) / 1000
    assert last == pytest.approx(
        {
            "bin_plastic": 0.0,
            "bin_disposal": 0.0,
            "bedding": 5 * 0.11208811,
            "worm_supply": 0.5 * 2.0,
            "freight": (2 * 4 + 5 + 0.5) * freight,
            "household_trips": 2 * 4 * 0.15473,
        }
    )
    every = {name: kg[0] for name, kg in supply_lines(supplies, factors, "to_date").items()}
    assert every["bedding"] == pytest.approx(8 * 0.11208811)
    assert every["bin_plastic"] == pytest.approx(30 * 3.09515524 + 10 * 1.77079099)
