"""Emissions by year: their sum over all years is the account's own, by another road."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from planner.emissions.account import emissions_avoided
from planner.emissions.activity import Activity, Supplies
from planner.emissions.drawn import draw_emission_factors
from planner.emissions.timeline import by_year_kg, methane_kg, net_by_year_t_co2e
from planner.factors import read_factors
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program
from tests.scraps_alone import NO_SUPPLIES

DRAWS = 40
SUPPLIES = Supplies(
    bins_given=np.array([[30.0, 12.0]]),
    bins_made=np.array([[30.0, 10.0]]),
    plastic_kg=np.array([6.0]),
    plastic_recycled_share=np.array([0.5]),
    service_life_years=np.array([10]),
    bedding_kg=np.array([40.0, 16.0]),
    worms_kg=np.array([8.0, 3.0]),
)


@pytest.fixture(scope="module")
def program():
    return read_program(TEMPLATES / PROGRAM_FILE)


@pytest.fixture(scope="module")
def factors(program):
    return draw_emission_factors(program, read_factors(), DRAWS, 1)


def activity(kept_out_kg, fed_kg, supplies, months):
    none = np.zeros_like(kept_out_kg)
    return Activity(kept_out_kg, fed_kg, none, none, none, none, none, supplies, months)


def test_over_all_years_it_is_the_hundred_years_of_each_year_in_turn(program, factors):
    kept_out = np.random.default_rng(1).uniform(0.0, 500.0, (1 + DRAWS, 24))
    fed = kept_out * 2.0
    starts = np.array([0, 12])
    net = net_by_year_t_co2e(kept_out, fed, SUPPLIES, factors, starts)
    assert net.shape == (1 + DRAWS, 2 + 100)
    expected = np.zeros(1 + DRAWS)
    for year in (0, 1):
        supplies = Supplies(
            SUPPLIES.bins_given[:, : year + 1],
            SUPPLIES.bins_made[:, : year + 1],
            SUPPLIES.plastic_kg,
            SUPPLIES.plastic_recycled_share,
            SUPPLIES.service_life_years,
            SUPPLIES.bedding_kg[: year + 1],
            SUPPLIES.worms_kg[: year + 1],
        )
        stop = 12 * (year + 1)
        one = activity(kept_out[:, :stop], fed[:, :stop], supplies, slice(stop - 12, stop))
        found = emissions_avoided(one, factors, program.emissions)
        expected += found.over_100_years.net_t_co2e
    assert net.sum(axis=1) == pytest.approx(expected, rel=1e-9)


def test_a_year_to_come_has_no_making_and_the_methane_of_what_was_kept_out_before(factors):
    kept_out = np.zeros((1 + DRAWS, 24))
    kept_out[:, 0] = 1000.0
    net = net_by_year_t_co2e(kept_out, kept_out, NO_SUPPLIES, factors, np.array([0, 12]))
    assert (net[:, 1:40] >= 0.0).all()
    assert (net[:, 1] > net[:, 30]).all()


def test_each_months_scraps_are_followed_for_a_hundred_years_of_their_own(program, factors):
    """The years add up to the account's hundred years, where waste rots so slowly that it shows."""
    slow = [
        replace(one, decay=replace(one.decay, rate_per_year=0.005)) for one in factors.landfills
    ]
    factors = SimpleNamespace(size=factors.size, landfills=slow)
    kept_out = np.random.default_rng(2).uniform(0.0, 500.0, (1 + DRAWS, 24))
    year = activity(kept_out, kept_out, NO_SUPPLIES, slice(12, 24))
    found = by_year_kg(year, factors)
    assert found.shape == (1 + DRAWS, 101)
    whole = methane_kg(kept_out, factors, "100_years", 12)
    assert found.sum(axis=1) == pytest.approx(whole, rel=1e-9)
