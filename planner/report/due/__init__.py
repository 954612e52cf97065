"""What is due: days ahead and what is late, a calendar of them, and a pack for a successor."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

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
    """A thing to do by a day.

    Parameters
    ----------
    day
        Day by which it should be done, or on which it happens.
    what
        What it is, in a sentence without its end.
    command
        Words of the command that does it, without ``planner``; empty where none does.
    name
        Name that stays from day to day, for the calendar.
    is_late
        Whether the day has passed and it is not done.
    """

    day: dt.date
    what: str
    command: str
    name: str
    is_late: bool = False

    @property
    def kind(self) -> str:
        """What it is like, for lists that show only the first few of each."""
        return self.name.partition("-")[0]


@dataclass(frozen=True)
class Window:
    """The days that are looked at.

    Parameters
    ----------
    first
        The day of asking.
    last
        The last day ahead.
    wording
        How the council's country writes days.
    """

    first: dt.date
    last: dt.date
    wording: Wording

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
    """What is due in a program.

    Parameters
    ----------
    window
        Days that were looked at.
    items
        What is late first, then by day.
    year
        The same for a year ahead.
    refused
        Open refused rows: file, table_name, rows_count.
    backup
        The newest backup and when it was made; None where there is none.
    store_id
        Mark of the store, which makes names in calendars its own.
    has_records
        Whether anything was loaded yet.
    """

    window: Window
    items: tuple[DueItem, ...]
    year: tuple[DueItem, ...]
    refused: pl.DataFrame | None
    backup: tuple[Path, dt.datetime] | None
    store_id: str
    has_records: bool
