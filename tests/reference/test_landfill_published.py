"""Landfill methane against published worked examples.

- Soc Son: Verified Carbon Standard project description of the Soc Son waste project
  (Viet Nam), pp. 50-51, tables 8 and 9. Printed to the unit.
- Bergama: Verified Carbon Standard joint project description and monitoring report of the
  Bergama landfill (Turkey), p. 171, year 2021. Printed to the unit, cut off.
- US EPA (October 2023) EPA-600-R-23-064, appendix D: collection of landfill gas by age.
- GPC: Global Protocol for Community-Scale Greenhouse Gas Inventories, equations 8.3, 8.4.
- IPCC 2006 Guidelines, volume 5, chapter 3.
- US EPA, AP-42, section 2.4 (from memory): methane of a landfill that takes even waste R for
  t years and has been closed for c is L0 R (exp(-k c) - exp(-k t)), c counted from closure and
  t from opening; k 0.04 a year.

To repeat: put the inputs below in the yearly form of CDM TOOL04 version 8, with the model
correction factor of application B and a methane warming potential of 28.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner.emissions.landfill import Decay, methane_potential_kg
from planner.factors import read_factors
from tests.landfill_forms import monthly_methane_kg, yearly_methane_kg

TABLE = read_factors()
KG_PER_T = 1000.0
TOOL04_START_MONTH = 1
GWP = TABLE.find("methane_gwp100", edition="ar5").value
OXIDISED = TABLE.find("oxidised_share", "oxidising", "ipcc_2006").value
EPA_AGES = (0, 5, 10, 15, 21)
EPA_CAPTURED = tuple(
    TABLE.find("captured_share", f"from_age_{age}_years", "epa_2023").value for age in EPA_AGES
)


def _tool04_t_co2e(waste_t, climate: str, correction: str) -> np.ndarray:
    """Baseline emissions of several wastes by year, as TOOL04 adds them [t CO2-e]."""
    total_kg = 0.0
    for kind, tonnes in waste_t.items():
        # the tool's decay class of textiles is that of paper
        decay_class = "paper" if kind == "textiles" else kind
        potential = methane_potential_kg(
            np.asarray(tonnes) * KG_PER_T,
            TABLE.find(f"{kind}_degradable_carbon_share").value,
            TABLE.find("food_decomposing_carbon_share", edition="ipcc_2006").value,
            TABLE.find("methane_correction_factor", "managed_anaerobic").value,
            TABLE.find("methane_share_of_gas").value,
        )
        rate = TABLE.find(f"{decay_class}_decay_rate_per_year", climate).value
        total_kg = total_kg + yearly_methane_kg(
            potential, Decay(rate, oxidised_share=OXIDISED), start_month=TOOL04_START_MONTH
        )
    phi = TABLE.find("model_correction_factor", correction).value
    return phi * GWP * total_kg / KG_PER_T


def test_soc_son_all_seven_years_to_the_unit():
    waste_t = {
        "food": np.full(7, 1_460_000 * 0.519),
        "paper": np.full(7, 1_460_000 * 0.027),
        "textiles": np.full(7, 1_460_000 * 0.016),
    }
    published = [277_866, 466_829, 596_016, 684_963, 746_778, 790_258, 821_308]
    found = _tool04_t_co2e(waste_t, "tropical_wet", "application_b_wet")
    assert found == pytest.approx(published, abs=0.5)


def test_bergama_2021_to_the_unit_cut_off():
    waste_t = {
        "wood": [19.15],
        "paper": [20.00],
        "food": [18_047.51],
        "textiles": [19.58],
        "garden": [2_741.51],
    }
    found = _tool04_t_co2e(waste_t, "boreal_temperate_dry", "application_b_dry")
    assert math.floor(found[0]) == 1_243


def test_bergama_two_years_to_the_unit_cut_off():
    # The report's 7,860 for 2022 are both years together; 2022 alone is 6,616.737.
    waste_t = {
        "wood": [19.15, 87.63],
        "paper": [20.00, 86.86],
        "food": [18_047.51, 78_376.29],
        "textiles": [19.58, 87.63],
        "garden": [2_741.51, 12_560.18],
    }
    found = _tool04_t_co2e(waste_t, "boreal_temperate_dry", "application_b_dry")
    assert found[1] == pytest.approx(6_616.737, abs=0.0005)
    assert math.floor(found.sum()) == 7_860


@pytest.mark.parametrize("closed_years", [0, 10, 30])
def test_even_waste_meets_the_closed_form_of_a_landfill_open_and_closed(closed_years):
    # The closed form is continuous; months of even waste come within k/24 of it.
    opened_years, rate = 20, 0.04
    months = 12 * (opened_years + closed_years + 1)
    waste = np.zeros(months)
    waste[: 12 * opened_years] = 1 / 12
    series = monthly_methane_kg(waste, Decay(rate, 0.5))
    last = 12 * (opened_years + closed_years)
    rate_a_year = 12 * series[last - 1 : last + 1].mean()  # at the moment between two months
    expected = np.exp(-rate * closed_years) - np.exp(-rate * (opened_years + closed_years))
    assert rate_a_year == pytest.approx(expected, rel=0.005)


@pytest.mark.parametrize(
    ("climate", "captured_percent"),
    [("boreal_temperate_wet", 24.4), ("boreal_temperate_dry", 55.7), ("tropical_wet", 7.2)],
)
def test_lifetime_capture_of_food_methane_under_the_epa_schedule(climate, captured_percent):
    # A second calculation on the EPA's schedule, over 100 years, year 0 the first of decay.
    rate = TABLE.find("food_decay_rate_per_year", climate).value
    deposit = np.array([1.0, *np.zeros(99)])
    decays = [
        Decay(rate),
        Decay(rate, capture_from_age_years=EPA_AGES, captured_share=EPA_CAPTURED),
    ]
    generated, emitted = (
        yearly_methane_kg(deposit, decay, start_month=TOOL04_START_MONTH).sum() for decay in decays
    )
    captured = generated - emitted
    assert 100 * captured == pytest.approx(captured_percent, abs=0.05)


def test_gpc_methane_commitment_of_a_tonne_of_food():
    # GPC equations 8.3 and 8.4: DOCf 0.6, MCF 1, no recovery, oxidation 0.1: 54.0 kg.
    potential = methane_potential_kg(
        KG_PER_T,
        TABLE.find("food_degradable_carbon_share").value,
        TABLE.find("food_decomposing_carbon_share", edition="gpc").value,
        TABLE.find("methane_correction_factor", "managed_anaerobic").value,
        TABLE.find("methane_share_of_gas").value,
    )
    emitted_share = Decay(0.185, oxidised_share=OXIDISED).emitted_share(1e6)
    assert float(potential * emitted_share) == pytest.approx(54.0, abs=0.05)


def test_soc_son_by_months_meets_the_yearly_table():
    # The tool's monthly form takes a year's waste on the first of January, month by month.
    total_kg = np.zeros(84)
    for kind, share, rate in (
        ("food", 0.519, 0.40),
        ("paper", 0.027, 0.07),
        ("textiles", 0.016, 0.07),
    ):
        waste_t = np.zeros(84)
        waste_t[::12] = 1_460_000 * share
        carbon = TABLE.find(f"{kind}_degradable_carbon_share").value
        potential = methane_potential_kg(waste_t, carbon, 0.5, 1.0, 0.5)
        total_kg += monthly_methane_kg(potential, Decay(rate, oxidised_share=OXIDISED))
    found = 0.85 * GWP * total_kg.reshape(7, 12).sum(axis=1)
    published = [277_866, 466_829, 596_016, 684_963, 746_778, 790_258, 821_308]
    assert found == pytest.approx(published, abs=0.5)


def test_gpc_degradable_carbon_of_mixed_waste():
    # GPC equation 8.1: DOC = 0.15 A + 0.2 B + 0.4 C + 0.43 D + 0.24 E, food to textiles.
    shares = {"food": 0.15, "garden": 0.2, "paper": 0.4, "wood": 0.43, "textiles": 0.24}
    for kind, carbon in shares.items():
        assert TABLE.find(f"{kind}_degradable_carbon_share").value == carbon


@pytest.mark.parametrize(
    ("edition", "kg"), [("ipcc_2006", 50.0), ("gpc", 60.0), ("ipcc_2019", 70.0)]
)
def test_potential_of_a_tonne_of_food_by_edition(edition, kg):
    share = TABLE.find("food_decomposing_carbon_share", edition=edition).value
    assert float(methane_potential_kg(KG_PER_T, 0.15, share, 1.0, 0.5)) == pytest.approx(kg)
    assert TABLE.find("food_methane_potential_kg_per_t", edition=edition).value == kg


@pytest.mark.parametrize(
    ("gwp_set", "computed_t", "printed_edition"),
    [("ar5", 2.117, "nga_2021"), ("ar4", 1.890, "nga_2020")],
)
def test_australian_national_factor_of_food(gwp_set, computed_t, printed_edition):
    # National Greenhouse Accounts Factors, food to landfill, 2.1 and 1.9 t/t; DOCf 0.84, no
    # capture. Printed values from memory.
    potential = methane_potential_kg(
        KG_PER_T,
        0.15,
        TABLE.find("food_decomposing_carbon_share", edition="nger").value,
        1.0,
        0.5,
    )
    gwp = TABLE.find("methane_gwp100", edition=gwp_set).value
    found_t = float(potential * (1 - OXIDISED) * gwp) / KG_PER_T
    printed_t = TABLE.find("landfill_kg_co2e_per_t", "food", printed_edition).value / KG_PER_T
    assert found_t == pytest.approx(computed_t, abs=0.0005)
    assert round(found_t, 1) == printed_t
