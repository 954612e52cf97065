"""The last steps of the chain: what would have been composted anyway or is thrown away."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from planner.diversion.leakage import ANYWAY, LEAST_ANSWERS, THROWN_AWAY, Leakage, leakage
from planner.paths import TEMPLATES
from planner.program import Leakage as Stated
from planner.program import read_program
from planner.survey.feed import Calibration, UnitCalibration
from planner.units import DAYS_PER_MONTH
from tests.unit.survey.alone import weibull_curve

PROGRAM = read_program(TEMPLATES / "program.toml")
ONE = np.ones(3)
PLAIN = Calibration(
    UnitCalibration(ONE, "published factors"), UnitCalibration(ONE, "published factors")
)
CURVE = weibull_curve(np.array([6.0]), np.array([1.0]))
FACTORS = {ANYWAY: np.array([0.05, 0.02, 0.08]), THROWN_AWAY: np.array([0.04, 0.01, 0.09])}


HANDED = dt.date(2025, 1, 1)


def answers(anyway, thrown, fed, days, in_use=None, at_most=None):
    count = len(fed)
    return pl.DataFrame(
        {
            "is_in_use": [True] * count if in_use is None else in_use,
            "fed_kg_last_week": fed,
            "fed_litres_last_week": [None] * count,
            "dwelling": ["house"] * count,
            "used_days": days,
            "used_at_most_days": at_most or days,
            "first_handover_date": [HANDED] * count,
            "would_have_composted_share": anyway,
            "thrown_away_share": thrown,
        },
        schema_overrides={
            "fed_litres_last_week": pl.Float64,
            "fed_kg_last_week": pl.Float64,
            "would_have_composted_share": pl.Float64,
            "thrown_away_share": pl.Float64,
        },
    )


def told(frame, program=PROGRAM, days_before=0):
    ones, begins = np.ones((3, frame.height)), HANDED + dt.timedelta(days_before)
    return leakage(frame, ones, PLAIN, (CURVE,) * 3, FACTORS, program, begins)


def test_a_hundred_kilograms_by_hand():
    # 100 fed, 80 from the residual bin, half of that landfilled: 40. A tenth would have been
    # composted: 36. A twentieth of all that was fed went back, half of it landfilled: 33.5.
    leaks = Leakage(np.array([0.1]), np.array([0.05]), {})
    steps = leaks.steps_kg(np.array([100.0]), np.array([80.0]), 0.5)
    assert np.concatenate(steps) == pytest.approx([40.0, 36.0, 33.5])
    by_area = leaks.kept_out_kg(np.full((1, 2, 3), 100.0), np.full((1, 2, 3), 80.0), 0.5)
    assert by_area == pytest.approx(np.full((1, 2, 3), 33.5))


def test_where_nothing_came_from_the_residual_bin_throwing_away_adds_to_the_landfill():
    leaks = Leakage(np.array([0.0]), np.array([0.2]), {})
    kept = leaks.kept_out_kg(np.array([100.0]), np.array([0.0]), 1.0)
    assert kept == pytest.approx([-20.0])


def test_a_share_counts_for_the_scraps_that_a_household_fed():
    # half of the households feed three times as much and throw a fifth of it away
    many = LEAST_ANSWERS
    frame = answers([0.0] * 2 * many, [0.2, 0.0] * many, [3.0, 1.0] * many, [100] * 2 * many)
    found = told(frame)
    assert found.thrown_away_share == pytest.approx([0.2 * 3 / 4] * 3)
    assert found.composted_anyway_share == pytest.approx([0.0] * 3)
    assert found.answers_count == {ANYWAY: 2 * many, THROWN_AWAY: 2 * many}


def test_a_bin_out_of_use_counts_for_the_days_it_was_used():
    # all fed two a week; those that stopped after 50 of 100 days threw all of it away
    many = LEAST_ANSWERS
    frame = answers(
        [None] * 2 * many,
        [1.0, 0.0] * many,
        [None, 2.0] * many,
        [50, 100] * many,
        [False, True] * many,
    )
    assert told(frame).thrown_away_share == pytest.approx([50 / 150] * 3)


def test_a_bin_that_stopped_on_no_day_told_counts_up_to_the_mean_age_of_stopping():
    """Constant hazard 1/6 a month: the mean age up to a year is 6 - 12 / (e² - 1) months."""
    many, year = LEAST_ANSWERS, 12 * DAYS_PER_MONTH
    frame = answers(
        [None] * 2 * many,
        [1.0, 0.0] * many,
        [None, 2.0] * many,
        [0.0, year] * many,
        [False, True] * many,
        [year, year] * many,
    )
    months = 6.0 - 12.0 / np.expm1(2.0)
    assert told(frame).thrown_away_share == pytest.approx([months / (months + 12.0)] * 3)


@pytest.mark.parametrize(
    ("years", "thrown_share"), [(1, 0.0), (2, 0.25)], ids=["this year's", "all of them"]
)
def test_scraps_of_earlier_years_count_where_too_few_fed_any_in_this(years, thrown_share):
    """Those who gave up after half a year threw all away, the others nothing in 1.5 years."""
    many = LEAST_ANSWERS
    frame = answers(
        [None] * 3 * many,
        [1.0, 0.0, None] * many,
        [None, 2.0, 2.0] * many,
        [182.625, 1.5 * 365.25, 3000] * many,
        [False, True, True] * many,
    )
    found = told(frame, days_before=years * 365.25)
    assert found.thrown_away_share == pytest.approx([thrown_share] * 3)


def test_the_assumption_yields_to_thirty_answers_and_to_no_fewer():
    few = LEAST_ANSWERS - 1
    frame = answers([0.5] * few, [None] * few, [1.0] * few, [9] * few)
    assert told(frame).composted_anyway_share is FACTORS[ANYWAY]
    assert not told(frame).is_surveyed(ANYWAY)
    enough = pl.concat([frame, frame.head(1)])
    assert told(enough).composted_anyway_share == pytest.approx([0.5] * 3)
    assert told(enough).is_surveyed(ANYWAY)
    assert told(enough).thrown_away_share is FACTORS[THROWN_AWAY]


def test_a_stated_share_is_certain_whatever_was_answered():
    frame = answers([0.5] * 40, [0.5] * 40, [1.0] * 40, [9] * 40)
    stated = PROGRAM.model_copy(update={"leakage": Stated(contents_binned_share=0.01)})
    found = told(frame, stated)
    assert found.thrown_away_share.tolist() == [0.01] * 3
    assert found.composted_anyway_share == pytest.approx([0.5] * 3)
