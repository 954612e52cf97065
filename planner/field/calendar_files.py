"""Calendar files of hand-over days: one entry for each slot, published or cancelled.

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

from planner.messages import messages_for
from planner.paths import file_stem

if TYPE_CHECKING:
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
    which
        The slot.
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
    mail = _MAIL.search(program.hand_over.contact)
    own = uuid.uuid5(uuid.NAMESPACE_DNS, program.council.name)
    address = icalendar.vCalAddress(f"mailto:{mail.group()}" if mail else own.urn)
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
