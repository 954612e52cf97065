"""Laws that the figures of real records obey: parts add up, intervals stand around values."""

from __future__ import annotations

import numpy as np
import pytest

from planner.report.figures.retention import share_at
from planner.units import KG_PER_T
from tests.programs.conftest import TOWN_YEARS, TOWNS

EACH_YEAR = pytest.mark.parametrize(("town", "label"), TOWN_YEARS)
ROUNDING = 1e-9
"""Sums of thousands of numbers in another order differ by less than this, relatively."""

STABLE_IDS = (
    "bins_given",
    "bins_in_use",
    "retention_12_months",
    "feed_kg_per_bin_week",
    "fed_t",
    "landfill_share",
    "kept_out_of_landfill_t",
    "emissions_avoided_in_year_t_co2e",
    "emissions_avoided_to_date_t_co2e",
    "emissions_avoided_100_years_t_co2e",
    "program_cost",
    "cost_per_t_kept_out",
    "cost_per_t_co2e",
)
"""Ids that spreadsheets and scripts of councils may name; they must not change."""


def same(value):
    return pytest.approx(value, rel=ROUNDING)


def in_year(year):
    return year.diversion.cohorts.months_from(year.counts.from_date)


@EACH_YEAR
def test_every_stable_id_is_there_and_one_for_each_area(sample, town, label):
    year, register = sample(town).year(label)
    assert [name for name in STABLE_IDS if name not in register] == []
    areas = set(year.counts.areas["area_id"])
    assert set(register.parts("kept_out_of_landfill_t")) == areas


@EACH_YEAR
@pytest.mark.parametrize(
    ("array", "figure_id"), [("kept_out_kg", "kept_out_of_landfill_t"), ("fed_kg", "fed_t")]
)
def test_areas_and_months_add_up_to_the_whole(sample, town, label, array, figure_id):
    year, register = sample(town).year(label)
    by_area = getattr(year.areas, array)[0] / KG_PER_T
    assert by_area.sum() == same(register[figure_id].value)
    shown = register.parts(figure_id)
    for area_id, tonnes in zip(year.diversion.cohorts.area_ids, by_area, strict=True):
        assert shown[area_id].value is None or shown[area_id].value == same(tonnes)
    by_month = getattr(year.diversion, array)[0] / KG_PER_T
    assert by_month[in_year(year)].sum() == same(register[figure_id].value)
    shown = register.parts(f"{figure_id}_in_month")
    for month, tonnes in zip(year.diversion.cohorts.months, by_month, strict=True):
        figure = shown.get(f"{month:%Y-%m}")
        assert figure is None or figure.value is None or figure.value == same(tonnes)


@EACH_YEAR
def test_kept_out_and_moved_are_all_that_was_fed(sample, town, label):
    _, register = sample(town).year(label)
    fed, kept_out = register["fed_t"].value, register["kept_out_of_landfill_t"].value
    landfilled = fed * register["landfill_share"].value
    assert landfilled + register["moved_from_other_routes_t"].value == same(fed)
    leaks = register["composted_anyway_t"].value + register["thrown_away_t"].value
    assert kept_out + leaks == same(landfilled)
    anyway = register["composted_anyway_share"].value
    assert register["composted_anyway_t"].value == same(landfilled * anyway)
    bin_weeks = register["in_use_bin_weeks"].value
    assert register["feed_kg_per_bin_week"].value == same(fed * KG_PER_T / bin_weeks)


@EACH_YEAR
def test_what_was_fed_came_from_somewhere_in_every_draw(sample, town, label):
    year, _ = sample(town).year(label)
    by_route = year.diversion.fed_by_route_kg.sum(axis=1)
    np.testing.assert_allclose(by_route, year.diversion.fed_kg, rtol=ROUNDING)


@EACH_YEAR
def test_a_value_lies_in_its_own_interval(sample, town, label):
    _, register = sample(town).year(label)
    estimated = [figure for figure in register if figure.low is not None]
    assert len(estimated) > 100
    outside = [f.id for f in estimated if not f.low <= f.value <= f.high]
    assert outside == []


@EACH_YEAR
def test_a_hidden_area_is_never_alone_and_shows_nothing(sample, town, label):
    _, register = sample(town).year(label)
    hidden = {f.part for f in register.parts("bins_given").values() if f.value is None}
    assert len(hidden) >= 2
    for figure_id in ("bins_in_use", "fed_t", "landfill_share", "kept_out_of_landfill_t"):
        parts = register.parts(figure_id)
        assert {part for part, figure in parts.items() if figure.value is None} == hidden
        assert all(parts[part].low is parts[part].high is None for part in hidden)


@EACH_YEAR
def test_bins_in_use_are_no_more_than_bins_given(sample, town, label):
    year, register = sample(town).year(label)
    assert register["bins_in_use"].high <= register["bins_given_to_date"].value
    last = max(register.parts("bins_in_use_at_month_end"))
    ends = register.parts("bins_in_use_at_month_end")
    assert ends[last].value == same(register["bins_in_use"].value)
    given = register.parts("bins_given_in_month")
    from_month = f"{year.counts.from_date:%Y-%m}"
    of_year = [figure.value for month, figure in given.items() if month >= from_month]
    shown = [value for value in of_year if value is not None]
    hidden_sum = register["bins_given"].value - sum(shown)
    threshold = year.program.privacy.small_cell_threshold
    assert all(value == 0 or value >= threshold for value in shown)
    # what is hidden is nothing, or two months at least that leave the threshold's room
    assert len(shown) == len(of_year) or len(of_year) - len(shown) >= 2
    assert hidden_sum == 0 if len(shown) == len(of_year) else hidden_sum >= threshold


@EACH_YEAR
def test_unit_costs_are_cost_over_quantity_and_missing_where_that_may_be_nothing(
    sample, town, label
):
    _, register = sample(town).year(label)
    cost = register["program_cost"].value
    kept_out = register["kept_out_of_landfill_t"]
    assert register["cost_per_t_kept_out"].value == same(cost / kept_out.value)
    avoided, ratio = register["emissions_avoided_100_years_t_co2e"], register["cost_per_t_co2e"]
    if avoided.low <= 0.0:
        assert ratio.value is None
    elif ratio.value is not None:
        assert ratio.value == same(cost / avoided.value)


@pytest.mark.parametrize("town", TOWNS)
def test_years_to_date_grow_and_a_later_report_begins_with_the_same_bins(sample, town):
    labels = [label for name, label in TOWN_YEARS if name == town]
    registers = [sample(town).year(label)[1] for label in labels]
    to_date = np.cumsum([register["bins_given"].value for register in registers])
    assert [register["bins_given_to_date"].value for register in registers] == list(to_date)
    costs = np.cumsum([register["program_cost"].value for register in registers])
    for register, cost in zip(registers, costs, strict=True):
        assert register["program_cost_to_date"].value == pytest.approx(cost, abs=0.005)


def test_odds_of_one_between_users_and_others_are_the_year_as_reported(sample):
    register = sample("valdorra").year("2025")[1]
    for headline in ("retention_12_months", "bins_in_use", "kept_out_of_landfill_t"):
        at_one = register[f"if_users_odds[{headline}|1]"].value
        assert at_one == pytest.approx(register[headline].value, rel=1e-9), headline
        assert register[f"if_users_odds[{headline}|5]"].value < at_one


@EACH_YEAR
def test_silence_hides_who_keeps_a_bin_and_not_what_users_feed(sample, town, label):
    year, register = sample(town).year(label)
    measured = year.diversion
    for extreme in (year.bounds.if_kept, year.bounds.if_stopped):
        # only the mix of dwellings, ages and months that remains in use is another
        fed = extreme.fed_kg[0].sum() / extreme.in_use_bin_weeks[0].sum()
        assert fed == pytest.approx(
            measured.fed_kg[0].sum() / measured.in_use_bin_weeks[0].sum(), rel=0.05
        )
        landfilled = extreme.from_residual_bin_kg[0].sum() / extreme.fed_kg[0].sum()
        assert landfilled == pytest.approx(
            measured.from_residual_bin_kg[0].sum() / measured.fed_kg[0].sum(), rel=0.02
        )
    for name in ("retention_12_months", "bins_in_use", "kept_out_of_landfill_t"):
        ends = [register[f"{name}_if_silent_{code}"].value for code in ("stopped", "kept")]
        assert ends[0] <= register[name].value <= ends[1]
    # who had stopped by the last answer uses no bin later
    heard_of = min(12.0, measured.estimates.oldest_months)
    left = share_at(year.bounds.if_stopped, np.array([heard_of]))[0, 0]
    assert register["retention_12_months_if_silent_stopped"].value <= left + 1e-9
