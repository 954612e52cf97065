"""The three bases against sums worked out month by month."""

from __future__ import annotations

import numpy as np
import pytest

from planner import paths
from planner.emissions import (
    bin_gases_kg_co2e_per_t,
    draw_emission_factors,
    emissions_avoided,
    methane_avoided_kg_co2e_per_t,
    monthly_methane_kg,
)
from planner.factors import read_factors
from planner.program import read_program

PROGRAM = read_program(paths.TEMPLATES / "program.toml")
DRAWS_COUNT = 20
FACTORS = draw_emission_factors(PROGRAM, read_factors(), DRAWS_COUNT, seed=4)
MONTHS = 30
YEAR = slice(18, 30)
KEPT_OUT_KG = np.random.default_rng(1).uniform(0, 900, (1 + DRAWS_COUNT, MONTHS))
FED_KG = KEPT_OUT_KG * 1.3
AVOIDED = emissions_avoided(KEPT_OUT_KG, FED_KG, FACTORS, YEAR)


def _series_t_co2e(kept_out_kg):
    potential_kg = kept_out_kg * FACTORS.methane_potential_kg_per_kg[:, None]
    series_kg = monthly_methane_kg(potential_kg, FACTORS.decay, months_count=MONTHS + 1200)
    return series_kg * FACTORS.methane_gwp100[:, None] / 1000


def test_in_year_and_to_date_are_sums_of_the_monthly_series():
    series = _series_t_co2e(KEPT_OUT_KG)
    in_year = series[:, 18:30].sum(axis=1)
    to_date = series[:, :30].sum(axis=1)
    assert AVOIDED.in_year.methane_avoided_t_co2e == pytest.approx(in_year)
    assert AVOIDED.to_date.methane_avoided_t_co2e == pytest.approx(to_date)


def test_hundred_years_follow_the_scraps_of_the_year_alone():
    per_t = methane_avoided_kg_co2e_per_t(FACTORS)
    expected = KEPT_OUT_KG[:, YEAR].sum(axis=1) / 1000 * per_t / 1000
    assert AVOIDED.over_100_years.methane_avoided_t_co2e == pytest.approx(expected)


def test_years_of_the_chart_follow_the_monthly_series_and_add_up_to_the_basis():
    of_the_year = np.zeros_like(KEPT_OUT_KG)
    of_the_year[:, YEAR] = KEPT_OUT_KG[:, YEAR]
    by_year = _series_t_co2e(of_the_year)[:, 18 : 18 + 12 * 50].reshape(-1, 50, 12).sum(axis=2)
    found = AVOIDED.methane_by_year_t_co2e
    assert found.shape == (1 + DRAWS_COUNT, 101)
    assert found[:, :50] == pytest.approx(by_year, abs=1e-12)
    assert found.sum(axis=1) == pytest.approx(AVOIDED.over_100_years.methane_avoided_t_co2e)


def test_bins_gases_come_from_what_is_fed_on_the_same_basis():
    per_kg = bin_gases_kg_co2e_per_t(FACTORS) / 1000
    year_kg, all_kg = FED_KG[:, YEAR].sum(axis=1), FED_KG.sum(axis=1)
    assert AVOIDED.in_year.bin_gases_t_co2e == pytest.approx(year_kg / 1000 * per_kg)
    assert AVOIDED.over_100_years.bin_gases_t_co2e == pytest.approx(year_kg / 1000 * per_kg)
    assert AVOIDED.to_date.bin_gases_t_co2e == pytest.approx(all_kg / 1000 * per_kg)


def test_net_takes_the_bins_gases_off():
    basis = AVOIDED.over_100_years
    expected = (
        basis.methane_avoided_t_co2e - basis.bin_methane_t_co2e - basis.bin_nitrous_oxide_t_co2e
    )
    assert basis.net_t_co2e == pytest.approx(expected)


def test_a_first_year_shorter_than_twelve_months():
    short = emissions_avoided(KEPT_OUT_KG[:, :5], FED_KG[:, :5], FACTORS, slice(0, 5))
    series = _series_t_co2e(KEPT_OUT_KG[:, :5])[:, :5].sum(axis=1)
    assert short.in_year.methane_avoided_t_co2e == pytest.approx(series)
    assert short.methane_by_year_t_co2e[:, 0] == pytest.approx(series)


@pytest.mark.parametrize("year_months", [slice(12, 24), slice(30, 30), slice(0, 30, 2)])
def test_months_that_do_not_end_the_series_are_refused(year_months):
    with pytest.raises(ValueError, match="expected the last of 30 months"):
        emissions_avoided(KEPT_OUT_KG, FED_KG, FACTORS, year_months)


def test_other_shapes_are_refused():
    with pytest.raises(ValueError, match="expected the same draws and months"):
        emissions_avoided(KEPT_OUT_KG, FED_KG[:, 1:], FACTORS, YEAR)
    with pytest.raises(ValueError, match="expected the same draws and months"):
        emissions_avoided(KEPT_OUT_KG[1:], FED_KG[1:], FACTORS, YEAR)


def test_each_months_scraps_are_followed_for_their_own_hundred_years():
    # In slow decay the hundred years cut something off: exp(-k (100 - 6.5/12)) is left.
    landfill = PROGRAM.landfill.model_copy(
        update={"climate": "boreal_temperate_dry", "gas_capture": PROGRAM.landfill.gas_capture[:1]}
    )
    slow = draw_emission_factors(
        PROGRAM.model_copy(update={"landfill": landfill}), read_factors(), 0, seed=1
    )
    one_t_a_month = np.full((1, 12), 1000.0)
    avoided = emissions_avoided(one_t_a_month, one_t_a_month, slow, slice(0, 12))
    left = np.exp(-0.06 * (100 - 6.5 / 12))
    expected = 12 * 50.0 * 0.9 * (1 - left) * 28 / 1000
    assert avoided.over_100_years.methane_avoided_t_co2e[0] == pytest.approx(expected, rel=1e-9)
