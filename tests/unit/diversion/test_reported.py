"""Reports of each round and unit brought in, with the diaries of the same answers."""

import numpy as np
import polars as pl
import pytest

from planner.diversion.reported import reported_feed, winsorised_reports
from planner.survey.feed import Calibration, UnitCalibration


def answers():
    """Make two rounds of a dozen answers in kilograms, one of them out of use, and a few more."""
    kg = [float(n) for n in range(1, 12)] + [90.0]
    return pl.DataFrame(
        {
            "wave_id": ["A"] * 12 + ["B"] * 5,
            "household_id": [f"H{n:02d}" for n in range(12)] * 1 + [f"H{n:02d}" for n in range(5)],
            "is_in_use": [True] * 17,
            "fed_kg_last_week": [*kg, 1.0, 2.0, 3.0, 4.0, 50.0],
            "fed_litres_last_week": pl.Series([None] * 17, dtype=pl.Float64),
        }
    )


def diaries():
    return pl.DataFrame(
        {
            "wave_id": ["A", "A"],
            "household_id": ["H11", "H05"],
            "fed_kg_last_week": [90.0, 6.0],
            "fed_litres_last_week": pl.Series([None, None], dtype=pl.Float64),
            "weighed_kg_per_week": [30.0, 5.0],
            "weeks_count": [1, 2],
        }
    )


def test_a_report_of_each_end_is_brought_in_where_ten_are_told():
    winsorised = winsorised_reports(answers(), diaries())
    told = winsorised.followup["fed_kg_last_week"].to_list()
    assert told[:12] == [2.0, *[float(n) for n in range(2, 12)], 11.0]
    assert told[12:] == [1.0, 2.0, 3.0, 4.0, 50.0]
    assert winsorised.changed_count == 2
    assert winsorised.diaries["fed_kg_last_week"].to_list() == [11.0, 6.0]
    assert winsorised.diaries["weighed_kg_per_week"].to_list() == [30.0, 5.0]


def test_the_change_of_feed_is_told():
    """By hand: 66 + 90 + 60 kg become 67 + 11 + 60, at any slope."""
    unit = UnitCalibration(np.array([0.7]), "published factors")
    winsorised = winsorised_reports(answers(), diaries())
    found = reported_feed(
        answers(),
        winsorised.followup,
        np.ones((1, 17)),
        Calibration(unit, unit),
        winsorised.changed_count,
    )
    assert found.change_share == pytest.approx(138.0 / 216.0 - 1.0)
    # all seventeen on half kilograms, where a fifth of the tenths lie
    assert found.heaping["half_kg"].index == pytest.approx([5.0])
    assert "five_litre" not in found.heaping


def rounding_of(amounts):
    """Change that rounding makes of in-use bins' reports in kilograms."""
    count = len(amounts)
    given = pl.DataFrame(
        {
            "wave_id": ["A"] * count,
            "household_id": [f"H{n}" for n in range(count)],
            "is_in_use": [True] * count,
            "fed_kg_last_week": amounts,
            "fed_litres_last_week": pl.Series([None] * count, dtype=pl.Float64),
        }
    )
    unit = UnitCalibration(np.array([0.7]), "published factors")
    weights = np.ones((1, count))
    return reported_feed(given, given, weights, Calibration(unit, unit), 0).rounding_change


def test_reports_to_the_tenth_are_what_they_say():
    tenths = np.setdiff1d(np.arange(1, 60), np.arange(0, 60, 5)) / 10
    assert rounding_of(tenths)["kg"] == pytest.approx(0.0, abs=1e-9)


def test_rounding_up_and_down_evens_out_and_changes_little():
    """Sheppard: rounding a smooth quantity to steps well below its spread keeps its mean."""
    true = 3.0 * np.random.default_rng(4).weibull(2.0, 2000)
    rounded = np.maximum(np.round(true), 0.5)
    assert abs(rounding_of(rounded)["kg"]) < 0.015
    # and the rounded mean was near the truth to begin with
    assert rounded.mean() == pytest.approx(true.mean(), rel=0.02)


def test_rounding_of_a_falling_quantity_to_steps_as_wide_as_its_mean_says_too_much():
    """By hand: within a step of an exponential of mean 1 the mean lies 0.082 below the middle."""
    true = np.random.default_rng(5).exponential(size=4000)
    rounded = np.round(true)
    told = rounded[rounded > 0.0]
    assert told.mean() - true[rounded > 0.0].mean() == pytest.approx(0.082, abs=0.02)
    assert -0.1 < rounding_of(told)["kg"] < 0.0


@pytest.mark.parametrize("amounts", [[1.0] * 9, [2.0] * 40])
def test_nothing_is_said_of_few_reports_or_of_reports_all_alike(amounts):
    assert rounding_of(np.array(amounts)) == {}
