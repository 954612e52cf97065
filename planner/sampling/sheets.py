"""The two workbooks of a drawn round: one to load, one to call from."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import polars as pl
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from planner.tables import TABLES

if TYPE_CHECKING:
    from openpyxl.worksheet._write_only import WriteOnlyWorksheet

    from planner.sampling.plan import SamplePlan

DATE_FORMAT = "yyyy-mm-dd"
CONTACT_COLUMNS = ("full_name", "phone", "email", "street_address", "postcode")
NOTED_COLUMNS = ("called_on", "result", "note")
"""Empty columns in which those who call write."""

NOTE = (
    "Call in this order and do not skip: a list called down to any row is a random sample "
    "still. Holds personal details: keep it in this folder and delete it after the round."
)
NOTE_OF_STREETS = (
    "Whole streets: call at every home of a street before you go on to the next, in this order. "
    "Holds personal details: keep it in this folder and delete it after the round."
)
_WIDEST = 40


def samples_workbook(plan: SamplePlan) -> Workbook:
    """Workbook with the round and its sample, ready to be loaded.

    Parameters
    ----------
    plan
        The round that was drawn.
    """
    waves = pl.DataFrame(
        {
            "wave_id": [plan.asked.wave_id],
            "wave_kind": [plan.asked.kind],
            "opens_date": [plan.asked.opens_date],
            "closes_date": [plan.asked.closes_date],
        }
    )
    samples = plan.drawn.select(
        pl.lit(plan.asked.wave_id).alias("wave_id"),
        "household_id",
        "stratum",
        "cluster_id",
        "inclusion_probability",
    )
    book = Workbook(write_only=True)
    for name, rows in (("waves", waves), ("samples", samples)):
        _write_rows(book.create_sheet(name), rows.select(TABLES[name].column_names()))
    return book


def calling_list(plan: SamplePlan, contacts: pl.DataFrame) -> Workbook:
    """Workbook to call from, a row a household in the order of its random number.

    Parameters
    ----------
    plan
        The round that was drawn.
    contacts
        Frame of tables.Contacts; those that it lacks have empty names and numbers.
    """
    ordered = plan.drawn.sort("stratum", "random_number", "household_id").select(
        pl.int_range(1, pl.len() + 1).over("stratum").alias("order_in_stratum"),
        "household_id",
        "stratum",
        "cluster_id",
    )
    details = contacts.select("household_id", *CONTACT_COLUMNS)
    rows = ordered.join(details, on="household_id", how="left", maintain_order="left")
    rows = rows.with_columns(
        pl.lit(None, dtype=pl.String).alias(name) for name in NOTED_COLUMNS
    ).select(
        "order_in_stratum",
        "stratum",
        "household_id",
        *CONTACT_COLUMNS,
        *NOTED_COLUMNS,
        *(["cluster_id"] if plan.asked.by_street else []),
    )
    book = Workbook(write_only=True)
    note = NOTE_OF_STREETS if plan.asked.by_street else NOTE
    _write_rows(book.create_sheet("calls"), rows, note=note)
    return book


def _write_rows(sheet: WriteOnlyWorksheet, rows: pl.DataFrame, note: str = "") -> None:
    """Write a heading and rows; text is text even where it looks like a formula."""
    for number, name in enumerate(rows.columns, start=1):
        letter = get_column_letter(number)
        lengths = rows[name].cast(pl.String).fill_null("").str.len_chars()
        longest = max([0, *lengths.unique().to_list()])
        sheet.column_dimensions[letter].width = min(_WIDEST, max(len(name), longest) + 3)
    sheet.freeze_panes = "A3" if note else "A2"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = "2:2" if note else "1:1"
    if note:
        told = _cell(sheet, note)
        told.alignment = Alignment(vertical="top")
        sheet.append([told])
    sheet.append([_heading(sheet, name) for name in rows.columns])
    for row in rows.iter_rows():
        sheet.append([_cell(sheet, value) for value in row])


def _heading(sheet: WriteOnlyWorksheet, name: str) -> WriteOnlyCell:
    cell = WriteOnlyCell(sheet, name)
    cell.font = Font(bold=True)
    return cell


def _cell(sheet: WriteOnlyWorksheet, value: object) -> WriteOnlyCell:
    cell = WriteOnlyCell(sheet, value)
    if isinstance(value, str):
        cell.data_type = "s"
        cell.quotePrefix = True
    if isinstance(value, dt.date):
        cell.number_format = DATE_FORMAT
    return cell
