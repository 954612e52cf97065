"""What is due in a year, as a calendar file after RFC 5545."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import icalendar

from planner.errors import ReportError
from planner.field.invitations import PRODUCT
from planner.store.files import write_whole

if TYPE_CHECKING:
    from pathlib import Path

    from planner.program import Program
    from planner.report.due.gathering import Due
    from planner.report.due.item import DueItem

REMIND_DAYS = 7
"""A week's notice; common practice, no source."""


def due_calendar(due: Due, program: Program, written_at: dt.datetime) -> bytes:
    """Write the year ahead as a calendar; a later file corrects an earlier one.

    Parameters
    ----------
    due
        What is due.
    program
        Whose it is.
    written_at
        Time of writing, UTC.
    """
    calendar = icalendar.Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("name", f"Worm bins: {program.council.name}")
    for item in due.year:
        calendar.add_component(_entry(item, due.store_id or "new", written_at))
    return bytes(calendar.to_ical())


def _entry(item: DueItem, mark: str, written_at: dt.datetime) -> icalendar.Event:
    entry = icalendar.Event()
    entry.add("uid", f"{item.name}-{mark}@wormbin-planner")
    entry.add("dtstamp", written_at.replace(tzinfo=dt.UTC, microsecond=0))
    entry.add("dtstart", item.day)
    # section 3.6.1: the end is the day after the last
    entry.add("dtend", item.day + dt.timedelta(days=1))
    entry.add("summary", item.what)
    if item.command:
        entry.add("description", f"planner {item.command}")
    reminder = icalendar.Alarm()
    reminder.add("action", "DISPLAY")
    reminder.add("description", item.what)
    reminder.add("trigger", dt.timedelta(days=-REMIND_DAYS))
    entry.add_component(reminder)
    return entry


def write_calendar(target: Path, program: Program, due: Due, written_at: dt.datetime) -> Path:
    """Write the year ahead as a calendar file; one of before is replaced.

    Raises
    ------
    ReportError
        The file cannot be written.
    """
    try:
        write_whole(target, due_calendar(due, program, written_at))
    except OSError as error:
        message = f"{target}: cannot be written ({error.strerror}). Name a folder that can."
        raise ReportError(message, path=str(target)) from error
    return target
