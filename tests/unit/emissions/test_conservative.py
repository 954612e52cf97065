"""The variant with every factor at the end that lowers the net."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from planner import paths
from planner.emissions.account import account_on
from planner.emissions.activity import BASES
from planner.emissions.choice import choose_emission_factors
from planner.emissions.drawn import draw_emission_factors, emission_factors
from planner.emissions.propagation import (
    approach_1_percent,
    conservative_basis,
    product_uncertainty_percent,
    range_uncertainty_percent,
    sum_uncertainty_percent,
)
from planner.factors import read_factors
from planner.factors.draws import quantile
from planner.program import read_program
from tests.scraps_alone import scraps_alone

TABLE = read_factors()
PROGRAM = read_program(paths.TEMPLATES / "program.toml")
ROWS = choose_emission_factors(PROGRAM, TABLE)
KG = np.full((201, 24), 1000.0)
ACTIVITY = scraps_alone(0.8 * KG, KG, slice(12, 24))


@pytest.mark.parametrize("basis", BASES)
def test_no_draw_of_the_factors_lies_below_it(basis):
    factors = draw_emission_factors(PROGRAM, TABLE, 200, seed=2)
    drawn = account_on(ACTIVITY, factors, PROGRAM.emissions, basis).net_t_co2e
    lowest = conservative_basis(ACTIVITY, ROWS, PROGRAM.emissions, basis)[0].net_t_co2e
    assert lowest.shape == (1,)
    assert lowest[0] < drawn.min()


def test_it_is_the_lowest_of_all_corners_of_the_ranges():
    # Of four factors at once, the rest at their conservative ends: all sixteen corners.
    basis, ends = conservative_basis(ACTIVITY, ROWS, PROGRAM.emissions, "100_years")
    names = (
        "food_degradable_carbon_share",
        "food_decay_rate_per_year",
        "captured_multiplier",
        "compost_methane_g_per_kg",
    )
    one = scraps_alone(0.8 * KG[:1], KG[:1], slice(12, 24))
    limits = {row.factor_id: row.limits for row in ROWS.every}

    def net(values):
        factors = emission_factors(
            ROWS, lambda row: np.array([values.get(row.factor_id, row.value)])
        )
        return account_on(one, factors, PROGRAM.emissions, "100_years").net_t_co2e[0]

    corners = [
        net({**ends, **dict(zip(names, corner, strict=True))})
        for corner in itertools.product(*(limits[name] for name in names))
    ]
    assert basis.net_t_co2e[0] == pytest.approx(min(corners))


def test_factors_of_lines_outside_the_net_are_not_named():
    _, ends = conservative_basis(ACTIVITY, ROWS, PROGRAM.emissions, "in_year")
    assert "incineration_nitrous_oxide_g_per_kg" not in ends
    assert "castings_carbon_kg_co2e_per_t" not in ends
    assert ends["compost_methane_g_per_kg"] == 8.0
    assert ends["food_degradable_carbon_share"] == 0.08


@pytest.mark.parametrize("stands_at", [0, 1])
@pytest.mark.parametrize(
    ("name", "lowers"), [("compost_methane_g_per_kg", 1), ("food_degradable_carbon_share", 0)]
)
def test_a_factor_whose_value_is_one_end_of_its_range_still_goes_to_the_end_that_lowers(
    name, lowers, stands_at
):
    # the bins' methane lowers the net where it is high, carbon in the scraps where it is low
    row = ROWS.shared[name]
    at_one_end = replace(row, value=row.limits[stands_at])
    rows = replace(ROWS, shared={**ROWS.shared, name: at_one_end})
    found, ends = conservative_basis(ACTIVITY, rows, PROGRAM.emissions, "100_years")
    usual, _ = conservative_basis(ACTIVITY, ROWS, PROGRAM.emissions, "100_years")
    assert ends[name] == row.limits[lowers]
    assert found.net_t_co2e == pytest.approx(usual.net_t_co2e)


def test_approach_1_joins_the_ranges_of_factors_and_lines_as_the_guidelines_do():
    """Of a line that is a product of factors, by hand; the survey is certain here."""
    found = approach_1_percent(ACTIVITY, ROWS, PROGRAM.emissions, "100_years")
    names = ("compost_methane_g_per_kg", "methane_gwp100")
    ranges = [
        range_uncertainty_percent(row.value, *quantile(row, np.array([0.025, 0.975])))
        for row in ROWS.every
        if row.factor_id in names and row.shape != "fixed"
    ]
    assert ranges
    # scraps alone: nothing was given out, so that these lines are nothing and have no uncertainty
    assert not {"bedding", "worm_supply", "bin_plastic"} & set(found)
    assert found["bin_methane"] == pytest.approx(product_uncertainty_percent(ranges))
    central = emission_factors(ROWS, lambda row: np.array([row.value]))
    account = account_on(ACTIVITY.picked(np.zeros(1, int)), central, PROGRAM.emissions, "100_years")
    lines = [name for name in found if name != "net"]
    amounts = [float(account.lines[name][0]) for name in lines]
    whole = sum_uncertainty_percent(amounts, [found[name] for name in lines])
    assert found["net"] == pytest.approx(whole)
    # what the survey leaves open comes on top: half of 10% to either side, squared
    open_kg = KG * np.linspace(0.9, 1.1, 201)[:, None]
    open_kg[0] = 1000.0
    unsure = replace(ACTIVITY, kept_out_kg=0.8 * open_kg, fed_kg=open_kg)
    wider = approach_1_percent(unsure, ROWS, PROGRAM.emissions, "100_years")
    by_survey = 100 * 0.1 * 0.95
    expected = product_uncertainty_percent([*ranges, by_survey])
    assert wider["bin_methane"] == pytest.approx(expected, rel=0.01)
