"""The generator's own formulas against closed forms and laws."""

from dataclasses import replace

import numpy as np
import pytest

from sample_programs.generator import TOWNS
from sample_programs.generator.answering import heap_kg, heap_litres, report_shares
from sample_programs.generator.calendar import open_calendar
from sample_programs.generator.towns import Feeding, Stopping, Survey
from sample_programs.generator.truth import retention_share
from sample_programs.generator.use import (
    draw_use_days,
    in_use_days,
    ramp_factor,
    season_factor,
    settled_kg_per_week,
)

BINS_COUNT = 40_000
ALIKE = np.ones(BINS_COUNT)
SURVEY = Survey(baseline_asked_count=100, followup_asked_count=100)
NO_LINKS = Stopping(dwelling_hazard=(1.0, 1.0, 1.0), feed_link=0.0)


def drawn(stopping: Stopping, seed: int = 3) -> np.ndarray:
    rng = np.random.default_rng(seed)
    places = np.zeros(BINS_COUNT, dtype=int)
    return draw_use_days(stopping, places, rng.standard_normal(BINS_COUNT), ALIKE, rng)


def test_time_in_use_follows_the_mixture_s_closed_form():
    # S(t) = (1 - never) at 0+; for old bins early quitters are gone and only the late part
    # is left: (1 - never - early) (1 + t / scale) ** -shape.
    days = np.array([730.0, 1_460.0])
    expected = (1 - 0.05 - 0.10) * (1 + days / 900.0) ** -0.48
    found = retention_share(drawn(NO_LINKS), np.array([0.0, *days]))
    error = 4 * np.sqrt(0.25 / BINS_COUNT)
    assert found[0] == pytest.approx(1 - 0.05, abs=error)
    assert found[1:] == pytest.approx(expected, abs=error)


def test_early_quitters_have_the_median_that_is_set():
    only_early = replace(NO_LINKS, never_set_up_share=0.0, early_share=0.4)
    gone_by_median = 1 - retention_share(drawn(only_early), np.array([55.0]))[0]
    late_gone = 1 - (1 + 55.0 / 900.0) ** -0.48
    expected = 0.4 * 0.5 + 0.6 * late_gone
    assert gone_by_median == pytest.approx(expected, abs=4 * np.sqrt(0.25 / BINS_COUNT))


def test_a_higher_hazard_shortens_use():
    usual = retention_share(drawn(NO_LINKS), np.array([365.0]))
    hard = replace(NO_LINKS, dwelling_hazard=(1.6, 1.6, 1.6))
    assert retention_share(drawn(hard), np.array([365.0])) < usual - 0.05


def test_run_in_starts_low_is_halfway_at_its_half_and_never_falls():
    feeding = Feeding(median_kg_per_week=1.0, ramp_start=0.2)
    age = np.array([-1.0, 0.0, 5.0, 500.0])
    factor = ramp_factor(feeding, age, np.array(5.0))
    assert factor[:3] == pytest.approx([0.2, 0.2, 0.6])
    assert factor[3] == pytest.approx(1.0, abs=1e-3)
    assert np.all(np.diff(ramp_factor(feeding, np.linspace(0, 60, 200), np.array(5.0))) >= 0)


def test_season_peaks_where_it_is_set_and_heat_cuts_it():
    feeding = Feeding(median_kg_per_week=1.0, season_swing=0.2, season_peak_day=200.0)
    assert season_factor(feeding, np.array([200.0, 200.0 + 365.25 / 2])) == pytest.approx(
        [1.2, 0.8]
    )
    hot = replace(feeding, heat_dip=0.5, heat_day=200.0)
    assert season_factor(hot, np.array([200.0])) == pytest.approx([0.8])


def test_settled_feed_grows_with_people_by_its_power():
    feeding = Feeding(median_kg_per_week=1.3, people_power=0.5, dwelling_factors=(1.0, 1.0, 1.0))
    zero = np.zeros(2)
    found = settled_kg_per_week(feeding, zero.astype(int), np.array([2.4, 9.6]), zero)
    assert found == pytest.approx([1.3, 2.6])


def test_days_in_use_tile_the_time_between_hand_over_and_stop():
    calendar = open_calendar(2024, 7, 1)
    handover, stopped = np.array([3, 40, 100]), np.array([3.0, 77.5, 1e6])
    horizon = calendar.piece_edges[-1]
    found = in_use_days(calendar, handover, stopped).sum(axis=1)
    assert found == pytest.approx([0.0, 37.5, horizon - 100.0])


def test_pieces_lie_in_one_week_and_one_month_and_one_year():
    calendar = open_calendar(2023, 7, 3)
    last = calendar.piece_edges[1:] - 1
    assert np.array_equal(calendar.piece_week, last // 7)
    month_of_last = np.searchsorted(calendar.month_edges, last, side="right") - 1
    assert np.array_equal(calendar.piece_month, month_of_last)
    assert calendar.end_day == 366 + 365 + 365  # July 2023 to June 2026 holds one 29 February


def test_shares_are_said_without_bias_and_sum_to_one():
    true_share = np.array([0.62, 0.2, 0.03, 0.0, 0.15])
    said = report_shares(np.tile(true_share, (20_000, 1)), np.random.default_rng(5))
    assert said.sum(axis=1) == pytest.approx(1.0, abs=1e-9)
    assert said.mean(axis=0) == pytest.approx(true_share, abs=4 * 0.1 / np.sqrt(20_000))
    assert np.allclose(said * 20, np.rint(said * 20))


def test_amounts_heap_on_halves_and_fives():
    rng = np.random.default_rng(8)
    kg = heap_kg(rng.uniform(0.5, 3.0, 5_000), SURVEY, rng)
    on_halves = np.mean(np.isclose(kg * 2, np.rint(kg * 2)))
    assert on_halves > 0.75
    litres = heap_litres(rng.uniform(4.0, 12.0, 5_000), SURVEY, rng)
    assert np.all(litres == np.rint(litres))
    assert np.mean(litres % 5 == 0) > 0.4


def test_the_large_towns_answer_at_random_and_valdorra_does_not():
    links = {name: town.survey.response_use_link for name, town in TOWNS.items()}
    assert links["port_marrow"] == links["thornquay"] == 0.0
    assert links["valdorra"] > 0.0
