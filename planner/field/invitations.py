"""Invitations: a workbook for mail merge, and a calendar file for each slot of a day."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import icalendar
import polars as pl
from babel.dates import format_date

from planner.field.calendar_files import Slot, calendar_file, slot_entry, slot_file
from planner.field.draw import COLLECTED
from planner.messages import messages_for
from planner.workbooks import records_workbook

if TYPE_CHECKING:
    from openpyxl import Workbook

    from planner.field.booking import Places
    from planner.program import Program

CONTACT_COLUMNS = ("full_name", "street_address", "postcode", "email", "phone")


def invitations(
    found: Places, contacts: pl.DataFrame, program: Program, on_date: dt.date
) -> Workbook:
    """Make the workbook from which letters and mails are merged.

    Parameters
    ----------
    found
        Places that were given.
    contacts
        Frame of tables.Contacts; those that it lacks have empty names.
    program, on_date
        Rules of answering, the country, and the day of the offers.
    """
    locale = program.council.country_locale
    said = {
        day: format_date(day, "full", locale=locale)
        for day in found.given["given_date"].unique().to_list()
    }
    files = [slot_file(*one) for one in found.given.select("given_event_id", "slot").iter_rows()]
    answer = on_date + dt.timedelta(days=program.hand_over.answer_days)
    # who is asked by telephone answers there and then
    answer_by = pl.min_horizontal(pl.lit(answer), pl.col("given_date") - dt.timedelta(days=1))
    days = found.days.select("event_id", "venue", "area_name")
    rows = (
        found.given.with_columns(calendar_file=pl.Series(files, dtype=pl.String))
        .join(days, left_on="given_event_id", right_on="event_id", how="left")
        .join(contacts.select("household_id", *CONTACT_COLUMNS), on="household_id", how="left")
        .sort("place_in_line")
        .select(
            "booking_id",
            "household_id",
            *CONTACT_COLUMNS,
            "offered_by",
            pl.col("given_date").replace_strict(said, return_dtype=pl.String).alias("day"),
            "slot",
            pl.coalesce(pl.col("venue").replace("", None), "area_name").alias("venue"),
            pl.col("access_need").replace("none", None),
            "model_id",
            answer_by.alias("answer_by"),
            pl.when(pl.col("event_kind") == COLLECTED).then("calendar_file").alias("calendar_file"),
        )
    )
    return records_workbook({"invitations": rows}, note=messages_for(locale).say("invite.note"))


def calendar_files(
    found: Places, program: Program, on_date: dt.date, mark: str
) -> dict[str, bytes]:
    """Make a calendar file for each slot of a day at which somebody was given a place."""
    days = {row["event_id"]: row for row in found.days.iter_rows(named=True)}
    slots = found.given.filter(event_kind=COLLECTED).select("given_event_id", "slot").unique()
    written = {}
    for event_id, slot in slots.sort("given_event_id", "slot").iter_rows():
        day = days[event_id]
        cancels_before = found.called_off.revisions.get((event_id, slot), 0)
        where = str(day["venue"] or day["area_name"])
        which = Slot(event_id, day["event_date"], slot, where, 2 * cancels_before)
        written[slot_file(event_id, slot)] = _published(which, program, on_date, mark)
    return written


def _published(which: Slot, program: Program, on_date: dt.date, mark: str) -> bytes:
    entry = slot_entry(which, program, on_date, mark)
    say = messages_for(program.council.country_locale).say
    entry.add("description", say("calendar.bring", contact=program.hand_over.contact))
    reminder = icalendar.Alarm()
    reminder.add("action", "DISPLAY")
    reminder.add("description", say("calendar.tomorrow"))
    reminder.add("trigger", dt.timedelta(days=-1))
    entry.add_component(reminder)
    return calendar_file("PUBLISH", entry)
