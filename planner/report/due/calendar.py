"""What is due, written out: a year's calendar file after RFC 5545, and a successor's pack."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import icalendar
import polars as pl

from planner.cells import csv_text
from planner.errors import ReportError
from planner.field.invitations import PRODUCT
from planner.messages import officer_messages, say
from planner.paths import CONTACTS_FILE, PROGRAM_FILE, STORE_FILE
from planner.program import Program
from planner.report.document import Block, Document, Section
from planner.report.document.saying import points, table
from planner.report.due import Due, DueItem
from planner.report.issues import read_issues
from planner.report.word.placeholders import PAPER_TEMPLATE
from planner.report.word.writing import write_word
from planner.report.wording import Wording
from planner.store.files import disk_faults, fault_of, write_whole
from planner.store.keys import key_warning

REMIND_DAYS = 7
"""A week's notice; common practice, no source."""


def due_calendar(due: Due, program: Program, written_at: dt.datetime) -> bytes:
    """Write the year ahead as a calendar; a later file corrects an earlier one. Times are UTC."""
    calendar = icalendar.Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("name", say("due.calendar", council=program.council.name))
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
    """Write the year ahead as a calendar file; one of before is replaced."""
    with disk_faults(target, "file.name_folder", ReportError):
        write_whole(target, due_calendar(due, program, written_at))
    return target


READ_FIRST, CALENDAR, LIST = "read-first.docx", "due.ics", "due.csv"


def write_pack(
    folder: Path, target: Path, program: Program, due: Due, written_at: dt.datetime
) -> tuple[Path, ...]:
    """Write the pack; it holds neither the key nor personal details. Times are UTC."""
    if target.exists() and any(target.iterdir()):
        raise fault_of(target, "pack.there", ReportError)
    rows = pl.DataFrame(
        {
            "day": [item.day for item in due.year],
            "is_late": [item.is_late for item in due.year],
            "what": [item.what for item in due.year],
            "command": [f"planner {one.command}" if one.command else "" for one in due.year],
        },
        schema={"day": pl.Date, "is_late": pl.Boolean, "what": pl.String, "command": pl.String},
    )
    with disk_faults(target, "file.name_folder", ReportError):
        target.mkdir(parents=True, exist_ok=True)
        write_whole(target / CALENDAR, due_calendar(due, program, written_at))
        write_whole(target / LIST, csv_text(rows).encode("utf-8-sig"))
        document = _document(folder, program, due, written_at)
        keys = [section.key for section in document.sections]
        write_word(target / READ_FIRST, document, (), PAPER_TEMPLATE, keys)
    return tuple(target / name for name in (READ_FIRST, CALENDAR, LIST))


def _document(folder: Path, program: Program, due: Due, written_at: dt.datetime) -> Document:
    wording = Wording.for_officer(program)
    title, subtitle = say("pack.title"), say("pack.subtitle", day=wording.day(due.window.first))
    sections = (
        Section("due", say("pack.due"), _due_blocks(due, wording)),
        Section("places", say("pack.places"), points(_places(folder))),
        Section("open", say("pack.open"), _open_blocks(folder, due)),
        Section("restore", say("pack.restore"), points(_restoring(folder, due, wording))),
    )
    return Document.of(title, subtitle, program.council.name, "", sections, wording, written_at)


def _due_blocks(due: Due, wording: Wording) -> tuple[Block, ...]:
    if not due.items:
        return points([say("pack.nothing_due")])
    rows = [
        (
            say("pack.late", day=wording.day(item.day)) if item.is_late else wording.day(item.day),
            item.what,
            f"planner {item.command}" if item.command else "",
        )
        for item in due.items
    ]
    caption = say("pack.due_until", day=wording.day(due.window.last), calendar=CALENDAR)
    return (table("due", caption, _headings("day", "what", "command"), rows),)


def _places(folder: Path) -> list[str]:
    return [
        say("pack.place.folder", folder=str(folder.resolve())),
        say("pack.place.program", file=PROGRAM_FILE),
        say("pack.place.store", store=STORE_FILE, contacts=CONTACTS_FILE),
        say("pack.place.key", warning=key_warning(folder)),
        say("pack.place.copies"),
    ]


def _open_blocks(folder: Path, due: Due) -> tuple[Block, ...]:
    given = [
        say("pack.issue", label=one.reporting_year, number=one.number, day=one.issued_on)
        for one in read_issues(folder)
    ]
    told = say("pack.issued", issues="; ".join(given)) if given else say("pack.none_issued")
    known = points([told, say("pack.check")])
    if due.refused is None or due.refused.is_empty():
        return (*points([say("pack.none_refused")]), *known)
    words = officer_messages()
    rows = [(file, name, words.number(count)) for _, file, name, count in due.refused.iter_rows()]
    return (
        table("refused", say("pack.refused"), _headings("file", "table", "rows"), rows),
        *known,
    )


def _restoring(folder: Path, due: Due, wording: Wording) -> list[str]:
    if due.backup is None:
        return [
            say("pack.no_backup"),
            say("pack.put_back"),
        ]
    path, made_at = due.backup
    return [
        say("pack.newest_backup", path=str(path), day=wording.day(made_at.date())),
        say("pack.new_machine"),
        say("pack.key_file"),
        say("pack.run_restore", path=str(path), folder=str(folder.resolve())),
        say("pack.compare"),
    ]


def _headings(*columns: str) -> list[str]:
    return [say(f"pack.column.{one}") for one in columns]
