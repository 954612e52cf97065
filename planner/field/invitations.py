"""Invitations: a workbook for mail merge, and calendar files, one entry for each slot of a day.

References
----------
RFC 5545, Internet Calendaring and Scheduling Core Object Specification, 2009. Times are local
to the venue (section 3.3.5, form 1); UID, DTSTAMP, SEQUENCE and ORGANIZER by section 3.8.
RFC 5546, iCalendar Transport-Independent Interoperability Protocol, 2009: methods.
"""

from __future__ import annotations

import datetime as dt
import re
import uuid
from dataclasses import dataclass
from typing import TYPE_CHECKING

import icalendar
import polars as pl
from babel.dates import format_date

from planner.field.draw import COLLECTED
from planner.messages import messages_for
from planner.paths import file_stem
from planner.workbooks import records_workbook

if TYPE_CHECKING:
    from openpyxl import Workbook

    from planner.field.booking import Places
    from planner.program import Program

PRODUCT = "-//wormbin-planner//hand-over days//EN"
_MAIL = re.compile(r"[\w.+-]+@[\w-]+(?:\.[\w-]+)+")


@dataclass(frozen=True)
class Slot:
    """A slot of a hand-over day, and the revision of its entry: 0 where it is new."""

    event_id: str
    event_date: dt.date
    slot: str
    where: str
    sequence: int


def slot_file(event_id: str, slot: str) -> str:
    """Name the calendar file of a slot."""
    return f"{file_stem(event_id)}_{slot.replace(':', '')}.ics"


def slot_entry(which: Slot, program: Program, on_date: dt.date, mark: str) -> icalendar.Event:
    """Make the entry of a slot, which names nobody: all who come at one time share it.

    Parameters
    ----------
    program
        The council, who is the organizer, and how long a slot is.
    on_date
        Day of writing.
    mark
        Mark of the store, which tells councils with like codes apart.
    """
    starts = dt.datetime.combine(which.event_date, dt.time.fromisoformat(which.slot))
    entry = icalendar.Event()
    # without the date: an entry keeps its name where the day is moved
    entry.add("uid", f"{which.event_id}-{which.slot.replace(':', '')}-{mark}@wormbin-planner")
    entry.add("dtstamp", dt.datetime.combine(on_date, dt.time(), tzinfo=dt.UTC))
    entry.add("sequence", which.sequence)
    entry.add("organizer", _organizer(program))
    entry.add("dtstart", starts)
    entry.add("dtend", starts + dt.timedelta(minutes=program.hand_over.slot_minutes))
    words = messages_for(program.council.country_locale)
    entry.add("summary", words.say("calendar.collect"))
    entry.add("location", which.where or program.council.name)
    return entry


def _organizer(program: Program) -> icalendar.vCalAddress:
    """Name the council as the organizer: its mail address if there is one, or a name for it."""
    mail = _MAIL.search(program.hand_over.contact or "")
    identity = uuid.uuid5(uuid.NAMESPACE_DNS, program.council.name)
    address = icalendar.vCalAddress(f"mailto:{mail.group()}" if mail else identity.urn)
    address.params["cn"] = program.council.name
    return address


def calendar_file(method: str, entry: icalendar.Event) -> bytes:
    """Put an entry into a calendar that says what is to be done with it."""
    calendar = icalendar.Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", method)
    calendar.add_component(entry)
    return bytes(calendar.to_ical())


CONTACT_COLUMNS = ("full_name", "street_address", "postcode", "email", "phone")


def invitations(
    found: Places, contacts: pl.DataFrame, program: Program, on_date: dt.date
) -> Workbook:
    """Make the workbook from which letters and mails are merged.

    Parameters
    ----------
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
    contact = program.hand_over.contact or say("program_of.council")
    entry.add("description", say("calendar.bring", contact=contact))
    reminder = icalendar.Alarm()
    reminder.add("action", "DISPLAY")
    reminder.add("description", say("calendar.tomorrow"))
    reminder.add("trigger", dt.timedelta(days=-1))
    entry.add_component(reminder)
    return calendar_file("PUBLISH", entry)
