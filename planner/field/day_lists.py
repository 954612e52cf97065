"""Papers of a day without personal details: the list for the door, and labels for the bins."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import polars as pl
from docx import Document
from docx.enum.table import WD_ROW_HEIGHT_RULE, WD_TABLE_ALIGNMENT
from docx.enum.text import WD_ALIGN_PARAGRAPH
from docx.shared import Mm, Pt
from openpyxl.styles import Alignment, Border, Font, Side

from planner.cells import held_text
from planner.workbooks import records_workbook

if TYPE_CHECKING:
    from docx.table import _Cell

    from planner.field.day import Day
    from planner.field.run_sheet import Kit

LABELS_ACROSS, LABELS_DOWN = 2, 7
LABEL_WIDTH_MM, LABEL_HEIGHT_MM = 99.1, 38.1
"""Fourteen labels on a sheet of A4, a size that stationers sell (common practice, no source)."""

_SIDE_MM, _TOP_MM = 5.9, 15.1
_LARGE = 14
_THIN = Side("thin", color="8A8A85")


def door_list(day: Day, places: pl.DataFrame) -> bytes:
    """Make the list for the door: who comes when, by booking number alone.

    Parameters
    ----------
    day
        The day.
    places
        Query places_of_event, in order of slots.
    """
    rows = places.select(
        pl.col("slot").alias("time"),
        pl.col("booking_id").alias("booking"),
        pl.col("model_id").fill_null("").alias("bin model"),
        pl.lit("").alias("here"),
    )
    book = records_workbook(
        {"door list": rows}, note=f"{day.event_date} {day.where}: tick those who are here"
    )
    sheet = book["door list"]
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
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def labels(day: Day, places: pl.DataFrame, kit: Kit) -> bytes:
    """Make a label for each bin: time, booking number, model and worms, and no name."""
    document = Document()
    section = document.sections[0]
    section.page_width, section.page_height = Mm(210), Mm(297)
    section.left_margin = section.right_margin = Mm(_SIDE_MM)
    section.top_margin, section.bottom_margin = Mm(_TOP_MM), Mm(5)
    lines = list(places.select("slot", "booking_id", "model_id").iter_rows())
    rows_count = -(-len(lines) // LABELS_ACROSS)
    table = document.add_table(rows_count, LABELS_ACROSS)
    table.alignment, table.autofit = WD_TABLE_ALIGNMENT.CENTER, False
    for row in table.rows:
        row.height, row.height_rule = Mm(LABEL_HEIGHT_MM), WD_ROW_HEIGHT_RULE.EXACTLY
    cells = [cell for row in table.rows for cell in row.cells]
    for cell, (slot, booking_id, model_id) in zip(cells, lines, strict=False):
        _fill(
            cell, slot, booking_id, model_id or "", f"{day.event_date}  {kit.worms_kg:g} kg worms"
        )
    content = io.BytesIO()
    document.save(content)
    return content.getvalue()


def _fill(cell: _Cell, slot: str, booking_id: str, model_id: str, small: str) -> None:
    cell.width = Mm(LABEL_WIDTH_MM)
    first = cell.paragraphs[0]
    texts = ((f"{slot}   {booking_id}", 18, True), (model_id, 14, False), (small, 11, False))
    for number, (text, size, is_bold) in enumerate(texts):
        paragraph = first if number == 0 else cell.add_paragraph()
        paragraph.alignment = WD_ALIGN_PARAGRAPH.CENTER
        paragraph.paragraph_format.space_before = Pt(8 if number == 0 else 0)
        paragraph.paragraph_format.space_after = Pt(2)
        run = paragraph.add_run(held_text(text))
        run.font.size, run.font.bold = Pt(size), is_bold
