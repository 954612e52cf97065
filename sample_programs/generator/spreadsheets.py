"""Rows written as the officer's workbooks or CSV files, the same bytes each time."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile
from typing import TYPE_CHECKING

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from planner.tables import TABLES

if TYPE_CHECKING:
    from pathlib import Path

    from openpyxl.worksheet.worksheet import Worksheet

    from sample_programs.generator.mistakes import Row

_FIXED_TIME = dt.datetime(2000, 1, 1)
_STAMP = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*(</dcterms:modified>)")
_WIDTH_LEAST, _WIDTH_MOST, _WIDTH_ROWS = 11, 34, 60

WORKBOOKS = {
    "register.xlsx": ("areas", "households", "contacts", "events", "handovers", "givebacks"),
    "waiting_list.xlsx": ("drop_points", "registrations", "bookings"),
    "surveys.xlsx": ("waves", "samples", "answers", "weighings"),
    "audits_and_costs.xlsx": ("audits", "costs"),
    "buying.xlsx": ("suppliers", "offers", "orders", "deliveries", "invoices", "stock_counts"),
    "aftercare.xlsx": (
        *("calls", "cases", "sites", "site_bins", "site_weighings", "workshops", "attendances"),
    ),
}
"""How an officer splits the tables over workbooks."""


def file_and_sheet(table: str, written_as: str) -> tuple[str, str]:
    """Name the file and, in a workbook, the sheet that hold a table.

    Examples
    --------
    >>> file_and_sheet("audits", "workbooks"), file_and_sheet("audits", "csv")
    (('audits_and_costs.xlsx', 'audits'), ('audits.csv', ''))
    """
    if written_as == "csv":
        return f"{table}.csv", ""
    return next(name for name, tables in WORKBOOKS.items() if table in tables), table


def write_workbook(path: Path, sheets: dict[str, list[Row]], notes: list[str]) -> None:
    """Write one sheet a table; `notes` stand as lines above the headings."""
    workbook = Workbook()
    workbook.remove(workbook.active)
    workbook.properties.creator = "sample generator"
    workbook.properties.created = _FIXED_TIME
    for table, rows in sheets.items():
        _fill_sheet(workbook.create_sheet(table), table, rows, notes)
    raw = io.BytesIO()
    workbook.save(raw)
    path.write_bytes(_without_clock(raw.getvalue()))


def _fill_sheet(sheet: Worksheet, table: str, rows: list[Row], notes: list[str]) -> None:
    headings = list(TABLES[table].columns())
    for line in notes:
        sheet.append([line])
    sheet.append(headings)
    heading_row = len(notes) + 1
    for cell in sheet[heading_row]:
        cell.font = Font(bold=True)
    sheet.freeze_panes = f"B{heading_row + 1}"
    for row in rows:
        sheet.append([row[name] for name in headings])
    for place, name in enumerate(headings, start=1):
        longest = max((len(str(row[name])) for row in rows[:_WIDTH_ROWS]), default=0)
        width = min(max(_WIDTH_LEAST, len(name), longest) + 2, _WIDTH_MOST)
        sheet.column_dimensions[get_column_letter(place)].width = width
        if name.endswith("_date"):
            _format_dates(sheet, place, heading_row + 1)


def _format_dates(sheet: Worksheet, column: int, first_row: int) -> None:
    for (cell,) in sheet.iter_rows(min_row=first_row, min_col=column, max_col=column):
        if isinstance(cell.value, dt.date):
            cell.number_format = "dd/mm/yyyy"


def _without_clock(workbook: bytes) -> bytes:
    """Pack a workbook again with one fixed time in place of the clock's."""
    packed = io.BytesIO()
    stamp = _FIXED_TIME.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    with (
        zipfile.ZipFile(io.BytesIO(workbook)) as source,
        zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for name in source.namelist():
            entry = zipfile.ZipInfo(name, date_time=_FIXED_TIME.timetuple()[:6])
            entry.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(entry, _STAMP.sub(rb"\g<1>" + stamp + rb"\g<2>", source.read(name)))
    return packed.getvalue()


def write_csv(path: Path, table: str, rows: list[Row]) -> None:
    """Write semicolons, decimal commas and d/m/yyyy, as a Spanish spreadsheet saves."""
    headings = list(TABLES[table].columns())
    text = io.StringIO()
    writer = csv.writer(text, delimiter=";", lineterminator="\r\n")
    writer.writerow(headings)
    writer.writerows([_spanish(row[name]) for name in headings] for row in rows)
    path.write_bytes(text.getvalue().encode("utf-8-sig"))


def _spanish(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "sí" if value else "no"
    if isinstance(value, float):
        return f"{value:.8g}".replace(".", ",")
    if isinstance(value, dt.date):
        return f"{value.day}/{value.month}/{value.year}"
    return str(value)
