"""How far a reporting year is counted."""

import datetime as dt

import polars as pl
import pytest

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

    def query(self, name: str, **params: object) -> pl.DataFrame:
        if name == "latest_record":
            return self.latest
        self.asked_until.add(params["before_date"])
        return pl.DataFrame(schema=FRAME_COLUMNS if name == "wave_frames" else None)


@pytest.mark.parametrize(
    ("latest", "before", "through"),
    [
        (dt.date(2026, 10, 5), dt.date(2026, 11, 1), "2026-10-31"),
        (dt.date(2026, 12, 31), dt.date(2027, 1, 1), "2026-12-31"),
        (dt.date(2027, 2, 15), dt.date(2027, 4, 1), ""),
        (dt.date(2027, 2, 14), dt.date(2027, 3, 1), "2027-02-28"),
        (dt.date(2029, 1, 1), dt.date(2027, 4, 1), ""),
        (None, dt.date(2027, 4, 1), ""),
    ],
    ids=["running", "at a month's end", "45 days quiet", "46 days quiet", "long over", "empty"],
)
def test_a_running_year_is_counted_to_the_end_of_its_newest_month(
    latest: dt.date | None, before: dt.date, through: str
) -> None:
    store = CountingStore(latest)
    counts = count_year(store, PROGRAM, "2026-27")
    assert (counts.before_date, counts.through_date) == (before, through)
    assert store.asked_until == {before}
