"""Laws of the emissions account, whatever the scraps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst

from planner import paths
from planner.emissions.account import emissions_avoided
from planner.emissions.drawn import draw_emission_factors
from planner.factors import read_factors
from planner.program import read_program
from tests.scraps_alone import scraps_alone

DRAWS_COUNT = 6
PROGRAM = read_program(paths.TEMPLATES / "program.toml")
FACTORS = draw_emission_factors(PROGRAM, read_factors(), DRAWS_COUNT, seed=9)
SCRAPS_KG = npst.arrays(float, (1 + DRAWS_COUNT, 24), elements=st.floats(0.0, 1e5))


def _avoided(kept_out_kg, fed_kg, year):
    activity = scraps_alone(kept_out_kg, fed_kg, year)
    return emissions_avoided(activity, FACTORS, PROGRAM.emissions)


@given(SCRAPS_KG)
def test_the_years_so_far_make_up_the_total_to_date(scraps_kg):
    first = _avoided(scraps_kg[:, :12], scraps_kg[:, :12], slice(0, 12))
    second = _avoided(scraps_kg, scraps_kg, slice(12, 24))
    together = first.in_year.net_t_co2e + second.in_year.net_t_co2e
    assert second.to_date.net_t_co2e == pytest.approx(together, rel=1e-9, abs=1e-9)


@given(SCRAPS_KG, st.floats(0.0, 50.0))
def test_the_account_is_in_proportion_to_the_scraps(scraps_kg, factor):
    one = _avoided(scraps_kg, scraps_kg, slice(12, 24))
    many = _avoided(factor * scraps_kg, factor * scraps_kg, slice(12, 24))
    for basis in ("in_year", "to_date", "over_100_years"):
        expected = factor * getattr(one, basis).net_t_co2e
        assert getattr(many, basis).net_t_co2e == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(SCRAPS_KG)
def test_no_more_methane_is_avoided_than_the_scraps_could_give(scraps_kg):
    avoided = _avoided(scraps_kg, scraps_kg, slice(12, 24))
    most = FACTORS.methane_potential_kg_per_kg * FACTORS["methane_gwp100"] / 1000
    year, all_months = scraps_kg[:, 12:].sum(axis=1), scraps_kg.sum(axis=1)
    assert (avoided.over_100_years.methane_avoided_t_co2e <= year * most + 1e-9).all()
    assert (avoided.to_date.methane_avoided_t_co2e <= all_months * most + 1e-9).all()
    assert (avoided.methane_by_year_t_co2e >= -1e-9).all()


@given(SCRAPS_KG)
def test_scraps_fed_but_never_landfilled_only_add_the_bins_gases(scraps_kg):
    avoided = _avoided(np.zeros_like(scraps_kg), scraps_kg, slice(12, 24))
    assert (avoided.over_100_years.methane_avoided_t_co2e == 0.0).all()
    assert (avoided.over_100_years.net_t_co2e <= 0.0).all()


@given(SCRAPS_KG)
def test_the_net_is_the_sum_of_its_three_parts_on_every_basis(scraps_kg):
    avoided = _avoided(0.7 * scraps_kg, scraps_kg, slice(12, 24))
    for basis in (avoided.in_year, avoided.to_date, avoided.over_100_years):
        parts = basis.methane_avoided_t_co2e - basis.bin_gases_t_co2e
        parts = parts - basis.making_and_freight_t_co2e
        assert basis.net_t_co2e == pytest.approx(parts, rel=1e-9, abs=1e-9)


@given(SCRAPS_KG)
def test_bases_count_some_of_the_same_methane_so_that_a_sum_counts_twice(scraps_kg):
    # To date holds what is in the year, and a hundred years hold what of the year's own
    # scraps is in the year: adding bases up would count both again.
    avoided = _avoided(scraps_kg, scraps_kg, slice(12, 24))
    own = np.zeros_like(scraps_kg)
    own[:, 12:] = scraps_kg[:, 12:]
    of_own = _avoided(own, own, slice(12, 24)).in_year.methane_avoided_t_co2e
    in_year = avoided.in_year.methane_avoided_t_co2e
    assert (in_year <= avoided.to_date.methane_avoided_t_co2e + 1e-9).all()
    assert (of_own <= avoided.over_100_years.methane_avoided_t_co2e + 1e-9).all()
    assert (of_own <= in_year + 1e-9).all()


@given(SCRAPS_KG)
def test_a_year_s_shift_changes_nothing_but_the_year(scraps_kg):
    later = np.concatenate([np.zeros((1 + DRAWS_COUNT, 12)), scraps_kg], axis=1)
    first = _avoided(scraps_kg, scraps_kg, slice(12, 24))
    second = _avoided(later, later, slice(24, 36))
    for basis in ("in_year", "to_date", "over_100_years"):
        one, other = getattr(first, basis).net_t_co2e, getattr(second, basis).net_t_co2e
        assert other == pytest.approx(one, rel=1e-9, abs=1e-9)
