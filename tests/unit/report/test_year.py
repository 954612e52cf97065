"""How far a reporting year is counted."""

import datetime as dt
from contextlib import AbstractContextManager, nullcontext

import polars as pl
import pytest

from planner.errors import ReportError
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program
from planner.report.year import count_year

FRAME_COLUMNS = {"wave_id": pl.String, "stratum": pl.String, "has_answered": pl.Boolean}
PROGRAM = read_program(TEMPLATES / PROGRAM_FILE)


class CountingStore:
    """A store that answers when its newest record is and notes what it is asked."""

    def __init__(self, latest: dt.date | None) -> None:
        self.latest = pl.DataFrame({"latest_date": [latest]}, schema={"latest_date": pl.Date})
        self.asked_until: set[dt.date] = set()

    def counted_once(self, *_names: str) -> AbstractContextManager[None]:
        return nullcontext()

    def query(self, name: str, **params: object) -> pl.DataFrame:
        if name == "latest_record":
            return self.latest
        # days to come are those after the last that counts, and files have no end
        if name not in ("upcoming_events", "loads"):
            self.asked_until.add(params["before_date"])
        return pl.DataFrame(schema=FRAME_COLUMNS if name == "wave_frames" else None)


@pytest.mark.parametrize(
    ("latest", "before", "through"),
    [
        (dt.date(2026, 11, 5), dt.date(2026, 11, 1), "2026-10-31"),
        (dt.date(2026, 12, 31), dt.date(2027, 1, 1), "2026-12-31"),
        (dt.date(2026, 11, 23), dt.date(2026, 12, 1), "2026-11-30"),
        (dt.date(2026, 11, 22), dt.date(2026, 11, 1), "2026-10-31"),
        (dt.date(2027, 3, 25), dt.date(2027, 4, 1), ""),
        (dt.date(2029, 1, 1), dt.date(2027, 4, 1), ""),
        (None, dt.date(2027, 4, 1), ""),
    ],
    ids=[
        "a month begun",
        "at a month's end",
        "a week before a month's end",
        "more than a week before",
        "a week before the year's end",
        "long over",
        "empty",
    ],
)
def test_a_running_year_is_counted_to_the_last_month_recorded_whole(
    latest: dt.date | None, before: dt.date, through: str
) -> None:
    store = CountingStore(latest)
    counts = count_year(store, PROGRAM, "2026-27")
    assert (counts.before_date, counts.through_date) == (before, through)
    assert store.asked_until == {before}


def test_a_day_that_the_officer_names_takes_the_place_of_the_newest_record() -> None:
    store = CountingStore(dt.date(2029, 1, 1))
    counts = count_year(store, PROGRAM, "2026-27", dt.date(2026, 10, 31))
    assert counts.through_date == "2026-10-31"


@pytest.mark.parametrize("latest", [dt.date(2025, 9, 1), dt.date(2026, 4, 22)])
def test_a_year_without_a_month_recorded_whole_ends_in_a_sentence(latest: dt.date) -> None:
    with pytest.raises(ReportError, match="no month of it is recorded whole"):
        count_year(CountingStore(latest), PROGRAM, "2026-27")
