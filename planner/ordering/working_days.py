"""Days on which suppliers send, carriers drive and the council receives."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from planner.tables import WEEKDAYS
from planner.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    from collections.abc import Iterable

WORKING_WEEK = "1111100"
"""Monday to Friday, on which carriers drive."""


@dataclass(frozen=True)
class WorkingDays:
    """A country's working days, and those on which the council takes deliveries."""

    public_holidays: tuple[dt.date, ...] = ()  # days on which nobody sends, drives or receives
    receiving_weekdays: tuple[str, ...] = WEEKDAYS[:5]  # weekdays on which the council receives

    @cached_property
    def _carrying(self) -> np.busdaycalendar:
        return np.busdaycalendar(WORKING_WEEK, list(self.public_holidays))

    @cached_property
    def _receiving(self) -> np.busdaycalendar:
        mask = [day in self.receiving_weekdays for day in WEEKDAYS]
        return np.busdaycalendar(mask, list(self.public_holidays))

    def is_working(self, day: dt.date) -> bool:
        """Tell whether a day is a working day."""
        return bool(np.is_busday(day, busdaycal=self._carrying))

    def delivery(self, dispatch: dt.date, transit_days: int) -> dt.date:
        """Day on which what is sent arrives: so many working days on, when somebody receives.

        Examples
        --------
        >>> WorkingDays().delivery(dt.date(2026, 3, 6), 2)
        datetime.date(2026, 3, 10)
        """
        arrived = np.busday_offset(dispatch, transit_days, "forward", busdaycal=self._carrying)
        received = np.busday_offset(arrived, 0, "forward", busdaycal=self._receiving)
        return _date(received)

    def sent_for(self, delivery: dt.date, transit_days: int) -> dt.date:
        """Last day on which goods are sent to arrive by a day.

        Examples
        --------
        >>> WorkingDays().sent_for(dt.date(2026, 3, 10), 2)
        datetime.date(2026, 3, 6)
        """
        return _date(
            np.busday_offset(delivery, -transit_days, "backward", busdaycal=self._carrying)
        )

    def back_to_working(self, day: dt.date) -> dt.date:
        """Latest working day that is not after a day."""
        return _date(np.busday_offset(day, 0, "backward", busdaycal=self._carrying))

    def order_by(self, dispatch: dt.date, lead_days: int, weekday: str | None) -> dt.date:
        """Latest day on which to order for a day of sending.

        The weekday is the last of the week for orders; None for any working day.

        Examples
        --------
        >>> WorkingDays().order_by(dt.date(2026, 3, 9), 7, "thursday")
        datetime.date(2026, 2, 26)
        """
        latest = dispatch - dt.timedelta(days=lead_days)
        if weekday is not None:
            back = (latest.weekday() - WEEKDAYS.index(weekday)) % DAYS_PER_WEEK
            latest -= dt.timedelta(days=back)
        return self.back_to_working(latest)

    def dispatch_days(
        self, first: dt.date, last: dt.date, first_weekday: str, last_weekday: str
    ) -> list[dt.date]:
        """List the working days from one weekday to another on which a supplier sends.

        Examples
        --------
        >>> days = WorkingDays((dt.date(2026, 4, 6),)).dispatch_days(
        ...     dt.date(2026, 4, 1), dt.date(2026, 4, 14), "monday", "tuesday"
        ... )
        >>> [day.isoformat() for day in days]
        ['2026-04-07', '2026-04-13', '2026-04-14']
        """
        sends = set(weekdays_between(first_weekday, last_weekday))
        days = (first + dt.timedelta(days=n) for n in range((last - first).days + 1))
        return [day for day in days if day.weekday() in sends and self.is_working(day)]


def weekdays_between(first: str, last: str) -> Iterable[int]:
    """List the weekdays by number, from one to another, over a weekend where the last is earlier.

    Examples
    --------
    >>> list(weekdays_between("friday", "monday"))
    [4, 5, 6, 0]
    """
    begins, ends = WEEKDAYS.index(first), WEEKDAYS.index(last)
    return [(begins + n) % DAYS_PER_WEEK for n in range((ends - begins) % DAYS_PER_WEEK + 1)]


def monday_of(day: dt.date) -> dt.date:
    """Monday of the week in which a day falls."""
    return day - dt.timedelta(days=day.weekday())


def _date(day: np.datetime64) -> dt.date:
    found: dt.date = day.astype("datetime64[D]").astype(object)
    return found
