"""Rows that stand for the silent, by hand."""

import datetime as dt
from types import SimpleNamespace

import polars as pl
import pytest

from planner.diversion import bounds
from planner.survey.use_intervals import filled_if

D = dt.date
OPENS = D(2025, 4, 11)


def counted():
    """Count four households asked on day 100 of their bins: one answered, three silent.

    In a baseline round H5 answered when it was asked again; H4 was asked again in both rounds.
    """
    frames = pl.DataFrame(
        {
            "wave_id": ["F"] * 4 + ["B"] * 2,
            "wave_kind": ["followup"] * 4 + ["baseline"] * 2,
            "opens_date": [OPENS] * 6,
            "household_id": ["H1", "H2", "H3", "H4", "H5", "H4"],
            "area_id": ["N"] * 6,
            "dwelling": ["house"] * 6,
            "has_answered": [True, False, False, False, True, False],
            "is_settled": [False] * 6,
            "again_probability": [None, None, None, 0.5, 0.25, 0.25],
            "has_answered_again": [False] * 4 + [True, False],
        }
    )
    intervals = pl.DataFrame(
        {
            "household_id": ["H1", "H2", "H3", "H4"],
            "entry_date": [D(2025, 1, 1)] * 4,
            "asked_age_days": [100] * 4,
            "is_known": [True, False, False, False],
            # of H3 a later round tells that it still used its bin, H4's was out by day 60
            "last_in_use_age_days": [100, 0, 280, 0],
            "first_out_of_use_age_days": [None, None, None, 60],
            "is_exact": [False] * 4,
        }
    )
    return SimpleNamespace(frames=frames, use_intervals=intervals)


def test_all_asked_after_a_bin_count_as_heard():
    frames = bounds._all_heard(counted())
    assert frames["has_answered"].to_list() == [True] * 5 + [False]
    # of the baseline nothing is filled in, so those asked again there stand for its silent
    assert frames["again_probability"].to_list() == [None] * 4 + [0.25, 0.25]
    assert frames["has_answered_again"].to_list() == [False] * 4 + [True, False]


@pytest.mark.parametrize(
    ("extreme", "lower", "upper"),
    [
        ("all kept", [100, 100, 280, 0], [None, None, None, 60]),
        ("all stopped", [100, 0, 280, 0], [None, 100, 281, 60]),
    ],
)
def test_the_silent_are_filled_in_unless_it_is_known(extreme, lower, upper):
    filled = filled_if(counted().use_intervals, extreme)
    assert filled["last_in_use_age_days"].to_list() == lower
    assert filled["first_out_of_use_age_days"].to_list() == upper
