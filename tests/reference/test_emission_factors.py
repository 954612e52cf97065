"""Drawn emission factors and composting against values computed apart.

Lifetime methane of a tonne of wet food, oxidation 0.1, no recovery: a plain Monte Carlo of
400,000 draws (numpy default_rng(20240601)) from the triangles of IPCC 2006 Guidelines,
volume 5, chapters 2 and 3 (DOC 0.08, 0.15, 0.20; DOCf 0.4, 0.5, 0.6 or, in the 2019
Refinement, 0.49, 0.7, 0.91; MCF 0.9, 1, 1; F 0.475, 0.5, 0.525) gave 2006: mean 41.56 kg,
95% interval 26.5 to 57.3; 2019: mean 58.19, 35.5 to 83.7. Means also follow from
(low + mode + high)/3 of each triangle.

Composting: IPCC 2006 Guidelines, volume 5, chapter 4, Table 4.1 (4 g CH4, 0.24 g N2O per kg
wet, the latter as corrected), warming potentials of AR5 WG1 Table 8.A.1 and AR6 WG1
Table 7.15.
"""

from __future__ import annotations

import numpy as np
import pytest

from planner import paths
from planner.emissions.activity import bin_gases_kg_co2e_per_t
from planner.emissions.drawn import draw_emission_factors
from planner.emissions.timeline import methane_avoided_kg_co2e_per_t
from planner.factors import read_factors
from planner.program import read_program

DRAWS_COUNT = 131_072
MONTE_CARLO_TOLERANCE_KG = 0.25
"""Four standard errors of a percentile over these draws (0.045 kg), and a printed decimal."""

PROGRAM = read_program(paths.TEMPLATES / "program.toml")
TABLE = read_factors()


def _factors(edition: str = "ipcc_2006", gwp_set: str = "ar5", draws_count: int = 0):
    method = PROGRAM.method.model_copy(update={"edition": edition, "gwp_set": gwp_set})
    no_wells = PROGRAM.landfill.gas_capture[:1]
    landfill = PROGRAM.landfill.model_copy(update={"gas_capture": no_wells})
    program = PROGRAM.model_copy(update={"method": method, "landfill": landfill})
    return draw_emission_factors(program, TABLE, draws_count, seed=1)


@pytest.mark.parametrize(
    ("edition", "central", "mean", "low", "high"),
    [("ipcc_2006", 45.0, 41.56, 26.5, 57.3), ("ipcc_2019", 63.0, 58.19, 35.5, 83.7)],
)
def test_spread_of_the_lifetime_methane_of_a_tonne_of_food(edition, central, mean, low, high):
    factors = _factors(edition, draws_count=DRAWS_COUNT)
    emitted_share = factors.decay.emitted_share(1e6)
    methane_kg = 1000 * factors.methane_potential_kg_per_kg * emitted_share
    assert methane_kg[0] == pytest.approx(central)
    assert methane_kg[1:].mean() == pytest.approx(mean, abs=0.03)
    interval = np.percentile(methane_kg[1:], [2.5, 97.5])
    assert interval == pytest.approx([low, high], abs=MONTE_CARLO_TOLERANCE_KG)


@pytest.mark.parametrize(("gwp_set", "kg"), [("ar5", 175.6), ("ar6", 173.52)])
def test_process_gases_of_a_tonne_composted(gwp_set, kg):
    found = bin_gases_kg_co2e_per_t(_factors(gwp_set=gwp_set))
    assert found[0] == pytest.approx(kg, abs=0.005)


@pytest.mark.parametrize(
    ("gwp_set", "methane", "nitrous_oxide"),
    [("ar4", 25.0, 298.0), ("ar5", 28.0, 265.0), ("ar6", 27.0, 273.0)],
)
def test_warming_potentials_of_each_report(gwp_set, methane, nitrous_oxide):
    factors = _factors(gwp_set=gwp_set)
    assert (factors["methane_gwp100"][0], factors["nitrous_oxide_gwp100"][0]) == (
        methane,
        nitrous_oxide,
    )


def test_uncaptured_food_is_worth_1260_kg_co2e_a_tonne_before_the_hundred_years_end():
    # 45 kg CH4 at 28; a hundred years less half a year's delay leave exp(-0.185 x 99.5).
    assert methane_avoided_kg_co2e_per_t(_factors())[0] == pytest.approx(1260.0, abs=0.001)


def test_government_factor_of_food_lies_within_the_range_of_the_method():
    # UK Government conversion factors 2025: 700.3 kg CO2-e a tonne, with some capture.
    without_wells = methane_avoided_kg_co2e_per_t(_factors())[0]
    published = TABLE.find("landfill_kg_co2e_per_t", "food", "uk_2025").value
    assert 0.5 * without_wells < published < without_wells


def test_the_clean_development_tool_s_composting_is_lower():
    # CDM TOOL13 version 2 (from memory): 2 g CH4 and 0.2 g N2O a kg wet: 109 kg CO2-e a tonne.
    methane = TABLE.find("compost_methane_g_per_kg", "wet", "tool13_v2").value
    nitrous_oxide = TABLE.find("compost_nitrous_oxide_g_per_kg", "wet", "tool13_v2").value
    assert methane * 28 + nitrous_oxide * 265 == pytest.approx(109.0)


def test_wet_factors_of_composting_are_the_dry_ones_at_forty_per_cent_dry_matter():
    # Table 4.1 as corrected: 10 and 0.6 g a kg dry; a dry factor on wet mass overstates 2.5 times.
    dry_matter = TABLE.find("food_dry_matter_share").value
    for gas in ("methane", "nitrous_oxide"):
        wet, dry = (
            TABLE.find(f"compost_{gas}_g_per_kg", mass, "ipcc_2006").value
            for mass in ("wet", "dry")
        )
        assert wet == pytest.approx(dry * dry_matter)


def test_the_field_study_of_home_bins_bears_out_that_no_claim_is_made():
    # Chan, Sinha & Wang 2011, abstract: methane of worm bins about twice that of aerobic ones,
    # all gases together 8% less.
    def flux(gas, bins):
        return TABLE.find(f"home_bin_{gas}_mg_per_m2_hour", bins).value

    assert flux("methane", "worm_bins") / flux("methane", "aerobic_bins") == pytest.approx(
        2.2, abs=0.05
    )
    together = flux("co2e", "worm_bins") / flux("co2e", "aerobic_bins")
    assert 1 - together == pytest.approx(0.08, abs=0.005)
