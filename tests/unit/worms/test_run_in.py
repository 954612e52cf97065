"""A new bin's first months."""

from __future__ import annotations

import numpy as np
import pytest

from planner.units import DAYS_PER_MONTH
from planner.worms.run_in import run_in, stock_kg

SETTINGS = {
    "starter_kg": 0.25,
    "demand_kg_per_week": 3.0,
    "tray_area_m2": 0.16,
    "doubling_days": 90.0,
    "ceiling_kg_per_m2": 10.0,
    "feed_kg_per_kg_day": 0.5,
    "startup_share": 0.5,
}


def test_the_first_four_weeks_are_fed_at_the_start_up_share():
    ages = np.array([27.9, 28.1]) / DAYS_PER_MONTH
    before, after = run_in(ages, **SETTINGS)
    stock = stock_kg(np.array([27.9, 28.1]), 0.25, 90.0, 1.6)
    assert before == pytest.approx(stock[0] * 0.5 * 7 * 0.5 / 3.0)
    assert after == pytest.approx(stock[1] * 0.5 * 7 / 3.0)


def test_a_small_tray_never_takes_all_of_a_large_demand():
    # 1.6 kg of worms at the ceiling take 5.6 kg a week.
    found = run_in(240.0, **{**SETTINGS, "demand_kg_per_week": 11.2})
    assert float(found) == pytest.approx(0.5, abs=1e-6)


def test_a_household_that_feeds_nothing_is_not_held_back():
    assert float(run_in(0.0, **{**SETTINGS, "demand_kg_per_week": 0.0})) == 1.0


def test_a_bin_without_worms_takes_nothing():
    assert run_in([0.0, 24.0], **{**SETTINGS, "starter_kg": 0.0}).tolist() == [0.0, 0.0]


def test_a_starter_above_the_ceiling_counts_as_the_ceiling():
    assert stock_kg([0.0, 900.0], 5.0, 90.0, 1.6) == pytest.approx([1.6, 1.6])


def test_ages_and_draws_broadcast():
    ages = np.arange(12)[np.newaxis, :] + 0.5
    feed = np.array([[0.25], [0.5], [0.75]])
    found = run_in(ages, **{**SETTINGS, "feed_kg_per_kg_day": feed})
    assert found.shape == (3, 12)
    for row, rate in zip(found, (0.25, 0.5, 0.75), strict=True):
        alone = run_in(ages[0], **{**SETTINGS, "feed_kg_per_kg_day": rate})
        assert row == pytest.approx(alone)


def test_cold_lowers_the_appetite_not_the_demand():
    # At the ceiling 1.6 kg of worms take 5.6 kg a week; a demand of 3 kg is met down to an
    # appetite of 3/5.6, and at a quarter of it 1.4 kg of 3 kg are taken.
    found = run_in(240.0, **SETTINGS, appetite_share=np.array([1.0, 0.6, 0.25, 0.0]))
    assert found == pytest.approx([1.0, 1.0, 1.4 / 3.0, 0.0], abs=1e-6)


def test_no_worms_in_no_room_stay_none():
    assert stock_kg([0.0, 30.0], 0.0, 90.0, 0.0).tolist() == [0.0, 0.0]
