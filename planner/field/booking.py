"""Give places at the hand-over days ahead and write who is to be invited.

The waiting list is put in order (`draw`), the room of each day follows from the law of who
comes (`survey.attendance`), and what was given out is written as rows to load, invitations,
calendar files and an audit from which another person can make the draw again.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from planner.cells import csv_text
from planner.errors import ProgramError
from planner.field.draw import (
    COLLECTED,
    audit_list,
    audit_text,
    give_places,
    order_waiting_list,
    with_slots,
)
from planner.field.invitations import (
    CALENDAR_FOLDER,
    TOLD_FILE,
    CalledOff,
    calendar_files,
    cancellations,
    invitations,
    letters,
    notice_list,
    read_called_off,
)
from planner.messages import say
from planner.paths import PRIVATE_FOLDER, PROGRAM_FILE
from planner.program import open_program
from planner.progress import Progress, no_progress
from planner.store.files import check_free, write_owned
from planner.store.opening import open_store
from planner.survey.attendance import attendance_law
from planner.tables import LIVE_STATES, TABLES
from planner.workbooks import file_bytes, records_workbook

if TYPE_CHECKING:
    from pathlib import Path

    from openpyxl import Workbook

    from planner.field.draw import WaitingLine
    from planner.program import HandOver, Program
    from planner.store.opening import Store
    from planner.survey.attendance import AttendanceLaw

PLACES_FOLDER = "hand_over_days"
TO_LOAD_FILE = "bookings_to_load.xlsx"
DRAW_FILE, LIST_FILE = "draw.json", "draw_list.csv"
CANCELLED_FOLDER = "calendar_cancelled"
READABLE = 0o644
"""Files without personal details may be read by whoever may read the folder."""


@dataclass(frozen=True)
class PlacesRequest:
    """Which days to fill, and the words of the draw."""

    on_date: dt.date  # day of the offers
    until_date: dt.date  # last hand-over day to fill
    # words that fix the draw, as numbers drawn in public; those of the program file and the day
    # unless given
    seed_words: str | None = None


@dataclass(frozen=True)
class Places:
    """Places that were given, and the files that say so."""

    # one row a day ahead: event_id, event_date, event_kind, area_id, area_name, venue,
    # places_count, booked_count, accepted_count, room_count, given_count, beyond_chance (that more
    # come than there are places)
    days: pl.DataFrame
    line: WaitingLine
    # rows of the line with booking_id, given_event_id, given_date, slot, offered_by (mail, or
    # telephone where the day is near)
    given: pl.DataFrame
    law: AttendanceLaw
    seed_words: str  # words that fixed the draw
    unnamed_count: int  # households given a place of which the records hold no personal details
    called_off: CalledOff
    # what was written; empty for a dry run, or where there was no place to give
    files: tuple[Path, ...] = ()
    # letters and calendar files that tell them; empty for a dry run, or where there are none
    called_off_files: tuple[Path, ...] = ()


def book_places(
    folder: Path,
    request: PlacesRequest,
    *,
    dry_run: bool = False,
    force: bool = False,
    progress: Progress = no_progress,
) -> Places:
    """Give the places of the days ahead to those who wait, and write the files.

    Raises
    ------
    ProgramError
        Nobody is on the waiting list, no day lies ahead, or the files are there already.
    StoreError
        The records cannot be read, or a file cannot be written.
    """
    program = open_program(folder / PROGRAM_FILE)
    place = folder / PLACES_FOLDER / request.on_date.isoformat()
    for name in (TO_LOAD_FILE, TOLD_FILE):
        check_free(place / name, "answers", forced=force or dry_run)
    settings = program.hand_over
    words = request.seed_words or f"{program.method.seed}-{request.on_date}"
    with open_store(folder, read_only=True) as store:
        progress(say("booking.reading"))
        waiting = store.query("waiting_list", seed_words=words, on_date=request.on_date)
        _check_registered(waiting, store)
        law = _law(store, program, request.on_date)
        called_off = read_called_off(store, place.parent, request.on_date, anew=force)
        days = _days_with_room(store, request, settings, law)
        _check_days(days, called_off, request)
        bookings, contacts = store.records("bookings"), store.records("contacts")
        mark = store.identity()
    line = order_waiting_list(waiting, settings)
    progress(say("booking.giving", count=line.ordered.height))
    given = _numbered(
        _slotted(give_places(line.ordered, days, settings.area_wait_days), bookings, settings),
        bookings,
        request,
    )
    given = given.with_columns(_way(request.on_date, settings).alias("offered_by"))
    days = _with_chances(days, given, law)
    unnamed = given.join(contacts, on="household_id", how="anti").height
    found = Places(days, line, given, law, words, unnamed, called_off)
    if dry_run:
        return found
    out = _Out(folder, program, request, contacts, mark)
    if given.height:
        progress(say("booking.writing"))
        found = replace(found, files=_write(found, out))
    if called_off.places.height:
        progress(say("booking.writing_called_off"))
        found = replace(found, called_off_files=_write_called_off(found, out))
    return found


@dataclass(frozen=True)
class _Out:
    """Where files go, and what is written into all of them."""

    folder: Path
    program: Program
    request: PlacesRequest
    contacts: pl.DataFrame
    mark: str

    @property
    def place(self) -> Path:
        """Folder of files without personal details."""
        return self.folder / PLACES_FOLDER / self.request.on_date.isoformat()

    def private(self, stem: str) -> Path:
        """File with personal details."""
        return self.folder / PRIVATE_FOLDER / f"{stem}_{self.request.on_date}.xlsx"


def _check_days(days: pl.DataFrame, called_off: CalledOff, request: PlacesRequest) -> None:
    """Refuse a call that has neither a day to fill nor a place to call off."""
    if days.is_empty() and called_off.places.is_empty():
        days_asked = {"first": request.on_date, "last": request.until_date}
        raise ProgramError(say("booking.no_days", **days_asked))


def _check_registered(waiting: pl.DataFrame, store: Store) -> None:
    if waiting.is_empty() and store.records("registrations").is_empty():
        raise ProgramError(say("booking.no_list"))


def _law(store: Store, program: Program, on_date: dt.date) -> AttendanceLaw:
    turnout = store.query("turnout_by_event", before_date=on_date)
    came = turnout["came_count"].to_numpy()
    booked = came + turnout["absent_count"].to_numpy()
    return attendance_law(came, booked, program.ordering.show_up_share)


def _days_with_room(
    store: Store, request: PlacesRequest, settings: HandOver, law: AttendanceLaw
) -> pl.DataFrame:
    """List the days that people can still be told of, and how many more bookings each takes.

    A day on which bins are brought has no room beyond its places: nobody has to come.
    """
    days = store.query(
        "upcoming_events",
        from_date=request.on_date + dt.timedelta(days=max(1, settings.short_notice_days)),
        before_date=request.until_date + dt.timedelta(days=1),
    )
    most = {
        count: law.most_bookings(count, settings.beyond_places_chance_most)
        for count in days["places_count"].unique().to_list()
    }
    bookable = (
        pl.when(pl.col("event_kind") == COLLECTED)
        .then(pl.col("places_count").replace_strict(most, return_dtype=pl.Int64))
        .otherwise("places_count")
    )
    return days.with_columns((bookable - pl.col("booked_count")).clip(0).alias("room_count"))


def _slotted(given: pl.DataFrame, bookings: pl.DataFrame, settings: HandOver) -> pl.DataFrame:
    booked = (
        bookings.filter(pl.col("state").cast(pl.String).is_in(LIVE_STATES))
        .group_by("event_id", pl.col("slot").str.zfill(5))
        .agg(pl.len().cast(pl.Int64).alias("held_count"))
    )
    return with_slots(given, booked, settings.slots)


def _numbered(given: pl.DataFrame, bookings: pl.DataFrame, request: PlacesRequest) -> pl.DataFrame:
    """Give each booking the day of the offer for a number, after those of the same day."""
    head = f"K{request.on_date:%Y%m%d}-"
    before = bookings.filter(pl.col("booking_id").str.starts_with(head)).height
    number = pl.int_range(before + 1, before + pl.len() + 1).cast(pl.String).str.zfill(4)
    return given.with_columns(pl.concat_str(pl.lit(head), number).alias("booking_id"))


def _way(on_date: dt.date, settings: HandOver) -> pl.Expr:
    is_near = (pl.col("given_date") - on_date).dt.total_days() < settings.notice_days
    return pl.when(is_near).then(pl.lit("telephone")).otherwise(pl.lit("mail"))


def _with_chances(days: pl.DataFrame, given: pl.DataFrame, law: AttendanceLaw) -> pl.DataFrame:
    counted = given.group_by("given_event_id").agg(pl.len().cast(pl.Int64).alias("given_count"))
    joined = days.join(
        counted, left_on="event_id", right_on="given_event_id", how="left", maintain_order="left"
    ).with_columns(pl.col("given_count").fill_null(0))
    chances = [
        law.beyond_probability(booked + more, places) if kind == COLLECTED else 0.0
        for booked, more, places, kind in joined.select(
            "booked_count", "given_count", "places_count", "event_kind"
        ).iter_rows()
    ]
    return joined.with_columns(pl.Series("beyond_chance", chances, dtype=pl.Float64))


def _write(found: Places, out: _Out) -> tuple[Path, ...]:
    on_date, place = out.request.on_date, out.place
    written = {
        place / TO_LOAD_FILE: file_bytes(_to_load(found.given, on_date)),
        place / DRAW_FILE: audit_text(found, out.program, out.request).encode(),
        place / LIST_FILE: csv_text(audit_list(found)).encode("utf-8-sig"),
    }
    calendars = calendar_files(found, out.program, on_date, out.mark)
    letter = invitations(found, out.contacts, out.program, on_date)
    return _put(written, place / CALENDAR_FOLDER, calendars, out.private("invitations"), letter)


def _write_called_off(found: Places, out: _Out) -> tuple[Path, ...]:
    called_off = found.called_off
    files = {out.place / TOLD_FILE: csv_text(notice_list(called_off)).encode("utf-8-sig")}
    calendars = cancellations(called_off, out.program, out.request.on_date, out.mark)
    letter = letters(called_off, found.given, out.contacts, out.program)
    return _put(files, out.place / CANCELLED_FOLDER, calendars, out.private("called_off"), letter)


def _put(
    written: dict[Path, bytes],
    calendar_folder: Path,
    calendars: dict[str, bytes],
    private: Path,
    letter: Workbook,
) -> tuple[Path, ...]:
    """Write files for everyone and the letters, and name them, the letters first."""
    calendar_folder.mkdir(parents=True, exist_ok=True)
    files = {**written, **{calendar_folder / name: one for name, one in calendars.items()}}
    for path, content in files.items():
        write_owned(path, content, mode=READABLE)
    write_owned(private, file_bytes(letter))
    return (private, *files)


def _to_load(given: pl.DataFrame, on_date: dt.date) -> Workbook:
    rows = given.select(
        "booking_id",
        "household_id",
        pl.col("given_event_id").alias("event_id"),
        pl.lit(on_date).alias("offered_date"),
        pl.lit("offered").alias("state"),
        "slot",
        "model_id",
    )
    return records_workbook({"bookings": rows.select(TABLES["bookings"].column_names())})
