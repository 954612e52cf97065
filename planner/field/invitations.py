"""Letters and calendar files of places that are given, and of places that are called off.

Both are a workbook for mail merge, and one calendar entry for each slot of a day. Who was told
that a place is called off stands in a list of booking numbers beside the other files of the day,
so that nobody is told twice, and so that a later calendar file counts its revisions from there.

References
----------
RFC 5545, Internet Calendaring and Scheduling Core Object Specification, 2009. Times are local
to the venue (section 3.3.5, form 1); UID, DTSTAMP, SEQUENCE and ORGANIZER by section 3.8.
RFC 5546, iCalendar Transport-Independent Interoperability Protocol, 2009: methods.
"""

from __future__ import annotations

import csv
import datetime as dt
import re
import uuid
from dataclasses import dataclass
from typing import TYPE_CHECKING

import icalendar
import polars as pl

from planner.field.draw import COLLECTED
from planner.messages import messages_for
from planner.paths import file_stem
from planner.workbooks import records_workbook

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from openpyxl import Workbook

    from planner.field.booking import Places
    from planner.program import Program
    from planner.store.opening import Store

PRODUCT = "-//wormbin-planner//hand-over days//EN"
CALENDAR_FOLDER = "calendar"
TOLD_FILE = "called_off.csv"
CONTACT_COLUMNS = ("full_name", "street_address", "postcode", "email", "phone")
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

    `mark` is that of the store, which tells councils with like codes apart.
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


def invitations(
    found: Places, contacts: pl.DataFrame, program: Program, on_date: dt.date
) -> Workbook:
    """Make the workbook from which letters and mails are merged.

    Those of whom `contacts`, a frame of tables.Contacts, tells nothing have empty names.
    """
    locale = program.council.country_locale
    said = _in_full(found.given["given_date"], locale)
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
            pl.coalesce("place_name", pl.col("venue").replace("", None), "area_name").alias(
                "venue"
            ),
            pl.col("access_need").replace("none", None),
            "model_id",
            answer_by.alias("answer_by"),
            pl.when(pl.col("event_kind") == COLLECTED).then("calendar_file").alias("calendar_file"),
        )
    )
    return records_workbook({"invitations": rows}, note=messages_for(locale).say("invite.note"))


def _in_full(days: Iterable[dt.date], locale: str) -> dict[dt.date, str]:
    words = messages_for(locale)
    return {day: words.day(day, "full") for day in days}


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


@dataclass(frozen=True)
class CalledOff:
    """Places that are called off now."""

    places: pl.DataFrame  # rows of the query places_called_off of which nobody was told yet
    # for each day and slot how many lists have called places of it off before
    revisions: Mapping[tuple[str, str], int]


def read_called_off(store: Store, given_out: Path, on_date: dt.date, *, anew: bool) -> CalledOff:
    """Find the places that households hold no more and have not been told of.

    `given_out` has the files of each day of offers; where the list of `on_date` is written
    anew, it does not count as told.
    """
    announced: set[str] = set()
    revisions: dict[tuple[str, str], int] = {}
    for path in sorted(given_out.glob(f"*/{TOLD_FILE}")):
        if anew and path.parent.name == on_date.isoformat():
            continue
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
        announced |= {row["booking_id"] for row in rows}
        for key in {(row["event_id"], row["slot"]) for row in rows}:
            revisions[key] = revisions.get(key, 0) + 1
    places = store.query("places_called_off", on_date=on_date)
    untold = places.filter(~pl.col("booking_id").is_in(sorted(announced)))
    return CalledOff(_with_files(untold, given_out), revisions)


def _with_files(places: pl.DataFrame, given_out: Path) -> pl.DataFrame:
    """Add the name of the entry that was sent with each place, and a file to take it out.

    A calendar takes an entry out by its name alone, and earlier versions named entries
    otherwise: so the name is read from the file that was sent on the day of the offer.
    """
    keys = ["offered_date", "event_id", "slot"]
    sent = places.select(keys).unique(maintain_order=True)
    names = [
        _name_sent(given_out / day.isoformat() / CALENDAR_FOLDER / slot_file(event_id, slot))
        for day, event_id, slot in sent.iter_rows()
    ]
    number = pl.col("sent_uid").rank("dense").over("event_id", "slot")
    sent = sent.with_columns(sent_uid=pl.Series(names, dtype=pl.String)).with_columns(number=number)
    files = [
        slot_file(event_id, slot).replace(".ics", f"_{number}.ics" if number > 1 else ".ics")
        for event_id, slot, number in sent.select("event_id", "slot", "number").iter_rows()
    ]
    named = sent.with_columns(calendar_file=pl.Series(files, dtype=pl.String)).drop("number")
    return places.join(named, on=keys, how="left", maintain_order="left")


def _name_sent(path: Path) -> str:
    """Read the name of the entry in a file that was sent; empty where there is none."""
    try:
        (entry,) = icalendar.Calendar.from_ical(path.read_bytes()).walk("VEVENT")
    except (OSError, ValueError):
        return ""
    return str(entry.get("uid", ""))


def notice_list(found: CalledOff) -> pl.DataFrame:
    """List what was called off by booking number, with nobody's name or household."""
    return found.places.select("booking_id", "event_id", "slot", "why")


def letters(
    found: CalledOff, given: pl.DataFrame, contacts: pl.DataFrame, program: Program
) -> Workbook:
    """Make the workbook of letters and mails to those called off.

    They say too who gets another place at once, by `given`, the frame of `booking.Places.given`.
    """
    locale = program.council.country_locale
    said = _in_full([*found.places["event_date"], *given["given_date"]], locale)
    rows = (
        found.places.join(
            contacts.select("household_id", *CONTACT_COLUMNS), on="household_id", how="left"
        )
        .join(given.select("household_id", "given_date"), on="household_id", how="left")
        .sort("booking_id")
        .select(
            "booking_id",
            "household_id",
            *CONTACT_COLUMNS,
            pl.col("event_date").replace_strict(said, return_dtype=pl.String).alias("day"),
            "slot",
            "venue",
            "why",
            pl.col("given_date").replace_strict(said, return_dtype=pl.String).alias("new_day"),
            "calendar_file",
        )
    )
    note = messages_for(locale).say("invite.called_off")
    return records_workbook({"called off": rows}, note=note)


def cancellations(
    found: CalledOff, program: Program, on_date: dt.date, mark: str
) -> dict[str, bytes]:
    """Make a calendar file for each slot that was called off; it names nobody.

    References
    ----------
    RFC 5546, iCalendar Transport-Independent Interoperability Protocol, 2009, section 3.2.5:
    METHOD is CANCEL, UID is that of the file sent before, SEQUENCE is raised, ORGANIZER is
    there, STATUS is CANCELLED, and there is no alarm.
    """
    slots = found.places.unique("calendar_file", maintain_order=True)
    written = {}
    for one in slots.iter_rows(named=True):
        cancels_before = found.revisions.get((one["event_id"], one["slot"]), 0)
        which = Slot(
            one["event_id"], one["event_date"], one["slot"], one["venue"], 2 * cancels_before + 1
        )
        entry = slot_entry(which, program, on_date, mark)
        if one["sent_uid"]:
            entry["uid"] = icalendar.vText(one["sent_uid"])
        entry.add("status", "CANCELLED")
        written[one["calendar_file"]] = calendar_file("CANCEL", entry)
    return written
