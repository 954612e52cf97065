"""Cohorts: ages and exposures against bins given day by day."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.diversion.cohorts import Sums, cohorts, months_between
from planner.diversion.counts import Counts
from planner.errors import EstimateError

HANDOVERS = pl.DataFrame(
    {
        "area_id": ["n", "n", "s"],
        "dwelling": ["house", "apartment", "house"],
        "model_id": ["m", "m", "m"],
        "handover_month": [dt.date(2025, 11, 1), dt.date(2026, 1, 1), dt.date(2025, 11, 1)],
        "households_begun": [3, 4, 5],
        "month_left": [1.0 / 2.0] * 3,
        "month_left_square": [1.0 / 3.0] * 3,
    }
)


def test_bins_land_in_their_month_area_and_dwelling() -> None:
    given = cohorts(HANDOVERS, ["n", "s"], dt.date(2026, 3, 1))
    assert [f"{m:%Y-%m}" for m in given.months] == ["2025-11", "2025-12", "2026-01", "2026-02"]
    assert given.bins_given[0, 0, 0] == 3
    assert given.bins_given[2, 0, 2] == 4
    assert given.bins_given[0, 1, 0] == 5
    assert given.bins_given.sum() == 12


def test_weeks_are_the_days_of_the_calendar_month() -> None:
    given = cohorts(HANDOVERS, ["n", "s"], dt.date(2026, 3, 1))
    assert given.weeks * 7 == pytest.approx([30, 31, 31, 28])


def test_exposure_and_age_agree_with_bins_given_on_every_moment_of_a_month() -> None:
    """Simulated truth: months of equal length, 400 bins given evenly, looked at 400 times."""
    given = cohorts(HANDOVERS, ["n", "s"], dt.date(2026, 3, 1))
    moments = (np.arange(400) + 0.5) / 400
    for later in range(4):
        age = later + moments[:, None] - moments[None, :]
        there = age > 0
        assert given.exposure()[later, 0] == pytest.approx(there.mean(), abs=0.002)
        assert given.age_in_month()[later, 0] == pytest.approx(age[there].mean(), abs=0.003)
        at_end = later + 1 - moments
        assert given.age_at_month_end()[later, 0] == pytest.approx(at_end.mean(), abs=0.002)
    assert np.all(given.exposure()[np.triu_indices(4, 1)] == 0.0)


def test_bins_given_early_in_a_month_are_there_for_longer_and_older() -> None:
    """Bins of the first ten of thirty days, looked at 300 times a month."""
    left = 1.0 - np.arange(10) / 30
    early = HANDOVERS.with_columns(
        month_left=pl.lit(left.mean()), month_left_square=pl.lit((left**2).mean())
    )
    given = cohorts(early, ["n", "s"], dt.date(2026, 3, 1))
    moments = (np.arange(300) + 0.5) / 300
    for later in range(4):
        age = later + moments[:, None] - (1.0 - left[None, :])
        there = age > 0
        assert given.exposure()[later, 0] == pytest.approx(there.mean(), abs=0.002)
        assert given.age_in_month()[later, 0] == pytest.approx(age[there].mean(), abs=0.003)
        at_end = later + left
        assert given.age_at_month_end()[later, 0] == pytest.approx(at_end.mean(), abs=1e-9)
    assert given.entry_months[0] == pytest.approx(10 + (1.0 - left).mean())


def test_year_slice_begins_with_its_first_month() -> None:
    given = cohorts(HANDOVERS, ["n", "s"], dt.date(2026, 3, 1))
    assert given.months[given.months_from(dt.date(2026, 1, 1))] == given.months[2:]
    assert given.months[given.months_from(dt.date(2025, 7, 1))] == given.months


def test_no_handover_is_an_error() -> None:
    with pytest.raises(EstimateError, match="No hand-over is recorded before 1 March 2026"):
        cohorts(HANDOVERS.clear(), ["n"], dt.date(2026, 3, 1))


def test_months_cross_a_year() -> None:
    assert len(months_between(dt.date(2023, 7, 1), dt.date(2026, 7, 1))) == 36


def test_of_bins_in_use_so_many_are_left_as_households_hold_one() -> None:
    bins = np.array([[4.0, 6.0, 8.0], [5.0, 5.0, 5.0]])
    sums = Sums(bins, bins, bins, np.ones((2, 5, 3)), [np.ones((2, 3))], [np.ones((2, 3, 3))])
    _, share = sums.within(np.array([9.0, 9.0, 9.0]))
    assert share.tolist() == [[1.0], [1.0]]
    # four households at the end: of eight bins half, of five four
    left, share = sums.within(np.array([9.0, 9.0, 4.0]))
    assert share.tolist() == [[0.5], [0.8]]
    assert left.bins_in_use.tolist() == [[4.0, 6.0, 4.0], [5.0, 5.0, 4.0]]


@pytest.mark.parametrize(
    ("before", "through"), [((2026, 7, 1), "2026-06-30"), ((2028, 3, 1), "2028-02-29")]
)
def test_a_year_that_runs_is_covered_through_the_last_day_of_a_month(before, through) -> None:
    running = SimpleNamespace(before_date=dt.date(*before), is_running=True)
    assert Counts.through_date.fget(running) == through
    running.is_running = False
    assert Counts.through_date.fget(running) == ""
