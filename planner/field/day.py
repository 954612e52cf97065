"""The papers of one hand-over day: run sheet, door list and labels."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl
from docx import Document
from docx.enum.table import WD_ROW_HEIGHT_RULE, WD_TABLE_ALIGNMENT
from docx.enum.text import WD_ALIGN_PARAGRAPH
from docx.shared import Mm, Pt
from openpyxl.styles import Alignment, Border, Font, Side

from planner.cells import writable_text
from planner.errors import ProgramError
from planner.field.booking import PLACES_FOLDER, READABLE
from planner.field.run_sheet import Kit, run_sheet
from planner.messages import messages_for, say
from planner.paths import PRIVATE_FOLDER, file_stem
from planner.progress import Progress
from planner.store.files import check_free, write_owned
from planner.store.opening import open_store
from planner.workbooks import file_bytes, records_workbook

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from docx.table import _Cell

    from planner.messages import Messages
    from planner.program import Program


@dataclass(frozen=True)
class Day:
    """A hand-over day as it stands in the records."""

    event_id: str
    event_date: dt.date
    event_kind: str
    where: str
    places_count: int


@dataclass(frozen=True)
class DayPapers:
    """The papers of a day."""

    event_id: str
    event_date: dt.date
    places: pl.DataFrame  # query places_of_event
    waiting_for_answer_count: int
    # each file that was written and what it is, the run sheet first; none for a dry run
    files: tuple[tuple[Path, str], ...]


def day_papers(
    folder: Path,
    program: Program,
    event_id: str,
    worms_kg: float,
    *,
    dry_run: bool,
    force: bool,
    progress: Progress,
) -> DayPapers:
    """Write the papers of one hand-over day.

    Raises
    ------
    ProgramError
        There is no such day, nobody holds a place at it, or its run sheet is there already.
    StoreError
        The records cannot be read, or a file cannot be written.
    """
    sheet_file = folder / PRIVATE_FOLDER / f"run_sheet_{file_stem(event_id)}.xlsx"
    check_free(sheet_file, "handovers", forced=force or dry_run)
    progress(say("booking.reading_held"))
    with open_store(folder, read_only=True) as store:
        day = find_day(store.records("events"), event_id)
        places = store.query("places_of_event", event_id=event_id)
        contacts, handed = store.records("contacts"), store.records("handovers")
    if places.is_empty():
        raise ProgramError(say("booking.nobody", event=event_id, day=day.event_date))
    places = with_sole_model(places, program)
    unanswered = places.filter(pl.col("state").cast(pl.String) == "offered").height
    found = DayPapers(event_id, day.event_date, places, unanswered, ())
    if dry_run:
        return found
    kit = kit_of(program, worms_kg, handed)
    named = places.join(
        contacts.select("household_id", "full_name", "phone"),
        on="household_id",
        how="left",
        maintain_order="left",
    )
    progress(say("booking.writing_day"))
    write_owned(sheet_file, file_bytes(run_sheet(day, named, kit, program)))
    open_folder = folder / PLACES_FOLDER / file_stem(event_id)
    open_folder.mkdir(parents=True, exist_ok=True)
    words = messages_for(program.council.country_locale)
    when = words.day(day.event_date, "full")
    # loaded sheets hold codes; what helpers read alone holds the names they know
    known = {one.model_id: one.model_name for one in program.bin_models}
    said = places.with_columns(pl.col("model_id").replace(known))
    files = [(sheet_file, say("booking.run_sheet"))]
    for name, paper, what in (
        ("door_list.xlsx", door_list(day, when, said, words), say("booking.door_list")),
        ("labels.docx", labels(when, said, kit, words), say("booking.labels")),
    ):
        write_owned(open_folder / name, paper, mode=READABLE)
        files.append((open_folder / name, what))
    return replace(found, files=tuple(files))


def with_sole_model(places: pl.DataFrame, program: Program) -> pl.DataFrame:
    """Set a model aside where none was asked for and there is one alone."""
    models = [one.model_id for one in program.bin_models]
    sole = pl.lit(models[0] if len(models) == 1 else None, pl.String)
    return places.with_columns(pl.col("model_id").fill_null(sole))


def find_day(events: pl.DataFrame, event_id: str) -> Day:
    """Find a hand-over day in the records.

    Raises
    ------
    ProgramError
        There is no such day, or it was cancelled.
    """
    rows = events.filter(event_id=event_id)
    if rows.is_empty():
        known = ", ".join(events.sort("event_date")["event_id"].tail(5))
        raise ProgramError(say("booking.no_day", event=event_id, known=known))
    row = rows.row(0, named=True)
    if row["event_status"] == "cancelled":
        raise ProgramError(say("booking.cancelled", event=event_id))
    return Day(
        event_id,
        row["event_date"],
        row["event_kind"] or "pick_up",
        row["venue"] or row["area_id"] or "",
        row["places_count"],
    )


def kit_of(program: Program, worms_kg: float, handed: pl.DataFrame) -> Kit:
    """Say what a household takes home: as much bedding as was usually given so far."""
    usual = handed["bedding_kg"].median()
    bedding_kg = round(float(usual), 1) if isinstance(usual, int | float) else None
    return Kit(worms_kg, bedding_kg, tuple(one.model_id for one in program.bin_models))


LABELS_ACROSS = 2
LABEL_WIDTH_MM, LABEL_HEIGHT_MM = 99.1, 38.1
"""Fourteen labels on a sheet of A4, a size that stationers sell (common practice, no source)."""

_SIDE_MM, _TOP_MM = 5.9, 15.1
_LARGE = 14
_THIN = Side("thin", color="8A8A85")


def door_list(day: Day, when: str, places: pl.DataFrame, words: Messages) -> bytes:
    """Make the list for the door: who comes when, by booking number alone."""
    say = words.say
    rows = places.select(
        pl.col("slot").alias(say("door.time")),
        pl.col("booking_id").alias(say("door.booking")),
        pl.col("model_id").fill_null("").alias(say("door.model")),
        pl.lit("").alias(say("door.here")),
    )
    title = say("door.title")
    book = records_workbook({title: rows}, note=say("door.note", when=when, where=day.where))
    sheet = book[title]
    for column, width in zip("ABCD", (12, 24, 24, 12), strict=True):
        sheet.column_dimensions[column].width = width
    for line in sheet.iter_rows(min_row=2):
        for cell in line:
            cell.font = Font(size=_LARGE, bold=cell.row == 2)
            cell.border = Border(bottom=_THIN, top=_THIN, left=_THIN, right=_THIN)
            cell.alignment = Alignment(vertical="center")
        sheet.row_dimensions[line[0].row].height = 26.0
    sheet["A1"].font = Font(size=_LARGE, bold=True)
    sheet.page_setup.orientation = "portrait"
    return file_bytes(book)


def labels(when: str, places: pl.DataFrame, kit: Kit, words: Messages) -> bytes:
    """Make a label for each bin: time, booking number, model and worms, and no name."""
    document = Document()
    section = document.sections[0]
    section.page_width, section.page_height = Mm(210), Mm(297)
    section.left_margin = section.right_margin = Mm(_SIDE_MM)
    section.top_margin, section.bottom_margin = Mm(_TOP_MM), Mm(5)
    small = words.say("label.small", when=when, kg=words.decimal(kit.worms_kg, "0.###"))
    lines = list(places.select("slot", "booking_id", "model_id").iter_rows())
    rows_count = -(-len(lines) // LABELS_ACROSS)
    table = document.add_table(rows_count, LABELS_ACROSS)
    table.alignment, table.autofit = WD_TABLE_ALIGNMENT.CENTER, False
    for row in table.rows:
        row.height, row.height_rule = Mm(LABEL_HEIGHT_MM), WD_ROW_HEIGHT_RULE.EXACTLY
    cells = [cell for row in table.rows for cell in row.cells]
    for cell, (slot, booking_id, model_id) in zip(cells, lines, strict=False):
        _fill(cell, slot, booking_id, model_id or "", small)
    return file_bytes(document)


def _fill(cell: _Cell, slot: str, booking_id: str, model_id: str, small: str) -> None:
    cell.width = Mm(LABEL_WIDTH_MM)
    first = cell.paragraphs[0]
    texts = ((f"{slot}   {booking_id}", 18, True), (model_id, 14, False), (small, 11, False))
    for number, (text, size, is_bold) in enumerate(texts):
        paragraph = first if number == 0 else cell.add_paragraph()
        paragraph.alignment = WD_ALIGN_PARAGRAPH.CENTER
        paragraph.paragraph_format.space_before = Pt(8 if number == 0 else 0)
        paragraph.paragraph_format.space_after = Pt(2)
        run = paragraph.add_run(writable_text(text))
        run.font.size, run.font.bold = Pt(size), is_bold
