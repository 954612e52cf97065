"""The run sheet of a day and the driver's sheet: printed, filled in, and loaded as they stand.

The sheet ``bookings`` is what people write in. The sheet ``handovers`` takes a row from it for
each household that came, so that nothing is typed twice; both are loaded as any others.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from planner.cells import put_record
from planner.intake.sheets import GUIDE_SHEETS
from planner.messages import messages_for
from planner.tables import BOOKING_STATES, TABLES
from planner.workbooks import INK, LEAF, offer, set_landscape

if TYPE_CHECKING:
    import polars as pl
    from openpyxl.worksheet.worksheet import Worksheet

    from planner.field.day import Day
    from planner.field.delivering import Deliveries
    from planner.messages import Messages
    from planner.program import Program


COLUMNS = {
    "slot": 8,
    "booking_id": 17,
    "full_name": 26,
    "needs": 15,
    "model_id": 16,
    "serial": 17,
    "copayment": 9,
    "signature": 24,
    "state": 12,
    "phone": 17,
    "household_id": 13,
    "event_id": 12,
    "offered_date": 12,
}
"""Columns of the sheet, each with its width; the last two are hidden."""

HIDDEN = ("event_id", "offered_date")
TITLE_ROW, WORMS_ROW, LABEL_ROW, HEADING_ROW = 1, 2, 4, 5
FIRST_ROW = HEADING_ROW + 1
WORMS_CELL, BEDDING_CELL = "$E$2", "$E$3"
TEXT = "@"
_MUTED = "8A8A85"
_THIN = Side("thin", color=_MUTED)
_LARGE, _ROW_HEIGHT = 14, 34.0


@dataclass(frozen=True)
class Kit:
    """What a household takes home."""

    # worms and dry bedding for a bin [kg]; bedding None where it is not known yet
    worms_kg: float
    bedding_kg: float | None
    models: tuple[str, ...]


def run_sheet(day: Day, places: pl.DataFrame, kit: Kit, program: Program) -> Workbook:
    """Make the run sheet of a day."""
    book = Workbook()
    sheet = book.active
    sheet.title = "bookings"
    words = messages_for(program.council.country_locale)
    said = words.day(day.event_date, "full")
    when_and_where = ", ".join(text for text in (said, day.where) if text)
    title = words.say("run_sheet.title", places.height, when=when_and_where)
    _put_head(sheet, title, kit, words)
    for number, row in enumerate(places.iter_rows(named=True), start=FIRST_ROW):
        _put_row(sheet, number, row, words)
    last = max(FIRST_ROW, FIRST_ROW + places.height - 1)
    error = words.say("run_sheet.choose")
    for name, choices in (("state", BOOKING_STATES), ("model_id", kit.models)):
        offer(sheet, list(COLUMNS).index(name) + 1, range(FIRST_ROW, last + 1), choices, error)
    set_landscape(sheet, HEADING_ROW)
    sheet.print_title_rows = f"{TITLE_ROW}:{HEADING_ROW}"
    printed = get_column_letter(list(COLUMNS).index("state") + 1)
    sheet.print_area = f"A1:{printed}{last}"
    sheet.oddFooter.center.text = words.say("run_sheet.footer")
    _put_handovers(book.create_sheet("handovers"), day, last)
    return book


def _put_head(sheet: Worksheet, title: str, kit: Kit, words: Messages) -> None:
    put_record(sheet.cell(TITLE_ROW, 1), title)
    sheet.cell(TITLE_ROW, 1).font = Font(size=18, bold=True, color=INK)
    put_record(sheet.cell(WORMS_ROW, 1), words.say("run_sheet.worms"))
    put_record(sheet.cell(WORMS_ROW, 5), round(kit.worms_kg, 3))
    put_record(sheet.cell(WORMS_ROW + 1, 1), words.say("run_sheet.bedding"))
    put_record(sheet.cell(WORMS_ROW + 1, 5), kit.bedding_kg)
    put_record(sheet.cell(WORMS_ROW, 6), words.say("run_sheet.states"))
    sheet.cell(WORMS_ROW, 6).alignment = Alignment(wrap_text=True, vertical="top")
    sheet.merge_cells(start_row=WORMS_ROW, start_column=6, end_row=WORMS_ROW + 1, end_column=9)
    sheet.row_dimensions[TITLE_ROW].height = 30.0
    for row in (WORMS_ROW, WORMS_ROW + 1):
        sheet.row_dimensions[row].height = 24.0
        for place in (1, 5, 6):
            sheet.cell(row, place).font = Font(size=12, color=INK)
        sheet.cell(row, 5).border = Border(bottom=_THIN)
        sheet.cell(row, 5).alignment = Alignment(horizontal="left")
    sheet.row_dimensions[LABEL_ROW].height = 24.0
    for place, (name, width) in enumerate(COLUMNS.items(), start=1):
        head, column = sheet.cell(LABEL_ROW, place), get_column_letter(place)
        put_record(head, words.say(f"run_sheet.{name}"))
        head.font = Font(size=_LARGE, bold=True, color=INK)
        head.fill = PatternFill("solid", start_color=LEAF)
        head.alignment = Alignment(vertical="center")
        put_record(sheet.cell(HEADING_ROW, place), name)
        sheet.cell(HEADING_ROW, place).font = Font(size=8, color=_MUTED)
        sheet.column_dimensions[column].width = width
        sheet.column_dimensions[column].hidden = name in HIDDEN


def _put_row(sheet: Worksheet, number: int, row: dict[str, object], words: Messages) -> None:
    need = row["access_need"]
    needs = "" if need in (None, "none") else words.say(f"need.{need}")
    content = {**row, "needs": needs or None, "state": None}
    for place, name in enumerate(COLUMNS, start=1):
        cell = sheet.cell(number, place)
        put_record(cell, content.get(name) or None)
        cell.font = Font(size=_LARGE if name != "booking_id" else 11, color=INK)
        cell.border = Border(top=_THIN, bottom=_THIN, left=_THIN, right=_THIN)
        cell.alignment = Alignment(vertical="center", wrap_text=name in ("full_name", "needs"))
        if name == "serial":
            cell.number_format = TEXT  # a spreadsheet takes 00417 that is typed in for 417
    sheet.row_dimensions[number].height = _ROW_HEIGHT


def _put_handovers(sheet: Worksheet, day: Day, last: int) -> None:
    """Write formulas that take a hand-over from each row of the other sheet that came."""
    at = {name: get_column_letter(place) for place, name in enumerate(COLUMNS, start=1)}
    handover_date = f"DATE({day.event_date.year},{day.event_date.month},{day.event_date.day})"
    sources = {
        "handover_id": 'bookings!{booking_id}{row}&"-B"',
        "household_id": "bookings!{household_id}{row}",
        "event_id": "bookings!{event_id}{row}",
        "model_id": "bookings!{model_id}{row}",
        "handover_date": handover_date,
        "worms_kg": f"bookings!{WORMS_CELL}",
        "bedding_kg": f"bookings!{BEDDING_CELL}",
        "copayment": "bookings!{copayment}{row}",
        "serial": "bookings!{serial}{row}",
    }
    names = TABLES["handovers"].column_names()
    for place, name in enumerate(names, start=1):
        put_record(sheet.cell(1, place), name)
        sheet.cell(1, place).font = Font(bold=True)
        sheet.column_dimensions[get_column_letter(place)].width = len(name) + 6
        if name not in sources:
            continue
        for row in range(FIRST_ROW, last + 1):
            source = sources[name].format(row=row, **at)
            taken = f'IF({source}="","",{source})' if "{row}" in sources[name] else source
            cell = sheet.cell(row - FIRST_ROW + 2, place)
            cell.value = f'=IF(bookings!{at["state"]}{row}="came",{taken},"")'
            if name == "handover_date":
                cell.number_format = "yyyy-mm-dd"
    set_landscape(sheet, 1)


STOP_COLUMNS = {"stop": 8, "about": 10, "where": 46, "who": 40, "bins": 8, "km": 9, "done": 10}
STOPS_ROW, _LINE_HEIGHT = 3, 21.0
"""Row of the headings of the stops; height of a line."""


def driver_sheet(planned: Deliveries, kit: Kit, program: Program) -> Workbook:
    """Make the driver's workbook: the stops on a sheet that is not loaded, then the run sheet."""
    book = run_sheet(planned.day, planned.places, kit, program)
    words = messages_for(program.council.country_locale)
    sheet = book.create_sheet(GUIDE_SHEETS[words.language], 0)
    said = words.day(planned.day.event_date, "full")
    stops = words.say("driving.stops", planned.stops.height)
    bins = words.say("round.bins_count", planned.places.height)
    km = words.decimal(planned.total_km, "#,##0")
    put_record(sheet.cell(1, 1), words.say("round.title", when=said, stops=stops, bins=bins, km=km))
    sheet.cell(1, 1).font = Font(size=18, bold=True, color=INK)
    warmest = words.decimal(program.ordering.shipping_window.warmest_c, "0.#")
    put_record(sheet.cell(2, 1), words.say("round.keep", celsius=warmest))
    sheet.cell(2, 1).font = Font(size=12, color=INK)
    sheet.row_dimensions[1].height, sheet.row_dimensions[2].height = 30.0, 22.0
    sheet.row_dimensions[STOPS_ROW].height = 24.0
    for place, (name, width) in enumerate(STOP_COLUMNS.items(), start=1):
        cell = sheet.cell(STOPS_ROW, place)
        put_record(cell, words.say(f"round.{name}"))
        cell.font = Font(size=_LARGE, bold=True, color=INK)
        cell.fill = PatternFill("solid", start_color=LEAF)
        sheet.column_dimensions[get_column_letter(place)].width = width
    _put_stops(sheet, planned, words)
    set_landscape(sheet, STOPS_ROW)
    sheet.oddFooter.center.text = words.say("round.footer")
    return book


def _put_stops(sheet: Worksheet, planned: Deliveries, words: Messages) -> None:
    """Write the stops, a heading above each trip and a new page for each vehicle."""
    who = _who(planned)
    number, before = STOPS_ROW, (0, 0)
    for row in planned.stops.iter_rows(named=True):
        trip = (row["vehicle"], row["trip"])
        if trip != before:
            if before[0] not in (0, trip[0]):
                sheet.row_breaks.append(Break(id=number))
            number += 1
            title = words.say("round.vehicle", vehicle=trip[0], trip=trip[1])
            put_record(sheet.cell(number, 1), title)
            sheet.cell(number, 1).font = Font(size=_LARGE, bold=True, color=INK)
            sheet.row_dimensions[number].height = 28.0
            before = trip
        number += 1
        named = who[(*trip, row["place_in_trip"])]
        texts = (row["place_in_trip"], row["arrives"], row["stop_name"], "\n".join(named),
                 row["bins_count"], round(row["leg_km"], 1), None)  # fmt: skip
        for place, text in enumerate(texts, start=1):
            cell = sheet.cell(number, place)
            put_record(cell, text)
            cell.font = Font(size=_LARGE, color=INK)
            cell.border = Border(top=_THIN, bottom=_THIN, left=_THIN, right=_THIN)
            middle = "center" if isinstance(text, int) else None
            cell.alignment = Alignment(horizontal=middle, vertical="center", wrap_text=True)
            if isinstance(text, float):
                cell.number_format = "0.0"
        sheet.row_dimensions[number].height = _LINE_HEIGHT * max(2, len(named))


def _who(planned: Deliveries) -> dict[tuple[int, int, int], list[str]]:
    """Name the households of each stop with their telephone numbers."""
    found: dict[tuple[int, int, int], list[str]] = {}
    rows = planned.places.select(
        "vehicle", "trip", "place_in_trip", "booking_id", "full_name", "phone"
    )
    for vehicle, trip, place, booking_id, name, phone in rows.iter_rows():
        said = ", ".join(text for text in (name or booking_id, phone) if text)
        found.setdefault((vehicle, trip, place), []).append(said)
    return found
