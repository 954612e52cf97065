"""Cost for each tonne and bins in use, by reporting year, worked by hand."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.diversion.cohorts import Cohorts, months_between
from planner.figures import FigureRegister
from planner.report.figures import CATALOGUE
from planner.report.figures.money import UNIT_COSTS, add_costs_by_year
from planner.report.figures.retention import _season_words, add_bins_by_year
from planner.report.figures.survey import odds_at
from planner.report.figures.tonnes import chances_of_thirds
from planner.report.figures.writer import Writer
from planner.survey.stopping_season import NO_SEASON, SeasonBelief, StoppingSeason
from tests.prose import HIDDEN
from tests.unit.report.years import YearOf

MONTHS = tuple(months_between(dt.date(2024, 7, 1), dt.date(2026, 7, 1)))
DRAWS = 3
COSTS = pl.DataFrame(
    {
        "cost_month": [dt.date(2024, 5, 1), dt.date(2024, 9, 1), dt.date(2025, 9, 1)],
        "amount": [600.0, 1800.0, 2400.0],
    }
)


def register_of(begun=(120, 60), kept_out_kg=(100.0, 300.0), costs=COSTS, still_held_share=1.0):
    """Two reporting years from July; bins given in their first months; every bin stays."""
    given = np.zeros((24, 1, 3))
    given[0, 0, 0], given[12, 0, 0] = begun
    kept_out = np.zeros((1 + DRAWS, 24))
    kept_out[:, :12], kept_out[:, 12:] = kept_out_kg
    stays = SimpleNamespace(
        in_use_share=lambda ages, _: np.where(ages > 12, 0.5, 1.0)[None, :].repeat(1 + DRAWS, 0)
    )
    year = YearOf(
        program=SimpleNamespace(
            council=SimpleNamespace(currency="GBP", reporting_year_first_month=7),
            privacy=SimpleNamespace(small_cell_threshold=10),
        ),
        counts=SimpleNamespace(
            costs_by_month=costs,
            handovers=pl.DataFrame({"bins_given": [1]}),
            back=pl.DataFrame({"households_back": [1]}),
        ),
        diversion=SimpleNamespace(
            cohorts=Cohorts(MONTHS, ("A",), given),
            kept_out_kg=kept_out,
            estimates=SimpleNamespace(retention=(stays, stays, stays)),
            still_held_share=np.full((1, 1), still_held_share),
        ),
    )
    register = FigureRegister("Brackwell Council (invented)", "2025-26", "0")
    out = Writer(register, year, CATALOGUE)
    add_costs_by_year(out)
    add_bins_by_year(out)
    return register


def test_cost_and_tonnes_of_each_year():
    register = register_of()
    # 12 months × 100 kg = 1.2 t for 1800; 3.6 t for 2400
    assert register["cost_per_t_kept_out_by_year[2024-25]"].value == pytest.approx(1500.0)
    assert register["cost_per_t_kept_out_by_year[2025-26]"].value == pytest.approx(2400 / 3.6)


def test_cost_from_the_start_has_what_was_spent_before_the_first_bin():
    register = register_of()
    assert register["program_cost_by_year[2023-24]"].value == 600.0
    assert register["cost_per_t_kept_out_by_year[2023-24]"].value is None
    assert register["cost_per_t_kept_out_through_year[2024-25]"].value == pytest.approx(2000.0)
    assert register["cost_per_t_kept_out_through_year[2025-26]"].value == pytest.approx(1000.0)


def test_bins_in_use_by_the_year_in_which_they_were_given():
    register = register_of()
    assert register["bins_in_use_by_year_given[2024-25]"].value == pytest.approx(60.0)
    assert register["bins_in_use_by_year_given[2025-26]"].value == pytest.approx(60.0)
    # where households hold but half of what the curve expects in use
    left = register_of(still_held_share=0.5)["bins_in_use_by_year_given[2024-25]"]
    assert left.value == pytest.approx(30.0)


def test_a_year_with_few_bins_is_hidden_with_another():
    register = register_of(begun=(120, 4))
    hidden = [f for f in register if f.id.startswith("bins_in_use_by") and f.value is None]
    assert len(hidden) == 2
    assert {figure.method for figure in hidden} == {HIDDEN}


def test_no_ledger_is_not_a_cost_of_nothing():
    empty = pl.DataFrame(schema={"cost_month": pl.Date, "amount": pl.Float64})
    register = register_of(costs=empty)
    for label in ("2024-25", "2025-26"):
        assert register[f"program_cost_by_year[{label}]"].value is None
        assert register[f"cost_per_t_kept_out_by_year[{label}]"].value is None


def test_a_season_of_giving_up_is_told_by_its_month_and_pace_and_doubt_as_doubt():
    """exp(2) / I0(2) = 7.389 / 2.280 = 3.2 at the peak (Abramowitz and Stegun, from memory)."""
    july = StoppingSeason(2.0, 6.5)
    words = [_season_words(SeasonBelief((NO_SEASON, july), p)) for p in ((0.04, 0.96), (0.6, 0.4))]
    assert "3.2 times as readily in July as on average" in words[0]
    assert "probability of a season 96%" in words[0]
    assert "do not settle (probability 40%)" in words[1]
    assert _season_words(SeasonBelief()) == ""


def test_of_eight_areas_three_are_the_top_third():
    """Eight thirds are two and two thirds, so three; each area's chances over the draws."""
    values = np.random.default_rng(3).permuted(np.tile(np.arange(8.0), (51, 1)), axis=1)
    top, bottom = chances_of_thirds(values)
    assert (top.sum(), bottom.sum()) == pytest.approx((3.0, 3.0))
    assert top == pytest.approx((values[1:] >= 5.0).mean(axis=0))
    assert bottom == pytest.approx((values[1:] <= 2.0).mean(axis=0))


def test_a_target_that_the_year_as_reported_just_meets_is_met_at_equal_odds():
    met = np.array([30.0, 28.0, 26.0, 24.0, 20.0])
    assert odds_at(met, 30.0) == pytest.approx(1.0)
    assert odds_at(met, 30.1) is None
    assert odds_at(met, 24.0) == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("name", "cost", "quantity"),
    [(name, *pair) for name, pair in UNIT_COSTS.items()],
)
def test_a_unit_cost_sets_cost_and_quantity_of_the_same_time_against_each_other(
    name, cost, quantity
):
    """Bins in use at the end were paid for by all that was spent to date."""
    of_bins = quantity == "bins_in_use"
    assert cost.endswith("_to_date") == ("_to_date" in quantity or of_bins)
    assert ("to_date" in name) == ("_to_date" in quantity)
