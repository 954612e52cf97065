"""Places that households hold no more: letters that say so, and calendar files that take them out.

Who was told stands in a list of booking numbers beside the other files of the day, so that
nobody is told twice, and so that a later calendar file counts its revisions from there.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING

import icalendar
import polars as pl
from babel.dates import format_date

from planner.field.invitations import CONTACT_COLUMNS, Slot, calendar_file, slot_entry, slot_file
from planner.messages import messages_for
from planner.workbooks import records_workbook

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping
    from pathlib import Path

    from openpyxl import Workbook

    from planner.program import Program
    from planner.store import Store

CALENDAR_FOLDER = "calendar"
TOLD_FILE = "called_off.csv"


@dataclass(frozen=True)
class CalledOff:
    """Places that are called off now.

    Parameters
    ----------
    places
        Rows of the query places_called_off of which nobody was told yet.
    revisions
        For each day and slot how many lists have called places of it off before.
    """

    places: pl.DataFrame
    revisions: Mapping[tuple[str, str], int]


def read_called_off(store: Store, given_out: Path, on_date: dt.date, *, anew: bool) -> CalledOff:
    """Find the places that households hold no more and have not been told of.

    Parameters
    ----------
    given_out
        Folder with the files of each day of offers.
    on_date
        The day of asking.
    anew
        The list of that day is written again: it does not count as told.
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


def told_list(found: CalledOff) -> pl.DataFrame:
    """List what was called off by booking number, with nobody's name or household."""
    return found.places.select("booking_id", "event_id", "slot", "why")


def letters(
    found: CalledOff, given: pl.DataFrame, contacts: pl.DataFrame, program: Program
) -> Workbook:
    """Make the workbook from which letters and mails are merged.

    Parameters
    ----------
    given
        Frame of `booking.Places.given`: who gets another place at once.
    contacts
        Frame of tables.Contacts; those that it lacks have empty names.
    """
    locale = program.council.country_locale
    said = {
        day: format_date(day, "full", locale=locale)
        for day in {*found.places["event_date"].to_list(), *given["given_date"].to_list()}
    }
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
