"""The three bases against sums worked out month by month."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from planner import paths
from planner.emissions.account import IN_NET, OTHER_ROUTES, _carbon_lines, emissions_avoided
from planner.emissions.activity import Activity, Supplies, bin_gases_kg_co2e_per_t
from planner.emissions.drawn import draw_emission_factors
from planner.emissions.timeline import by_month_kg, methane_avoided_kg_co2e_per_t
from planner.factors import read_factors
from planner.program import read_program
from tests.landfill_forms import monthly_methane_kg
from tests.scraps_alone import scraps_alone

PROGRAM = read_program(paths.TEMPLATES / "program.toml")
DRAWS_COUNT = 20
FACTORS = draw_emission_factors(PROGRAM, read_factors(), DRAWS_COUNT, seed=4)
MONTHS = 30
YEAR = slice(18, 30)
KEPT_OUT_KG = np.random.default_rng(1).uniform(0, 900, (1 + DRAWS_COUNT, MONTHS))
FED_KG = KEPT_OUT_KG * 1.3


def _avoided(kept_out_kg, fed_kg, factors, year, **choices):
    """Account for scraps alone, under choices of the program's [emissions] block."""
    activity = scraps_alone(kept_out_kg, fed_kg, year)
    return emissions_avoided(activity, factors, PROGRAM.emissions.model_copy(update=choices))


AVOIDED = _avoided(KEPT_OUT_KG, FED_KG, FACTORS, YEAR)


def _series_t_co2e(kept_out_kg):
    potential_kg = kept_out_kg * FACTORS.methane_potential_kg_per_kg[:, None]
    series_kg = monthly_methane_kg(potential_kg, FACTORS.decay, months_count=MONTHS + 1200)
    return series_kg * FACTORS["methane_gwp100"][:, None] / 1000


def test_in_year_and_to_date_are_sums_of_the_monthly_series():
    series = _series_t_co2e(KEPT_OUT_KG)
    in_year = series[:, 18:30].sum(axis=1)
    to_date = series[:, :30].sum(axis=1)
    assert AVOIDED.in_year.methane_avoided_t_co2e == pytest.approx(in_year)
    assert AVOIDED.to_date.methane_avoided_t_co2e == pytest.approx(to_date)


def test_what_decays_at_once_counts_to_date_from_the_first_month_on():
    """Each month's scraps are as old as the months since, and give what is given at that age."""
    at_once = FACTORS.with_values({"delay_months": 0.0})
    found = _avoided(KEPT_OUT_KG, FED_KG, at_once, YEAR).to_date.methane_avoided_t_co2e
    given = at_once.decay.emitted_share(np.arange(MONTHS, 0.0, -1.0))
    potential = at_once.methane_potential_kg_per_kg * at_once["methane_gwp100"] / 1000
    assert found == pytest.approx((KEPT_OUT_KG * given).sum(axis=1) * potential)


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


def test_net_takes_the_bins_gases_off_the_methane_of_what_was_kept_out():
    basis = AVOIDED.over_100_years
    expected = basis.methane_avoided_t_co2e - basis.bin_gases_t_co2e
    assert basis.net_t_co2e == pytest.approx(expected)
    assert not basis.making_and_freight_t_co2e.any()


def test_a_first_year_shorter_than_twelve_months():
    short = _avoided(KEPT_OUT_KG[:, :5], FED_KG[:, :5], FACTORS, slice(0, 5))
    series = _series_t_co2e(KEPT_OUT_KG[:, :5])[:, :5].sum(axis=1)
    assert short.in_year.methane_avoided_t_co2e == pytest.approx(series)
    assert short.methane_by_year_t_co2e[:, 0] == pytest.approx(series)


@pytest.mark.parametrize("year_months", [slice(12, 24), slice(30, 30), slice(0, 30, 2)])
def test_months_that_do_not_end_the_series_are_refused(year_months):
    with pytest.raises(ValueError, match="expected the last of 30 months"):
        _avoided(KEPT_OUT_KG, FED_KG, FACTORS, year_months)


def test_other_shapes_are_refused():
    with pytest.raises(ValueError, match="expected the same draws and months"):
        _avoided(KEPT_OUT_KG, FED_KG[:, 1:], FACTORS, YEAR)
    with pytest.raises(ValueError, match="expected the same draws"):
        _avoided(KEPT_OUT_KG[1:], FED_KG[1:], FACTORS, YEAR)


def test_each_months_scraps_are_followed_for_their_own_hundred_years():
    # In slow decay the hundred years cut something off: exp(-k (100 - 6.5/12)) is left.
    landfill = PROGRAM.landfill.model_copy(
        update={"climate": "boreal_temperate_dry", "gas_capture": PROGRAM.landfill.gas_capture[:1]}
    )
    slow = draw_emission_factors(
        PROGRAM.model_copy(update={"landfill": landfill}), read_factors(), 0, seed=1
    )
    one_t_a_month = np.full((1, 12), 1000.0)
    avoided = _avoided(one_t_a_month, one_t_a_month, slow, slice(0, 12))
    left = np.exp(-0.06 * (100 - 6.5 / 12))
    expected = 12 * 50.0 * 0.9 * (1 - left) * 28 / 1000
    assert avoided.over_100_years.methane_avoided_t_co2e[0] == pytest.approx(expected, rel=1e-9)


def test_months_of_the_year_add_up_to_the_basis_in_the_year():
    activity = scraps_alone(KEPT_OUT_KG, FED_KG, YEAR)
    by_month = by_month_kg(activity, FACTORS) * FACTORS["methane_gwp100"][:, None] / 1000
    assert by_month.shape == (1 + DRAWS_COUNT, 12)
    assert by_month == pytest.approx(_series_t_co2e(KEPT_OUT_KG)[:, 18:30], abs=1e-12)
    assert by_month.sum(axis=1) == pytest.approx(AVOIDED.in_year.methane_avoided_t_co2e)


def _whole_activity() -> Activity:
    """Every kind of scraps and supplies, without draws; two years of months."""
    month = np.ones((1 + DRAWS_COUNT, 24))
    first_year = np.array([1.0, 0.0])
    supplies = Supplies(
        bins_given=10 * first_year[np.newaxis],
        bins_made=8 * first_year[np.newaxis],
        plastic_kg=np.array([6.0]),
        plastic_recycled_share=np.array([1.0]),
        service_life_years=np.array([10]),
        bedding_kg=20 * first_year,
        worms_kg=5 * first_year,
    )
    return Activity(
        100 * month, 200 * month, 30 * month, 40 * month, 50 * month, 60 * month, 70 * month,
        supplies, slice(12, 24),
    )  # fmt: skip


def test_other_routes_stand_outside_the_net():
    """2.4 t of garden compost over two years give 2.4 x 175.6 kg CO2-e (IPCC Table 4.1)."""
    basis = emissions_avoided(_whole_activity(), FACTORS, PROGRAM.emissions).to_date
    per_kg = bin_gases_kg_co2e_per_t(FACTORS)[0] / 1000
    assert basis.lines["garden_compost"][0] == pytest.approx(24 * 50 * per_kg / 1000)
    assert basis.lines["kerbside_organics"][0] == pytest.approx(24 * 40 * per_kg / 1000)
    # burning: 0.0002 g CH4 and 0.05 g N2O a kg (IPCC volume 5, tables 5.3 and 5.6)
    burnt = 24 * 30 * (0.0002 * 28 + 0.05 * 265) / 1000 / 1000
    assert basis.lines["other_residual_treatment"][0] == pytest.approx(burnt)
    routes = sum(basis.lines[name] for name in OTHER_ROUTES)
    assert basis.other_routes_t_co2e == pytest.approx(routes)
    in_net = sum(basis.lines[name] for name in IN_NET if name in basis.lines)
    assert basis.net_t_co2e == pytest.approx(in_net)


def test_a_digester_and_no_treatment_at_all():
    choices = PROGRAM.emissions.model_copy(
        update={"residual_treatment": "not_counted", "kerbside_treatment": "anaerobic_digestion"}
    )
    program = PROGRAM.model_copy(update={"emissions": choices})
    factors = draw_emission_factors(program, read_factors(), DRAWS_COUNT, seed=4)
    lines = emissions_avoided(_whole_activity(), factors, choices).in_year.lines
    assert "other_residual_treatment" not in lines
    # 0.8 g CH4 a kg wet, Table 4.1 as corrected; nitrous oxide negligible
    assert lines["kerbside_organics"][0] == pytest.approx(12 * 40 * 0.8 * 28 / 1000 / 1000)


def test_collection_is_saved_only_where_rounds_shrink():
    still = emissions_avoided(_whole_activity(), FACTORS, PROGRAM.emissions).in_year
    assert "collection_saved" not in still.lines
    choices = PROGRAM.emissions.model_copy(update={"rounds_shrink": True})
    shrunk = emissions_avoided(_whole_activity(), FACTORS, choices).in_year
    # UK Government conversion factors 2025: 8.98311 kg CO2-e a tonne collected and delivered
    saved_t = 12 * 70 * 8.98311 / 1000 / 1000
    assert shrunk.lines["collection_saved"][0] == pytest.approx(saved_t)
    assert (shrunk.net_t_co2e - still.net_t_co2e)[0] == pytest.approx(saved_t)


def test_carbon_and_fertiliser_change_no_sum():
    plain = emissions_avoided(_whole_activity(), FACTORS, PROGRAM.emissions).in_year
    choices = PROGRAM.emissions.model_copy(update={"show_carbon_and_fertiliser": True})
    shown = emissions_avoided(_whole_activity(), FACTORS, choices).in_year
    # IPCC volume 5 chapter 3, appendix 3A.1: 1.2 t x 0.15 x (1 - 0.5) x 1 x 44/12
    assert shown.lines["landfill_carbon"][0] == pytest.approx(-1.2 * 0.15 * 0.5 * 44 / 12)
    assert shown.net_t_co2e == pytest.approx(plain.net_t_co2e)
    assert shown.other_routes_t_co2e == pytest.approx(plain.other_routes_t_co2e)
    assert "castings_carbon" not in plain.lines


def test_making_is_charged_when_bins_are_given_and_stands_apart_spread_over_their_lives():
    lines = emissions_avoided(_whole_activity(), FACTORS, PROGRAM.emissions)
    # 8 bins of 6 kg made in the year before; UK 2025: 1.77079099 kg a kg recycled, 0.00898
    # at its end in a landfill
    made_t = 8 * 6 * 1.77079099 / 1000
    ended_t = 8 * 6 * FACTORS["plastic_landfilled_kg_co2e_per_kg"][0] / 1000
    assert lines.in_year.lines["bin_plastic"][0] == 0.0
    assert lines.to_date.lines["bin_plastic"][0] == pytest.approx(-made_t)
    assert lines.to_date.lines["bin_disposal"][0] == pytest.approx(-ended_t)
    # a tenth of their lives each year, as a ledger writes them off
    for basis, share in ((lines.in_year, 0.1), (lines.to_date, 0.2)):
        spread = basis.lines["bins_over_their_lives"][0]
        assert spread == pytest.approx(-share * (made_t + ended_t))
    assert lines.in_year.lines["freight"][0] == 0.0
    # 10 x 6 + 20 + 5 kg moved: 500 km by truck and 30 km by van, with the fuel's own supply
    per_kg = (500 * (0.10163 + 0.02359) + 30 * (0.6313 + 0.15095)) / 1000
    assert lines.to_date.lines["freight"][0] == pytest.approx(-85 * per_kg / 1000)
    assert lines.to_date.lines["household_trips"][0] == pytest.approx(-10 * 4 * 0.15473 / 1000)


def test_a_bin_is_charged_no_longer_than_it_lasts():
    given = np.array([[30.0, 0.0, 0.0, 60.0]])
    supplies = Supplies(
        given, given, np.ones(1), np.ones(1), np.array([2]), np.zeros(4), np.zeros(4)
    )
    assert supplies.in_service.tolist() == [[15.0, 15.0, 0.0, 30.0]]


def test_what_bins_out_of_use_no_longer_avoid_is_a_loss():
    basis = emissions_avoided(_whole_activity(), FACTORS, PROGRAM.emissions).over_100_years
    assert basis.lines["dropout"] == pytest.approx(-0.6 * basis.lines["landfill_methane"])


def test_the_carbon_that_landfills_keep_is_that_of_each_by_its_share_and_air():
    """1,000 kg x 0.2 x (1 - 0.6) x (0.75 x 1.0 + 0.25 x 0.4) x 44/12."""

    class Drawn(dict):
        rows = SimpleNamespace(
            landfills=[SimpleNamespace(share_of_landfilled_waste=one) for one in (0.75, 0.25)]
        )
        of_landfills = ({"methane_correction_factor": 1.0}, {"methane_correction_factor": 0.4})

    factors = Drawn(
        food_degradable_carbon_share=0.2,
        food_decomposing_carbon_share=0.6,
        castings_carbon_kg_co2e_per_t=30.0,
        fertiliser_replaced_kg_co2e_per_t=7.0,
    )
    lines = _carbon_lines(1500.0, 1000.0, factors)
    assert lines["landfill_carbon"] == pytest.approx(-1000 * 0.2 * 0.4 * 0.85 * 44 / 12)
    assert lines["castings_carbon"] == pytest.approx(45.0)
    assert lines["fertiliser_replaced"] == pytest.approx(10.5)
