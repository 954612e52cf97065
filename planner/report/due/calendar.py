"""What is due, written out: a year's calendar file after RFC 5545, and a successor's pack."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import icalendar
import polars as pl

from planner import __version__
from planner.cells import csv_text
from planner.errors import ReportError
from planner.field.invitations import PRODUCT
from planner.paths import CONTACTS_FILE, PROGRAM_FILE, STORE_FILE
from planner.report.document.model import Column, Document, Paragraph, Section, Statement, Table
from planner.report.issues import read_issues
from planner.report.word import PAPER_TEMPLATE, write_word
from planner.report.wording import Wording
from planner.store import key_warning
from planner.store.files import write_whole

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from planner.program import Program
    from planner.report.document.model import Block
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


READ_FIRST, CALENDAR, LIST = "read-first.docx", "due.ics", "due.csv"


def write_pack(
    folder: Path, target: Path, program: Program, due: Due, written_at: dt.datetime
) -> tuple[Path, ...]:
    """Write the pack; it holds neither the key nor personal details.

    Parameters
    ----------
    folder
        Program folder.
    target
        Folder to make.
    program, due
        The program, and what is due in it.
    written_at
        Time of writing, UTC.

    Raises
    ------
    ReportError
        The folder holds something already, or cannot be written.
    """
    if target.exists() and any(target.iterdir()):
        message = f"{target}: is there already and holds files. Name a new folder."
        raise ReportError(message, path=str(target))
    rows = pl.DataFrame(
        {
            "day": [item.day for item in due.year],
            "is_late": [item.is_late for item in due.year],
            "what": [item.what for item in due.year],
            "command": [f"planner {one.command}" if one.command else "" for one in due.year],
        },
        schema={"day": pl.Date, "is_late": pl.Boolean, "what": pl.String, "command": pl.String},
    )
    try:
        target.mkdir(parents=True, exist_ok=True)
        write_whole(target / CALENDAR, due_calendar(due, program, written_at))
        write_whole(target / LIST, csv_text(rows).encode("utf-8-sig"))
        document = _document(folder, program, due, written_at)
        keys = [section.key for section in document.sections]
        write_word(target / READ_FIRST, document, (), PAPER_TEMPLATE, keys)
    except OSError as error:
        message = f"{target}: cannot be written ({error.strerror}). Name a folder that can."
        raise ReportError(message, path=str(target)) from error
    return tuple(target / name for name in (READ_FIRST, CALENDAR, LIST))


def _document(folder: Path, program: Program, due: Due, written_at: dt.datetime) -> Document:
    wording = Wording.of(program)
    return Document(
        title="Taking over the worm-bin program",
        subtitle=f"As it stands on {wording.day(due.window.first)}. Read this first.",
        council=program.council.name,
        reporting_year="",
        version=__version__,
        # the pack is in English, whatever the council's language
        language="en",
        written_at=written_at,
        written_on=wording.day(written_at.date()),
        sections=(
            Section("due", "What is due", _due_blocks(due, wording)),
            Section("places", "Where things are", _points(_places(folder))),
            Section("open", "What is refused and open", _open_blocks(folder, due)),
            Section("restore", "How to restore", _points(_restoring(folder, due, wording))),
        ),
    )


def _due_blocks(due: Due, wording: Wording) -> tuple[Block, ...]:
    if not due.items:
        return _points(["Nothing is due in these days."])
    rows = [
        (
            wording.day(item.day) + (" (late)" if item.is_late else ""),
            item.what,
            f"planner {item.command}" if item.command else "",
        )
        for item in due.items
    ]
    caption = f"Due until {wording.day(due.window.last)}; {CALENDAR} holds the whole year"
    return (_table("due", caption, ("Day", "What", "Command"), rows),)


def _places(folder: Path) -> list[str]:
    return [
        f"The program folder is {folder.resolve()}. Run every command there.",
        f"{PROGRAM_FILE} says what your council is; change it in a text editor.",
        f"{STORE_FILE} holds the records, without names. {CONTACTS_FILE} holds names and "
        "addresses, encrypted.",
        f"{key_warning(folder)} The key itself is not in this pack: have it handed to you in "
        "person, and never send it by mail.",
        "refused/ and private/ hold copies with personal details. Delete what is done with.",
    ]


def _open_blocks(folder: Path, due: Due) -> tuple[Block, ...]:
    given = [
        f"{one.reporting_year}: issue {one.number}, {one.issued_on}" for one in read_issues(folder)
    ]
    told = f"Reports given out: {'; '.join(given)}." if given else "No report was given out yet."
    points = _points([told, "`planner check` lists records that contradict each other."])
    if due.refused is None or due.refused.is_empty():
        return (*_points(["No rows are refused and open."]), *points)
    rows = [(file, table, f"{count:,}") for file, table, count in due.refused.iter_rows()]
    return (
        _table("refused", "Rows refused and not fixed yet", ("File", "Table", "Rows"), rows),
        *points,
    )


def _restoring(folder: Path, due: Due, wording: Wording) -> list[str]:
    if due.backup is None:
        return [
            "There is no backup. Run `planner backup` now, and keep the file elsewhere.",
            "`planner restore FILE` puts it back, with the key file in its place.",
        ]
    path, made_at = due.backup
    return [
        f"The newest backup is {path}, made on {wording.day(made_at.date())}.",
        "On a new machine install the planner and make an empty folder.",
        "Put the key file where it lay, or name its place in the variable PLANNER_KEY_FILE.",
        f"Run `planner restore {path} --program {folder.resolve()}`, first with --dry-run.",
        "Run `planner loads` and `planner check`: both should say what they said before.",
    ]


def _points(sentences: Iterable[str]) -> tuple[Block, ...]:
    return tuple(Paragraph((Statement((one,)),), "point") for one in sentences)


def _table(
    key: str, caption: str, headings: tuple[str, ...], rows: Sequence[tuple[str, ...]]
) -> Table:
    return Table(
        key,
        caption,
        tuple(Column(heading) for heading in headings),
        tuple(tuple(Statement((cell,)) for cell in row) for row in rows),
    )
