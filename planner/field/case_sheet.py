"""The workbook of open cases: advice to read, columns to fill in and load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from planner.field.problem_words import ADVICE
from planner.tables import CASE_ACTIONS, TABLES
from planner.workbooks import records_workbook

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

NOTE = (
    "Fill in what was done, and closed_date once it is settled; then load this file. Take out rows "
    "that are no case. Personal details: keep it here, delete it once loaded."
)
WIDTHS = {
    "full_name": 20,
    "phone": 15,
    "advice": 64,
    "case_id": 20,
    "problem": 15,
    "household_id": 12,
}
SAID = ("full_name", "phone", "advice")
"""Columns for those who read; loading passes them over."""

_WIDTH, _LINE_LENGTH, _LINE_HEIGHT = 13, 62, 14.0


def case_workbook(listed: pl.DataFrame, contacts: pl.DataFrame) -> Workbook:
    """Make the workbook of open cases.

    Parameters
    ----------
    listed
        Rows of the query open_cases.
    contacts
        Frame of tables.Contacts; those that may not be contacted stay without a name.
    """
    words = {
        code: f"Likely: {one.causes}. {one.advice}" if one.causes else one.advice
        for code, one in ADVICE.items()
    }
    details = contacts.join(listed.filter("may_contact"), on="household_id", how="semi")
    rows = listed.join(
        details.select("household_id", "full_name", "phone"),
        on="household_id",
        how="left",
        maintain_order="left",
    ).with_columns(
        advice=pl.col("problem").replace_strict(words, return_dtype=pl.String),
        closed_date=pl.lit(None, pl.Date),
    )
    columns = TABLES["cases"].column_names()
    first = [name for name in ("case_id", "household_id") if name in columns]
    others = [name for name in columns if name not in first]
    ordered = [*first, "full_name", "phone", *others[1:3], "advice", *others[3:], others[0]]
    book = records_workbook({"cases": rows.select(ordered)}, note=NOTE)
    _dress(book["cases"], ordered, rows.height)
    return book


def _dress(sheet: Worksheet, columns: list[str], count: int) -> None:
    """Set widths and lines, and lists to choose from, so that it can be filled in."""
    thin = Border(bottom=Side("thin", color="B8B8B0"))
    advice = columns.index("advice") + 1
    for place, name in enumerate(columns, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = WIDTHS.get(name, _WIDTH)
        head = sheet.cell(2, place)
        head.fill = PatternFill("solid", start_color="DDE5D3")
        head.font = Font(bold=True, size=10)
        head.alignment = Alignment(wrap_text=True, vertical="bottom")
    sheet.row_dimensions[2].height = 2 * _LINE_HEIGHT
    for number in range(3, count + 3):
        lines = -(-len(str(sheet.cell(number, advice).value)) // _LINE_LENGTH)
        sheet.row_dimensions[number].height = max(2, lines) * _LINE_HEIGHT + 2
        for place in range(1, len(columns) + 1):
            cell = sheet.cell(number, place)
            cell.alignment = Alignment(wrap_text=True, vertical="center")
            cell.border = thin
    letter = get_column_letter(columns.index("case_action") + 1)
    check = DataValidation("list", formula1=f'"{",".join(CASE_ACTIONS)}"', allow_blank=True)
    check.error, check.showErrorMessage = "Choose one of the list.", True
    check.add(f"{letter}3:{letter}{max(3, count + 2)}")
    sheet.add_data_validation(check)
