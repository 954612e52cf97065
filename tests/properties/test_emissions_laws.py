"""Laws of the emissions account, whatever the scraps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst

from planner import paths
from planner.emissions import draw_emission_factors, emissions_avoided
from planner.factors import read_factors
from planner.program import read_program

DRAWS_COUNT = 6
FACTORS = draw_emission_factors(
    read_program(paths.TEMPLATES / "program.toml"), read_factors(), DRAWS_COUNT, seed=9
)
SCRAPS_KG = npst.arrays(float, (1 + DRAWS_COUNT, 24), elements=st.floats(0.0, 1e5))


@given(SCRAPS_KG)
def test_the_years_so_far_make_up_the_total_to_date(scraps_kg):
    first = emissions_avoided(scraps_kg[:, :12], scraps_kg[:, :12], FACTORS, slice(0, 12))
    second = emissions_avoided(scraps_kg, scraps_kg, FACTORS, slice(12, 24))
    together = first.in_year.net_t_co2e + second.in_year.net_t_co2e
    assert second.to_date.net_t_co2e == pytest.approx(together, rel=1e-9, abs=1e-9)


@given(SCRAPS_KG, st.floats(0.0, 50.0))
def test_the_account_is_in_proportion_to_the_scraps(scraps_kg, factor):
    one = emissions_avoided(scraps_kg, scraps_kg, FACTORS, slice(12, 24))
    many = emissions_avoided(factor * scraps_kg, factor * scraps_kg, FACTORS, slice(12, 24))
    for basis in ("in_year", "to_date", "over_100_years"):
        expected = factor * getattr(one, basis).net_t_co2e
        assert getattr(many, basis).net_t_co2e == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(SCRAPS_KG)
def test_no_more_methane_is_avoided_than_the_scraps_could_give(scraps_kg):
    avoided = emissions_avoided(scraps_kg, scraps_kg, FACTORS, slice(12, 24))
    most = FACTORS.methane_potential_kg_per_kg * FACTORS.methane_gwp100 / 1000
    year, all_months = scraps_kg[:, 12:].sum(axis=1), scraps_kg.sum(axis=1)
    assert (avoided.over_100_years.methane_avoided_t_co2e <= year * most + 1e-9).all()
    assert (avoided.to_date.methane_avoided_t_co2e <= all_months * most + 1e-9).all()
    assert (avoided.methane_by_year_t_co2e >= -1e-9).all()


@given(SCRAPS_KG)
def test_scraps_fed_but_never_landfilled_only_add_the_bins_gases(scraps_kg):
    avoided = emissions_avoided(np.zeros_like(scraps_kg), scraps_kg, FACTORS, slice(12, 24))
    assert (avoided.over_100_years.methane_avoided_t_co2e == 0.0).all()
    assert (avoided.over_100_years.net_t_co2e <= 0.0).all()
