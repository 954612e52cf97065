"""What is due: days ahead and what is late, a calendar of them, and a pack for a successor."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import polars as pl

    from planner.report.wording import Wording

DAYS_AHEAD = 90
DAYS_OF_A_YEAR = 365

BACKUP_DAYS = 30
"""Days after which a backup is called old though nothing was loaded since; common practice,
no source."""

ROUND_MONTHS = 12
"""Months in which a follow-up round should close; common practice, no source."""


@dataclass(frozen=True)
class DueItem:
    """A thing to do by a day."""

    day: dt.date  # day by which it should be done, or on which it happens
    what: str  # what it is, in a sentence without its end
    command: str  # words of the command that does it, without ``planner``; empty where none does
    name: str  # name that stays from day to day, for the calendar
    is_late: bool = False  # whether the day has passed and it is not done

    @property
    def kind(self) -> str:
        """What it is like, for lists that show only the first few of each."""
        return self.name.partition("-")[0]


@dataclass(frozen=True)
class Window:
    """The days that are looked at."""

    first: dt.date  # the day of asking
    last: dt.date  # the last day ahead
    wording: Wording  # how the council's country writes days

    @classmethod
    def ahead(cls, day: dt.date, days: int, wording: Wording) -> Window:
        """Look so many days ahead."""
        return cls(day, day + dt.timedelta(days=days), wording)

    def holds(self, day: dt.date) -> bool:
        """Tell whether a day is one of them."""
        return self.first <= day <= self.last

    def say(self, day: dt.date) -> str:
        """Write a day as the council's country does."""
        return self.wording.day(day)


@dataclass(frozen=True)
class Due:
    """What is due in a program."""

    window: Window  # days that were looked at
    items: tuple[DueItem, ...]  # what is late first, then by day
    year: tuple[DueItem, ...]  # the same for a year ahead
    refused: pl.DataFrame | None  # open refused rows: file, table_name, rows_count
    # the newest backup and when it was made; None where there is none
    backup: tuple[Path, dt.datetime] | None
    store_id: str  # mark of the store, which makes names in calendars its own
    has_records: bool  # whether anything was loaded yet
