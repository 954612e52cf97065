"""Figures whose value follows from a few numbers, each worked by hand beside what a report puts."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.figures import FigureRegister
from planner.report.figures import comparison, emissions, giveaway, money, survey, tonnes, weighings
from planner.report.figures.comparison import _Quantity
from planner.units import KG_PER_LB

THRESHOLD = 10
DRAWS = 4


class Out:
    """Takes figures as a report's writer does, and keeps what was found of each by its id."""

    threshold = THRESHOLD

    def __init__(self, **year):
        self.year = self.counted = SimpleNamespace(**year)
        self.register = FigureRegister("Town", "2025-26", "1")
        self.found = {}

    def put(self, name, found, words=None, *, hides=False, **more):
        for key, word in {**(words or {}), **more}.items():
            name = name.replace("{" + key + "}", str(word))
        self.found[name] = None if hides else found

    def known(self, **values):
        for name, value in values.items():
            self.register.put(name, name, value, "", "By hand.")
        return self


def draws(*values):
    return np.ones((1 + DRAWS, 1)) * np.array(values)


def program(**more):
    privacy = SimpleNamespace(small_cell_threshold=THRESHOLD)
    return SimpleNamespace(privacy=privacy, **more)


@pytest.mark.parametrize(("target", "chance"), [(100.0, 0.75), (101.0, 0.5), (131.0, 0.0)])
def test_a_year_is_on_track_with_the_chance_that_its_forecast_reaches_the_target(target, chance):
    forecast = SimpleNamespace(
        bins_given=np.array([110.0, 90.0, 100.0, 120.0, 130.0]), bins_in_use=draws(1.0)[:, 0],
        fed_t=draws(1.0)[:, 0], kept_out_t=draws(1.0)[:, 0], days_held=2, days_count=3,
        places_count=60, take_up=0.8,
    )  # fmt: skip
    block = SimpleNamespace(bins_given_target=target, kept_out_of_landfill_t_target=None)
    counts = SimpleNamespace(through_date="2026-03-31")
    out = Out(forecast=forecast, reporting_year=block, counts=counts).known(
        bins_given=80.0, forecast_bins_given=110.0
    )
    tonnes.add_forecast(out)
    assert out.found["on_track_share[bins_given]"] == chance


def test_where_the_bins_given_are_held_back_so_is_their_forecast():
    nothing = draws(1.0)[:, 0]
    forecast = SimpleNamespace(
        bins_given=nothing, bins_in_use=nothing, fed_t=nothing, kept_out_t=nothing, days_held=0,
        days_count=3, places_count=60, take_up=0.8,
    )  # fmt: skip
    block = SimpleNamespace(bins_given_target=50.0, kept_out_of_landfill_t_target=None)
    counts = SimpleNamespace(through_date="2026-03-31")
    out = Out(forecast=forecast, reporting_year=block, counts=counts).known(bins_given=None)
    tonnes.add_forecast(out)
    assert "forecast_bins_given" not in out.found
    assert "forecast_fed_t" in out.found


def test_the_gross_claim_of_half_a_year_is_half_the_rule_of_thumb(monkeypatch):
    monkeypatch.setattr(tonnes, "why_gross_differs", lambda *_: "")
    table = SimpleNamespace(find=lambda _: SimpleNamespace(value=150.0))
    span = SimpleNamespace(from_date=dt.date(2025, 7, 1), before_date=dt.date(2026, 1, 1))
    out = Out(factor_table=table, counts=span).known(bins_given_to_date=200.0)
    tonnes._add_claim(out, SimpleNamespace(steps_kg={"kept_out": np.full(3, 5000.0)}))
    assert out.found["gross_claim_t"] == pytest.approx(15.0)
    assert out.found["gross_claim_over_net"] == pytest.approx(3.0)


@pytest.mark.parametrize(("areas", "is_ranked"), [(3, True), (2, False)])
def test_fewer_than_three_areas_have_no_thirds(areas, is_ranked):
    names = [f"A{n}" for n in range(areas)]
    counted = pl.DataFrame({"area_id": names, "area_name": names})
    hazard = SimpleNamespace(own_weight=np.full(areas, 0.5))
    year = SimpleNamespace(
        cohorts=SimpleNamespace(bins_given=np.full((1, areas, 1), 20.0)),
        differences=SimpleNamespace(hazard=hazard),
    )
    out = Out(
        diversion=year,
        counts=SimpleNamespace(areas=counted),
        areas=SimpleNamespace(kept_out_kg=draws(*[100.0 * (n + 1) for n in range(areas)])),
    )
    tonnes._add_ranking(out, [True] * areas)
    assert (out.found["chance_in_top_third[A0]"] is not None) == is_ranked
    assert out.found["kept_out_kg_per_household[A1]"][0] == pytest.approx(10.0)


def test_what_was_given_out_is_hidden_where_the_bins_of_the_same_time_are():
    charged = dict.fromkeys(giveaway.QUANTITIES.values(), 5.0)
    supplies = SimpleNamespace(charged=lambda _: charged)
    out = Out(activity=SimpleNamespace(supplies=supplies)).known(
        bins_given=None, bins_given_to_date=50.0
    )
    giveaway.add_quantities(out)
    assert out.found["account_quantity[in_year.worms]"] is None
    assert out.found["account_quantity[100_years.worms]"] is None
    assert out.found["account_quantity[to_date.worms]"] == 5.0


def test_what_sites_are_fed_is_the_rate_of_a_bin_times_their_bin_weeks_in_tonnes(monkeypatch):
    monkeypatch.setattr(giveaway, "feed_per_bin_week", lambda _: (2.0, 1.0, 4.0))
    rows = pl.DataFrame(
        {"bins_count": [3, 0], "bins_in_use_count": [2, 0], "bin_weeks": [100.0, 0.0]}
    )
    out = Out(counts=SimpleNamespace(sites=rows))
    giveaway.add_sites(out)
    assert out.found["site_fed_t"] == pytest.approx((0.2, 0.1, 0.4))
    assert (out.found["sites_with_bins"], out.found["site_bins_in_use"]) == (1.0, 2.0)


def test_of_bins_in_use_years_are_compared_at_their_ends_and_of_scraps_by_their_sums():
    by_month = draws(1.0, 2.0, 4.0)
    assert _Quantity("bins_in_use", by_month, is_stock=True).over(slice(0, 2))[0] == 2.0
    assert _Quantity("fed_t", by_month).over(slice(0, 2))[0] == 3.0


def test_a_change_is_this_year_less_that_one_and_a_running_year_has_none():
    quantity = _Quantity("fed_t", draws(1.0, 2.0, 4.0, 8.0))
    for is_running in (False, True):
        out = Out(counts=SimpleNamespace(is_running=is_running)).known(fed_t=12.0)
        out.months = slice(2, 4)
        comparison._add_change(out, quantity, "2024-25", slice(0, 2))
        assert out.found["fed_t_of_year[2024-25]"][0] == 3.0
        change = out.found.get("fed_t_change[2024-25]")
        assert change is None if is_running else change[0] == 9.0


@pytest.mark.parametrize(("given", "names"), [(9.0, []), (10.0, ["2024-25"]), (0.0, [])])
def test_an_earlier_year_is_told_of_where_it_had_bins_enough(given, names):
    cohorts = SimpleNamespace(
        bins_given=np.array([given, 0.0, 40.0])[:, None, None],
        months_from=lambda day: slice({2024: 0, 2025: 2}[day.year], 3),
    )
    blocks = [SimpleNamespace(reporting_year=label) for label in ("2024-25", "2025-26")]
    ends = {"2024-25": (dt.date(2024, 7, 1), dt.date(2025, 7, 1)),
            "2025-26": (dt.date(2025, 7, 1), dt.date(2026, 7, 1))}  # fmt: skip
    year = SimpleNamespace(
        diversion=SimpleNamespace(cohorts=cohorts),
        program=program(reporting_years=blocks, months=ends.__getitem__),
        counts=SimpleNamespace(from_date=dt.date(2025, 7, 1)),
    )
    assert [label for label, _ in comparison._earlier_years(year)] == names


def test_what_an_earlier_report_said_is_restated_by_todays_value_less_that_one(monkeypatch):
    monkeypatch.setattr(comparison, "restatement_reasons", lambda *_: "")
    printed = FigureRegister("Town", "2024-25", "1")
    printed.put("fed_t", "", 40.0, "t", "By hand.")
    out = Out()
    today = out.register.put("fed_t_of_year[2024-25]", "", 46.0, "t", "By hand.")
    comparison._add_restated(out, printed, "fed_t", today)
    assert out.found["fed_t_restated[2024-25]"] == pytest.approx(6.0)


def test_a_factor_for_a_short_ton_is_one_for_two_thousand_pounds():
    """0.5 t for 907.18474 kg: 551.16 kg for a tonne (NIST Special Publication 811: the pound)."""
    row = SimpleNamespace(
        applies_to="food", factor_id="landfill_t_co2e_per_short_ton", value=0.5, edition="warm"
    )
    out = Out(factor_table=[row])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(emissions, "factor_inputs", lambda *_: ())
        patch.setattr(emissions, "said", lambda *_, **__: "")
        emissions._add_crosschecks(out)
    assert out.found["crosscheck_landfill_kg_co2e_per_t[warm]"] == pytest.approx(551.1557, abs=1e-3)
    assert pytest.approx(907.18474) == 2000.0 * KG_PER_LB


def test_what_is_left_of_a_budget_and_what_disposal_would_have_cost():
    cost = SimpleNamespace(lines_count=3, in_year=700.0, to_date=2000.0)
    block = SimpleNamespace(
        budget=1000.0, landfill_levy_per_t=100.0, gate_fee_per_t=50.0, reporting_year="2025-26"
    )
    cohorts = SimpleNamespace(months_from=lambda _: slice(1, None))
    year = SimpleNamespace(kept_out_kg=draws(9000.0, 2000.0, 2000.0), cohorts=cohorts)
    counts = SimpleNamespace(is_running=False, from_date=dt.date(2025, 7, 1))
    out = Out(cost=cost, reporting_year=block, counts=counts, diversion=year)
    money._add_budget(out)
    money._add_avoided(out)
    assert out.found["budget_remaining"] == 300.0
    assert out.found["budget_spent_share"] == 0.7
    names = ("avoided_disposal_cost", "avoided_levy", "avoided_gate_fee", "net_program_cost")
    told = {name: float(out.found[name][0]) for name in names}
    assert told == {
        "avoided_disposal_cost": 600.0,
        "avoided_levy": 400.0,
        "avoided_gate_fee": 200.0,
        "net_program_cost": 100.0,
    }


def test_work_in_kind_is_that_of_the_reporting_year():
    works = [
        SimpleNamespace(work="stalls", reporting_year=label, hours=hours, rate_per_hour=20.0)
        for label, hours in (("2025-26", 10.0), ("2024-25", 90.0))
    ]
    cost = SimpleNamespace(lines_count=1, in_year=700.0)
    block = SimpleNamespace(reporting_year="2025-26")
    out = Out(cost=cost, reporting_year=block, program=program(in_kind=works))
    money._add_in_kind(out)
    assert (out.found["in_kind_hours"], out.found["in_kind_cost"]) == (10.0, 200.0)
    assert out.found["program_cost_with_in_kind"] == 900.0


@pytest.mark.parametrize(
    ("payers", "earlier_payers", "shown"),
    [(40, 40, {"", "_to_date"}), (4, 60, set()), (40, 4, {""}), (40, 0, {"", "_to_date"})],
    ids=["many", "few this year", "few before", "none before"],
)
def test_what_a_few_paid_is_told_neither_of_the_year_nor_by_the_sum_to_date(
    payers, earlier_payers, shown
):
    costs = pl.DataFrame(
        {
            "category": ["copayments_received"],
            "amount_in_year": [-300.0],
            "amount_to_date": [-500.0],
            "lines_count": [2],
        }
    )
    paid = pl.DataFrame(
        {
            "paid_in_year": [310.0],
            "paid_to_date": [510.0],
            "payers_in_year": [payers],
            "payers_to_date": [payers + earlier_payers],
            "bins_in_year": [100],
            "bins_to_date": [200],
        }
    )
    cost = SimpleNamespace(lines_count=1)
    out = Out(cost=cost, counts=SimpleNamespace(costs=costs, copayments=paid)).known(
        bins_given=100.0, bins_given_to_date=200.0
    )
    money._add_copayments(out)
    for suffix in ("", "_to_date"):
        told = out.found[f"copayments_at_handover{suffix}"]
        gap = out.found[f"copayments_difference{suffix}"]
        assert (told is not None) == (gap is not None) == (suffix in shown)


def test_cost_of_a_bin_is_the_cost_over_the_bins_of_the_same_time():
    basis = SimpleNamespace(net_t_co2e=draws(1.0)[:, 0])
    months = SimpleNamespace(months_from=lambda _: slice(0, None))
    year = SimpleNamespace(
        kept_out_kg=draws(1000.0, 1000.0), cohorts=months, bins_in_use=draws(10.0, 40.0)
    )
    out = Out(
        diversion=year,
        emissions=SimpleNamespace(over_100_years=basis, in_year=basis, to_date=basis),
        counts=SimpleNamespace(from_date=dt.date(2025, 7, 1)),
        cost=SimpleNamespace(in_year=700.0, to_date=2000.0),
    ).known(
        program_cost=700.0, program_cost_to_date=2000.0, bins_given=50.0, bins_given_to_date=100.0,
        households_served=35.0, households_served_to_date=0.0,
    )  # fmt: skip
    money._add_unit_costs(out)
    assert out.found["cost_per_bin_given"] == 14.0
    assert out.found["cost_per_bin_given_to_date"] == 20.0
    assert out.found["cost_per_household_served"] == 20.0
    assert out.found["cost_per_household_served_to_date"] is None


def test_odds_of_answering_are_not_told_of_a_few():
    rows = [
        {"covariate": "dwelling", "category": name, "asked_count": 60, "answered_count": count}
        for name, count in (("house", 30), ("apartment", 4), ("townhouse", 56))
    ]
    wave = SimpleNamespace(terms=pl.DataFrame(rows), odds_ratio=draws(1.0, 2.0, 3.0), wave_id="F")
    out = Out()
    survey._add_model(out, wave)
    shown = {
        name.rpartition(" ")[2].rstrip("]"): found is not None for name, found in out.found.items()
    }
    assert shown == {"house": True, "apartment": False, "townhouse": False}


def test_the_season_of_feeding_is_one_in_the_mean_of_the_year():
    season = SimpleNamespace(
        log_factor=lambda days: np.log(3.0 + np.cos(days / 58.0))[None, :].repeat(3, 0),
        data_share=0.5, scale=1.0,
    )  # fmt: skip
    out = Out(
        diversion=SimpleNamespace(benchmark=SimpleNamespace(season=season)),
        counts=SimpleNamespace(from_date=dt.date(2025, 7, 1)),
    )
    weighings._add_season(out)
    months = [out.found[f"feed_season[{month:02d}]"][0] for month in range(1, 13)]
    assert np.mean(months) == pytest.approx(1.0)


@pytest.mark.parametrize(("households", "is_shown"), [(9, False), (10, True), (0, True)])
def test_weighed_weeks_of_a_few_households_are_not_counted_out(households, is_shown):
    level = SimpleNamespace(
        calibrating_weeks_count=40, weeks_count=60, households_count=households,
        season_weeks_count=0, weight=0.0,
    )  # fmt: skip
    out = Out(
        diversion=SimpleNamespace(diaries=level, benchmark=SimpleNamespace(season=None)),
        counts=SimpleNamespace(diaries=pl.DataFrame({"a": [1] * 20})),
    )
    weighings._add_weeks(out)
    assert (out.found["diary_weeks[feed_level]"] is not None) == is_shown


@pytest.mark.parametrize(("households", "why"), [(9, True), (10, False)])
def test_an_audit_of_a_few_households_in_an_arm_has_no_figures(households, why):
    visits = pl.DataFrame(
        {"arm": ["given", "comparison"], "period": ["before"] * 2,
         "households_count": [households, 40]}
    )  # fmt: skip
    scores = SimpleNamespace(has_standard_error=True)
    year = SimpleNamespace(program=program())
    assert bool(weighings._why_not(year, visits, scores)) == why
