"""The driver's papers: the stops in order, and the run sheet of the round to fill in and load."""

from __future__ import annotations

from typing import TYPE_CHECKING

from babel.dates import format_date
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from planner.cells import put_record
from planner.field.run_sheet import Kit, run_sheet
from planner.intake.sheets import GUIDE_SHEET
from planner.messages import messages_for
from planner.workbooks import set_landscape

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

    from planner.field.delivering import Deliveries
    from planner.messages import Messages
    from planner.program import Program

COLUMNS = {"stop": 8, "about": 10, "where": 46, "who": 40, "bins": 8, "km": 9, "done": 10}
HEADING_ROW = 3
_INK, _LEAF = "263238", "DDE5D3"
_THIN = Side("thin", color="8A8A85")
_LARGE, _LINE_HEIGHT = 14, 21.0


def driver_sheet(planned: Deliveries, kit: Kit, program: Program) -> Workbook:
    """Make the driver's workbook: the stops on a sheet that is not loaded, then the run sheet.

    Parameters
    ----------
    planned
        The round.
    kit
        What a household gets.
    program
        The country, and where the vehicles start.
    """
    book = run_sheet(planned.day, planned.places, kit, program)
    sheet = book.create_sheet(GUIDE_SHEET, 0)
    said = format_date(planned.day.event_date, "full", locale=program.council.country_locale)
    words = messages_for(program.council.country_locale)
    stops = words.say("round.stops", planned.stops.height)
    bins = words.say("round.bins_count", planned.places.height)
    km = words.decimal(planned.total_km, "#,##0")
    put_record(sheet.cell(1, 1), words.say("round.title", when=said, stops=stops, bins=bins, km=km))
    sheet.cell(1, 1).font = Font(size=18, bold=True, color=_INK)
    warmest = words.decimal(program.ordering.shipping_window.warmest_c, "0.#")
    put_record(sheet.cell(2, 1), words.say("round.keep", celsius=warmest))
    sheet.cell(2, 1).font = Font(size=12, color=_INK)
    sheet.row_dimensions[1].height, sheet.row_dimensions[2].height = 30.0, 22.0
    sheet.row_dimensions[HEADING_ROW].height = 24.0
    for place, (name, width) in enumerate(COLUMNS.items(), start=1):
        cell = sheet.cell(HEADING_ROW, place)
        put_record(cell, words.say(f"round.{name}"))
        cell.font = Font(size=_LARGE, bold=True, color=_INK)
        cell.fill = PatternFill("solid", start_color=_LEAF)
        sheet.column_dimensions[get_column_letter(place)].width = width
    _put_stops(sheet, planned, words)
    set_landscape(sheet, HEADING_ROW)
    sheet.oddFooter.center.text = words.say("round.footer")
    return book


def _put_stops(sheet: Worksheet, planned: Deliveries, words: Messages) -> None:
    """Write the stops, a heading above each trip and a new page for each vehicle."""
    who = _who(planned)
    number, before = HEADING_ROW, (0, 0)
    for row in planned.stops.iter_rows(named=True):
        trip = (row["vehicle"], row["trip"])
        if trip != before:
            if before[0] not in (0, trip[0]):
                sheet.row_breaks.append(Break(id=number))
            number += 1
            title = words.say("round.vehicle", vehicle=trip[0], trip=trip[1])
            put_record(sheet.cell(number, 1), title)
            sheet.cell(number, 1).font = Font(size=_LARGE, bold=True, color=_INK)
            sheet.row_dimensions[number].height = 28.0
            before = trip
        number += 1
        named = who[(*trip, row["place_in_trip"])]
        texts = (row["place_in_trip"], row["arrives"], row["stop_name"], "\n".join(named),
                 row["bins_count"], round(row["leg_km"], 1), None)  # fmt: skip
        for place, text in enumerate(texts, start=1):
            cell = sheet.cell(number, place)
            put_record(cell, text)
            cell.font = Font(size=_LARGE, color=_INK)
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
